"""A component against the rail for all orders at once: its ends, and the zones that limits are told for.

Intervals of a component's station know which end of the rail each of their ends is measured from; those of a zone hold
while their feature stands in it. Rail ends and zones are forms of the order dimensions too, so that both are solved as
pairs of components are, with a few conditions more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.placing.alone import FRONT, NOWHERE, REAR, EndSpans
from railgen.placing.component_pairs import Found
from railgen.placing.forms import SLACK, Dimensions, Form, Stations, form_range
from railgen.placing.regions import Condition, axes_of, condition, in_all, merged_hits, region, solve
from railgen.placing.spans import Spans, joined


@dataclass(frozen=True)
class InZone:
    """Intervals that hold while something stands in a zone: at, how far behind its component's station that is, mm."""

    zone: str
    spans: EndSpans
    at: FloatArray


@dataclass(frozen=True)
class _Rows:
    """Conditions of n intervals, each a form that must lie strictly between two figures: a list of columns of them."""

    spans: Spans
    conditions: list[Condition]


def clash_alone(
    stations: Stations, alone: EndSpans, zones: list[InZone], always: Spans, dimensions: Dimensions
) -> Found | None:
    """Where a component breaks a rule by itself; always: what it breaks wherever it stands. None where in no order."""
    some = np.flatnonzero(np.isin(alone.low_from, (NOWHERE, FRONT, REAR)) & (alone.high_from == alone.low_from))
    told = EndSpans(alone.spans.at(some), alone.low_from[some], alone.high_from[some])
    parts = [_marked(told, dimensions, None), _everywhere(always, dimensions)]
    parts += [_marked(found.spans, dimensions, found) for found in zones]
    return _clash(stations, _joined(parts), dimensions)


def _everywhere(spans: Spans, dimensions: Dimensions) -> _Rows:
    endless = np.full(len(spans), np.inf)
    nowhere = np.zeros(len(spans), dtype=np.int64)
    every = Spans(-endless, endless, spans.reason, spans.first, spans.second)
    return _marked(EndSpans(every, nowhere, nowhere), dimensions, None)


def _marked(closed: EndSpans, dimensions: Dimensions, zone: InZone | None) -> _Rows:
    """Intervals as conditions on a station, less the forms that their ends are measured from and the zone's."""
    anchors, spans = dimensions.anchors, closed.spans
    nothing = Form(0.0, np.zeros(len(dimensions.each)))
    forms: Mapping[int, Form] = {NOWHERE: nothing, FRONT: anchors["rail_front"], REAR: anchors["rail_rear"]}
    endless = np.full(len(spans), np.inf)
    conditions = [
        _less(forms, closed.low_from, spans.low, endless),
        _less(forms, closed.high_from, -endless, spans.high),
    ]
    if zone is None:
        always = condition(nothing, -np.inf, np.inf, len(spans))
        return _Rows(spans, [*conditions, always, always])
    start, end = dimensions.zones[zone.zone]
    nowhere = np.zeros(len(spans), dtype=np.int64)
    # The zone's ends are in it.
    conditions.append(_less({0: start}, nowhere, -zone.at - SLACK, endless))
    conditions.append(_less({0: end}, nowhere, -endless, -zone.at + SLACK))
    return _Rows(spans, conditions)


def _less(forms: Mapping[int, Form], which: IntArray, low: FloatArray, high: FloatArray) -> Condition:
    """What a station less some forms must lie between."""
    keys = sorted(forms)
    offset, per = np.array([forms[key].offset for key in keys]), np.array([forms[key].per for key in keys])
    place = np.searchsorted(keys, which)
    return Condition(-offset[place], -per[place], low, high)


def _joined(parts: list[_Rows]) -> _Rows:
    columns = zip(*(part.conditions for part in parts), strict=True)
    conditions = [
        Condition(
            *(np.concatenate([getattr(held, name) for held in column]) for name in Condition.__dataclass_fields__)
        )
        for column in columns
    ]
    return _Rows(joined([part.spans for part in parts]), conditions)


def _clash(stations: Stations, closed: _Rows, dimensions: Dimensions) -> Found | None:
    """Intervals of a station, seen from each instance of the component at each station of its grid."""
    row, interval = (grid.ravel() for grid in np.indices((len(stations.offset), len(closed.spans))))
    shift = stations.shift
    own = Condition(stations.offset[row], stations.per[row], np.zeros(len(row)), np.zeros(len(row)))
    every = [_added(own, held.at(interval)) for held in closed.conditions]
    kept = _reached(every, float(shift.min()), float(shift.max()), dimensions)
    row, interval, every = row[kept], interval[kept], [held.at(kept) for held in every]
    if not len(row):
        return None
    step = np.repeat(np.arange(len(shift)), len(row))
    row, interval = np.tile(row, len(shift)), np.tile(interval, len(shift))
    index = np.tile(np.arange(len(every[0].offset)), len(shift))
    conditions = [_moved(held.at(index), shift[step]) for held in every]
    if stations.pieces:
        piece = condition(stations.span, 0.0, 0.0, len(row))
        conditions.append(Condition(piece.offset, piece.per, stations.low[row], stations.high[row]))
    if stations.present is not None:
        conditions.append(condition(*stations.present, len(row)))
    used = np.any([np.any(held.per != 0.0, axis=0) for held in conditions], axis=0)
    axes = axes_of(dimensions, np.flatnonzero(used).tolist())
    hits = solve(axes, conditions)
    by_reason = merged_hits(axes, replace(hits, row=closed.spans.reason[interval][hits.row]))
    possible = region(axes, by_reason)
    if not possible.any:
        return None
    if len(shift) == 1:
        return Found(possible, possible, np.ones((1, 1), dtype=np.bool_), by_reason)
    reached = np.zeros((len(shift), 1), dtype=np.bool_)
    reached[np.unique(step[hits.row]), 0] = True
    return Found(possible, in_all(axes, hits, step[hits.row], len(shift)), reached, by_reason)


def _added(own: Condition, held: Condition) -> Condition:
    return Condition(own.offset + held.offset, own.per + held.per, held.low, held.high)


def _moved(held: Condition, by: FloatArray) -> Condition:
    return Condition(held.offset + by, held.per, held.low, held.high)


def _reached(every: list[Condition], first: float, last: float, dimensions: Dimensions) -> BoolArray:
    """Which rows can hold in some order, settled from first to last."""
    kept = np.ones(len(every[0].offset), dtype=np.bool_)
    for held in every:
        least, most = form_range(held.offset, held.per, dimensions)
        kept &= (least + first < held.high) & (most + last > held.low)
    return kept
