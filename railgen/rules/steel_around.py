"""The steel around holes as forces on their bolts see it: free edges and neighbours along and across each force."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.frame.panels import Face
from railgen.holes.table import RAIL, FloatArray, IntArray
from railgen.rules.edges import edge_clearance
from railgen.rules.pattern import Pattern
from railgen.rules.spacing import COINCIDENT
from railgen.strength.joints import SteelAround

_SAME_EDGE = 1e-6  # mm
_ALONG = np.cos(np.pi / 4) - 1e-12
"""A neighbour counts along the force where it lies within 45 degrees of it, else across."""


def steel_around(pattern: Pattern, rows: IntArray, along: FloatArray, across: FloatArray) -> SteelAround:
    """Free edges and neighbours of some rows as forces see them, mm.

    along, across: each force's direction, of length one, along x and up z (web) or inboard (flanges). Distances are in
    the blank, within the hole's panel; a tail's slope is neglected. Next to a taper's cut, which no straight boundary
    describes, the nearest edge counts as being both along and across. Edges are measured from slots and rectangles as
    ``edge_distance`` does; to a neighbour half the length of either is taken off, however it lies.
    """
    # The bottom flange unfolds the other way.
    across = np.where(pattern.table.face[rows] == Face.BOTTOM, -across, across)
    end = _to_edge(pattern, rows, along, across)
    edge = np.minimum(_to_edge(pattern, rows, -across, along), _to_edge(pattern, rows, across, -along))
    half = pattern.hole_diameter[rows] / 2
    if pattern.rail.taper:
        nearest = edge_clearance(pattern)[rows] + half
        cut = nearest < _nearest_straight(pattern, rows) + half - _SAME_EDGE
        end = np.where(cut, np.minimum(end, nearest), end)
        edge = np.where(cut, np.minimum(edge, nearest), edge)
    near = _neighbours(pattern, rows, along, across)
    return SteelAround(end, edge, near.pitch, near.gauge, np.minimum(end - half, near.clear))


@dataclass(frozen=True)
class _Near:
    pitch: FloatArray
    gauge: FloatArray
    clear: FloatArray


def _neighbours(pattern: Pattern, rows: IntArray, along: FloatArray, across: FloatArray) -> _Near:
    """Nearest centres along and across each force, and the steel left ahead of it, mm; infinite without neighbours."""
    table = pattern.table
    others = np.flatnonzero(pattern.is_hole & (table.part == RAIL))
    du = table.u[others] - table.u[rows][:, None]
    dv = table.v[others] - table.v[rows][:, None]
    distance = np.hypot(du, dv)
    apart = (table.side[others] == table.side[rows][:, None]) & (table.panel[others] == table.panel[rows][:, None])
    # What coincides is one hole twice, which duplicate-hole and size-conflict name.
    distance = np.where(apart & (distance >= COINCIDENT - VALUE_TOLERANCE), distance, np.inf)
    ahead = (du * along[:, None] + dv * across[:, None]) / distance
    half = np.fmax(table.diameter, np.nan_to_num(table.length)) / 2
    left = distance - half[others] - half[rows][:, None]

    def least(values: FloatArray, where: np.ndarray) -> FloatArray:
        return np.asarray(np.where(where, values, np.inf).min(axis=1, initial=np.inf))

    beside = np.abs(ahead) >= _ALONG
    return _Near(least(distance, beside), least(distance, ~beside), least(left, ahead >= _ALONG))


def _to_edge(pattern: Pattern, rows: IntArray, along: FloatArray, across: FloatArray) -> FloatArray:
    """Distance from each row's end radius to the free edge that a ray meets, mm; infinite where it meets none."""
    bounds, table = pattern.bounds, pattern.table
    distance = np.full(len(rows), np.inf)
    for step, centre, reach, low, high in (
        (along, table.u, pattern.reach[0], bounds.low_u_edge, bounds.high_u_edge),
        (across, table.v, pattern.reach[1], bounds.low_v_edge, bounds.high_v_edge),
    ):
        edge = np.where(step > 0, high[rows] - reach[rows], low[rows] + reach[rows])
        moving = np.abs(step) > 1e-12
        ray = (edge - centre[rows] + np.sign(step) * pattern.cores.radius[rows]) / np.where(moving, step, 1.0)
        distance = np.minimum(distance, np.where(moving, ray, np.inf))
    return distance + pattern.hole_diameter[rows] / 2 - pattern.cores.radius[rows]


def _nearest_straight(pattern: Pattern, rows: IntArray) -> FloatArray:
    """Clearance of each row's true shape to the nearest straight free edge of its panel, mm."""
    bounds, u, v = pattern.bounds, pattern.table.u[rows], pattern.table.v[rows]
    along, across = (reach[rows] for reach in pattern.reach)
    to_ends = np.minimum(u - bounds.low_u_edge[rows], bounds.high_u_edge[rows] - u) - along
    to_sides = np.minimum(v - bounds.low_v_edge[rows], bounds.high_v_edge[rows] - v) - across
    return np.minimum(to_ends, to_sides)
