"""Floats settled together at the least weighted departure: branch and bound on the worst closed interval met.

A node is the optimum under its difference constraints (see ``network``). Where two floats stand at closed relative
stations, or one between its stations, either end of that interval makes a child. The cheaper child is followed to its
end, then the cheapest node left. Nothing depends on the clock: a limit counts nodes, and what is not proved then is
told as a gap. Land and Doig, Econometrica 28, 1960.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush
from math import inf

from railgen.placing.network import NEAR, Arc, Network
from railgen.placing.problem import Box, Closed, Problem, holding, on_grid

MOST_NODES = 3000
"""Nodes looked at before a search ends unproved."""


@dataclass(frozen=True)
class Solution:
    """Places of the floats' stations, None where none were found; what they cost, what any must cost, and the nodes.

    cost and bound: weighted departure, mm; bound is infinite where no stations hold.
    """

    places: tuple[int, ...] | None
    cost: float
    bound: float
    nodes: int

    @property
    def is_proved(self) -> bool:
        """Whether nothing can cost less, or nothing holds at all."""
        return self.bound >= self.cost - 1e-6

    @property
    def gap(self) -> float:
        """By how much the cost may be above the least one, mm."""
        return 0.0 if self.is_proved else self.cost - self.bound


def solve(problem: Problem, most_nodes: int = MOST_NODES, any_will_do: bool = False) -> Solution:
    """The cheapest stations at which all floats may stand at once; ``any_will_do``: the first that are found."""
    if not all(f.stations for f in problem.floats):
        return Solution(None, inf, inf, 0)
    return _Tree(problem).search(most_nodes, any_will_do)


def settled_in_turn(problem: Problem, order: Sequence[int]) -> tuple[int, ...] | None:
    """Each float at the nearest station that those before it leave, the rearward of two; None where one finds none."""
    places = [-1] * len(problem.floats)
    for k in order:
        for place in problem.floats[k].by_cost:
            places[k] = place
            if problem.stands(k, places):
                break
        else:
            return None
    return tuple(places)


def drawn_back(problem: Problem, places: tuple[int, ...]) -> tuple[int, ...]:
    """Floats moved to their cheapest stations that the others leave, one by one, until none is cheaper."""
    best, cost = list(places), problem.cost(places)
    moved = True
    while moved:
        moved = False
        for k, own in enumerate(problem.floats):
            stands = best[k]
            for place in own.by_cost[: own.by_cost.index(stands)]:
                best[k] = place
                if problem.cost(best) < cost - NEAR and problem.stands(k, best):
                    cost, moved = problem.cost(best), True
                    break
            else:
                best[k] = stands
    return tuple(best)


_Children = list[list[Arc]]


@dataclass
class _Tree:
    problem: Problem
    best: tuple[int, ...] | None = None
    cost: float = inf
    _grids: dict[tuple[int, tuple[int, int]], Closed] = field(default_factory=dict)

    def search(self, most_nodes: int, any_will_do: bool) -> Solution:
        """Follows nodes until none can be cheaper than the best found, or the limit is reached."""
        self._start()
        root = self._root()
        open_nodes: list[tuple[float, int, Network]] = []
        nodes, number, at = 0, 0, root
        while True:
            if at is None:
                if not open_nodes or open_nodes[0][0] >= self.cost - NEAR:
                    return Solution(self.best, self.cost, self.cost, nodes)
                at = heappop(open_nodes)[2]
            if nodes == most_nodes or (any_will_do and self.best):
                bound = min([at.value, *(value for value, _, _ in open_nodes[:1])])
                return Solution(self.best, self.cost, min(bound, self.cost), nodes)
            nodes += 1
            children = self._expand(at)
            for child in children[1:]:
                number += 1
                heappush(open_nodes, (child.value, -number, child))
            at = children[0] if children else None

    def _start(self) -> None:
        """What settling one after the other gives: in the floats' order, the dear ones first, along the rail."""
        floats = self.problem.floats
        every = range(len(floats))
        for order in (
            list(every),
            sorted(every, key=lambda k: -floats[k].weight),
            sorted(every, key=lambda k: floats[k].wanted),
            sorted(every, key=lambda k: -floats[k].wanted),
        ):
            places = settled_in_turn(self.problem, order)
            if places is not None:
                self._keep(places)

    def _keep(self, places: tuple[int, ...]) -> None:
        if self.problem.cost(places) < self.cost - NEAR:
            self.best = drawn_back(self.problem, places)
            self.cost = self.problem.cost(self.best)

    def _root(self) -> Network | None:
        floats = self.problem.floats
        network, rail = Network([f.convex for f in floats]), len(floats)
        for k, own in enumerate(floats):
            for arc in ((k, rail, own.stations[0]), (rail, k, -own.stations[-1])):
                network.add(arc)
        return network if network.value < self.cost - NEAR else None

    def _expand(self, network: Network) -> list[Network]:
        """What a node splits into that may still be cheaper, the cheapest first; nothing where it is a solution."""
        if network.value >= self.cost - NEAR:
            return []
        branches = self._worst(network)
        if branches is None:
            self._keep(self._places(network))
            return []
        children = []
        for arcs in branches:
            child = network.copy()
            if all(child.add(arc, self.cost - NEAR) for arc in arcs):
                children.append(child)
        return sorted(children, key=lambda child: child.value)

    def _places(self, network: Network) -> tuple[int, ...]:
        return tuple(f.place_of(x) for f, x in zip(self.problem.floats, network.x, strict=False))

    def _worst(self, network: Network) -> _Children | None:
        """Branches of the interval that costs most to leave, None where every float may stand where it does."""
        found = [*self._between_stations(network), *self._too_near(network)]
        if found:
            return max(found, key=lambda entry: entry[0])[1]
        places = self._places(network)
        for box in self.problem.boxes:
            if all(first <= places[k] <= last for k, first, last in box):
                return self._out_of(box)
        return None

    def _between_stations(self, network: Network) -> Iterator[tuple[float, _Children]]:
        rail = len(self.problem.floats)
        for k, own in enumerate(self.problem.floats):
            x = network.x[k]
            behind = bisect_left(own.stations, x - NEAR)
            if own.stations[behind] > x + NEAR:
                low, high = own.stations[behind - 1], own.stations[behind]
                yield own.weight * min(x - low, high - x), [[(k, rail, high)], [(rail, k, -low)]]

    def _too_near(self, network: Network) -> Iterator[tuple[float, _Children]]:
        floats, x = self.problem.floats, network.x
        for number, pair in enumerate(self.problem.pairs):
            a, b, kinds, stands = pair.a, pair.b, (0, 0), None
            if pair.by_kind is not None:
                stands = floats[a].place_of(x[a]), floats[b].place_of(x[b])
                if min(stands) < 0:
                    continue
                kinds = floats[a].kind(stands[0]), floats[b].kind(stands[1])
            apart = x[a] - x[b]
            if holding(pair.closed_at(kinds), apart) is None:
                continue
            low, high = self._interval(number, kinds, apart)
            price = min(floats[a].weight, floats[b].weight) * min(high - apart, apart - low)
            out: _Children = [[(a, b, high)], [(b, a, -low)]]
            if stands is not None:
                runs: Box = tuple((k, *floats[k].run(at)) for k, at in ((a, stands[0]), (b, stands[1])))
                inside = [arc for run in runs for arc in self._inside(run)]
                out = [*self._out_of(runs), *([*inside, *arcs] for arcs in out)]
            yield price, out

    def _interval(self, number: int, kinds: tuple[int, int], apart: float) -> tuple[float, float]:
        """The closed interval of a pair round a relative station, as wide as the grids make it."""
        if (number, kinds) not in self._grids:
            floats, pair = self.problem.floats, self.problem.pairs[number]
            self._grids[number, kinds] = on_grid(pair.closed_at(kinds), floats[pair.a], floats[pair.b])
        found = holding(self._grids[number, kinds], apart)
        if found is None:
            raise ValueError(f"relative station {apart} is closed, but open on the grids")
        return found

    def _out_of(self, box: Box) -> _Children:
        """One float after the other ahead of its stretch or behind it, those before it inside theirs."""
        rail, branches, inside = len(self.problem.floats), list[list[Arc]](), list[Arc]()
        for k, first, last in box:
            stations = self.problem.floats[k].stations
            if first:
                branches.append([*inside, (rail, k, -stations[first - 1])])
            if last + 1 < len(stations):
                branches.append([*inside, (k, rail, stations[last + 1])])
            inside += self._inside((k, first, last))
        return branches

    def _inside(self, stretch: tuple[int, int, int]) -> list[Arc]:
        k, first, last = stretch
        rail, stations = len(self.problem.floats), self.problem.floats[k].stations
        return [(k, rail, stations[first]), (rail, k, -stations[last])]
