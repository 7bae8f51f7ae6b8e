"""The order of hits on a blank: as fast as the press's motion allows, with a proved lower bound.

A step from one hit to the next costs the move, and a change of tool where the tool differs; the press changes the tool
while it moves, so that tools may be mixed along the rail wherever the move is long enough to hide a change.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import NONE, FloatArray, IntArray
from railgen.shop.cycle_time import CycleTime, cycle_time
from railgen.shop.forward_stages import forward_stages
from railgen.shop.hits import Hits
from railgen.shop.motion import move_matrix, move_times, step_times
from railgen.shop.press_stages import Stages, press_stages
from railgen.shop.tour import TourProblem, best_tour


@dataclass(frozen=True, eq=False)
class HitOrder:
    """Hits (indices, n) in order, the stage of each in that order, and the times.

    ``cycle``: of this order; ``plain``: of the plain order, tool by tool in size order, along the rail, direction
    alternating; ``bound``: s that moves and changes take at least in any order, for the stages as they are.
    """

    hits: Hits
    stages: Stages
    order: IntArray
    stage: IntArray
    cycle: CycleTime
    plain: CycleTime
    bound: float

    @property
    def gap(self) -> float:
        """How far moves and changes are above the bound, as a share of it."""
        return self.cycle.ordered / self.bound - 1.0 if self.bound > 0.0 else 0.0

    @property
    def gained(self) -> float:
        """Share of the gain over the plain order, as far as the bound allows any, that this order reaches."""
        possible = self.plain.ordered - self.bound
        return (self.plain.ordered - self.cycle.ordered) / possible if possible > 1e-9 else 1.0

    @property
    def least_cycle(self) -> float:
        """No order takes less than this, s: the cycle time with the bound in place of moves and changes."""
        return self.cycle.total - self.cycle.ordered + self.bound


def order_hits(hits: Hits) -> HitOrder:
    """The order of a blank's hits, none left out. The same hits give the same order.

    Locating holes come first; no hit is made while a clamp holds its place; hits of one string follow each other.
    Raises ValueError where there are no hits.
    """
    if not len(hits):
        raise ValueError("there is nothing to hit")
    if not hits.press.feed_may_return:
        return _forward(hits)
    stages = press_stages(hits)
    nodes = _nodes(hits, stages)
    cost = _step_costs(hits, nodes.hit)
    plain = plain_order(hits, stages)
    problem = TourProblem(
        cost=cost,
        first=np.concatenate([[0], stages.first[nodes.hit]]),
        last=np.concatenate([[len(stages.stages) - 1], stages.last[nodes.hit]]),
        stages=len(stages.stages),
        links=nodes.links,
        kind=np.concatenate([[len(hits.stations)], hits.station[nodes.hit]]),
        start=_start(plain, nodes),
    )
    tour = best_tour(problem)
    order = _expanded(tour.nodes, nodes)
    inside = cycle_time(hits, stages, order).ordered - tour.cost
    return _found(hits, stages, order, plain, tour.bound + inside)


def _found(hits: Hits, stages: Stages, order: IntArray, plain: IntArray, bound: float) -> HitOrder:
    """The order with its times; where the search did not better the plain order, that one is taken."""
    cycle, plain_cycle = cycle_time(hits, stages, order), cycle_time(hits, stages, plain)
    # Every hit is made in the first stage that it and all hits before it allow.
    stage = np.maximum.accumulate(stages.first[order])
    return HitOrder(hits, stages, order, stage, cycle, plain_cycle, min(bound, cycle.ordered))


@dataclass(frozen=True, eq=False)
class _Nodes:
    """Chains of hits as nodes 1, 2, ... of a tour: one for a single hit, two linked ones for a longer chain's ends.

    ``hit`` (k,): the hit at node i + 1; ``links`` (m, 2): nodes of each longer chain's ends; ``begin``, ``end`` (n,):
    first and last hit of each hit's chain.
    """

    hit: IntArray
    links: IntArray
    begin: IntArray
    end: IntArray


def _nodes(hits: Hits, stages: Stages) -> _Nodes:
    numbers, begins, counts = np.unique(stages.chain, return_index=True, return_counts=True)
    ends = begins + counts - 1
    place = np.searchsorted(numbers, stages.chain)
    long_chain = counts > 1
    hit = np.sort(np.concatenate([begins, ends[long_chain]]))
    links = np.column_stack([np.searchsorted(hit, begins[long_chain]), np.searchsorted(hit, ends[long_chain])]) + 1
    return _Nodes(hit, links.astype(np.int64), begins[place], ends[place])


def _step_costs(hits: Hits, chosen: IntArray) -> FloatArray:
    """Seconds from each to each of the loading place (node 0) and some hits, (k + 1, k + 1)."""
    x = np.concatenate([[hits.lie.stop_x], hits.x[chosen]])
    y = np.concatenate([[0.0], hits.y[chosen]])
    station = np.concatenate([[-1], hits.station[chosen]])
    changed = (station[:, None] != station) & (station[:, None] >= 0) & (station >= 0)
    return step_times(move_matrix(x, y, hits.press), changed, hits.press)


def _start(plain: IntArray, nodes: _Nodes) -> IntArray:
    """The plain order as a tour of nodes."""
    node = np.full(len(plain), NONE)
    node[nodes.hit] = np.arange(1, len(nodes.hit) + 1)
    tour = node[plain]
    return np.concatenate([[0], tour[tour != NONE]])


def _expanded(tour: IntArray, nodes: _Nodes) -> IntArray:
    """The hits of a tour's nodes in order, chains run through from the end that comes first."""
    order: list[int] = []
    seen: set[int] = set()
    for hit in nodes.hit[tour[1:] - 1].tolist():
        begin, end = int(nodes.begin[hit]), int(nodes.end[hit])
        if begin not in seen:
            chain = range(begin, end + 1)
            order += chain if hit == begin else reversed(chain)
            seen.add(begin)
    return np.array(order, dtype=np.int64)


def plain_order(hits: Hits, stages: Stages) -> IntArray:
    """What a programmer would write down: stage by stage, tool by tool in size order, along the rail and back."""
    size = np.array(
        [(s.tool.diameter or 0.0, s.tool.length or 0.0, s.angle) for s in hits.stations], dtype=np.float64
    ).reshape(-1, 3)
    rank = np.empty(len(size), dtype=np.int64)
    rank[np.lexsort((size[:, 2], size[:, 1], size[:, 0]))] = np.arange(len(size))
    order: list[int] = []
    forward = True
    for stage in range(len(stages.stages)):
        here = stages.first == stage
        for station in np.argsort(rank).tolist():
            chosen = np.flatnonzero(here & (hits.station == station))
            if len(chosen):
                order += _along(hits, stages, chosen, forward)
                forward = not forward or not hits.press.feed_may_return
    return np.array(order, dtype=np.int64)


def _along(hits: Hits, stages: Stages, chosen: IntArray, forward: bool) -> list[int]:
    """Some hits along the rail from the gauged end, or back to it; chains stay whole."""
    way = hits.lie.from_stop(hits.x)
    chains: dict[int, list[int]] = {}
    for hit in chosen.tolist():
        chains.setdefault(int(stages.chain[hit]), []).append(hit)
    runs = sorted(chains.values(), key=lambda run: (min(way[run]), min(hits.y[run])))
    runs = [run if way[run[0]] <= way[run[-1]] else run[::-1] for run in runs]
    return [hit for run in runs for hit in run] if forward else [hit for run in runs[::-1] for hit in run[::-1]]


def _forward(hits: Hits) -> HitOrder:
    """The order where the feed cannot go back: exact wherever no more than ten hits lie at one place of it."""
    from railgen.shop.forward_order import LARGEST_GROUP, best_run

    stages, groups = forward_stages(hits)
    plain = np.concatenate([_by_tool(hits, group) for group in groups])
    cost, into, out = _forward_costs(hits, stages, plain)
    sizes = [min(LARGEST_GROUP, len(g) - k) for g in groups for k in range(0, len(g), LARGEST_GROUP)]
    run = best_run(cost, into, out, np.concatenate([[0], np.cumsum(sizes)]))
    order = plain[run]
    if max(map(len, groups)) <= LARGEST_GROUP:
        bound = np.inf
    else:
        bound = _cheapest_steps(cost, into, out, np.repeat(np.arange(len(groups)), [len(g) for g in groups]))
    return _found(hits, stages, order, plain, bound)


def _by_tool(hits: Hits, group: IntArray) -> IntArray:
    """Hits at one place of the feed: tool by tool, from the gauge edge inward."""
    return group[np.lexsort((hits.y[group], hits.station[group]))]


def _forward_costs(hits: Hits, stages: Stages, order: IntArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Steps between hits in an order, (n, n), and to each from the loading place, and out to the other end, (n,)."""
    lie, press = hits.lie, hits.press
    cost = _step_costs(hits, order)[1:, 1:]
    x, y = hits.x[order], hits.y[order]
    into = move_times(x - lie.stop_x, y, press)
    out = move_times(x - (lie.length - lie.stop_x), y, press)
    feed_pass = stages.pass_of[stages.first[order]]
    return np.where(feed_pass[:, None] == feed_pass, cost, out[:, None] + into), into, out


def _cheapest_steps(cost: FloatArray, into: FloatArray, out: FloatArray, group: IntArray) -> float:
    """A bound: each hit is reached by some step from its own group or the one before, and one hit is the last."""
    from_near = (group[:, None] == group) | (group[:, None] == group - 1)
    np.fill_diagonal(from_near, False)
    reached = np.where(from_near, cost, np.inf).min(axis=0)
    reached = np.where(group == 0, np.minimum(reached, into), reached)
    return float(reached.sum() + out[group == group.max()].min())
