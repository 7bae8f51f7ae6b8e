"""Libraries and orders for the tests of placing."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from random_library import write_random_library
from random_orders import random_orders

from railgen.data.library import load_library
from railgen.data.messages import InputError
from railgen.data.order import Order
from railgen.data.reading import validate
from railgen.layout.catalogue import Catalogue, compile_catalogue
from railgen.layout.plan import ResolvedOrder
from railgen.layout.resolve import resolve

DEMO = Path(__file__).parent.parent / "hole_libraries"


@cache
def catalogue_of(odd: int | None = None) -> Catalogue:
    """The demo library, or an odd one from a seed."""
    if odd is None:
        return compile_catalogue(load_library(DEMO))
    with TemporaryDirectory() as folder:
        return compile_catalogue(load_library(write_random_library(Path(folder), odd, DEMO)))


def some_orders(catalogue: Catalogue, count: int, seed: int) -> list[ResolvedOrder]:
    """Random orders, without those that cannot be used."""
    found = []
    for text in random_orders(count, seed, catalogue.library):
        try:
            found.append(resolve(validate(tomllib.loads(text), Order, f"order of seed {seed}"), catalogue.library))
        except InputError:
            continue
    return found
