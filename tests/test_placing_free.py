"""Free stations against the rules themselves: stepping along the rail, and to both sides of every interval's end."""

from __future__ import annotations

import random

import numpy as np
import pytest
from placing_world import catalogue_of, some_orders

from railgen.data.component import Component
from railgen.holes.sharing import merge_shared
from railgen.holes.table import LH, RH, BoolArray, FloatArray, HoleTable, stacked
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import rail_features, with_liner
from railgen.layout.place import place, placements
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.placing.free import FreeInterval, FreeStations, free_stations, intersected, nearest_in
from railgen.placing.greedy import settle
from railgen.placing.over_bank import Suited, free_on_all, suited_serials
from railgen.placing.trial import needs_whole_pattern
from railgen.rules.check import PATTERN_RULES, check, groups_in_error
from railgen.rules.limits import limit_table
from railgen.rules.pattern import Pattern

NEAR = 1e-6
"""mm to each side of an end."""
STEP = 0.05
"""mm between the stations that are tried one after the other."""


class Rules:
    """The rules asked station by station about one component on one side of a rail."""

    def __init__(self, component: Component, order: ResolvedOrder, catalogue: Catalogue, standing: Placements) -> None:
        self.component, self.order, self.catalogue = component, order, catalogue
        self.limits = limit_table(order.library, order.limit_set, order.order.limits.zones)
        kept = standing.component != catalogue.index[component.id]
        others = Placements(*(getattr(standing, name)[kept] for name in Placements.__dataclass_fields__))
        self.placed = with_liner(order, merge_shared(rail_features(order, catalogue, others)))

    def free(self, side: int, stations: FloatArray) -> BoolArray:
        tables = [self._candidate(side, station) for station in stations.tolist()]
        group = np.repeat(np.arange(len(tables)), [len(table) for table in tables])
        both = Pattern(self.order, stacked([self.placed, *tables]), self.limits)
        placed, some = np.arange(len(self.placed)), np.arange(len(self.placed), len(both.table))
        free = np.ones(len(stations), dtype=np.bool_)
        found = groups_in_error(both, some, group, placed)
        free[: len(found)] = ~found
        if needs_whole_pattern(self.component):
            for index in np.flatnonzero(free).tolist():
                free[index] = self._whole_pattern_holds(stacked([self.placed, tables[index]]))
        return free

    def _candidate(self, side: int, station: float) -> HoleTable:
        component, repeat = self.component, self.component.repeat
        count, pitch = (repeat.count or 1, repeat.pitch or 0.0) if repeat else (1, 0.0)
        direction = -1.0 if component.side == "turned" and side == RH else 1.0
        index = self.catalogue.index[component.id]
        rows = [(index, side, n + 1, station + n * pitch, direction) for n in range(count)]
        return with_liner(self.order, rail_features(self.order, self.catalogue, placements(rows)))

    def _whole_pattern_holds(self, table: HoleTable) -> bool:
        pattern = Pattern(self.order, table, self.limits)
        return not any(
            finding.severity == "error" and self.component.id in finding.components
            for rule in PATTERN_RULES
            for finding in rule(pattern)
        )


def said_free(intervals: tuple[FreeInterval, ...], stations: FloatArray) -> BoolArray:
    return np.array([any(i.start <= s <= i.end for i in intervals) for s in stations.tolist()])


def movable(component: Component) -> bool:
    return bool(component.groups) and not (component.repeat and component.repeat.to)


def cases(odd: int | None, orders: int, each: int, seed: int, tapered: bool) -> list[tuple[Rules, FreeStations]]:
    """Random components on random rails, those with flange holes or mates as often as others."""
    catalogue, rng = catalogue_of(odd), random.Random(seed)
    chosen = [order for order in some_orders(catalogue, 6 * orders, seed) if bool(order.rail.taper) == tapered]
    found = []
    for order in chosen[:orders]:
        standing = place(order, catalogue, settle(order, catalogue)[0])
        components = [c for c in order.library.components.values() if movable(c)]
        flanged = [c for c in components if needs_whole_pattern(c)]
        for component in rng.sample(components, each) + rng.sample(flanged, min(2, len(flanged))):
            found.append(
                (Rules(component, order, catalogue, standing), free_stations(component, order, catalogue, standing))
            )
    return found


def ends_that_hold(cases: list[tuple[Rules, FreeStations]]) -> int:
    """Tries both sides of every end of free intervals, and some stations between; returns how many ends there were."""
    rng, tried = random.Random(29), 0
    for rules, free in cases:
        low, high = free.window
        for side, intervals in free.sides.items():
            ends = np.array([end for i in intervals for end in (i.start, i.end)])
            anywhere = [rng.uniform(low, high) for _ in range(15)]
            stations = np.sort(np.concatenate([ends - NEAR, ends + NEAR, anywhere]))
            stations = stations[(stations > low) & (stations < high)]
            expected = rules.free(LH if side == "LH" else RH, stations)
            wrong = stations[said_free(intervals, stations) != expected]
            assert not len(wrong), (rules.order.serial, rules.component.id, side, wrong)
            tried += len(ends)
    return tried


@pytest.mark.parametrize("tapered", [False, True])
def test_every_end_closes_exactly_where_a_rule_is_broken(tapered: bool) -> None:
    assert ends_that_hold(cases(None, 4, 4, 31, tapered)) > 200


@pytest.mark.parametrize("tapered", [False, True])
def test_ends_of_odd_components_close_exactly_where_a_rule_is_broken(tapered: bool) -> None:
    assert sum(ends_that_hold(cases(odd, 4, 8, 31, tapered)) for odd in (0, 1, 2, 3)) > 200


def test_stepping_along_the_rail_agrees() -> None:
    for rules, free in cases(None, 3, 2, 37, tapered=True) + cases(1, 3, 2, 41, tapered=False):
        for side, intervals in free.sides.items():
            ends = [end for i in intervals for end in (i.start, i.end) if free.window[0] < end < free.window[1]]
            if not ends or needs_whole_pattern(rules.component):
                continue
            middle = ends[len(ends) // 2]
            stations = middle + STEP * (np.arange(-100, 100) + 0.5)
            stations = stations[(stations > free.window[0]) & (stations < free.window[1])]
            expected = rules.free(LH if side == "LH" else RH, stations)
            assert np.array_equal(said_free(intervals, stations), expected), (rules.order.serial, rules.component.id)


def test_bounds_name_a_rule_that_is_broken_just_beyond() -> None:
    seen = 0
    for rules, free in cases(None, 2, 4, 43, tapered=False):
        order, component = rules.order, rules.component
        if needs_whole_pattern(component):
            continue
        for side, intervals in free.sides.items():
            for interval in intervals:
                for bound, station in ((interval.ahead, interval.start - NEAR), (interval.behind, interval.end + NEAR)):
                    if bound is None:
                        continue
                    table = rules._candidate(LH if side == "LH" else RH, station)
                    found = errors_of(Pattern(order, stacked([rules.placed, table]), rules.limits), component.id)
                    holes = frozenset({bound.hole, bound.other} - {""})
                    assert any((bound.rule, bound.measure) == f[:2] and holes <= f[2] for f in found), (bound, found)
                    seen += 1
    assert seen > 50


def errors_of(pattern: Pattern, name: str) -> list[tuple[str, str, frozenset[str]]]:
    return [
        (f.rule, f.measure, frozenset(f.holes))
        for f in check(pattern)
        if f.severity == "error" and name in f.components
    ]


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
