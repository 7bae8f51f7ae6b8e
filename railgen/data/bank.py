"""The order bank: a CSV whose columns are the order's keys, dotted for tables; one row an order."""

from __future__ import annotations

import csv
import datetime
import hashlib
import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from railgen.data.messages import InputError, Problem, nearest, one_of
from railgen.data.order import Loads, Order, Taper
from railgen.data.order_input import OrderInput
from railgen.data.reading import read_bytes, validate

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


def read_bank(path: Path) -> Iterator[OrderInput]:
    """The orders of a bank one by one; a bad row is reported and the others go on.

    Raises InputError where the file as a whole cannot be used: no such file, no header, an unknown column.
    """
    source = read_bytes(path)
    try:
        text = source.content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            [Problem(source.file, "", f"a byte at {error.start} that is no UTF-8", "a CSV in UTF-8")]
        ) from None
    reader = csv.reader(io.StringIO(text, newline=""))
    header = next(reader, [])
    _check_header(header, source.file)
    for cells in reader:
        place = f"{source.file}: line {reader.line_num}"
        if not any(cell.strip() for cell in cells):
            continue
        name = f"{path.name} line {reader.line_num}"
        digest = hashlib.sha256("\x1f".join((*header, *cells)).encode()).hexdigest()
        try:
            yield OrderInput(place, name, digest, _order_of(header, cells, place), None)
        except InputError as error:
            yield OrderInput(place, name, digest, None, error)


def _check_header(header: list[str], file: str) -> None:
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


def _order_of(header: list[str], cells: list[str], place: str) -> Order:
    if len(cells) != len(header):
        raise InputError([Problem(place, "", f"{len(cells)} cells", f"{len(header)}, as in the header")])
    table: dict[str, Any] = {}
    for name, cell in zip(header, cells, strict=True):
        if cell.strip():
            _put(table, name.split("."), _value(name, cell.strip(), place))
    return validate(table, Order, place)


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
