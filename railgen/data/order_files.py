"""Orders from files: one order a TOML file, many a CSV."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path

from railgen.data.bank import read_bank
from railgen.data.messages import InputError
from railgen.data.order import Order
from railgen.data.order_input import OrderInput
from railgen.data.reading import parse_toml, read_bytes, validate


def read_orders(paths: Iterable[Path]) -> Iterator[OrderInput]:
    """All orders of some files (.csv: a bank, else one TOML order each); a bad one is reported, the others go on."""
    for path in paths:
        if path.suffix.lower() != ".csv":
            yield read_order(path)
            continue
        try:
            yield from read_bank(path)
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
