"""The hole table against itself and the manifest: serials, names, order, and each place against its blank's."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

import numpy as np

from railgen.formats.hole_table import HoleRows
from railgen.formats.names import Part, Side, holes_name
from railgen.holes.table import FACES, PARTS, SIDES, FloatArray, IntArray
from railgen.records.discrepancy import Discrepancy
from railgen.records.subject import Subject

_AGREES = 5e-9
"""mm: both places have nine decimals."""


def check_table(subject: Subject) -> Iterator[Discrepancy]:
    """Everything in the hole table that does not agree with itself; raises InputError where it cannot be read."""
    name, holes = holes_name(subject.serial), subject.holes
    for serial in sorted(set(holes.serial) - {subject.serial}):
        words = f"{holes.serial.count(serial)} rows are of {serial}, should be of {subject.serial}"
        yield Discrepancy("wrong serial", name, words)
    for side, part, hole in _twice(holes):
        yield Discrepancy("wrong table", name, f"{hole} stands twice among the holes of the {side} {part}", (hole,))
    yield from _out_of_order(name, holes)
    sides: tuple[Side, ...] = ("LH", "RH")
    parts: tuple[Part, ...] = ("rail", "liner")
    for side in sides:
        for part in parts:
            yield from _astray(subject, name, side, part)


def _twice(holes: HoleRows) -> list[tuple[str, str, str]]:
    counts = Counter(zip(holes.side, holes.part, holes.hole, strict=True))
    return sorted(row for row, count in counts.items() if count > 1)


def _out_of_order(name: str, holes: HoleRows) -> Iterator[Discrepancy]:
    keys = [
        (SIDES.index(side), PARTS.index(part), FACES.index(face), station, across)
        for side, part, face, station, across in zip(
            holes.side, holes.part, holes.face, holes.station_mm.tolist(), holes.across_mm.tolist(), strict=True
        )
    ]
    for row in range(1, len(keys)):
        if keys[row] < keys[row - 1]:
            hole = holes.hole[row]
            yield Discrepancy("wrong table", name, f"line {row + 2}: {hole} stands out of order", (hole,))


def _astray(subject: Subject, name: str, side: Side, part: Part) -> Iterator[Discrepancy]:
    """Holes whose station and height do not belong to their place in the blank, as those of the others do."""
    rows, holes = subject.rows(side, part), subject.holes
    faces = subject.faces(rows)
    if part == "rail" and subject.tail is None and subject.cut_file(side, part) is None:
        # Without a cut file there is no telling whether a tail is turned down.
        return
    fixed = np.ones(len(rows), dtype=np.bool_)
    sizes = subject.outline_sizes(side, part)
    if part == "rail" and subject.tail and sizes:
        x = holes.blank_x_mm[rows]
        u = sizes[0] - x if side == "RH" else x
        fixed = (u < subject.tail.fold_u) | (faces == FACES.index("bottom"))
        fixed |= (faces == FACES.index("web")) & ~subject.turned(side, rows)
    along = holes.station_mm[rows] + (holes.blank_x_mm[rows] if side == "RH" else -holes.blank_x_mm[rows])
    yield from _odd(name, subject, rows[fixed], along[fixed], "station", "blank_x")
    for face, sign in (("web", 1), ("top", 1), ("bottom", -1)):
        chosen = fixed & (faces == FACES.index(face))
        across = holes.across_mm[rows] - sign * holes.blank_y_mm[rows]
        yield from _odd(name, subject, rows[chosen], across[chosen], "across", "blank_y")


def _odd(
    name: str, subject: Subject, rows: IntArray, difference: FloatArray, finished: str, blank: str
) -> Iterator[Discrepancy]:
    """Rows whose difference of two places is not what it is for most."""
    if not len(rows):
        return
    off = difference - np.median(difference)
    for row, by in zip(rows.tolist(), off.tolist(), strict=True):
        if abs(by) > _AGREES:
            hole = subject.holes.hole[row]
            words = f"{hole}: {finished} and {blank} do not belong together, by {abs(by):.3f} mm"
            yield Discrepancy("wrong table", name, words, (hole,), by)
