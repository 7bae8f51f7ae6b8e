"""Loads of random orders and masses of random components, each drawn from a generator of its own.

So the holes of an order and of a library stay those of their seed, with loads or without them.
"""

from __future__ import annotations

import random
from typing import Any

from railgen.data.library import Library
from railgen.data.values import MM_PER_INCH

Table = dict[str, Any]
SHARE = 0.6
"""So many orders have [loads]."""


def put_loads(rng: random.Random, order: Table, library: Library) -> None:
    """Give an order loads, some of them far beyond any truck's, and a zone with a limit of its own; or nothing."""
    if rng.random() >= SHARE:
        return
    family = library.families[order["family"]]
    unit = MM_PER_INCH if order["units"] == "in" else 1.0

    def size(name: str) -> float:
        return float(order[name] if name in order else family.dimensions[name].default / unit)

    front, rear = -size("front_overhang"), size("wheelbase") + size("rear_overhang")
    loads: Table = {"dynamic_factor": rng.choice((1.0, 2.0, 2.5, round(rng.uniform(1.0, 5.0), 2)))}
    if rng.random() < 0.8:
        start = rng.uniform(front, 0.4 * rear)
        loads["body_mass"] = round(10.0 ** rng.uniform(3.0, 5.6), 1)
        loads |= {"body_start": start, "body_end": rng.uniform(start + 300.0 / unit, rear)}
    for axle in ("front_axle_load", "rear_axle_load"):
        if rng.random() < 0.5:
            loads[axle] = round(rng.uniform(10.0, 400.0), 1)
    order["loads"] = loads
    if rng.random() < 0.6:
        error = round(10.0 ** rng.uniform(-2.5, 0.2), 4)
        row = {"rule": "bending", "measure": "stress", "error": error, "unit": "ratio", "source": "common practice"}
        begin = rng.uniform(front, 0.5 * rear)
        zone = {"from": begin, "to": rng.uniform(begin + 50.0 / unit, rear), "reason": "loaded", "approver": "engineer"}
        order["limits"]["zones"].append(zone | {"rows": [row | {"warning": round(0.8 * error, 4)}]})


def weigh(rng: random.Random, components: list[Table]) -> None:
    """Give components masses, most of them some, and make some of them hangers."""
    for component in components:
        if rng.random() < 0.7:
            component["mass"] = round(10.0 ** rng.uniform(0.0, 3.5), 2)
        if rng.random() < 0.15:
            component["kind"] = "hanger"
