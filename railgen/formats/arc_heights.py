"""Arc heights of Almen strips as CSV, ``time,arc_height``, one row a strip."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from railgen.data.messages import InputError, Problem, shown
from railgen.data.reading import read_bytes
from railgen.formats.csv_cells import MOST_PROBLEMS, cell_number, csv_rows, header_problems
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
    header, rows = csv_rows(source)
    problems = list(header_problems(source.file, header, COLUMNS))
    if not problems:
        problems = [problem for line, cells in rows for problem in _row_problems(source.file, line, cells)]
    if not problems and not rows:
        problems = [Problem(source.file, "", "no rows", "one row a strip")]
    if problems:
        raise InputError(problems[:MOST_PROBLEMS])
    time, arc_height = np.array([[cell_number(cell) for cell in cells] for _, cells in rows]).T
    return ArcHeights(path.name, source.sha256, time, arc_height)


def _row_problems(file: str, line: int, cells: list[str]) -> Iterator[Problem]:
    if len(cells) != len(COLUMNS):
        yield Problem(file, f"line {line}", f"{len(cells)} cells", f"{len(COLUMNS)} cells")
        return
    for name, cell in zip(COLUMNS, cells, strict=True):
        if not cell_number(cell) > 0:
            yield Problem(file, f"line {line}, column {name}", shown(cell), "a number above 0, with a point")
