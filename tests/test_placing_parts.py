"""Closed intervals of envelopes against the rules themselves, on both sides of every end."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
from placing_world import catalogue_of, some_orders

from railgen.holes.table import LH, RH, FloatArray
from railgen.layout.features import rail_features
from railgen.layout.place import placements
from railgen.placing.setting import Key, Setting, setting_of
from railgen.placing.spans import REASONS, covered
from railgen.rules.pattern import Pattern
from railgen.rules.space import space_clash

NEAR = 1e-6
"""mm to each side of an end."""
WIDTH = 330.0
"""mm between the webs: so narrow that parts of one side meet those of the other."""


def tried(low: FloatArray, high: FloatArray, rng: random.Random) -> FloatArray:
    """Stations on both sides of every end, and some between."""
    ends = np.concatenate([low, high])
    ends = ends[np.isfinite(ends)]
    return np.sort(np.concatenate([ends - NEAR, ends + NEAR, [rng.uniform(-1200.0, 1200.0) for _ in range(6)]]))


def clashes(setting: Setting, a: Key, b: Key, station: float, opposite: bool) -> set[tuple[str, str]]:
    """Rules and measures that envelopes of two components break, the first at a station, the second at 0."""
    order = replace(setting.order, dimensions={**setting.order.dimensions, "frame_width": WIDTH})
    other_side = RH if opposite else LH
    stands = placements([(a[0], LH, 1, station, float(a[1])), (b[0], other_side, 2, 0.0, float(b[1]))])
    nothing = rail_features(order, setting.catalogue, placements([]))
    found = space_clash(Pattern(order, nothing, setting.limits, stands))
    return {(f.rule, f.measure) for f in found if f.severity == "error"}


def test_envelopes_close_exactly_where_they_are_too_near() -> None:
    catalogue, rng = catalogue_of(), random.Random(5)
    seen = {False: 0, True: 0}
    orders = [order for order in some_orders(catalogue, 20, 8) if order.limit_set == "house"]
    for order in orders[:3]:
        setting = setting_of(order, catalogue)
        keys = [key for key, body in setting.bodies.items() if len(body.boxes)]
        for _ in range(150):
            a, b = rng.choice(keys), rng.choice(keys)
            for opposite in (False, True):
                spans = setting.pairs(a, [b], WIDTH if opposite else None)[0].spans
                spans = spans.at(np.array([REASONS[reason][0] == "space-clash" for reason in spans.reason], dtype=bool))
                if len(spans):
                    stations = tried(spans.low, spans.high, rng)
                    found = covered(stations, spans.low, spans.high)
                    expected = [bool(clashes(setting, a, b, station, opposite)) for station in stations.tolist()]
                    assert found.tolist() == expected, (a, b, opposite)
                    seen[opposite] += 1
                else:
                    assert not clashes(setting, a, b, rng.uniform(-300.0, 300.0), opposite)
    assert min(seen.values()) > 10, seen
