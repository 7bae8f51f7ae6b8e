"""The inspection report: a sheet with the picture of each part's deviations, then what is wrong as a table."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from railgen.formats.cautions import CAUTIONS
from railgen.holes.inspection import Inspection, PartInspection
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, fitted, printable, wrapped
from railgen.papers.inspection_picture import deviation_items
from railgen.papers.pdf import write_pdf
from railgen.papers.sheet import (
    BLACK,
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    OUTLINE,
    RED,
    Item,
    Sheet,
    Text,
    rectangle,
)
from railgen.papers.tables import Column, Row, table_pages

_COLUMNS = (
    Column("no.", 10, right=True),
    Column("part", 20),
    Column("hole", 68),
    Column("face", 14),
    Column("station", 22, right=True),
    Column("across", 18, right=True),
    Column("off along", 18, right=True),
    Column("off across", 18, right=True),
    Column("position", 18, right=True),
    Column("allowed", 18, right=True),
    Column("in its group", 18, right=True),
    Column("allowed", 18, right=True),
    Column("diameter", 18, right=True),
    Column("measured", 18, right=True),
    Column("what is wrong", 78),
)
_TOP, _BOTTOM = FRAME_TOP - 13.0, FRAME_BOTTOM + 12.0
_WORDS = {
    "missing": "missing",
    "station": "off its place on the part",
    "group": "off its place in its group",
    "size": "wrong size",
}


def inspection_pdf(inspection: Inspection) -> bytes:
    """The report as a PDF, A3 landscape. The same inspection gives the same bytes."""
    return write_pdf(inspection_sheets(inspection), f"{inspection.serial} inspection")


def inspection_pictures(inspection: Inspection) -> Iterator[tuple[str, bytes]]:
    """For each part its name and the sheet with its deviations as SVG."""
    from railgen.papers.pictures import write_picture

    sheets = inspection_sheets(inspection)
    for part, sheet in zip(inspection.parts, sheets, strict=False):
        yield part.name, write_picture(sheet, "svg")


def inspection_sheets(inspection: Inspection) -> tuple[Sheet, ...]:
    """All sheets of a report: one a part in their order, then the table of what is wrong."""
    numbers = faulty_rows(inspection)
    bodies: list[tuple[str, Sequence[Item]]] = []
    for part in inspection.parts:
        lines = summary_lines(inspection, part)
        items = [
            *_lines(lines, FRAME_TOP - 13.5),
            *deviation_items(part, numbers[part.name], FRAME_TOP - 16.0 - 3.2 * len(lines), _BOTTOM),
        ]
        bodies.append((f"Deviations, {part.name}", items))
    pages = table_pages(_COLUMNS, _rows(inspection, numbers), FRAME_LEFT + 3, _TOP, _BOTTOM)
    bodies += [("What is wrong", page) for page in pages]
    return tuple(
        Sheet(f"{number} {name}", (*_frame(inspection, name, number, len(bodies)), *items))
        for number, (name, items) in enumerate(bodies, 1)
    )


def faulty_rows(inspection: Inspection) -> dict[str, dict[int, int]]:
    """By part the number that each faulty row has in the table; extra holes follow with rows of n and more."""
    numbers, count = {}, 0
    for part in inspection.parts:
        rows = [*np.flatnonzero(part.out).tolist(), *range(len(part.hole), len(part.hole) + len(part.extra))]
        numbers[part.name] = {row: count + index for index, row in enumerate(rows, 1)}
        count += len(rows)
    return numbers


def summary_lines(inspection: Inspection, part: PartInspection) -> list[str]:
    """What the sheet of a part says in words."""
    there = ~np.isnan(part.measured[:, 0])
    missing = int((~there).sum())
    first = f"{int(there.sum())} of {len(part.hole)} holes found, {missing} missing, {len(part.extra)} extra; "
    first += f"{int(part.out.sum()) - missing} of those found out of tolerance"
    if there.any():
        position = part.position[there]
        first += f"; position deviation {np.median(position):.2f} mm in the middle, {position.max():.2f} mm at most"
    lines = [first, _fit_words(inspection, part)]
    if part.wrong_hand:
        lines.insert(0, f"WRONG HAND: what was measured is {part.wrong_hand}.")
    elif part.alike:
        lines.append("Both hands have these holes alike: from them the hand cannot be told.")
    return lines


def _fit_words(inspection: Inspection, part: PartInspection) -> str:
    how = {"datums": "laid on the locating holes", "best": "best fit of all holes", "none": "as measured, no fit"}
    fits = "; ".join(
        f"{fit.face} turned {np.radians(fit.turn) * 1000:.3f} mm/m, moved {fit.shift[0]:.2f} and {fit.shift[1]:.2f} mm"
        for fit in part.fits
        if fit.holes
    )
    length = f"length off by {part.stretch:.3f} mm/m at 20 degC (measured at {inspection.temperature:g} degC)"
    return "; ".join(words for words in (how[inspection.fit], fits, length) if words)


def _lines(lines: Sequence[str], top: float) -> list[Item]:
    items: list[Item] = []
    for index, line in enumerate(lines):
        wrong = line.startswith("WRONG HAND")
        words = fitted(printable(line), SMALL, FRAME_RIGHT - FRAME_LEFT - 6, wrong)
        items.append(Text(FRAME_LEFT + 3, top - 3.2 * index, words, SMALL, bold=wrong, colour=RED if wrong else BLACK))
    return items


def _rows(inspection: Inspection, numbers: dict[str, dict[int, int]]) -> list[Row]:
    rows = [
        _hole_row(part, row, number) if row < len(part.hole) else _extra_row(part, row - len(part.hole), number)
        for part in inspection.parts
        for row, number in numbers[part.name].items()
    ]
    return rows or [Row(("", "", "nothing is wrong", *[""] * 12))]


def _hole_row(part: PartInspection, row: int, number: int) -> Row:
    values = (
        *part.nominal[row],
        *part.deviation[row],
        part.position[row],
        part.station_tolerance[row],
        part.group_position[row],
        part.group_tolerance[row],
        part.diameter[row],
        part.measured_diameter[row],
    )
    words = ", ".join(_WORDS[fault] for fault in part.faults_of(row))
    return Row((str(number), part.name, part.hole[row], part.face[row], *map(_number, values), words), colour=RED)


def _extra_row(part: PartInspection, row: int, number: int) -> Row:
    place = map(_number, part.extra[row])
    size = _number(part.extra_diameter[row])
    cells = (
        str(number),
        part.name,
        "",
        part.extra_face[row],
        *place,
        *[""] * 7,
        size,
        "extra: no such hole is planned",
    )
    return Row(cells, colour=RED)


def _number(value: float) -> str:
    return "" if np.isnan(value) else f"{value:.2f}"


def _frame(inspection: Inspection, name: str, number: int, count: int) -> Iterator[Item]:
    yield rectangle(FRAME_LEFT, FRAME_BOTTOM, FRAME_RIGHT, FRAME_TOP, OUTLINE)
    revision = f" revision {inspection.revision}" if inspection.revision else ""
    on = f", measured on {inspection.on}" if inspection.on else ""
    yield Text(FRAME_LEFT + 3, FRAME_TOP - 7.5, f"{inspection.serial}{revision}: {name}", LARGE, bold=True)
    verdict, colour = ("within all tolerances", BLACK) if inspection.good else ("NOT within tolerances", RED)
    yield Text(
        FRAME_RIGHT - 3, FRAME_TOP - 7.2, f"{verdict}{on}; sheet {number} of {count}", MIDDLE, "right", True, colour
    )
    measured = (
        f"Measured: {inspection.measured[0]}, sha256 {inspection.measured[1][:16]}. Tolerances: {inspection.source}."
    )
    words = " ".join((measured, *CAUTIONS))
    for index, line in enumerate(wrapped(printable(words), SMALL, FRAME_RIGHT - FRAME_LEFT - 6)[:3]):
        yield Text(FRAME_LEFT + 3, FRAME_BOTTOM + 8.0 - 3.0 * index, line, SMALL)
