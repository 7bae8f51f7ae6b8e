"""Arc heights of Almen strips as CSV, ``time,arc_height``, one row a strip."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from railgen.data.messages import Problem, shown
from railgen.data.reading import read_bytes
from railgen.formats.csv_cells import cell_number, checked_rows
from railgen.holes.table import FloatArray

COLUMNS = ("time", "arc_height")


@dataclass(frozen=True)
class ArcHeights:
    """Strips as measured: time of exposure, in whatever unit or passes, and arc height in the file's unit; (n,) each.

    name: of the file; sha256: of what it holds.
    """

    name: str
    sha256: str
    time: FloatArray
    arc_height: FloatArray


def read_arc_heights(path: Path) -> ArcHeights:
    """A file of arc heights; raises InputError, naming line and column, for all that is wrong (the first 50)."""
    source = read_bytes(path)
    rows = checked_rows(source, COLUMNS, _row_problems, "one row a strip")
    time, arc_height = np.array([[cell_number(cell) for cell in cells] for cells in rows]).T
    return ArcHeights(path.name, source.sha256, time, arc_height)


def _row_problems(file: str, line: int, cells: list[str]) -> Iterator[Problem]:
    for name, cell in zip(COLUMNS, cells, strict=True):
        if not cell_number(cell) > 0:
            yield Problem(file, f"line {line}, column {name}", shown(cell), "a number above 0, with a point")
