"""Work stations of the shop: which operations are done where, so that each is told only what it needs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, get_args

from railgen.shop.operation import Operation

WorkStation = Literal[
    "cutting", "punching", "drilling", "forming", "welding", "inspection", "peening", "coating", "racking"
]
WORK_STATIONS: tuple[WorkStation, ...] = get_args(WorkStation)
"""In the order in which a part usually comes by."""

OPERATIONS_AT: Mapping[WorkStation, tuple[str, ...]] = {
    "cutting": ("blank",),
    "punching": ("locating", "punch"),
    "drilling": ("drill", "dress", "deburr"),
    "forming": ("form", "straighten"),
    "welding": ("taper", "stud"),
    "inspection": ("inspect",),
    "peening": ("peen",),
    "coating": ("clean", "coat"),
    "racking": ("nest", "rack"),
}
"""Kinds of operation done at each; every kind that a route may have is done at one."""
_AT: Mapping[str, WorkStation] = {kind: at for at, kinds in OPERATIONS_AT.items() for kind in kinds}


@dataclass(frozen=True)
class Stop:
    """A part's stop at a work station: the operations done there, and those right ahead of them and after them."""

    at: WorkStation
    operations: tuple[Operation, ...]
    before: Operation | None
    after: Operation | None


def stops_of(operations: Sequence[Operation]) -> tuple[Stop, ...]:
    """The stops of a part's route in its order; where the route comes back to a work station, that is another stop."""
    first = [n for n in range(len(operations)) if n == 0 or _AT[operations[n - 1].kind] != _AT[operations[n].kind]]
    return tuple(
        Stop(
            _AT[operations[start].kind],
            tuple(operations[start:end]),
            operations[start - 1] if start else None,
            operations[end] if end < len(operations) else None,
        )
        for start, end in pairwise((*first, len(operations)))
    )
