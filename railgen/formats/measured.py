"""Measured holes as CSV: ``part,side,face,station_mm,across_mm,diameter_mm``, one row a hole, and back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from railgen.data.messages import Problem, nearest, one_of, shown
from railgen.data.reading import read_bytes
from railgen.formats.csv_cells import cell_number, checked_rows
from railgen.holes.table import FACES, PARTS, SIDES, FloatArray

COLUMNS = ("part", "side", "face", "station_mm", "across_mm", "diameter_mm")
_CHOICES: dict[str, tuple[str, ...]] = {"part": PARTS, "side": SIDES, "face": FACES}
_FARTHEST = 100_000.0
"""No rail is longer (mm); a number beyond it is a slip."""


@dataclass(frozen=True)
class MeasuredRows:
    """Measured holes, all columns of equal length n; mm; diameter is NaN where none was measured.

    Station and across are in the axes of the finished part, as in the hole table.
    """

    part: tuple[str, ...]
    side: tuple[str, ...]
    face: tuple[str, ...]
    station_mm: FloatArray
    across_mm: FloatArray
    diameter_mm: FloatArray

    def __len__(self) -> int:
        return len(self.part)


def measured_csv(rows: MeasuredRows) -> bytes:
    """Measured holes as CSV, numbers with six decimals."""
    lines = [",".join(COLUMNS)]
    for row in range(len(rows)):
        numbers = (rows.station_mm[row], rows.across_mm[row], rows.diameter_mm[row])
        cells = ("" if np.isnan(number) else f"{number:.6f}" for number in numbers)
        lines.append(",".join((rows.part[row], rows.side[row], rows.face[row], *cells)))
    return "\n".join([*lines, ""]).encode()


def read_measured(path: Path) -> MeasuredRows:
    """A file of measured holes; raises InputError, naming line and column, for all that is wrong (the first 50).

    An empty diameter stands for one that was not measured.
    """
    return _columns(checked_rows(read_bytes(path), COLUMNS, _row_problems, "at least one measured hole"))


def _row_problems(file: str, line: int, cells: list[str]) -> Iterator[Problem]:
    for name, cell in zip(COLUMNS, cells, strict=True):
        place = f"line {line}, column {name}"
        if name in _CHOICES:
            if cell not in _CHOICES[name]:
                yield Problem(file, place, shown(cell), one_of(_CHOICES[name]), nearest(cell, _CHOICES[name]))
        elif name == "diameter_mm":
            if cell and not 0 < cell_number(cell) < _FARTHEST:
                yield Problem(file, place, shown(cell), "a number above 0, or an empty cell")
        elif not abs(cell_number(cell)) < _FARTHEST:
            yield Problem(file, place, shown(cell), "a number in mm, with a point as the decimal sign")


def _columns(rows: list[list[str]]) -> MeasuredRows:
    part, side, face, *numbers = zip(*rows, strict=True)
    station, across, diameter = (np.array([cell_number(cell) for cell in column]) for column in numbers)
    return MeasuredRows(part, side, face, station, across, diameter)
