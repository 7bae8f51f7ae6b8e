"""Stations at which two components have holes that are validly one, decided by the rules themselves.

A screw that is a foot's own is no stranger under it: what intervals of two components close by feet, sockets and space
takes every screw for one of its component alone. Where holes are shared the rules are asked.
"""

from __future__ import annotations

import numpy as np

from railgen.holes.sharing import merge_shared
from railgen.holes.table import LH, RH
from railgen.layout.features import rail_features, with_liner
from railgen.layout.place import placements
from railgen.placing.bodies import Key
from railgen.placing.pair_sources import PairSpans
from railgen.placing.setting import Setting
from railgen.placing.spans import REASON, Spans, joined
from railgen.rules.clearances import clearance_findings
from railgen.rules.pattern import Pattern


def closed_with_sharing(setting: Setting, a: Key, b: Key, pair: PairSpans) -> Spans:
    """Intervals closed to a by b, without those that the rules do not find where the two share holes."""
    closed = pair.spans
    if pair.shared is None:
        return closed
    for low, high in zip(*(end.tolist() for end in pair.shared), strict=True):
        middle = (low + high) / 2
        asked = (closed.first < 0) & (closed.low < middle) & (closed.high > middle)
        if asked.any():
            found = _found(setting, a, b, middle)
            gone = asked & ~np.isin(closed.reason, sorted(found))
            closed = _cut(closed, gone, low, high)
    return closed


def _found(setting: Setting, a: Key, b: Key, station: float) -> set[int]:
    """Reasons that the rules find between two components, a at a station and b at 0."""
    side = RH if -1 in (a[1], b[1]) else LH
    stands = placements([(a[0], side, 1, station, float(a[1])), (b[0], side, 1, 0.0, float(b[1]))])
    order, names = setting.order, setting.catalogue.names.components
    table = with_liner(order, merge_shared(rail_features(order, setting.catalogue, stands)))
    both = {names[a[0]], names[b[0]]}
    return {
        REASON[finding.rule, finding.measure]
        for finding in clearance_findings(Pattern(order, table, setting.limits, stands))
        if finding.severity == "error" and both <= set(finding.components)
    }


def _cut(closed: Spans, rows: np.ndarray, low: float, high: float) -> Spans:
    """Some intervals without what lies between two stations."""
    cut = closed.at(rows)
    left = Spans(cut.low, np.minimum(cut.high, low), cut.reason, cut.first, cut.second)
    right = Spans(np.maximum(cut.low, high), cut.high, cut.reason, cut.first, cut.second)
    parts = [part.at(part.low < part.high) for part in (left, right)]
    return joined([closed.at(~rows), *parts])
