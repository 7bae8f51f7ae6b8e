"""Closed intervals of feet, fasteners and envelopes against the rules themselves, on both sides of every end."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from placing_world import catalogue_of, some_orders

from railgen.data.findings import Finding
from railgen.holes.table import LH, RH, FloatArray
from railgen.layout.features import hole_table
from railgen.layout.place import placements
from railgen.layout.plan import ResolvedOrder
from railgen.placing.bodies import Key
from railgen.placing.pair_sources import PairSpans, Union
from railgen.placing.setting import Setting, setting_of
from railgen.placing.spans import REASONS, covered, union
from railgen.rules.breaks import findings_of
from railgen.rules.check import PAIR_RULES
from railgen.rules.clearances import clearance_findings
from railgen.rules.pattern import Pattern
from railgen.rules.spacing import pairs_within

NEAR = 1e-6
"""mm to each side of an end."""
WIDTH = 330.0
"""mm between the webs: so narrow that parts of one side meet those of the other."""
PAIRS = 6
"""Pairs that are tried of one order."""
MOST = 8
"""Ends that are tried of one pair."""


def closed_to(pair: PairSpans, liner: bool) -> Union:
    """Relative stations that a pair closes where both go through a liner, or where there is none."""
    parts = [pair.spans, *(d.spans for d in pair.dependent if d.inside == liner)]
    parts += [pair.in_liner] if liner else []
    return union(*(np.concatenate([getattr(spans, end) for spans in parts]) for end in ("low", "high")))


def tried(closed: Union, rng: random.Random) -> FloatArray:
    """Stations on both sides of some ends, and some between."""
    ends = [end for side in closed for end in side.tolist()]
    ends = rng.sample(ends, min(len(ends), MOST))
    return np.sort([*(e + s for e in ends for s in (-NEAR, NEAR)), *(rng.uniform(-900.0, 900.0) for _ in range(4))])


def broken(order: ResolvedOrder, setting: Setting, a: Key, b: Key, station: float, opposite: bool) -> list[Finding]:
    """Errors about both of two components, the first at a station, the second at 0."""
    side = RH if opposite else LH
    stands = placements([(a[0], LH, 1, station, float(a[1])), (b[0], side, 2, 0.0, float(b[1]))])
    pattern = Pattern(order, hole_table(order, setting.catalogue, stands), setting.limits, stands)
    found = [f for f in (*clearance_findings(pattern), *hole_findings(pattern)) if f.severity == "error"]
    names = setting.catalogue.names.components
    both = {names[a[0]], names[b[0]]}
    return [f for f in found if both <= set(f.components) and f.rule not in ("net-section", "holes-in-line")]


def hole_findings(pattern: Pattern) -> list[Finding]:
    pairs = pairs_within(pattern)
    return [f for rule in PAIR_RULES for found in rule(pairs) for f in findings_of(pattern, found)]


@pytest.mark.parametrize("odd", [None, 0, 2])
def test_pairs_close_exactly_where_feet_fasteners_or_envelopes_are_too_near(odd: int | None) -> None:
    catalogue, rng = catalogue_of(odd), random.Random(5)
    seen: dict[tuple[str, str], int] = {}
    orders = [order for order in some_orders(catalogue, 40, 8) if order.limit_set in ("house", "odd", "very-odd")]
    for order in sorted(orders, key=lambda order: not order.rail.liner)[:3]:
        setting = setting_of(order, catalogue)
        keys = [key for key, body in setting.bodies.items() if len(body.boxes) + len(body.feet)]
        keys = [
            key
            for key in keys
            if not any(g.face != "web" for g in order.library.components[catalogue.names.components[key[0]]].groups)
        ]
        wide = replace(setting.order, dimensions={**setting.order.dimensions, "frame_width": WIDTH})
        bare = replace(wide, rail=replace(wide.rail, liner=None))
        for _ in range(PAIRS):
            a, b = rng.choice(keys), rng.choice(keys)
            if a[0] == b[0]:
                continue
            opposite = rng.random() < 0.25
            pair = setting.pairs(a, [b], WIDTH if opposite else None)[0]
            for order_there, liner in [(bare, False)] + ([(wide, True)] if order.rail.liner else []):
                closed = closed_to(pair, liner)
                stations = tried(closed, rng)
                if pair.shared:
                    stations = stations[~covered(stations, *pair.shared)]
                found = covered(stations, *closed)
                for station, is_closed in zip(stations.tolist(), found.tolist(), strict=True):
                    errors = broken(order_there, setting, a, b, station, opposite)
                    assert is_closed == bool(errors), (a, b, opposite, liner, station, errors)
            for reason in pair.spans.reason.tolist():
                seen[REASONS[reason]] = seen.get(REASONS[reason], 0) + 1
    assert {rule for rule, _ in seen} >= {"footprint-clash", "space-clash", "wrench-access"}, seen
