"""Why some floats find no stations: a smallest set of components, floats and fixed ones, that leaves them none."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railgen.holes.table import BoolArray
from railgen.placing.conflict import Conflict, conflict_of
from railgen.placing.floats import Floats, pair_of
from railgen.placing.problem import Problem
from railgen.placing.tree import solve


def conflict_among(floats: Floats, names: Sequence[str]) -> Conflict | None:
    """A smallest set of components that leaves some floats no stations, None where they are not known to have none.

    Where rules had to be asked that intervals do not tell, what they close is no single component's: then the set is
    not said to be a smallest one.
    """
    for name in names:
        if not (floats.grid(name).free or (~floats.alone(name) & ~floats.grid(name).dropped).any()):
            return Conflict((name,), not floats.grid(name).dropped.any())
    closing: dict[str, dict[str, BoolArray]] = {}
    for name in names:
        for fixed, mask in floats.closing(name).items():
            closing.setdefault(fixed, {})[name] = mask

    def feasible(some: frozenset[str]) -> bool | None:
        kept = [name for name in names if name in some]
        if not kept:
            return True
        base = floats.wanted[kept[0]]
        own = []
        for name in kept:
            shut = floats.alone(name) | floats.grid(name).dropped
            for fixed in some & closing.keys():
                shut = shut | closing[fixed].get(name, False)
            own.append(floats.float_of(name, np.flatnonzero(~shut).tolist(), base))
        pairs = [
            pair_of(a, b, floats.relative(name, other), own)
            for b, other in enumerate(kept)
            for a, name in enumerate(kept[:b])
        ]
        found = solve(Problem(tuple(own), tuple(pairs), tuple(floats.boxes(kept, own, base))), any_will_do=True)
        return True if found.places is not None else False if found.is_proved else None

    found = conflict_of([*names, *closing], feasible)
    doubted = any(floats.grid(name).dropped.any() for name in names)
    return found and Conflict(found.components, found.is_smallest and not doubted)
