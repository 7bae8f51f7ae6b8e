"""Trucks at random for the tests of the catalogue's proof: any options that go together, any values on the steps."""

from __future__ import annotations

import datetime
import random
from collections.abc import Sequence

from railgen.data.component import ORDER_DIMENSIONS, Family, Parameter
from railgen.data.library import Library
from railgen.data.order import Order

ON = datetime.date(2027, 3, 1)


def value_on_step(rng: random.Random, allowed: Parameter) -> float:
    """Any value that an order may have."""
    if allowed.choices:
        return rng.choice(allowed.choices)
    if not allowed.step:
        return rng.uniform(allowed.least, allowed.most)
    return allowed.least + allowed.step * rng.randint(0, int((allowed.most - allowed.least) / allowed.step + 1e-6))


def random_build(
    rng: random.Random, library: Library, family: Family, number: int, most: int = 40, limits: str | None = None
) -> Order:
    """An order without taper, liner or zones, every rule between its options kept but their validity."""
    drive = rng.choice(("left", "right", "dual"))
    codes = random_options(rng, library, family, most)
    dimensions = {name: value_on_step(rng, family.dimensions[name]) for name in ORDER_DIMENSIONS}
    parameters = {
        code: {name: value_on_step(rng, entry) for name, entry in library.options[code].parameters.items()}
        for code in codes
        if library.options[code].parameters
    }
    serial = f"{family.serial_prefix}-{number}"
    return Order.model_validate(
        {
            "serial": serial,
            "family": family.id,
            "build_date": ON,
            "drive": drive,
            "options": tuple(codes),
            "limits": {"set": limits} if limits else {},
            "parameters": parameters,
            **dimensions,
        }
    )


def random_options(rng: random.Random, library: Library, family: Family, most: int) -> Sequence[str]:
    """Options sold in the family, each with all that it requires, none of which exclude each other."""
    sold = [code for code, option in library.options.items() if family.id in option.families]
    rng.shuffle(sold)
    chosen: list[str] = []
    for code in sold[: rng.randint(2, most)]:
        added = [code]
        for one in added:
            added += [needed for needed in library.options[one].requires if needed not in added]
        wanted = list(dict.fromkeys([*chosen, *added]))
        options = [library.options[one] for one in wanted]
        fits = all(family.id in option.families for option in options)
        if fits and not any(set(option.excludes) & set(wanted) for option in options):
            chosen = wanted
    return chosen
