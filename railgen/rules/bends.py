"""Rule ``bend-clearance``: holes punched near a bend go oval when the flange is formed."""

from __future__ import annotations

import numpy as np

from railgen.frame.panels import Panel
from railgen.holes.table import LINER, FloatArray
from railgen.rules.breaks import Breaks, breaks_if_held
from railgen.rules.pattern import Pattern


def bend_clearance(pattern: Pattern) -> list[Breaks]:
    """Hole edge to the tangents of the bends beside its panel, and to the inside faces of the flanges, mm.

    Common practice (2 t to 2.5 t to the tangent); body-builder values give the distance to the flange's inside.
    """
    holes = np.flatnonzero(pattern.is_hole)
    tangent = pattern.once(tangent_clearance)[holes]
    on_web = holes[pattern.on_web[holes]]
    inside = flange_clearance(pattern)[on_web]
    return [
        *breaks_if_held(pattern, "bend-clearance", "tangent", holes, tangent),
        *breaks_if_held(pattern, "bend-clearance", "flange-inside", on_web, inside),
    ]


def tangent_clearance(pattern: Pattern) -> FloatArray:
    """Clearance of each true shape to the nearest tangent of a bend or of the taper's fold, mm."""
    table, bounds = pattern.table, pattern.bounds
    along, across = pattern.reach
    clearance: FloatArray = np.minimum.reduce(
        [
            table.u - along - bounds.low_u_tangent,
            bounds.high_u_tangent - table.u - along,
            table.v - across - bounds.low_v_tangent,
            bounds.high_v_tangent - table.v - across,
        ]
    )
    return clearance


def flange_clearance(pattern: Pattern) -> FloatArray:
    """Clearance of each web feature's true shape to the nearest inside face of a flange, mm; r beyond the tangent."""
    table, bounds, rail = pattern.table, pattern.bounds, pattern.rail
    _, across = pattern.reach
    radius = np.full(len(table), rail.section.inside_radius)
    if rail.liner:
        radius = np.where(table.part == LINER, rail.liner.section.inside_radius, radius)
    low = table.v - across - bounds.low_v_tangent + radius
    high = bounds.high_v_tangent - table.v - across + radius
    if rail.taper:
        # Behind the apex the web ends at the seam: no flange is above it.
        cut_off = (table.panel == Panel.WEB) & (table.part != LINER) & (table.station > rail.taper.apex[0])
        high = np.where(cut_off, np.inf, high)
    return np.asarray(np.minimum(low, high))
