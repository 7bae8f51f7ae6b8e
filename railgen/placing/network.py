"""The least weighted departure under difference constraints, kept optimal while constraints come one at a time.

Stations x of n floats, x[n] = 0 the rail's own; every constraint says x[head] - x[tail] >= least. The cost of a float
is convex and made of straight pieces. Its dual is a flow: each constraint carries what it costs, each float takes up
what the slope of its cost allows. A new constraint is met by sending flow through it along shortest paths until its
price equals what the others ask: nothing else is solved again. Ahuja, Magnanti and Orlin, Network flows, 1993,
chapters 9 and 14.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from math import inf

NEAR = 1e-9
"""mm, and mm times weight: nothing smaller is told apart."""
_NO_FLOW = 1e-12
Arc = tuple[int, int, float]
"""Head, tail, least: x[head] - x[tail] >= least."""
_MORE, _LESS, _COST = range(3)
"""How flow gets on without length: more on a constraint, less on one, by what a float takes up."""
_Step = tuple[int, int]
"""Where a way comes from, and how."""


@dataclass(frozen=True)
class Cost:
    """A float's cost: its slope before the first of some stations (mm, ascending), between them and behind the last.

    Slopes grow, the first below zero and the last not; least: the cost at its cheapest station.
    """

    stations: tuple[float, ...]
    slopes: tuple[float, ...]
    least: float

    @property
    def cheapest(self) -> float:
        """The foremost of the cheapest stations, mm."""
        return self.stations[next(k for k, slope in enumerate(self.slopes) if slope >= 0) - 1]


class Network:
    """Floats at their cheapest stations under the constraints so far."""

    __slots__ = ("_flow", "_heads", "_least", "_tails", "_taken", "costs", "value", "x")

    def __init__(self, costs: Sequence[Cost]) -> None:
        size = len(costs) + 1
        self.costs = costs
        self.x = [0.0] * size
        self.value = 0.0
        for k, cost in enumerate(costs):
            self.x[k] = cost.cheapest
            self.value += cost.least
        self._taken = [0.0] * size
        """What each float takes up: a slope of its cost where it stands."""
        self._least: list[dict[int, float]] = [{} for _ in range(size)]
        """Least by head and tail."""
        self._flow: dict[tuple[int, int], float] = {}
        self._heads: list[tuple[int, ...]] = [()] * size
        self._tails: list[tuple[int, ...]] = [()] * size

    def copy(self) -> Network:
        """The same once more; what is added to one is not added to the other."""
        other = object.__new__(Network)
        other.costs, other.x, other.value = self.costs, self.x[:], self.value
        other._taken, other._flow = self._taken[:], dict(self._flow)
        other._least = [held.copy() for held in self._least]
        other._heads, other._tails = self._heads[:], self._tails[:]
        return other

    def least(self, head: int, tail: int) -> float:
        """What x[head] - x[tail] must at least be by a constraint of these two, mm."""
        return self._least[head].get(tail, -inf)

    def add(self, arc: Arc, most: float = inf) -> bool:
        """Meets one more constraint; False where none can, or where the cost would reach ``most``."""
        head, tail, least = arc
        held = self._least[head]
        if held.get(tail, -inf) >= least:
            return True
        if tail not in held:
            self._heads[tail] += (head,)
            self._tails[head] += (tail,)
        held[tail] = least
        short = least - (self.x[head] - self.x[tail])
        while short > NEAR:
            distance, via = self._search(head, tail, short)
            step = min(distance[tail], short)
            self._shift(distance, step)
            self.value += self._flow.get((head, tail), 0.0) * step
            short -= step
            if self.value >= most:
                return False
            if short > NEAR and not self._send(head, tail, via):
                return False
        return True

    def _search(self, source: int, target: int, most: float) -> tuple[list[float], list[_Step]]:
        """Lengths of the shortest ways for flow from a source, as far as the target or as ``most``, and their steps."""
        x, flow, rail = self.x, self._flow, len(self.costs)
        distance, via = [inf] * (rail + 1), [(-1, _MORE)] * (rail + 1)
        distance[source] = 0.0
        heap, done = [(0.0, source)], [False] * (rail + 1)
        while heap:
            so_far, at = heappop(heap)
            if so_far >= most or at == target:
                break
            if done[at]:
                continue
            done[at] = True
            for head in self._heads[at]:
                slack = x[head] - x[at] - self._least[head][at]
                reached = so_far + (slack if slack > 0.0 else 0.0)
                if reached < distance[head]:
                    distance[head], via[head] = reached, (at, _MORE)
                    heappush(heap, (reached, head))
            for tail in self._tails[at]:
                if (at != source or tail != target) and flow.get((at, tail), 0.0) > 0.0 and so_far < distance[tail]:
                    distance[tail], via[tail] = so_far, (at, _LESS)
                    heappush(heap, (so_far, tail))
            for other in range(rail) if at == rail else (rail,):
                reached = so_far + (self._falls(other)[0] if at == rail else self._rises(at)[0])
                if reached < distance[other]:
                    distance[other], via[other] = reached, (at, _COST)
                    heappush(heap, (reached, other))
        return distance, via

    def _shift(self, distance: list[float], step: float) -> None:
        """Moves stations so that the shortest ways, up to a step's length, have no length any more."""
        x, rail = self.x, len(self.costs)
        back = step - distance[rail]
        back = back if back > 0.0 else 0.0
        for k in range(rail):
            ahead = step - distance[k]
            if ahead > 0.0:
                x[k] += ahead - back
            elif back:
                x[k] -= back

    def _send(self, source: int, target: int, via: list[_Step]) -> bool:
        """Sends what the way found can carry through the constraint (source, target); False where that has no end."""
        steps, at = [], target
        while at != source:
            before, way = via[at]
            steps.append((before, at, way))
            at = before
        amount = min(self._room(*step) for step in steps)
        if amount == inf:
            return False
        for step in steps:
            self._carry(*step, amount)
        self._flow[source, target] = self._flow.get((source, target), 0.0) + amount
        return True

    def _room(self, start: int, end: int, way: int) -> float:
        if way == _MORE:
            return inf
        if way == _LESS:
            return self._flow[start, end]
        return self._rises(start)[1] if end == len(self.costs) else self._falls(end)[1]

    def _carry(self, start: int, end: int, way: int, amount: float) -> None:
        if way == _MORE:
            self._flow[end, start] = self._flow.get((end, start), 0.0) + amount
        elif way == _LESS:
            left = self._flow[start, end] - amount
            self._flow[start, end] = left if left > _NO_FLOW else 0.0
        elif end == len(self.costs):
            self._taken[start] += amount
        else:
            self._taken[end] -= amount

    def _rises(self, k: int) -> tuple[float, float]:
        """How far rearward a float can next take up more, and how much."""
        cost, x, taken = self.costs[k], self.x[k], self._taken[k]
        for station, slope in zip(cost.stations, cost.slopes[1:], strict=True):
            if slope > taken + _NO_FLOW and station >= x - NEAR:
                return max(0.0, station - x), slope - taken
        return inf, 0.0

    def _falls(self, k: int) -> tuple[float, float]:
        """How far forward a float can next take up less, and by how much."""
        cost, x, taken = self.costs[k], self.x[k], self._taken[k]
        for station, slope in zip(reversed(cost.stations), cost.slopes[-2::-1], strict=True):
            if slope < taken - _NO_FLOW and station <= x + NEAR:
                return max(0.0, x - station), taken - slope
        return inf, 0.0
