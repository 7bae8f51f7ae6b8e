"""The NOTE layer of cut files: what only people read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

import numpy as np

from railgen.formats.cautions import CAUTIONS
from railgen.formats.cut_entities import NOTE, Text
from railgen.formats.names import Part, Side
from railgen.frame.rail import part_length, part_section
from railgen.holes.table import COUNTERSINK, DRILL, MARK, PUNCH, ROUND, STUD, HoleTable
from railgen.layout.plan import ResolvedOrder

_HEIGHT = 12.0  # mm
_PITCH = 20.0  # mm
_GAP = 30.0  # mm between the steel and the lowest line


def note_texts(note_lines: Sequence[str], above: float, left: float = 0.0) -> list[Text]:
    """Lines of a note from x = left (mm), the last one 30 mm above a height (mm), so that no note lies on steel."""
    top = above + _GAP + _PITCH * (len(note_lines) - 1)
    return [
        Text(NOTE, round(left, 3), round(top - _PITCH * index, 3), _HEIGHT, line, centred=False)
        for index, line in enumerate(note_lines)
    ]


def cut_file_notes(order: ResolvedOrder, rows: HoleTable, side: Side, part: Part, stamped: bool) -> list[str]:
    """The note of one blank: what it is, what is on which layer, and the cautions."""
    section = part_section(order.rail, part)
    size = f"{part_length(order.rail, part):.3f} x {section.developed_width:.3f} x {section.thickness:g} mm"
    name, steel = order.section, order.steel
    if part == "liner" and order.order.liner:
        name, steel = order.order.liner.section, order.order.liner.steel
    title = f"{order.serial} {side} {part.upper()}, revision {order.order.revision}, section {name}, steel {steel}"
    return [
        title,
        f"Blank {size}, 1:1 in mm, outside face up. {_counts(rows)}",
        *_later(order, rows),
        *([] if stamped else ["No room was found for the stamped text: mark the part by hand."]),
        *CAUTIONS,
    ]


def _counts(rows: HoleTable) -> str:
    is_punched = rows.operation == PUNCH
    is_round, is_mark = rows.shape == ROUND, rows.shape == MARK
    counts = (
        ("HOLES", is_punched & is_round),
        ("SLOTS", is_punched & ~is_round & ~is_mark),
        ("SECOND", ~is_punched & ~is_mark),
        ("MARK", is_mark),
    )
    return ", ".join(f"{name} {np.count_nonzero(chosen)}" for name, chosen in counts) + "."


def _later(order: ResolvedOrder, rows: HoleTable) -> Iterator[str]:
    """A line for each kind of feature that is finished after punching."""
    found = Counter(
        (int(rows.operation[row]), _size(rows, row), rows.fastener_of(row))
        for row in np.flatnonzero(rows.operation != PUNCH).tolist()
    )
    for (operation, size, fastener), count in sorted(found.items()):
        if operation == DRILL:
            yield f"SECOND: drill {size} mm, {count} off."
        elif operation == COUNTERSINK:
            seat = _seat(order, fastener)
            yield f"SECOND: drill {size} mm and countersink from the outside face{seat}, {count} off."
        elif operation == STUD:
            yield f"MARK: {fastener}, welded after forming, {count} off."


def _size(rows: HoleTable, row: int) -> str:
    if rows.shape[row] == MARK:
        return ""
    width = f"{rows.diameter[row]:g}"
    return width if rows.shape[row] == ROUND else f"{width} x {rows.length[row]:g}"


def _seat(order: ResolvedOrder, fastener: str) -> str:
    entry = order.library.fasteners.get(fastener)
    if entry is None or entry.countersink is None:
        return ""
    return f" for {fastener}, seat {entry.countersink.diameter:g} mm x {entry.countersink.angle:g} degrees"
