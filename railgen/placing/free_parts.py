"""Feet, fasteners and envelopes of a component that moves along a real rail beside all that stands there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from math import tan

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import VALUE_TOLERANCE
from railgen.holes.table import RAIL, FloatArray, IntArray
from railgen.layout.feet import INSIDE
from railgen.layout.place import placements
from railgen.placing.boxes import Boxes, box_spans, boxes_of
from railgen.placing.fasteners import Fasteners, fasteners_near_feet, fasteners_of, lengths_before_boxes
from railgen.placing.feet import foot_spans, prints_of
from railgen.placing.foot_terms import closed_feet
from railgen.placing.holes import Holes, holes_of, stud_spans, studs_of
from railgen.placing.moving import SHORTEST, Moving, instances_of, zones_named
from railgen.placing.reach import REACHING, SPACE
from railgen.placing.spans import Spans, joined, spans
from railgen.placing.tail import blank_velocity
from railgen.placing.terms import Term
from railgen.rules.limits import LimitTable
from railgen.rules.pattern import Pattern
from railgen.rules.wrench import to_other_flange

_ASKED = REACHING | SPACE | {"ramp-flush"}
"""Rules about feet and envelopes."""


@dataclass(frozen=True)
class MovingParts:
    """A moving component's feet and envelopes, each placement good for stations from low to high (mm).

    pattern: placements of all instances where the component stands at ``at``, the middle of their piece.
    """

    pattern: Pattern
    at: FloatArray
    low: FloatArray
    high: FloatArray


@dataclass(frozen=True)
class Met:
    """Closed stations, what closes them and whom: second is a row of what stands, owner the component met, else -1."""

    spans: Spans
    owner: IntArray


def moving_parts(
    component: Component, side: int, window: tuple[float, float], like: Pattern, limits: LimitTable
) -> MovingParts:
    """Feet and envelopes of all instances on one side, in pieces within which their limits do not change."""
    order = like.order
    catalogue_row = list(order.library.components).index(component.id)
    rows = instances_of(component, side, catalogue_row)
    nothing = like.table.rows(np.zeros(len(like.table), dtype=np.bool_))
    still = Pattern(order, nothing, limits, placements(rows))
    middles = np.concatenate([still.feet.station, still.envelopes.station])
    cuts = [mark - middle for mark in _marks(still) for middle in middles.tolist()]
    ends = np.unique(np.clip([*window, *cuts], *window))
    pieces = [(low, high) for low, high in pairwise(ends.tolist()) if high - low > SHORTEST]
    everywhere = [(index, on, n, x + (low + high) / 2, d) for low, high in pieces for index, on, n, x, d in rows]
    ranges = np.repeat(np.array(pieces).reshape(-1, 2), len(rows), axis=0)
    pattern = Pattern(order, nothing, limits, placements(everywhere))
    return MovingParts(pattern, ranges.mean(axis=1), ranges[:, 0], ranges[:, 1])


def _marks(pattern: Pattern) -> Iterator[float]:
    """Stations where limits of feet and envelopes change."""
    order, taper = pattern.order, pattern.rail.taper
    for zone in order.order.limits.zones:
        yield from (zone.start, zone.end)
    for name in sorted(zones_named(pattern.limits, _ASKED)):
        yield from order.zones.get(name, ())
    if taper is None:
        return
    yield taper.start
    for (rule, _), held in pattern.limits.rows.items():
        for row in (entry.row for entry in held if rule in _ASKED):
            bounds = row.when.depth if row.when else None
            for depth in (bounds.least, bounds.most, bounds.above, bounds.below) if bounds else ():
                if depth is not None:
                    yield taper.start + (taper.depth - depth) / tan(taper.slope)


def closed_by_parts(moved: Moving, parts: MovingParts, still: Pattern, side: int) -> Met:
    """Stations closed by feet, fasteners and envelopes; still: all that stands, both sides, with its placements."""
    mine = _Mine(moved, parts)
    feet, boxes = _standing_feet(still, side), _seen_from(boxes_of(still), still, side)
    table = still.table
    theirs = fasteners_of(still)
    near, far = (np.flatnonzero((table.side[theirs.row] == side) == same) for same in (True, False))
    width = still.order.dimensions["frame_width"]
    found = [
        mine.feet_alone(),
        mine.before_other_flange(),
        mine.studs_among_holes(),
        mine.studs_beside_holes(still, side),
        mine.feet_among(),
        mine.feet_beside(still, feet),
        mine.fasteners_on(still, feet),
        mine.feet_on(still, theirs, near),
        mine.boxes_beside(boxes),
        mine.boxes_before_screws(still, theirs, near, mine.boxes),
        mine.boxes_before_screws(still, theirs, far, mine.boxes.across_from(width)),
        mine.screws_before(boxes),
    ]
    spans = joined([met.spans for met in found])
    return Met(spans, np.concatenate([met.owner for met in found if len(met.spans)] or [np.zeros(0, dtype=np.int64)]))


def _standing_feet(still: Pattern, side: int) -> IntArray:
    return np.flatnonzero(still.feet.side == side)


def _seen_from(boxes: Boxes, still: Pattern, side: int) -> Boxes:
    """Envelopes of both sides as the rail of one side sees them."""
    across = boxes.across_from(still.order.dimensions["frame_width"])
    own = (still.envelopes.side == side)[:, None]
    return replace(boxes, low=np.where(own, boxes.low, across.low), high=np.where(own, boxes.high, across.high))


class _Mine:
    """What moves, and the stations that others close to it."""

    def __init__(self, moved: Moving, parts: MovingParts) -> None:
        self._moved, self._parts = moved, parts
        self.prints = prints_of(parts.pattern)
        self.boxes = boxes_of(parts.pattern)
        self.fasteners = fasteners_of(moved.pattern)

    def _of_feet(self, steps: Spans, owner: IntArray, second: IntArray) -> Met:
        return self._clipped(steps, self.prints.feet.placement[steps.first], owner, second)

    def _of_boxes(self, steps: Spans, owner: IntArray, second: IntArray) -> Met:
        return self._clipped(steps, self.boxes.placement[steps.first], owner, second)

    def _clipped(self, steps: Spans, placement: IntArray, owner: IntArray, second: IntArray) -> Met:
        """Steps of feet or envelopes as stations, no further than their pieces reach."""
        parts = self._parts
        low = np.maximum(steps.low + parts.at[placement], parts.low[placement])
        high = np.minimum(steps.high + parts.at[placement], parts.high[placement])
        nothing = np.full(len(steps), -1)
        return _some(Spans(low, high, steps.reason, nothing, second), owner)

    def _of_fasteners(self, steps: Spans, owner: IntArray) -> Met:
        """Steps of fasteners as stations, no further than the pieces of their rows reach."""
        row, moved = self.fasteners.row[steps.first], self._moved
        low = np.maximum(steps.low + moved.at[row], moved.low[row])
        high = np.minimum(steps.high + moved.at[row], moved.high[row])
        return _some(Spans(low, high, steps.reason, row, np.full(len(steps), -1)), owner)

    def before_other_flange(self) -> Met:
        """Screws inside a flange that the other flange leaves too little length."""
        pattern, screws = self._moved.pattern, self.fasteners
        taper, count = pattern.rail.taper, len(screws)
        value = to_other_flange(pattern, screws.row, screws.seats[:, INSIDE])
        falls = pattern.table.station[screws.row] > taper.start if taper else np.zeros(count, dtype=np.bool_)
        slope = np.where(falls, -tan(taper.slope) if taper else 0.0, 0.0)
        limit = screws.length[:, INSIDE] - VALUE_TOLERANCE
        low, high = Term(value, slope, 0).below(np.arange(count), limit, np.zeros(count))
        parts = []
        for measure, chosen in (("nut-length", screws.head_outside), ("head-length", ~screws.head_outside)):
            rows = np.flatnonzero(chosen)
            parts.append(spans(("wrench-access", measure), low[rows], high[rows], rows))
        steps = joined(parts)
        return self._of_fasteners(steps, np.full(len(steps), -1))

    def _of_rows(self, steps: Spans, second: IntArray) -> Met:
        row, moved = steps.first, self._moved
        low = np.maximum(steps.low + moved.at[row], moved.low[row])
        high = np.minimum(steps.high + moved.at[row], moved.high[row])
        return _some(Spans(low, high, steps.reason, row, second), np.full(len(steps), -1))

    def studs_beside_holes(self, still: Pattern, side: int) -> Met:
        pattern = self._moved.pattern
        velocity, none = blank_velocity(pattern.rail, pattern.table), np.zeros((len(still.table), 2))
        here = np.flatnonzero((still.table.side == side) & (still.table.part == RAIL))
        studs = studs_of(still, none)
        found = []
        for mine, theirs, others in (
            (studs_of(pattern, velocity), holes_of(still, here, none), None),
            (holes_of(pattern, _rail_rows(pattern), velocity), studs, still.table.side[studs.row] == side),
        ):
            which = np.arange(len(theirs.row)) if others is None else np.flatnonzero(others)
            i, j = _all_pairs(len(mine.row), which)
            steps, _ = stud_spans(mine, theirs, i, j, mine.velocity[i])
            found.append(self._of_rows(steps, steps.second))
        return Met(joined([met.spans for met in found]), np.full(sum(len(met.spans) for met in found), -1))

    def studs_among_holes(self) -> Met:
        """The component's own studs and holes, which keep their distance within a panel."""
        moved, pattern = self._moved, self._moved.pattern
        velocity = blank_velocity(pattern.rail, pattern.table)

        def at_zero(holes: Holes) -> Holes:
            back = moved.at[holes.row, None] * holes.velocity
            return replace(holes, x=holes.x - back[:, 0], y=holes.y - back[:, 1])

        studs, holes = at_zero(studs_of(pattern, velocity)), at_zero(holes_of(pattern, _rail_rows(pattern), velocity))
        i, j = _all_pairs(len(studs.row), np.arange(len(holes.row)))
        steps, _ = stud_spans(studs, holes, i, j, np.tile([1.0, 0.0], (len(i), 1)))
        steps = steps.holding(0.0)
        low = np.maximum(moved.low[steps.first], moved.low[steps.second])
        high = np.minimum(moved.high[steps.first], moved.high[steps.second])
        nobody = np.full(len(steps), -1)
        return _some(Spans(low, high, steps.reason, steps.first, nobody), nobody)

    def feet_alone(self) -> Met:
        steps = closed_feet(self._parts.pattern).spans
        nobody = np.full(len(steps), -1)
        return self._of_feet(steps, nobody, nobody)

    def feet_among(self) -> Met:
        """Feet of two instances, which keep their distance."""
        feet = self.prints.feet
        i, j = np.triu_indices(len(feet), 1)
        piece = self._parts.at[feet.placement]
        two = (feet.placement[i] != feet.placement[j]) & (piece[i] == piece[j])
        steps = foot_spans(self._parts.pattern, self.prints, self.prints, i[two], j[two]).holding(0.0)
        endless = np.full(len(steps), np.inf)
        nobody = np.full(len(steps), -1)
        return self._of_feet(Spans(-endless, endless, steps.reason, steps.first, nobody), nobody, nobody)

    def _within_pieces(self, low: FloatArray, high: FloatArray) -> tuple[IntArray, IntArray]:
        """Fasteners, and stretches from low to high (mm) that they come near to while their pieces hold."""
        screws, moved = self.fasteners, self._moved
        row = screws.row
        gaps = np.concatenate(
            [screws.washer_gap + screws.seat, screws.socket_gap + screws.socket.max(axis=1), screws.radius]
        )
        reach = float(np.max(gaps, initial=0.0)) + float(np.max(screws.half, initial=0.0))
        x = screws.place[:, 0] - moved.at[row]
        first, last = x + moved.low[row] - reach, x + moved.high[row] + reach
        i, j = np.nonzero((high >= first[:, None]) & (low <= last[:, None]))
        return i, j

    def feet_beside(self, still: Pattern, feet: IntArray) -> Met:
        theirs = prints_of(still)
        i, j = _all_pairs(len(self.prints), feet)
        steps = foot_spans(still, self.prints, theirs, i, j)
        return self._of_feet(steps, theirs.feet.component[steps.second], np.full(len(steps), -1))

    def fasteners_on(self, still: Pattern, feet: IntArray) -> Met:
        i, j = self._within_pieces(still.feet.low[feet, 0], still.feet.high[feet, 0])
        j = feet[j]
        steps = fasteners_near_feet(self._moved.pattern, self.fasteners, still.feet, i, j)
        return self._of_fasteners(steps, still.feet.component[steps.second])

    def feet_on(self, still: Pattern, theirs: Fasteners, near: IntArray) -> Met:
        i, j = _all_pairs(len(self.prints), near)
        steps = fasteners_near_feet(still, theirs, self.prints.feet, j, i).seen_from_other()
        return self._of_feet(steps, np.full(len(steps), -1), theirs.row[steps.second])

    def boxes_beside(self, boxes: Boxes) -> Met:
        i, j = _all_pairs(len(self.boxes), np.arange(len(boxes)))
        steps = box_spans(self._parts.pattern, self.boxes, boxes, i, j)
        return self._of_boxes(steps, boxes.component[steps.second], np.full(len(steps), -1))

    def boxes_before_screws(self, still: Pattern, theirs: Fasteners, which: IntArray, boxes: Boxes) -> Met:
        i, j = _all_pairs(len(boxes), which)
        steps = lengths_before_boxes(still, theirs, boxes, j, i).seen_from_other()
        return self._of_boxes(steps, np.full(len(steps), -1), theirs.row[steps.second])

    def screws_before(self, boxes: Boxes) -> Met:
        i, j = self._within_pieces(boxes.low[:, 0], boxes.high[:, 0])
        steps = lengths_before_boxes(self._moved.pattern, self.fasteners, boxes, i, j)
        return self._of_fasteners(steps, boxes.component[steps.second])


def _some(spans: Spans, owner: IntArray) -> Met:
    kept = np.flatnonzero(spans.low < spans.high)
    return Met(spans.at(kept), owner[kept])


def _rail_rows(pattern: Pattern) -> IntArray:
    return np.flatnonzero(pattern.table.part == RAIL)


def _all_pairs(count: int, others: IntArray) -> tuple[IntArray, IntArray]:
    return np.repeat(np.arange(count), len(others)), np.tile(others, count)
