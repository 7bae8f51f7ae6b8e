"""Rules that look at one feature, as intervals of its component's station.

On a rail without a taper every such measure is a least of distances across the rail, which do not change when the
component moves, and of distances to the ends of rail and liner, which change as it does. The intervals are told from
those ends, so that they hold for rails of every length.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.holes.shapes import cores_of
from railgen.holes.table import LINER, RAIL, FloatArray, IntArray
from railgen.placing.spans import Spans, joined, spans, split
from railgen.rules.bends import flange_clearance
from railgen.rules.flanges import flange_hole
from railgen.rules.pattern import Pattern
from railgen.rules.sizes import hole_size
from railgen.rules.washers import _liner_tangent_distance as liner_tangent_distance

NOWHERE, FRONT, REAR, LINER_START, LINER_END = range(5)
"""What an interval's end is measured from."""


@dataclass(frozen=True)
class EndSpans:
    """Intervals whose low and high ends are measured from the ends of rail and liner."""

    spans: Spans
    low_from: IntArray
    high_from: IntArray

    def on(self, marks: FloatArray) -> Spans:
        """The intervals on a rail; marks: stations (mm) of NOWHERE (0), FRONT, REAR, LINER_START, LINER_END."""
        closed = self.spans
        low, high = closed.low + marks[self.low_from], closed.high + marks[self.high_from]
        return Spans(low, high, closed.reason, closed.first, closed.second)

    def split(self, number: IntArray, count: int) -> list[EndSpans]:
        """The intervals of each component; number: the component of each row of the table, from 0 to count - 1."""
        parts = split(number[self.spans.first], count)
        return [EndSpans(self.spans.at(part), self.low_from[part], self.high_from[part]) for part in parts]


def closed_alone(pattern: Pattern) -> EndSpans:
    """Where components may not stand on a rail without a taper, whatever stands beside them.

    pattern: their features as they lie where all stand at station 0 of a rail, and in a liner, whose ends are far off.
    """
    parts = [*_by_measure(pattern), *_by_size(pattern), *_beside_liner(pattern)]
    found = [part for part, _, _ in parts]
    low_from = np.concatenate([np.full(len(part), mark) for part, mark, _ in parts])
    high_from = np.concatenate([np.full(len(part), mark) for part, _, mark in parts])
    kept = np.concatenate([part.low < part.high for part in found])
    kept |= low_from != high_from
    return EndSpans(joined(found).at(kept), low_from[kept], high_from[kept])


_Part = tuple[Spans, int, int]


@dataclass(frozen=True)
class _Measure:
    """A measure that must not be less than a limit: its least distance across the rail, and what ends must keep."""

    reason: tuple[str, str]
    rows: IntArray
    across: FloatArray
    limit: FloatArray
    from_ends: FloatArray | None


def _measures(pattern: Pattern) -> Iterator[_Measure]:
    """from_ends: clearance of the true shape that the ends must keep."""
    bounds, table, radius = pattern.bounds, pattern.table, pattern.cores.radius
    _, reach = pattern.reach
    edge = np.minimum(table.v - reach - bounds.low_v_edge, bounds.high_v_edge - table.v - reach)
    tangent = np.minimum(table.v - reach - bounds.low_v_tangent, bounds.high_v_tangent - table.v - reach)
    every, holes = np.arange(len(table)), np.flatnonzero(pattern.is_hole)
    half = pattern.hole_diameter / 2
    on_rail = np.flatnonzero(pattern.is_hole & (table.part == RAIL))
    seated = np.flatnonzero((table.part == RAIL) & (pattern.washer_radius > 0))
    on_web = holes[table.face[holes] == 0]
    outer = radius - pattern.washer_radius
    endless = np.full(len(table), np.inf)
    for rule, measure, rows, value, added, ends in (
        ("off-rail", "outside", every, np.minimum(edge, tangent), np.zeros(len(table)), True),
        ("edge-distance", "edge", holes, edge, half, True),
        ("edge-distance", "rail-end", on_rail, endless, half, True),
        ("bend-clearance", "tangent", holes, tangent, np.zeros(len(table)), False),
        ("bend-clearance", "flange-inside", on_web, flange_clearance(pattern), np.zeros(len(table)), False),
        ("washer-seat", "tangent", seated, tangent, outer, False),
        ("washer-seat", "edge", seated, edge, outer, True),
    ):
        if not pattern.limits.holds(rule, measure):
            continue
        error = pattern.limit(rule, measure).error[rows]
        limit = (-error if rule == "off-rail" else error) - VALUE_TOLERANCE
        yield _Measure((rule, measure), rows, value[rows] + added[rows], limit, limit - added[rows] if ends else None)


def _by_measure(pattern: Pattern) -> Iterator[_Part]:
    table, along = pattern.table, pattern.reach[0]
    opening = _opening_along(pattern)
    for held in _measures(pattern):
        broken = held.rows[held.across < held.limit]
        yield from _everywhere(pattern, held.reason, broken, opening)
        if held.from_ends is None:
            continue
        for part, front, rear in ((RAIL, FRONT, REAR), (LINER, LINER_START, LINER_END)):
            mine = table.part[held.rows] == part
            rows = held.rows[mine]
            x, keep = table.station[rows], along[rows] + held.from_ends[mine]
            # A feature enters the liner where its opening meets the liner's end.
            far = opening[rows] if part == LINER else np.full(len(rows), np.inf)
            yield spans(held.reason, -far - x, keep - x, rows), front, front
            yield spans(held.reason, -keep - x, far - x, rows), rear, rear


def _everywhere(pattern: Pattern, reason: tuple[str, str], rows: IntArray, opening: FloatArray) -> Iterator[_Part]:
    """Rows that are in error wherever they are at all: all along the rail, or wherever they meet the liner."""
    part, x = pattern.table.part[rows], pattern.table.station[rows]
    on_rail, in_liner = part == RAIL, part == LINER
    endless = np.full(int(on_rail.sum()), np.inf)
    yield spans(reason, -endless, endless, rows[on_rail]), NOWHERE, NOWHERE
    far = opening[rows[in_liner]]
    yield spans(reason, -far - x[in_liner], far - x[in_liner], rows[in_liner]), LINER_START, LINER_END


def _by_size(pattern: Pattern) -> Iterator[_Part]:
    opening = _opening_along(pattern)
    for broken in (*hole_size(pattern), *flange_hole(pattern)):
        yield from _everywhere(pattern, (broken.rule, broken.measure), broken.first[broken.is_error], opening)


def _beside_liner(pattern: Pattern) -> Iterator[_Part]:
    """Washers inside sit on the liner, as long as the fastener's centre is within it."""
    if pattern.rail.liner is None or not pattern.limits.holds("washer-seat", "tangent"):
        return
    rows = np.flatnonzero((pattern.table.part == RAIL) & (pattern.washer_radius > 0))
    distance = liner_tangent_distance(pattern, rows) - pattern.washer_radius[rows]
    rows = rows[distance < pattern.limit("washer-seat", "tangent").error[rows] - VALUE_TOLERANCE]
    x = pattern.table.station[rows]
    yield spans(("washer-seat", "tangent"), -x, -x, rows), LINER_START, LINER_END


def _opening_along(pattern: Pattern) -> FloatArray:
    """How far each row's opening in the rail reaches along it from its centre, mm."""
    table = pattern.table
    cores = cores_of(table, np.full(len(table), pattern.rail.section.thickness))
    return cores.reach(table.angle)[0] + cores.radius
