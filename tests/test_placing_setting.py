"""Closed intervals of components, alone and in pairs, against the rules themselves: at random, and at every end."""

from __future__ import annotations

import random

import numpy as np
import pytest
from greedy import needs_whole_pattern
from placing_world import catalogue_of, some_orders

from railgen.holes.table import LH, RAIL, FloatArray, HoleTable, stacked
from railgen.layout.features import hole_table, rail_features, with_liner
from railgen.layout.place import placements
from railgen.layout.plan import ResolvedOrder
from railgen.placing.bodies import Key, marks_of
from railgen.placing.ground import Ground
from railgen.placing.setting import Setting, setting_of
from railgen.placing.spans import REASON, covered
from railgen.placing.trial import errors_about
from railgen.rules.check import PAIR_RULES, every_finding
from railgen.rules.clearances import PAIR_CLEARANCES
from railgen.rules.pattern import Pattern, pattern_of
from railgen.rules.spacing import pairs_between

STUDS = ("weld-clearance", "stud-hole")
LEFT_OUT = ("net-section", "holes-in-line", "press-limit")
STEP = 1e-6
"""mm to each side of an end: the rules' own tolerance, far above rounding."""


def stepped(low: FloatArray, high: FloatArray, rng: random.Random, span: float) -> FloatArray:
    """Stations around every end of some intervals, and at random between."""
    ends = np.concatenate([low, high])
    ends = ends[np.isfinite(ends)]
    anywhere = [rng.uniform(-span, span) for _ in range(20)]
    return np.sort(np.concatenate([ends - STEP, ends + STEP, anywhere]))


def at_stations(setting: Setting, key: Key, stations: FloatArray) -> tuple[HoleTable, FloatArray]:
    """A component on the setting's rail at each station, and the number of each row's station."""
    rows = [(key[0], LH, n, station, 1.0) for n, station in enumerate(stations)]
    table = with_liner(setting.order, rail_features(setting.order, setting.catalogue, placements(rows)))
    return table, table.instance


def closed_by_rules(setting: Setting, a: Key, b: Key, stations: FloatArray, part: int) -> np.ndarray:
    """At which stations any pair rule is in error between two components on one part."""
    mine, number = at_stations(setting, a, stations)
    other, _ = at_stations(setting, b, np.zeros(1))
    both = Pattern(setting.order, stacked([mine, other]), setting.limits)
    some = np.flatnonzero(mine.part == part)
    others = np.flatnonzero(other.part == part) + len(mine)
    pairs = pairs_between(both, some, others)
    found = np.zeros(len(stations), dtype=np.bool_)
    for rule in (*PAIR_RULES, *PAIR_CLEARANCES):
        for broken in rule(pairs):
            found[number[broken.first[broken.is_error]]] = True
    return found


@pytest.mark.parametrize("odd", [None, 0, 1, 2, 5])
def test_pairs_are_closed_exactly_where_a_rule_is_broken(odd: int | None) -> None:
    catalogue = catalogue_of(odd)
    rng = random.Random(17)
    met = 0
    for order in some_orders(catalogue, 4, 40):
        setting = setting_of(order, catalogue)
        keys = [key for key in setting.bodies if key[1] > 0]
        for _ in range(16):
            a, b = rng.choice(keys), rng.choice(keys)
            pair = setting.pairs(a, [b])[0]
            of_holes = pair.spans.at((pair.spans.first >= 0) & (pair.spans.reason != REASON[STUDS]))
            for part, spans in ((RAIL, of_holes), (1, pair.in_liner)):
                stations = stepped(spans.low, spans.high, rng, 300.0)
                met += len(spans)
                expected = closed_by_rules(setting, a, b, stations, part)
                found = covered(stations, spans.low, spans.high)
                assert np.array_equal(found, expected), (order.serial, a, b, part, stations[found != expected])
    assert met > 400


def closed_alone_by_rules(order: ResolvedOrder, ground: Ground, name: str, stations: FloatArray) -> list[bool]:
    """At which stations a component is in error on an empty rail, whole patterns and the press left out."""
    found = []
    for station in stations.tolist():
        stands = placements([(ground.catalogue.index[name], LH, 1, station, 1.0)])
        pattern = pattern_of(order, hole_table(order, ground.catalogue, stands), stands)
        errors = [f for f in errors_about(name, every_finding(pattern)) if f.rule not in LEFT_OUT]
        found.append(bool(errors))
    return found


@pytest.mark.parametrize("odd", [None, 0, 1, 5])
def test_ends_of_rail_and_liner_close_exactly_what_the_rules_close(odd: int | None) -> None:
    catalogue = catalogue_of(odd)
    rng = random.Random(23)
    seen = 0
    for order in some_orders(catalogue, 30, 11):
        if order.rail.taper or order.order.limits.zones:
            continue
        ground = Ground(order, catalogue)
        for name in rng.sample(catalogue.names.components, 8):
            component = order.library.components[name]
            if needs_whole_pattern(component) or not component.groups:
                continue
            key = (catalogue.index[name], 1)
            alone = ground.setting.bodies[key].alone.moved(marks_of(order)).spans
            clashes = ground.setting.clashes(key)
            ends = [np.array(rng.sample(end.tolist(), min(4, len(end)))) for end in (alone.low, alone.high)]
            stations = stepped(*ends, rng, 5000.0)
            stations = stations[(stations > order.rail.front - 200.0) & (stations < order.rail.rear + 200.0)]
            if len(clashes[1]) and not len(clashes[0]):
                continue
            found = covered(stations, alone.low, alone.high) | bool(len(clashes[0]))
            expected = closed_alone_by_rules(order, ground, name, stations)
            assert found.tolist() == expected, (order.serial, name, stations[found != expected])
            seen += 1
    assert seen > 2
