"""Orders from files: one order a TOML file, many in a bank (CSV, Parquet) or in a folder of TOML files."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from railgen.data.bank import BankRow, csv_rows
from railgen.data.messages import InputError, Problem
from railgen.data.order import Order
from railgen.data.order_input import OrderInput
from railgen.data.reading import parse_toml, read_bytes, validate

_BYTES_AT_ONCE = 1 << 20


def read_orders(paths: Iterable[Path]) -> Iterator[OrderInput]:
    """All orders of some files; a bad one is reported, the others go on."""
    return (given.read() for given in unread_orders(paths))


def unread_orders(paths: Iterable[Path]) -> Iterator[BankRow | OrderInput]:
    """All orders of some files, one after the other, rows of banks not yet read; none is kept.

    .csv and .parquet are banks, a folder stands for its .toml files by name, anything else is one order in TOML.
    """
    for path in paths:
        try:
            if path.is_dir():
                yield from (read_order(file) for file in _toml_files(path))
            elif path.suffix.lower() == ".csv":
                yield from csv_rows(path)
            elif path.suffix.lower() == ".parquet":
                from railgen.data.bank_parquet import parquet_rows

                yield from parquet_rows(path)
            else:
                yield read_order(path)
        except InputError as error:
            yield OrderInput(str(path), path.name, "", None, error)


def read_order(path: Path) -> OrderInput:
    """The order of one TOML file, or every problem of the file."""
    digest = ""
    try:
        source = read_bytes(path)
        digest = source.sha256
        return OrderInput(str(path), path.name, digest, validate(parse_toml(source), Order, source.file), None)
    except InputError as error:
        return OrderInput(str(path), path.name, digest, None, error)


def count_orders(paths: Iterable[Path]) -> int:
    """About how many orders the files hold, to reckon the time left by: lines, rows and files are counted, not read."""
    return sum(_count(path) for path in paths)


def _count(path: Path) -> int:
    try:
        if path.is_dir():
            return len(_toml_files(path))
        if path.suffix.lower() == ".parquet":
            from railgen.data.bank_parquet import parquet_count

            return parquet_count(path)
        if path.suffix.lower() != ".csv":
            return 1
        with path.open("rb") as stream:
            lines = sum(block.count(b"\n") for block in iter(lambda: stream.read(_BYTES_AT_ONCE), b""))
        return max(lines - 1, 0)
    except (OSError, InputError):
        return 0


def _toml_files(folder: Path) -> list[Path]:
    try:
        found = sorted(path for path in folder.iterdir() if path.suffix.lower() == ".toml" and path.is_file())
    except OSError as error:
        raise InputError([Problem(str(folder), "", error.strerror or "", "a folder that can be read")]) from None
    if not found:
        raise InputError([Problem(str(folder), "", "a folder without .toml files", "a folder of orders, or a file")])
    return found
