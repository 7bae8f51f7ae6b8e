"""Rules that look at one feature, as intervals of its component's station.

Every such measure is a least of distances that change evenly as the component moves, to ends, edges and bends, and of
distances to the cuts of a taper (see ``tail``). Intervals know which end of rail or liner they are measured from, so
that what is closed on one rail is closed on rails of every length.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import sin, tan

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.frame.panels import Panel
from railgen.holes.shapes import cores_of
from railgen.holes.table import LINER, RAIL, BoolArray, FloatArray, IntArray
from railgen.layout.feet import INSIDE
from railgen.placing.spans import Spans, joined, spans, split
from railgen.placing.tail import cut_spans, upset_terms
from railgen.placing.terms import Term
from railgen.rules.flanges import flange_hole
from railgen.rules.limits import evaluate
from railgen.rules.pattern import Pattern
from railgen.rules.ramp import ramp_flush
from railgen.rules.sizes import hole_size
from railgen.rules.washers import liner_tangent_distance
from railgen.rules.welds import stud_rows, weld_clearance
from railgen.rules.wrench import has_socket, sockets, to_straight_faces, to_turned_flange

NOWHERE, FRONT, REAR, LINER_START, LINER_END = range(5)
"""What an interval's end is measured from."""


@dataclass(frozen=True)
class EndSpans:
    """Intervals with what their low and high ends are measured from."""

    spans: Spans
    low_from: IntArray
    high_from: IntArray

    def moved(self, by: FloatArray) -> EndSpans:
        """The intervals with each end moved as far as what it is measured from; by: mm for each of those."""
        closed = self.spans
        low, high = closed.low + by[self.low_from], closed.high + by[self.high_from]
        return EndSpans(Spans(low, high, closed.reason, closed.first, closed.second), self.low_from, self.high_from)

    def with_feet(self, feet: EndSpans) -> EndSpans:
        """These intervals and those of feet, which are no rows of the table."""
        found = feet.spans
        told = replace(found, first=np.full(len(found), -1), second=np.full(len(found), -1))
        return EndSpans(
            joined([self.spans, told]),
            np.concatenate([self.low_from, feet.low_from]),
            np.concatenate([self.high_from, feet.high_from]),
        )

    def split(self, number: IntArray, count: int) -> list[EndSpans]:
        """The intervals of each component; number: the component of each row of the table, from 0 to count - 1."""
        parts = split(number[self.spans.first], count)
        return [EndSpans(self.spans.at(part), self.low_from[part], self.high_from[part]) for part in parts]


def closed_alone(pattern: Pattern, velocity: FloatArray) -> EndSpans:
    """Where components may not stand, whatever stands beside them, in steps from where each row of a pattern stands.

    velocity: (n, 2) of each row's blank position over the station. Panels and limits are taken as they are where the
    rows stand, so that an interval holds as far as those do.
    """
    found = [
        *_by_measure(pattern, velocity),
        *_by_size(pattern),
        *_beside_liner(pattern),
        *_sockets_in_liner(pattern),
        *_at_liner_ends(pattern),
    ]
    closed = end_spans(found)
    low_from, high_from = closed.low_from, closed.high_from
    held, low_from, high_from = _while_in_liner(pattern, closed.spans, low_from, high_from)
    some = np.flatnonzero(held.low < held.high)
    return EndSpans(held.at(some), low_from[some], high_from[some])


_Part = tuple[Spans, int, int]
"""Intervals, and what their low and their high ends are measured from."""


def end_spans(parts: Sequence[_Part]) -> EndSpans:
    """Intervals of some parts that are not empty."""
    closed = joined([part for part, _, _ in parts])
    low_from, high_from = (
        np.concatenate([np.zeros(0, dtype=np.int64), *(np.full(len(part[0]), part[end]) for part in parts)])
        for end in (1, 2)
    )
    some = np.flatnonzero(closed.low < closed.high)
    return EndSpans(closed.at(some), low_from[some], high_from[some])


@dataclass(frozen=True)
class _Measure:
    """A measure that must not be less than a limit: its terms, what is added to them, how the limit changes; n each."""

    reason: tuple[str, str]
    rows: IntArray
    terms: list[Term]
    added: FloatArray
    limit: FloatArray
    drift: FloatArray
    to_cuts: bool


def _measures(pattern: Pattern, velocity: FloatArray) -> Iterator[_Measure]:
    table, radius = pattern.table, pattern.cores.radius
    ends, edges, tangents = _end_terms(pattern, velocity), _edge_terms(pattern, velocity), _tangents(pattern, velocity)
    every, holes = np.arange(len(table)), np.flatnonzero(pattern.is_hole)
    on_rail = np.flatnonzero(pattern.is_hole & (table.part == RAIL))
    seated = np.flatnonzero((table.part == RAIL) & (pattern.washer_radius > 0))
    on_web = holes[table.face[holes] == 0]
    studs, turned = stud_rows(pattern), np.flatnonzero(has_socket(pattern, INSIDE))
    half, outer, nothing = pattern.hole_diameter / 2, radius - pattern.washer_radius, np.zeros(len(table))
    for rule, measure, rows, terms, added, to_cuts in (
        ("off-rail", "outside", every, [*ends, *edges, *tangents, *upset_terms(pattern, velocity)], nothing, True),
        ("edge-distance", "edge", holes, [*ends, *edges], half, True),
        ("edge-distance", "rail-end", on_rail, ends, half, False),
        ("bend-clearance", "tangent", holes, tangents, nothing, False),
        ("bend-clearance", "flange-inside", on_web, _inside_terms(pattern, velocity), nothing, False),
        ("washer-seat", "tangent", seated, tangents, outer, False),
        ("washer-seat", "edge", seated, [*ends, *edges], outer, True),
        ("wrench-access", "radial", turned, _socket_terms(pattern), -sockets(pattern), False),
        ("weld-clearance", "stud-tangent", studs, tangents, nothing, False),
        ("weld-clearance", "hole", on_rail, [], nothing, True),
    ):
        if pattern.limits.holds(rule, measure):
            error = pattern.limit(rule, measure).error[rows]
            limit = (-error if rule == "off-rail" else error) - VALUE_TOLERANCE
            drift = _limit_drift(pattern, rule, measure)[rows]
            yield _Measure((rule, measure), rows, terms, added[rows], limit, drift, to_cuts)


def _limit_drift(pattern: Pattern, rule: str, measure: str) -> FloatArray:
    """How fast a limit that multiplies the local depth grows over the station."""
    taper, station = pattern.rail.taper, pattern.table.station
    of_depth = any(entry.row.of == "depth" for entry in pattern.limits.rows[rule, measure])
    if taper is None or not of_depth:
        return np.zeros(len(station))
    shallower = replace(pattern.quantities, depth=pattern.quantities.depth - tan(taper.slope))
    later, now = evaluate(pattern.limits, rule, measure, shallower).error, pattern.limit(rule, measure).error
    changes = (station > taper.start) & (pattern.table.part == RAIL) & np.isfinite(now)
    return np.subtract(later, now, out=np.zeros(len(station)), where=changes)


def _by_measure(pattern: Pattern, velocity: FloatArray) -> Iterator[_Part]:
    part = pattern.table.part
    for held in _measures(pattern, velocity):
        for term in held.terms:
            low, high = term.below(held.rows, held.limit - held.added, held.drift)
            for mine in (RAIL, LINER):
                some = (part[held.rows] == mine) & (low < high)
                if not some.any():
                    continue
                mark = term.mark if mine == RAIL or term.mark == NOWHERE else term.mark + LINER_START - FRONT
                yield spans(held.reason, low[some], high[some], held.rows[some]), mark, mark
        if held.to_cuts and pattern.rail.taper:
            for closed in cut_spans(pattern, held.reason, held.rows, held.limit - held.added):
                yield closed, NOWHERE, NOWHERE


def _end_terms(pattern: Pattern, velocity: FloatArray) -> list[Term]:
    """Clearance to the ends of the part."""
    table, bounds, along = pattern.table, pattern.bounds, pattern.reach[0]
    front, rear = table.u - along - bounds.low_u_edge, bounds.high_u_edge - table.u - along
    slope_front, slope_rear = velocity[:, 0], -velocity[:, 0]
    strip = table.panel == Panel.TAIL_WEB
    if strip.any():
        # The rear end is cut square in the finished part, where the strip lies turned.
        rear = np.where(strip, pattern.rail.rear - table.station - pattern.finished_reach[0], rear)
        front, slope_rear = np.where(strip, np.inf, front), np.where(strip, -1.0, slope_rear)
    return [Term(front, slope_front, FRONT), Term(rear, slope_rear, REAR)]


def _edge_terms(pattern: Pattern, velocity: FloatArray) -> list[Term]:
    """Clearance to the free edges of flanges."""
    table, bounds, across = pattern.table, pattern.bounds, pattern.reach[1]
    return [
        Term(table.v - across - bounds.low_v_edge, velocity[:, 1], NOWHERE),
        Term(bounds.high_v_edge - table.v - across, -velocity[:, 1], NOWHERE),
    ]


def _tangents(pattern: Pattern, velocity: FloatArray) -> list[Term]:
    """Clearance to the tangents of bends and of the taper's fold."""
    table, bounds = pattern.table, pattern.bounds
    along, across = pattern.reach
    return [
        Term(table.u - along - bounds.low_u_tangent, velocity[:, 0], NOWHERE),
        Term(bounds.high_u_tangent - table.u - along, -velocity[:, 0], NOWHERE),
        Term(table.v - across - bounds.low_v_tangent, velocity[:, 1], NOWHERE),
        Term(bounds.high_v_tangent - table.v - across, -velocity[:, 1], NOWHERE),
    ]


def _inside_terms(pattern: Pattern, velocity: FloatArray) -> list[Term]:
    """Clearance of web features to the inside faces of the flanges, r beyond the tangents."""
    rail, table = pattern.rail, pattern.table
    low, high = _tangents(pattern, velocity)[2:]
    radius = np.full(len(table), rail.section.inside_radius)
    if rail.liner:
        radius = np.where(table.part == LINER, rail.liner.section.inside_radius, radius)
    above = high.value + radius
    if rail.taper:
        # Behind the apex the web ends at the seam: no flange is above it.
        behind = (table.panel == Panel.WEB) & (table.part == RAIL) & (table.station > rail.taper.apex[0])
        above = np.where(behind, np.inf, above)
    return [Term(low.value + radius, low.slope, NOWHERE), Term(above, high.slope, NOWHERE)]


def _by_size(pattern: Pattern) -> Iterator[_Part]:
    welded = [broken for broken in weld_clearance(pattern) if broken.measure == "flange"]
    for broken in (*hole_size(pattern), *flange_hole(pattern), *ramp_flush(pattern), *welded):
        rows = broken.first[broken.is_error]
        endless = np.full(len(rows), np.inf)
        yield spans((broken.rule, broken.measure), -endless, endless, rows), NOWHERE, NOWHERE


def _beside_liner(pattern: Pattern) -> Iterator[_Part]:
    """Washers inside sit on the liner, as long as the fastener's centre is within it."""
    liner = pattern.rail.liner
    if liner is None or not pattern.limits.holds("washer-seat", "tangent"):
        return
    rows = np.flatnonzero((pattern.table.part == RAIL) & (pattern.washer_radius > 0))
    distance = liner_tangent_distance(pattern, rows) - pattern.washer_radius[rows]
    rows = rows[distance < pattern.limit("washer-seat", "tangent").error[rows] - VALUE_TOLERANCE]
    x = pattern.table.station[rows]
    yield spans(("washer-seat", "tangent"), liner.start - x, liner.end - x, rows), LINER_START, LINER_END


def _socket_terms(pattern: Pattern) -> list[Term]:
    """Clearance of cores to the inside faces beside them, where no liner lies."""
    nowhere = np.zeros(len(pattern.table), dtype=np.bool_)
    slope = pattern.rail.taper.slope if pattern.rail.taper else 0.0
    return [
        Term(to_straight_faces(pattern, nowhere), np.zeros(len(nowhere)), NOWHERE),
        Term(to_turned_flange(pattern), np.full(len(nowhere), -sin(slope)), NOWHERE),
    ]


def _sockets_in_liner(pattern: Pattern) -> Iterator[_Part]:
    """Sockets inside go round beside the liner's faces, as long as the screw goes through it."""
    liner, table = pattern.rail.liner, pattern.table
    if liner is None or not pattern.limits.holds("wrench-access", "radial"):
        return
    meets = has_socket(pattern, INSIDE) & _meets_liner(pattern)
    distance = to_straight_faces(pattern, meets) - sockets(pattern)
    rows = np.flatnonzero(meets & (distance < pattern.limit("wrench-access", "radial").error - VALUE_TOLERANCE))
    x, along = table.station[rows], pattern.finished_reach[0][rows]
    closed = spans(("wrench-access", "radial"), liner.start - along - x, liner.end + along - x, rows)
    yield closed, LINER_START, LINER_END


def _at_liner_ends(pattern: Pattern) -> Iterator[_Part]:
    """Holes and washers of the rail too near to a liner's ends, on either side of them."""
    liner, x = pattern.rail.liner, pattern.table.station
    if liner is None:
        return
    holes = pattern.is_hole & _meets_liner(pattern)
    seated = holes & (pattern.washer_radius > 0)
    core = pattern.finished_reach[0] - pattern.cores.radius
    for measure, some, half in (
        ("hole", holes, pattern.finished_reach[0]),
        ("washer", seated, core + pattern.washer_radius),
    ):
        if not pattern.limits.holds("liner-edge", measure):
            continue
        rows = np.flatnonzero(some)
        reach = (half + pattern.limit("liner-edge", measure).error - VALUE_TOLERANCE)[rows]
        for end, mark in ((liner.start, LINER_START), (liner.end, LINER_END)):
            yield spans(("liner-edge", measure), end - x[rows] - reach, end - x[rows] + reach, rows), mark, mark


def _meets_liner(pattern: Pattern) -> BoolArray:
    """Rail rows on the web, and those on flanges that reach over the liner's flange."""
    liner, table = pattern.rail.liner, pattern.table
    edge = liner.flange_edge if liner else 0.0
    return np.asarray((table.part == RAIL) & (pattern.on_web | (table.across - pattern.finished_reach[1] < edge)))


def _while_in_liner(
    pattern: Pattern, closed: Spans, low_from: IntArray, high_from: IntArray
) -> tuple[Spans, IntArray, IntArray]:
    """Intervals of the liner's rows end where their openings leave the liner."""
    liner, table = pattern.rail.liner, pattern.table
    if liner is None:
        return closed, low_from, high_from
    cores = cores_of(table, np.full(len(table), pattern.rail.section.thickness))
    reach = (cores.reach(table.angle)[0] + cores.radius)[closed.first]
    through = table.part[closed.first] == LINER
    enters, leaves = (
        liner.start - reach - table.station[closed.first],
        liner.end + reach - table.station[closed.first],
    )
    late, early = through & (closed.low < enters), through & (closed.high > leaves)
    low, high = np.where(late, enters, closed.low), np.where(early, leaves, closed.high)
    return (
        Spans(low, high, closed.reason, closed.first, closed.second),
        np.where(late, LINER_START, low_from),
        np.where(early, LINER_END, high_from),
    )
