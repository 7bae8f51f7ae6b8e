"""The steel around holes as forces on their bolts see it: free edges and neighbours along and across each force."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import RAIL, FloatArray, IntArray
from railgen.rules.edges import edge_clearance
from railgen.rules.pattern import Pattern
from railgen.strength.joints import SteelAround

_SAME_EDGE = 1e-6  # mm
_ALONG = np.cos(np.pi / 4) - 1e-12
"""A neighbour counts along the force where it lies within 45 degrees of it, else across."""


def steel_around(pattern: Pattern, rows: IntArray, along: FloatArray, across: FloatArray) -> SteelAround:
    """Free edges and neighbours of some rows as forces see them, mm.

    along, across: each force's direction, of length one, along x and up z (web) or inboard (flanges). Distances are in
    the blank, within the hole's panel; a tail's slope is neglected. Next to a taper's cut, which no straight boundary
    describes, the nearest edge counts as being both along and across.
    """
    # The bottom flange unfolds the other way.
    across = np.where(pattern.table.face[rows] == Face.BOTTOM, -across, across)
    end = _to_edge(pattern, rows, along, across)
    edge = np.minimum(_to_edge(pattern, rows, -across, along), _to_edge(pattern, rows, across, -along))
    if pattern.rail.taper:
        nearest = edge_clearance(pattern)[rows] + pattern.cores.radius[rows]
        cut = nearest < _nearest_straight(pattern, rows) - _SAME_EDGE
        end = np.where(cut, np.minimum(end, nearest), end)
        edge = np.where(cut, np.minimum(edge, nearest), edge)
    near = _neighbours(pattern, rows, along, across)
    half = pattern.hole_diameter[rows] / 2
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
    distance = np.where(apart & (distance > 0), distance, np.inf)
    ahead = (du * along[:, None] + dv * across[:, None]) / distance
    half = np.fmax(table.diameter, np.nan_to_num(table.length)) / 2
    left = distance - half[others] - pattern.hole_diameter[rows][:, None] / 2

    def least(values: FloatArray, where: np.ndarray) -> FloatArray:
        return np.asarray(np.where(where, values, np.inf).min(axis=1, initial=np.inf))

    beside = np.abs(ahead) >= _ALONG
    return _Near(least(distance, beside), least(distance, ~beside), least(left, ahead >= _ALONG))


def _to_edge(pattern: Pattern, rows: IntArray, along: FloatArray, across: FloatArray) -> FloatArray:
    """Distance from each row's centre to the free edge that a ray meets, mm; infinite where it meets none."""
    bounds, table = pattern.bounds, pattern.table
    distance = np.full(len(rows), np.inf)
    for step, centre, low, high in (
        (along, table.u, bounds.low_u_edge, bounds.high_u_edge),
        (across, table.v, bounds.low_v_edge, bounds.high_v_edge),
    ):
        edge = np.where(step > 0, high[rows], low[rows])
        moving = np.abs(step) > 1e-12
        ray = (edge - centre[rows]) / np.where(moving, step, 1.0)
        distance = np.minimum(distance, np.where(moving, ray, np.inf))
    return distance


def _nearest_straight(pattern: Pattern, rows: IntArray) -> FloatArray:
    bounds, u, v = pattern.bounds, pattern.table.u[rows], pattern.table.v[rows]
    to_ends = np.minimum(u - bounds.low_u_edge[rows], bounds.high_u_edge[rows] - u)
    return np.minimum(to_ends, np.minimum(v - bounds.low_v_edge[rows], bounds.high_v_edge[rows] - v))
