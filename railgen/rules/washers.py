"""Rule ``washer-seat``: the hardened washer of every fastener sits on flat steel, clear of edges and other washers."""

from __future__ import annotations

import numpy as np

from railgen.frame.panels import Panel
from railgen.holes.shapes import cores_of
from railgen.holes.table import RAIL, FloatArray, IntArray
from railgen.rules.bends import tangent_clearance
from railgen.rules.breaks import Breaks, breaks_if_held
from railgen.rules.edges import edge_clearance
from railgen.rules.pattern import Pattern
from railgen.rules.spacing import Pairs, core_points_apart


def washer_seat(pattern: Pattern) -> list[Breaks]:
    """Washer edge to a bend's tangent (the liner's, where there is one) and to a free edge, mm. Common practice."""
    rows = _seated(pattern)
    radius = pattern.washer_radius[rows]
    centre = pattern.cores.radius[rows]
    tangent = np.minimum(pattern.once(tangent_clearance)[rows] + centre, liner_tangent_distance(pattern, rows))
    edge = pattern.once(edge_clearance)[rows] + centre
    return [
        *breaks_if_held(pattern, "washer-seat", "tangent", rows, tangent - radius),
        *breaks_if_held(pattern, "washer-seat", "edge", rows, edge - radius),
    ]


def washers_apart(pairs: Pairs) -> list[Breaks]:
    """Washer edge to the next washer's edge on one panel, mm. Common practice."""
    pattern = pairs.pattern
    if not pattern.limits.holds("washer-seat", "washer"):
        return []
    radius = np.where(pattern.table.part == RAIL, pattern.washer_radius, 0.0)
    seated = (radius[pairs.first] > 0) & (radius[pairs.second] > 0)
    rows = np.flatnonzero(seated & pairs.same_panel & ~pairs.in_conflict)
    first, second = pairs.first[rows], pairs.second[rows]
    value = core_points_apart(pattern, first, second) - radius[first] - radius[second]
    return breaks_if_held(pattern, "washer-seat", "washer", first, value, second)


def _seated(pattern: Pattern) -> IntArray:
    return np.flatnonzero((pattern.table.part == RAIL) & (pattern.washer_radius > 0))


def liner_tangent_distance(pattern: Pattern, rows: IntArray) -> FloatArray:
    """Distance of fastener centres to the liner's tangents, mm; infinite where no liner lies inside."""
    liner, table = pattern.rail.liner, pattern.table
    distance = np.full(len(rows), np.inf)
    if liner is None:
        return distance
    station, across = table.station[rows], table.across[rows]
    # The washer inside sits on the liner, at the corners of the opening there.
    _, reach = cores_of(table, np.full(len(table), liner.section.thickness)).reach(table.angle)
    reach = reach[rows]
    inside = pattern.passes_liner[rows] & (station >= liner.start) & (station <= liner.end)
    on_web = table.panel[rows] == Panel.WEB
    web = np.minimum(across - reach - liner.web_lower_tangent, liner.web_upper_tangent - across - reach)
    flange = across - reach - liner.flange_tangent
    return np.where(inside, np.where(on_web, web, flange), distance)
