"""The order of hits: exact on small blanks, near a bound that holds on large ones, played step by step."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations

import numpy as np
import pytest
from builders import Hole
from hypothesis import given, settings
from hypothesis import strategies as st
from press_blanks import dense_holes, hits_on, press_with, simulated

from railgen.shop.cycle_time import cycle_time
from railgen.shop.forward_stages import forward_stages
from railgen.shop.hit_order import HitOrder, order_hits, plain_order
from railgen.shop.hits import Hits
from railgen.shop.press_stages import Stages, press_stages
from railgen.shop.tour import TourProblem, best_tour

CLAMPS = [{"station": s, "width": 400.0, "depth": 150.0} for s in (700.0, 2500.0, 4300.0)]
CLAMPED = {"clamps": CLAMPS, "clamp_shifts": [0.0, 500.0]}
FORWARD = {"feed_may_return": False}


def allowed(hits: Hits, stages: Stages, order: tuple[int, ...]) -> bool:
    """Whether an order keeps the stages and holds chains together."""
    now = 0
    for hit in order:
        now = max(now, int(stages.first[hit]))
        if now > stages.last[hit]:
            return False
    runs = [stages.chain[hit] for hit in order]
    changes = sum(a != b for a, b in pairwise(runs)) + 1
    return changes == len(set(runs))


def least(hits: Hits, stages: Stages) -> float:
    """Moves and changes of the best of all allowed orders, each looked at."""
    orders = (o for o in permutations(range(len(hits))) if allowed(hits, stages, o))
    return min(cycle_time(hits, stages, np.array(order)).ordered for order in orders)


def check(found: HitOrder) -> None:
    """All that holds of every order: each hit once, nothing before its time, times as played, bound below."""
    assert sorted(found.order.tolist()) == list(range(len(found.hits)))
    played = simulated(found)
    for name, seconds in played.items():
        assert getattr(found.cycle, name) == pytest.approx(seconds, abs=1e-9), name
    assert found.cycle.total == pytest.approx(sum(played.values()))
    assert found.bound <= found.cycle.ordered <= found.plain.ordered + 1e-9
    locating = found.hits.locating[found.order]
    assert not (np.diff(locating.astype(int)) > 0).any()


# Small blanks, against every order there is


@pytest.mark.parametrize("changes", [{}, {"change_time": 0.4}, {"change_while_moving": False}, CLAMPED, FORWARD])
@pytest.mark.parametrize("seed", range(4))
def test_no_order_of_a_small_blank_is_faster(seed: int, changes: dict[str, object]) -> None:
    hits = hits_on(dense_holes(seed, 7, locating=seed % 3), press_with(**changes), ("LH", "RH")[seed % 2])
    found = order_hits(hits)
    check(found)
    if hits.press.feed_may_return:
        assert found.cycle.ordered == pytest.approx(least(hits, found.stages))
    assert found.bound <= found.cycle.ordered + 1e-9


def test_the_forward_order_is_the_best_of_all_that_never_go_back() -> None:
    columns = [Hole(x, z, d) for x, group in ((0.0, 4), (900.0, 3)) for z, d in COLUMN[:group]]
    for locating in ((), (Hole(-500.0, 150.0, 17.0, feature="loc"),), (Hole(500.0, 150.0, 17.0, feature="loc"),)):
        hits = hits_on([*columns, *locating], press_with(**FORWARD))
        found = order_hits(hits)
        check(found)
        stages, groups = forward_stages(hits)
        runs = [[list(order) for order in permutations(group.tolist())] for group in groups]
        every: list[list[int]] = [[]]
        for group_runs in runs:
            every = [begun + run for begun in every for run in group_runs]
        best = min(cycle_time(hits, stages, np.array(order)).ordered for order in every)
        assert found.cycle.ordered == pytest.approx(best)
        assert found.bound == found.cycle.ordered
        # A locating hole behind other holes asks for a pass of its own.
        assert found.stages.passes == (2 if locating and locating[0].station > 0.0 else 1)


COLUMN = ((60.0, 17.5), (110.0, 25.0), (160.0, 17.5), (210.0, 25.0))


def test_a_bound_for_more_hits_at_one_place_than_the_exact_method_takes() -> None:
    holes = [Hole(0.0, 40.0 + 18.0 * n, (17.5, 13.0)[n % 2]) for n in range(13)] + [Hole(800.0, 150.0)]
    found = order_hits(hits_on(holes, press_with(**FORWARD)))
    check(found)
    assert 0.0 < found.bound < found.cycle.ordered


@given(st.integers(0, 100_000))
@settings(max_examples=60, deadline=None)
def test_tours_with_stages_and_links_against_every_tour(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n, stages = int(rng.integers(5, 9)), int(rng.integers(1, 4))
    place = rng.uniform(0, 10, (n, 2))
    cost = np.hypot(*(place[:, None] - place).transpose(2, 0, 1))
    first = rng.integers(0, stages, n)
    last = np.maximum(first, rng.integers(0, stages, n))
    links = np.zeros((0, 2), dtype=np.int64)
    if seed % 2:
        first[2], last[2] = first[1], last[1]
        links = np.array([[1, 2]])
    first[0], last[0] = 0, stages - 1

    def fits(tour: tuple[int, ...]) -> bool:
        now = 0
        for node in tour:
            now = max(now, first[node])
            if now > last[node]:
                return False
        return all(abs(tour.index(a) - tour.index(b)) == 1 for a, b in links.tolist())

    tours = [tour for tour in permutations(range(1, n)) if fits(tour)]
    start = np.array([0, *tours[seed % len(tours)]])
    kind = np.concatenate([[3], rng.integers(0, 3, n - 1)])
    cost += 2.0 * (kind[:, None] != kind)
    costs = [cost[[0, *tour], [*tour, 0]].sum() for tour in tours]
    found = best_tour(TourProblem(cost, first, last, stages, links, kind, start))
    assert fits(tuple(found.nodes[1:].tolist()))
    assert found.cost == pytest.approx(cost[found.nodes, np.roll(found.nodes, -1)].sum())
    assert found.bound <= min(costs) + 1e-9
    assert found.cost <= min(costs) * (1.0 + 1e-9) or stages > 1
    assert found.cost <= min(costs) * 1.1


def test_a_start_that_breaks_a_link_is_refused() -> None:
    cost = 1.0 - np.eye(5)
    stage = np.zeros(5, dtype=np.int64)
    with pytest.raises(ValueError, match="not an allowed one"):
        best_tour(TourProblem(cost, stage, stage, 1, np.array([[1, 3]]), np.arange(5), np.arange(5)))


# Large blanks


@pytest.mark.parametrize("seed", range(6))
def test_near_the_bound_on_blanks_of_real_density(seed: int) -> None:
    found = order_hits(hits_on(dense_holes(seed, 200)))
    check(found)
    assert found.gap <= 0.03
    assert found.gained >= 0.90


def test_the_same_hits_give_the_same_order() -> None:
    hits = hits_on(dense_holes(11, 120))
    first, second = order_hits(hits), order_hits(hits)
    assert first.order.tolist() == second.order.tolist()
    assert first.bound == second.bound


def test_the_plain_order_goes_tool_by_tool_along_the_rail_and_back() -> None:
    holes = [Hole(x, z, d) for x, z, d in ((0, 100, 25), (500, 150, 13), (200, 60, 13), (900, 80, 17), (400, 80, 17))]
    hits = hits_on([*holes, Hole(700.0, 150.0, 25.0, feature="loc")])
    plain = plain_order(hits, press_stages(hits))
    diameters = hits.work.holes.diameter[hits.row[plain]].tolist()
    assert diameters == [25.0, 17.0, 17.0, 13.0, 13.0, 25.0] or diameters == [25.0, 13.0, 13.0, 17.0, 17.0, 25.0]
    assert hits.locating[plain].tolist() == [True] + [False] * 5
    # The first tool is left at the locating hole; sizes then follow, each way in turn.
    assert hits.x[plain[1:]].tolist() == [1500.0, 1200.0, 1400.0, 1900.0, 1000.0]


@pytest.mark.parametrize("seed", range(4))
def test_clamps_are_moved_as_seldom_as_can_be(seed: int) -> None:
    hits = hits_on(dense_holes(seed, 150), press_with(**CLAMPED), ("LH", "RH")[seed % 2])
    found = order_hits(hits)
    check(found)
    locating_held = bool((~hits.clear[:, 0] & hits.locating).any())
    assert (~hits.clear[:, 0]).any()
    assert found.stages.repositions == (1 if not locating_held else found.stages.repositions)
    assert found.gap <= 0.05


def test_hits_may_wait_for_clamps_that_move_anyway() -> None:
    holes = [Hole(x, 60.0, 17.0, face="bottom") for x in (-800.0, -300.0, 2000.0)]
    press = press_with(clamps=[{"station": 700.0, "width": 200.0}], clamp_shifts=[0.0, 500.0])
    hits = hits_on([*holes, Hole(300.0, 60.0, face="bottom")], press)
    stages = press_stages(hits)
    # Only -300 waits for the clamp to leave; 300 must be hit before it arrives (at 1200 mm from the end: x = 200).
    assert stages.first.tolist() == [0, 1, 0, 0]
    assert stages.last.tolist()[:2] == [1, 1]
    assert stages.last[hits.x.tolist().index(1300.0)] == 0
    check(order_hits(hits))


def test_more_tools_than_fit_are_mounted_between() -> None:
    hits = hits_on(dense_holes(5, 80), press_with(mounted_tools=4))
    found = order_hits(hits)
    check(found)
    assert found.stages.mountings == max(s.mounting for s in hits.stations) - 1 > 0
    assert found.cycle.mountings == hits.press.mount_time * found.stages.mountings


@pytest.mark.parametrize("changes", [{}, CLAMPED | {"clamp_shifts": [0.0, 500.0, -300.0]}, FORWARD])
def test_hits_of_a_string_follow_each_other(changes: dict[str, object]) -> None:
    tools = [
        {"id": "R 20", "shape": "round", "diameter": 20.0, "strings": True},
        {"id": "R 17", "shape": "round", "diameter": 17.0},
        {"id": "R 25", "shape": "round", "diameter": 25.0},
    ]
    holes = [Hole(200.0 * n, 60.0 + 30 * (n % 6), (17.0, 25.0)[n % 2]) for n in range(20)]
    passages = [
        Hole(100.0, 150.0, 20.0, shape="slot", length=80.0),
        Hole(1750.0, 150.0, 60.0),
        Hole(2650.0, 150.0, 20.0, shape="slot", length=60.0, angle=90.0),
    ]
    hits = hits_on([*holes, *passages], press_with(tools=tools, **changes))
    found = order_hits(hits)
    check(found)
    if hits.press.feed_may_return:
        assert allowed(hits, found.stages, tuple(found.order.tolist()))
        for string in range(3):
            places = np.flatnonzero(hits.string[found.order] == string)
            if len({int(c) for c in found.stages.chain[found.order][places]}) == 1:
                assert (np.diff(places) == 1).all()
        assert found.gap <= 0.06


@pytest.mark.parametrize("seed", range(3))
def test_a_feed_that_cannot_go_back_passes_once_for_locating_holes_and_once_for_the_rest(seed: int) -> None:
    press = press_with(**FORWARD, gauge_end="rear", gauge_edge="top")
    hits = hits_on(dense_holes(seed, 150), press, ("LH", "RH")[seed % 2])
    found = order_hits(hits)
    check(found)
    assert found.stages.passes == 2
    assert found.cycle.load == 2 * press.load_time
    assert found.gap == 0.0


def test_a_forward_feed_moves_its_clamps_on_the_way() -> None:
    hits = hits_on(dense_holes(2, 120, locating=0), press_with(**FORWARD, **CLAMPED))
    found = order_hits(hits)
    check(found)
    assert found.stages.repositions >= 1


def test_nothing_to_hit_is_refused() -> None:
    hits = hits_on([Hole(0.0, 150.0)])
    nothing = replace(hits, row=hits.row[:0])
    with pytest.raises(ValueError, match="nothing to hit"):
        order_hits(nothing)
