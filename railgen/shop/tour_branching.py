"""A sharper bound for a tour by cases: how often it changes between some kinds of node and the others.

A tour that leaves a set of nodes comes back to it, so it changes between inside and outside an even number of times.
The Held-Karp bound knows nothing of that: between two changes of tool and four it often takes three. So the tours are
split: those with at most 2 k such changes and those with at least 2 k + 2, each with a bound of its own, of which the
lesser holds for all; the weakest case is split again until it is good enough or a given number of cases is reached.
"""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray

_ROUNDS = 60
_WORK = 8e7
"""Priced edges looked at over all cases: a few tenths of a second at most, whatever the number of nodes."""
_GOOD_ENOUGH = 3e-3


@dataclass(frozen=True, eq=False)
class Relaxed:
    """What the bound is sought for: costs (n, n), kind of each node, and which nodes may begin and end the tour."""

    cost: FloatArray
    kind: IntArray
    begins: BoolArray
    ends: BoolArray


@dataclass(frozen=True, eq=False)
class _Case:
    """Tours within limits of changes by set (least, most), with a bound and the prices and tolls that prove it."""

    bound: float
    limits: dict[int, tuple[float, float]]
    price: FloatArray
    toll: dict[int, float]
    usual: FloatArray


def root_bound(relaxed: Relaxed, upper: float, rounds: int) -> _Case:
    """The Held-Karp bound, as a case without limits; ``upper`` is the cost of any tour."""
    return _bounded(relaxed, _no_sets(relaxed), {}, upper, rounds, None, 2.0)


def branched_bound(relaxed: Relaxed, root: _Case, upper: float, paid: float) -> float:
    """A lower bound at least that of ``root``; ``paid`` is a part of all costs that is no time of the tour."""
    sets = _sets(relaxed)
    cases: list[tuple[float, int, _Case]] = [(root.bound, 0, root)]
    enough = upper - _GOOD_ENOUGH * abs(upper - paid)
    left = int(_WORK / (_ROUNDS * len(relaxed.kind) ** 2))
    number = 0
    while cases[0][0] < enough and left >= 2:
        weakest = cases[0][2]
        split = _split(sets, weakest)
        if split is None:
            break
        heapq.heappop(cases)
        chosen, limit = split
        least, most = weakest.limits.get(chosen, _ANY)
        for limits in ((least, limit), (limit + 2.0, most)):
            number, left = number + 1, left - 1
            narrowed = weakest.limits | {chosen: limits}
            case = _bounded(relaxed, sets, narrowed, upper, _ROUNDS, weakest, 1.0)
            heapq.heappush(cases, (max(case.bound, weakest.bound), number, case))
    return cases[0][0]


_ANY = (2.0, 1e6)
"""Every tour enters and leaves a set that is neither empty nor everything."""


def _no_sets(relaxed: Relaxed) -> BoolArray:
    return np.zeros((0, int(relaxed.kind.max()) + 1), dtype=np.bool_)


def _sets(relaxed: Relaxed) -> BoolArray:
    """Single kinds and pairs of kinds, (sets, kinds), the kind of node 0 always outside."""
    kinds = int(relaxed.kind.max()) + 1
    others = [kind for kind in np.unique(relaxed.kind).tolist() if kind != relaxed.kind[0]]
    chosen = [(kind,) for kind in others] + list(combinations(others, 2))
    return np.array([[kind in members for kind in range(kinds)] for members in chosen], dtype=np.bool_)


def _split(sets: BoolArray, case: _Case) -> tuple[int, float] | None:
    """The set whose changes are nearest to an odd number, and the even number below it; None if nothing is left."""
    changes = np.einsum("sa,ab,sb->s", sets.astype(np.float64), case.usual, (~sets).astype(np.float64))
    found: tuple[float, int, float] | None = None
    for number, count in enumerate(changes.tolist()):
        least, most = case.limits.get(number, _ANY)
        limit = max(2.0 * (count // 2.0), least)
        if limit + 2.0 > most:
            continue
        off = abs(count - limit - 1.0)
        if found is None or off < found[0]:
            found = (off, number, limit)
    return found and found[1:]


def _bounded(
    relaxed: Relaxed,
    sets: BoolArray,
    limits: dict[int, tuple[float, float]],
    upper: float,
    rounds: int,
    begun: _Case | None,
    scale: float,
) -> _Case:
    """The bound of a case, its ascent begun where that of a wider case ended."""
    from railgen.shop.tour_bound import ascend

    chosen = list(limits)
    price = begun.price if begun else np.zeros(len(relaxed.kind))
    toll = np.array([begun.toll.get(number, 0.0) if begun else 0.0 for number in chosen], dtype=np.float64)
    bound, price, toll, usual = ascend(
        relaxed.cost,
        relaxed.kind,
        relaxed.begins,
        relaxed.ends,
        np.ascontiguousarray(sets[chosen]),
        np.array([limits[number][0] for number in chosen], dtype=np.float64),
        np.array([limits[number][1] for number in chosen], dtype=np.float64),
        upper,
        rounds,
        price,
        toll,
        scale,
    )
    return _Case(bound, limits, price, dict(zip(chosen, toll.tolist(), strict=True)), usual)
