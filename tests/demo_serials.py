"""Planned serials of the demo library for tests: the samples, and the order bank."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import islice
from pathlib import Path

from railgen.data.library import load_library
from railgen.data.messages import InputError
from railgen.data.order_files import read_orders
from railgen.layout.catalogue import Catalogue, compile_catalogue
from railgen.layout.plan import SerialPlan
from railgen.pipeline import plan

ROOT = Path(__file__).parent.parent
SAMPLES, BANK = ROOT / "samples", ROOT / "samples/bank-200.csv"


@cache
def catalogue() -> Catalogue:
    """The demo library's catalogue, without files of the folder the tests run in."""
    return compile_catalogue(load_library(ROOT / "hole_libraries"))


@cache
def sample(serial: str) -> SerialPlan:
    """One of the sample orders, planned."""
    (given,) = read_orders([SAMPLES / f"{serial}.toml"])
    assert given.order is not None
    return plan(given.order, catalogue())


def bank_serials(most: int | None = None, step: int = 1) -> Iterator[SerialPlan]:
    """Serials of the order bank, planned one by one; every `step`-th, at most so many."""
    for given in islice(read_orders([BANK]), 0, None if most is None else most * step, step):
        try:
            assert given.order is not None
            yield plan(given.order, catalogue())
        except InputError:
            continue
