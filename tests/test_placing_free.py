"""Free stations against the rules themselves: stepping along the rail, and to both sides of every interval's end."""

from __future__ import annotations

import random

import numpy as np
import pytest
from greedy import needs_whole_pattern, settle
from placing_world import catalogue_of, some_orders

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.holes.table import LH, RH, BoolArray, FloatArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import hole_table
from railgen.layout.place import place, placements
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.placing.free import Bound, FreeInterval, FreeStations, free_stations, intersected, nearest_in, without
from railgen.placing.over_bank import Suited, free_on_all, suited_serials
from railgen.placing.trial import errors_about
from railgen.rules.check import every_finding
from railgen.rules.limits import limit_table
from railgen.rules.pattern import Pattern

NEAR = 1e-6
"""mm to each side of an end."""
MOST = 8
"""Ends that are tried of one component on one side."""
FIELDS = ("component", "side", "instance", "station", "direction")
LEFT_OUT = ("net-section",)
"""Rules that close no interval: of the section left."""
WITHOUT_HOLES = ("space-clash", "footprint-clash", "wrench-access", "holes-in-line")
"""Rules whose findings do not name just the two holes of a pair."""
STEP = 0.05
"""mm between the stations that are tried one after the other."""


class Rules:
    """The rules asked station by station about one component on one side of a rail."""

    def __init__(self, component: Component, order: ResolvedOrder, catalogue: Catalogue, standing: Placements) -> None:
        self.component, self.order, self.catalogue = component, order, catalogue
        self.limits = limit_table(order.library, order.limit_set, order.order.limits.zones)
        others = without(standing, catalogue.index[component.id])
        self.rows = [tuple(row) for row in zip(*(getattr(others, n).tolist() for n in FIELDS), strict=True)]

    def free(self, side: int, stations: FloatArray) -> BoolArray:
        return np.array([not self.errors(side, station) for station in stations.tolist()], dtype=np.bool_)

    def errors(self, side: int, station: float) -> list[Finding]:
        """Errors about the component, the rules left out that intervals do not know."""
        component, repeat = self.component, self.component.repeat
        count, pitch = (repeat.count or 1, repeat.pitch or 0.0) if repeat else (1, 0.0)
        direction = -1.0 if component.side == "turned" and side == RH else 1.0
        index = self.catalogue.index[component.id]
        mine = [(index, side, n + 1, station + n * pitch, direction) for n in range(count)]
        stands = placements(sorted([*self.rows, *mine]))
        pattern = Pattern(self.order, hole_table(self.order, self.catalogue, stands), self.limits, stands)
        return [f for f in errors_about(component.id, every_finding(pattern)) if f.rule not in LEFT_OUT]


def said_free(intervals: tuple[FreeInterval, ...], stations: FloatArray) -> BoolArray:
    return np.array([any(i.start <= s <= i.end for i in intervals) for s in stations.tolist()])


def movable(component: Component) -> bool:
    return bool(component.groups) and not (component.repeat and component.repeat.to)


def cases(odd: int | None, orders: int, each: int, seed: int, tapered: bool) -> list[tuple[Rules, FreeStations]]:
    """Random components on random rails, those with flange holes or mates as often as others."""
    catalogue, rng = catalogue_of(odd), random.Random(seed)
    chosen = [order for order in some_orders(catalogue, 6 * orders, seed) if bool(order.rail.taper) == tapered]
    found = []
    # Sets with every rule come first.
    for order in sorted(chosen, key=lambda order: order.limit_set not in ("house", "odd", "very-odd"))[:orders]:
        # Odd components leave no room to each other where many stand.
        standing = place(order, catalogue, settle(order, catalogue)[0]) if odd is None else few(order, catalogue, rng)
        components = [c for c in order.library.components.values() if movable(c)]
        flanged = [c for c in components if needs_whole_pattern(c)]
        for component in rng.sample(components, each) + rng.sample(flanged, min(2, len(flanged))):
            found.append(
                (Rules(component, order, catalogue, standing), free_stations(component, order, catalogue, standing))
            )
    return found


def few(order: ResolvedOrder, catalogue: Catalogue, rng: random.Random) -> Placements:
    """Some of an order's components."""
    everything = place(order, catalogue)
    kept = np.isin(everything.component, rng.sample(range(len(catalogue.names.components)), 25))
    return Placements(*(getattr(everything, name)[kept] for name in FIELDS))


def step_from(bound: Bound | None) -> float:
    """How far beside an end is tried: lines that meet holes by no more than the tolerance are no lines."""
    return 3 * NEAR if bound and bound.measure == "count" else NEAR


def ends_that_hold(cases: list[tuple[Rules, FreeStations]]) -> int:
    """Tries both sides of some ends of free intervals, and stations between; returns how many ends there were."""
    rng, tried = random.Random(29), 0
    for rules, free in cases:
        low, high = free.window
        for side, intervals in free.sides.items():
            ends = [end for i in intervals for end in ((i.start, i.ahead), (i.end, i.behind))]
            ends = rng.sample(ends, min(MOST, len(ends)))
            anywhere = [rng.uniform(low, high) for _ in range(4)]
            beside = [end + way * step_from(bound) for end, bound in ends for way in (-1.0, 1.0)]
            stations = np.sort([*beside, *anywhere])
            stations = stations[(stations > low) & (stations < high)]
            number = LH if side == "LH" else RH
            expected = rules.free(number, stations)
            wrong = stations[said_free(intervals, stations) != expected]
            told = [(s, [(f.rule, f.measure, f.components) for f in rules.errors(number, s)]) for s in wrong.tolist()]
            assert not len(wrong), (rules.order.serial, rules.component.id, side, told)
            tried += len(ends)
    return tried


@pytest.mark.parametrize("tapered", [False, True])
def test_every_end_closes_exactly_where_a_rule_is_broken(tapered: bool) -> None:
    assert ends_that_hold(cases(None, 2, 4, 31, tapered)) > 40


@pytest.mark.parametrize("tapered", [False, True])
@pytest.mark.parametrize("odd", [0])
def test_ends_of_odd_components_close_exactly_where_a_rule_is_broken(odd: int, tapered: bool) -> None:
    assert ends_that_hold(cases(odd, 1, 2, 31, tapered)) > 0


def test_stepping_along_the_rail_agrees() -> None:
    for rules, free in cases(None, 2, 1, 37, tapered=True) + cases(1, 2, 1, 41, tapered=False):
        for side, intervals in free.sides.items():
            ends = [end for i in intervals for end in (i.start, i.end) if free.window[0] < end < free.window[1]]
            if not ends:
                continue
            middle = ends[len(ends) // 2]
            stations = middle + STEP * (np.arange(-20, 20) + 0.5)
            stations = stations[(stations > free.window[0]) & (stations < free.window[1])]
            expected = rules.free(LH if side == "LH" else RH, stations)
            assert np.array_equal(said_free(intervals, stations), expected), (rules.order.serial, rules.component.id)


def test_bounds_name_a_rule_that_is_broken_just_beyond() -> None:
    seen, rng = 0, random.Random(3)
    for rules, free in cases(None, 2, 4, 43, tapered=False):
        for side, intervals in free.sides.items():
            bounds = [(i.ahead, i.start - NEAR) for i in intervals] + [(i.behind, i.end + NEAR) for i in intervals]
            for bound, station in rng.sample(bounds, min(MOST, len(bounds))):
                if bound is None:
                    continue
                found = rules.errors(LH if side == "LH" else RH, station)
                holes = {bound.hole, bound.other} - {""}
                same = [f for f in found if (f.rule, f.measure) == (bound.rule, bound.measure)]
                assert any(set(bound.components) <= set(f.components) for f in same), (bound, found)
                assert bound.rule in WITHOUT_HOLES or any(holes <= set(f.holes) for f in same), (bound, found)
                seen += 1
    assert seen > 20


def test_nearest_station_is_the_wanted_one_where_it_is_free_else_the_rearward_of_two() -> None:
    intervals = ((0.0, 10.0), (20.0, 30.0))
    assert nearest_in(intervals, 5.0) == 5.0
    assert nearest_in(intervals, 13.0) == 10.0
    assert nearest_in(intervals, 15.0) == 20.0
    assert nearest_in((), 15.0) is None


def test_stations_common_to_all_serials_and_the_curve_of_how_many_each_suits() -> None:
    serials = [((0.0, 10.0), (20.0, 30.0)), ((5.0, 25.0),), ((8.0, 9.0), (22.0, 40.0))]
    assert free_on_all(serials) == intersected(serials) == ((8.0, 9.0), (22.0, 25.0))
    curve = suited_serials(serials)
    assert curve[0] == Suited(0.0, 5.0, 1)
    assert [(s.start, s.end) for s in curve if s.serials == 3] == [(8.0, 9.0), (22.0, 25.0)]
    for station in np.linspace(0.5, 39.5, 79):
        count = sum(any(a <= station <= b for a, b in intervals) for intervals in serials)
        told = [s.serials for s in curve if s.start <= station <= s.end]
        assert max(told) == count


def test_a_component_that_repeats_up_to_a_station_is_refused() -> None:
    catalogue = catalogue_of()
    order = some_orders(catalogue, 3, 1)[0]
    spread = next(c for c in order.library.components.values() if c.repeat and c.repeat.to and c.groups)
    with pytest.raises(ValueError, match="repeats up to a station"):
        free_stations(spread, order, catalogue, placements([]))
