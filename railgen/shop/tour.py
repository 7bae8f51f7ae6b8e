"""A short tour with a proved lower bound, where some nodes come before others and some follow each other.

Both demands are put into the costs where that is exact. A price M on each step between two parts of the tour, one of
which must come wholly before the other, is paid once a boundary by every allowed tour and more often by all others; a
discount M on a step that must be made is taken once by every allowed tour. So the bound of the changed costs, less
those sums, is a bound for the allowed tours. M is dearer than any tour that the search starts from, so it never pays
to leave the allowed ones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.shop.tour_branching import Relaxed, branched_bound, root_bound

_ASCENT_ROUNDS = 300
_NEIGHBOURS = 8
_FIRST_NEIGHBOURS = 10
_FIRST_SHAKES = 200
_SHAKES_A_NODE = 40


@dataclass(frozen=True, eq=False)
class TourProblem:
    """A tour from node 0 through all others and back.

    ``cost`` (n, n): symmetric, none negative; ``first``, ``last`` (n,): node i comes in stages ``first[i]`` to
    ``last[i]``, stages 0 to ``stages`` - 1 in order, node 0 ahead of them all; ``links`` (k, 2): nodes that are
    neighbours on the tour, both of the same stages, none in two links; ``kind`` (n,): from 0 up, what steps between
    are dear, node 0 of a kind of its own; ``start``: an allowed tour.
    """

    cost: FloatArray
    first: IntArray
    last: IntArray
    stages: int
    links: IntArray
    kind: IntArray
    start: IntArray


@dataclass(frozen=True, eq=False)
class Tour:
    """Nodes in order, node 0 first; what the tour costs, and a proved lower bound for every allowed tour."""

    nodes: IntArray
    cost: float
    bound: float


def best_tour(problem: TourProblem) -> Tour:
    """A tour that many rounds of search did not better, and the bound; the same problem gives the same tour.

    Where stages overlap, the bound lets the nodes concerned come in any order. Links that stages do not allow,
    or a start that is not allowed, are the caller's mistake and raise ValueError.
    """
    n = len(problem.start)
    if n <= 3:
        own = _length(problem.cost, problem.start)
        return Tour(problem.start.copy(), own, own)
    from railgen.shop.tour_bound import alpha_neighbours
    from railgen.shop.tour_search import search

    part, parts = _parts(problem)
    weight = _length(problem.cost, problem.start) + 1.0
    cost = _weighted(problem, part, parts, weight)
    paid = weight * (parts - 1 - len(problem.links))
    if abs(_length(cost, problem.start) - paid - (weight - 1.0)) > 1e-6 * weight:
        raise ValueError("the tour that the search starts from is not an allowed one")
    begins, ends = _ends(part, parts)
    plain = _plain_neighbours(cost, min(_FIRST_NEIGHBOURS, n - 1))
    tour = search(problem.start, cost, plain, problem.first, problem.last, problem.stages, _FIRST_SHAKES)
    relaxed = Relaxed(cost, problem.kind, begins, ends)
    root = root_bound(relaxed, _length(cost, tour), _ASCENT_ROUNDS)
    near = alpha_neighbours(cost, root.price, begins, ends, min(_NEIGHBOURS, n - 1))
    tour = search(tour, cost, near, problem.first, problem.last, problem.stages, _SHAKES_A_NODE * n)
    own = _length(problem.cost, tour)
    bound = branched_bound(relaxed, root, _length(cost, tour), paid)
    # The ascent's last digits may lie a rounding above an optimum that it reaches.
    return Tour(tour, own, min(bound - paid, own))


def _length(cost: FloatArray, tour: IntArray) -> float:
    return float(cost[tour, np.roll(tour, -1)].sum())


def _parts(problem: TourProblem) -> tuple[IntArray, int]:
    """The part of each node and how many there are; all of a part come before all of the next."""
    first, last = problem.first[1:], problem.last[1:]
    boundaries = [k for k in range(problem.stages - 1) if ((last <= k) | (first > k)).all() and (last <= k).any()]
    boundaries = [k for k in boundaries if (first > k).any()]
    part = np.zeros(len(problem.first), dtype=np.int64)
    for k in boundaries:
        part[1:] += first > k
    return part, int(part.max()) + 1


def _weighted(problem: TourProblem, part: IntArray, parts: int, weight: float) -> FloatArray:
    apart = np.abs(part[:, None] - part).astype(np.float64)
    # Node 0 stands ahead of the first part and behind the last.
    apart[0] = apart[:, 0] = np.minimum(part, parts - 1 - part)
    cost = problem.cost + weight * apart
    a, b = problem.links.T
    cost[a, b] -= weight
    cost[b, a] -= weight
    return np.ascontiguousarray(cost)


def _ends(part: IntArray, parts: int) -> tuple[BoolArray, BoolArray]:
    """Nodes that may come first and last on the tour, or the other way round where there is but one part."""
    begins, ends = part == 0, part == parts - 1
    begins[0] = ends[0] = False
    return begins, ends


def _plain_neighbours(cost: FloatArray, count: int) -> IntArray:
    own = cost.copy()
    np.fill_diagonal(own, np.inf)
    return np.ascontiguousarray(np.argsort(own, axis=1, kind="stable")[:, :count])
