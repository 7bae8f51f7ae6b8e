"""``holes.csv``: the hole table as a file, one row a feature, and back."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from railgen.data.messages import InputError, Problem, nearest, one_of, shown
from railgen.data.reading import Source, decoded, read_bytes
from railgen.formats.csv_cells import MOST_PROBLEMS, header_problems
from railgen.holes.table import (
    FACES,
    MARK,
    OPERATIONS,
    PARTS,
    RECTANGLE,
    SHAPES,
    SIDES,
    SLOT,
    FloatArray,
    HoleTable,
    in_file_order,
)

COLUMNS = (
    "serial",
    "side",
    "part",
    "hole",
    "face",
    "station_mm",
    "across_mm",
    "blank_x_mm",
    "blank_y_mm",
    "shape",
    "diameter_mm",
    "length_mm",
    "angle_deg",
    "tool",
    "components",
    "fastener",
    "operation",
)
DECIMALS = 9


def hole_table_csv(serial: str, table: HoleTable) -> bytes:
    """The hole table of one serial as CSV, its rows in the order of the file."""
    # Rows are ordered by what stands in the file, so the rounding comes first.
    table = in_file_order(table.with_columns(station=_rounded(table.station), across=_rounded(table.across)))
    long_shape = (table.shape == SLOT) | (table.shape == RECTANGLE)
    rows = range(len(table))
    columns: list[Sequence[str]] = [
        [serial] * len(table),
        _named(SIDES, table.side),
        _named(PARTS, table.part),
        [table.hole_id(row) for row in rows],
        _named(FACES, table.face),
        _numbers(table.station),
        _numbers(table.across),
        _numbers(table.blank_x),
        _numbers(table.v),
        _named(SHAPES, table.shape),
        _numbers(np.where(table.shape == MARK, np.nan, table.diameter)),
        _numbers(np.where(long_shape, table.length, np.nan)),
        _numbers(np.where(long_shape, table.angle, np.nan)),
        _indexed(table.names.tools, table.tool),
        _owners(table),
        _indexed(table.names.fasteners, table.fastener),
        _named(OPERATIONS, table.operation),
    ]
    # Every name is free of commas, quotes and line ends by its data model, so nothing needs quoting.
    lines = [",".join(COLUMNS), *map(",".join, zip(*columns, strict=True)), ""]
    return "\n".join(lines).encode("utf-8")


def _rounded(values: FloatArray) -> FloatArray:
    """To the decimals of the file, and never minus zero."""
    return np.asarray(np.round(values, DECIMALS) + 0.0)


def _numbers(values: FloatArray) -> list[str]:
    """Numbers as written, empty for NaN."""
    return ["" if value != value else f"{value:.9f}" for value in _rounded(values).tolist()]


def _named(names: tuple[str, ...], index: np.ndarray) -> list[str]:
    return [names[i] for i in index.tolist()]


def _indexed(names: tuple[str, ...], index: np.ndarray) -> list[str]:
    """Names by index, empty where there is none (-1)."""
    with_none = (*names, "")
    return [with_none[i] for i in index.tolist()]


def _owners(table: HoleTable) -> list[str]:
    names = [table.names.components[owner] for owner in table.owners.tolist()]
    start = table.owner_start.tolist()
    pieces = (names[first:last] for first, last in pairwise(start))
    return [piece[0] if len(piece) == 1 else ";".join(sorted(set(piece))) for piece in pieces]


@dataclass(frozen=True)
class HoleRows:
    """The rows of a holes.csv, a column an attribute, all of equal length n; numbers are NaN where a cell is empty."""

    serial: tuple[str, ...]
    side: tuple[str, ...]
    part: tuple[str, ...]
    hole: tuple[str, ...]
    face: tuple[str, ...]
    station_mm: FloatArray
    across_mm: FloatArray
    blank_x_mm: FloatArray
    blank_y_mm: FloatArray
    shape: tuple[str, ...]
    diameter_mm: FloatArray
    length_mm: FloatArray
    angle_deg: FloatArray
    tool: tuple[str, ...]
    components: tuple[tuple[str, ...], ...]
    fastener: tuple[str, ...]
    operation: tuple[str, ...]

    def __len__(self) -> int:
        return len(self.hole)


_CHOICES: dict[str, tuple[str, ...]] = {
    "side": SIDES,
    "part": PARTS,
    "face": FACES,
    "shape": SHAPES,
    "operation": OPERATIONS,
}
_NEEDED_NUMBERS = ("station_mm", "across_mm", "blank_x_mm", "blank_y_mm")
_NUMBERS_OF_SHAPE: dict[str, tuple[str, ...]] = {
    "round": ("diameter_mm",),
    "slot": ("diameter_mm", "length_mm", "angle_deg"),
    "rectangle": ("diameter_mm", "length_mm", "angle_deg"),
    "mark": (),
}
_NUMBERS = (*_NEEDED_NUMBERS, "diameter_mm", "length_mm", "angle_deg")
_NUMBERS_OF_ROW = {shape: {*_NEEDED_NUMBERS, *own} for shape, own in _NUMBERS_OF_SHAPE.items()}


def read_hole_table(path: Path) -> HoleRows:
    """A holes.csv; raises InputError, naming line and column, for everything wrong with it (the first 50)."""
    return hole_rows(read_bytes(path))


def hole_rows(source: Source) -> HoleRows:
    """The rows of a holes.csv from its bytes; raises InputError as ``read_hole_table`` does."""
    text = decoded(source, "text")
    try:
        lines = list(csv.reader(text.splitlines(), strict=True))
    except csv.Error as error:
        raise InputError([Problem(source.file, "", str(error), "comma-separated values")]) from None
    problems = list(header_problems(source.file, lines[0] if lines else [], COLUMNS))
    columns = None if problems else _columns(lines[1:])
    if columns is None:
        rows = enumerate(() if problems else lines[1:], 2)
        problems += [problem for line, cells in rows for problem in _problems(source.file, line, cells)]
        raise InputError(problems[:MOST_PROBLEMS])
    return columns


def _problems(file: str, line: int, cells: list[str]) -> Iterator[Problem]:
    if len(cells) != len(COLUMNS):
        yield Problem(file, f"line {line}", f"{len(cells)} cells", f"{len(COLUMNS)} cells")
        return
    row = dict(zip(COLUMNS, cells, strict=True))

    def problem(name: str, allowed: str, hint: str = "") -> Problem:
        return Problem(file, f"line {line}, column {name}", shown(row[name]), allowed, hint)

    for name in ("serial", "hole", "components"):
        if not row[name] or not all(row[name].split(";")):
            yield problem(name, "a name" if name != "components" else "names joined by ;")
    for name, choices in _CHOICES.items():
        if row[name] not in choices:
            yield problem(name, one_of(choices), nearest(row[name], choices))
    needed = _NUMBERS_OF_ROW.get(row["shape"], _NEEDED_NUMBERS)
    for name in _NUMBERS:
        if name in needed:
            if not _is_number(row[name], _RANGE_OF.get(name, (-np.inf, np.inf))):
                yield problem(name, _ALLOWED.get(name, "a finite number"))
        elif row[name] and row["shape"] in SHAPES:
            yield problem(name, f"an empty cell: a {row['shape']} has none")


_ABOVE_ZERO = float(np.nextafter(0.0, 1.0))
_RANGE_OF = {
    "diameter_mm": (_ABOVE_ZERO, np.inf),
    "length_mm": (_ABOVE_ZERO, np.inf),
    "angle_deg": (0.0, 180.0),
}
"""Least value, and the one that is too much."""
_ALLOWED = {
    "diameter_mm": "a number above 0",
    "length_mm": "a number above 0",
    "angle_deg": "a number from 0 to below 180",
}


def _is_number(cell: str, allowed: tuple[float, float]) -> bool:
    try:
        value = float(cell)
    except ValueError:
        return False
    return bool(np.isfinite(value)) and allowed[0] <= value < allowed[1]


def _columns(lines: list[list[str]]) -> HoleRows | None:
    """The rows as columns, checked column by column; None where anything is wrong: ``_problems`` says what."""
    if any(len(cells) != len(COLUMNS) for cells in lines):
        return None
    cells = dict(zip(COLUMNS, zip(*lines, strict=True), strict=True)) if lines else dict.fromkeys(COLUMNS, ())
    if any(not set(cells[name]) <= set(choices) for name, choices in _CHOICES.items()):
        return None
    owners = {cell: tuple(cell.split(";")) for cell in set(cells["components"])}
    named = (*set(cells["serial"]), *set(cells["hole"]), *(name for names in owners.values() for name in names))
    if not all(all(name.split(";")) for name in named):
        return None
    columns: dict[str, Any] = {name: cells[name] for name in COLUMNS}
    columns |= {name: _number_column(name, cells[name], cells["shape"]) for name in _NUMBERS}
    columns["components"] = tuple(owners[cell] for cell in cells["components"])
    return None if any(column is None for column in columns.values()) else HoleRows(**columns)


def _number_column(name: str, cells: Sequence[str], shapes: Sequence[str]) -> FloatArray | None:
    """One column of numbers, NaN where a cell is empty; None where one is missing, out of place or out of range."""
    there = [cell != "" for cell in cells]
    if there != [name in _NUMBERS_OF_ROW[shape] for shape in shapes]:
        return None
    try:
        column = np.array([float(cell) if cell else np.nan for cell in cells], dtype=np.float64)
    except ValueError:
        return None
    given, (least, below) = column[np.array(there, dtype=np.bool_)], _RANGE_OF.get(name, (-np.inf, np.inf))
    in_range = np.isfinite(given) & (given >= least) & (given < below)
    return column if in_range.all() else None
