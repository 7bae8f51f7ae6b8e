"""The order bank: a CSV whose columns are the order's keys, dotted for tables; one row an order."""

from __future__ import annotations

import csv
import datetime
import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from railgen.data.messages import InputError, Problem, nearest, one_of
from railgen.data.order import Loads, Order, Taper
from railgen.data.order_input import OrderInput
from railgen.data.reading import validate

if TYPE_CHECKING:
    from _csv import Reader as CsvReader

_PLAIN = tuple(name for name in Order.model_fields if name not in ("taper", "liner", "limits", "loads", "parameters"))
_DOTTED = (
    *(f"taper.{name}" for name in Taper.model_fields),
    *(f"liner.{name}" for name in ("start", "end", "section", "steel")),
    "limits.set",
    *(f"loads.{name}" for name in Loads.model_fields),
)
_PARAMETER = re.compile(r"parameters\.[A-Z]{3}[0-9]{2}\.[a-z][a-z0-9_]*")
_TEXT_COLUMNS = frozenset(
    {"serial", "family", "units", "drive", "section", "steel", "revision", "taper.wedge", "liner.section"}
    | {"liner.steel", "limits.set"}
)
COLUMNS = (*_PLAIN, *_DOTTED)
"""Columns a bank may have, besides ``parameters.CODE.name``."""
_UNDECODED = re.compile("[\udc80-\udcff]")


@dataclass(frozen=True, slots=True)
class BankRow:
    """One row of a bank as it stands there, not yet read as an order: small, and quick to send to another process.

    header and cells: as text, of equal length unless the row is broken; problem: why no cells could be made out.
    """

    file: str
    place: str
    header: tuple[str, ...]
    cells: tuple[str, ...]
    problem: Problem | None = None

    @property
    def serial(self) -> str:
        """The serial as written; empty where there is none."""
        column = self.header.index("serial")
        return self.cells[column].strip() if column < len(self.cells) else ""

    @property
    def sha256(self) -> str:
        """Digest of what the row says, wherever in the bank it stands and whatever order its columns have."""
        said = sorted((name, cell.strip()) for name, cell in zip(self.header, self.cells, strict=False) if cell.strip())
        return hashlib.sha256("\x1f".join("\x1e".join(pair) for pair in said).encode("utf-8", "replace")).hexdigest()

    def read(self) -> OrderInput:
        """The order, or every problem of the row."""
        name = f"{self.file} serial {self.serial}"
        try:
            return OrderInput(self.place, name, self.sha256, _order_of(self), None)
        except InputError as error:
            return OrderInput(self.place, name, self.sha256, None, error)


def read_bank(path: Path) -> Iterator[OrderInput]:
    """The orders of a bank one by one; a bad row is reported and the others go on.

    Raises InputError where the file as a whole cannot be used: no such file, no header, an unknown column.
    """
    return (row.read() for row in csv_rows(path))


def csv_rows(path: Path) -> Iterator[BankRow]:
    """The rows of a bank as CSV, read as they are asked for. Raises InputError as ``read_bank`` does."""
    try:
        # What is no UTF-8 is carried along to the cell that it stands in, so that its line can be named.
        with path.open(encoding="utf-8-sig", errors="surrogateescape", newline="") as stream:
            reader = csv.reader(stream)
            header = _next_cells(reader) or []
            if isinstance(header, Problem):
                raise InputError([replace(header, file=str(path))])
            check_header(header, str(path))
            yield from _rows_below(reader, tuple(header), path)
    except OSError as error:
        found, hint = error.strerror or type(error).__name__, "Check the path."
        raise InputError([Problem(str(path), "", found, "a file that can be read", hint)]) from None


def _rows_below(reader: CsvReader, header: tuple[str, ...], path: Path) -> Iterator[BankRow]:
    while (cells := _next_cells(reader)) is not None:
        place = f"{path}: line {reader.line_num}"
        if isinstance(cells, Problem):
            yield BankRow(path.name, place, header, (), replace(cells, file=place))
        elif any(cell.strip() for cell in cells):
            problem = None
            if not "".join(cells).isascii() and (undecoded := _UNDECODED.search("".join(cells))):
                found = f"byte 0x{ord(undecoded.group()) - 0xDC00:02x}"
                problem = Problem(place, "", found, "text in UTF-8")
            yield BankRow(path.name, place, header, tuple(cells), problem)


def _next_cells(reader: CsvReader) -> list[str] | Problem | None:
    """The cells of the next row, what is wrong with it, or None after the last one."""
    try:
        return next(reader, None)
    except csv.Error as error:
        return Problem("", f"line {reader.line_num}", str(error), "comma-separated values, every quote closed")


def check_header(header: Sequence[str], file: str) -> None:
    """Raise InputError with every problem of a bank's columns."""
    if not header:
        raise InputError([Problem(file, "line 1", "an empty file", "a header of column names")])
    problems = []
    for name in header:
        if name not in COLUMNS and not _PARAMETER.fullmatch(name):
            allowed = f"{one_of(COLUMNS, 60)}, or parameters.CODE.name"
            problems.append(Problem(file, "line 1", f"column {name!r}", allowed, nearest(name, COLUMNS)))
        elif header.count(name) > 1:
            problems.append(Problem(file, "line 1", f"column {name!r} twice", "each column once"))
    problems += [
        Problem(file, "line 1", f"no column {name!r}", "serial, family and build_date are required")
        for name in ("serial", "family", "build_date")
        if name not in header
    ]
    if problems:
        raise InputError(dict.fromkeys(problems))


def _order_of(row: BankRow) -> Order:
    if row.problem:
        raise InputError([row.problem])
    if len(row.cells) != len(row.header):
        raise InputError([Problem(row.place, "", f"{len(row.cells)} cells", f"{len(row.header)}, as in the header")])
    table: dict[str, Any] = {}
    for name, cell in zip(row.header, row.cells, strict=True):
        if cell.strip():
            _put(table, name.split("."), _value(name, cell.strip(), row.place))
    return validate(table, Order, row.place)


def _put(table: dict[str, Any], path: list[str], value: Any) -> None:
    for name in path[:-1]:
        table = table.setdefault(name, {})
    table[path[-1]] = value


def _value(name: str, cell: str, place: str) -> Any:
    """A cell as the value that the same key has in an order file."""
    if name in _TEXT_COLUMNS:
        return cell
    if name == "options":
        return cell.split()
    if name == "build_date":
        try:
            return datetime.date.fromisoformat(cell)
        except ValueError:
            raise InputError([Problem(place, name, repr(cell), "a date as 2027-03-01")]) from None
    try:
        return float(cell)
    except ValueError:
        raise InputError([Problem(place, name, repr(cell), "a number with . as its decimal sign")]) from None
