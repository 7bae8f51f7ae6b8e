"""Rules ``off-rail`` and ``edge-distance``: features inside their panels, and away from free edges."""

from __future__ import annotations

import numpy as np
import shapely

from railgen.frame.panels import Panel
from railgen.frame.taper import TaperShape
from railgen.holes.table import LINER, RAIL, BoolArray, FloatArray
from railgen.rules.breaks import Breaks, breaks_if_held
from railgen.rules.pattern import Pattern


def off_rail(pattern: Pattern) -> list[Breaks]:
    """How far any part of a feature (marks too) lies outside its flat panel, mm. Common practice."""
    bounds = pattern.bounds
    u, v = pattern.table.u, pattern.table.v
    along, across = pattern.reach
    inside = np.minimum.reduce(
        [
            u - along - np.maximum(bounds.low_u_edge, bounds.low_u_tangent),
            np.minimum(bounds.high_u_edge, bounds.high_u_tangent) - u - along,
            v - across - np.maximum(bounds.low_v_edge, bounds.low_v_tangent),
            np.minimum(bounds.high_v_edge, bounds.high_v_tangent) - v - across,
        ]
    )
    if pattern.rail.taper:
        inside = np.minimum(inside, _inside_tail(pattern, pattern.rail.taper))
    rows = np.arange(len(u))
    return breaks_if_held(pattern, "off-rail", "outside", rows, -inside)


def edge_distance(pattern: Pattern) -> list[Breaks]:
    """Centre to the nearest free edge of the feature's own part, and to the rail's ends, mm.

    A slot is measured from its end-radius centres, a rectangle from d/2 inside its edge, so that the distance is the
    clearance of the true shape plus half its diameter (width, shorter side) throughout.
    """
    holes = np.flatnonzero(pattern.is_hole)
    half = pattern.hole_diameter[holes] / 2
    ends = pattern.once(end_clearance)
    nearest = pattern.once(edge_clearance)[holes] + half
    on_rail = pattern.table.part[holes] == RAIL
    rail_end = ends[holes][on_rail] + half[on_rail]
    return [
        *breaks_if_held(pattern, "edge-distance", "edge", holes, nearest),
        *breaks_if_held(pattern, "edge-distance", "rail-end", holes[on_rail], rail_end),
    ]


def end_clearance(pattern: Pattern) -> FloatArray:
    """Clearance of each true shape to the nearer end of its part, mm; infinite where its panel meets no end."""
    table, bounds = pattern.table, pattern.bounds
    along, _ = pattern.reach
    clearance = np.minimum(table.u - along - bounds.low_u_edge, bounds.high_u_edge - table.u - along)
    strip = table.panel == Panel.TAIL_WEB
    if strip.any():
        # The rear end is cut square in the finished part, where the strip lies turned.
        reach, _ = pattern.finished_reach
        clearance = np.where(strip, pattern.rail.rear - table.station - reach, clearance)
    return clearance


def edge_clearance(pattern: Pattern) -> FloatArray:
    """Clearance of each true shape to the nearest free edge of its own part, mm: ends, flange edges, taper cuts."""
    table, bounds = pattern.table, pattern.bounds
    _, across = pattern.reach
    clearance: FloatArray = np.minimum.reduce(
        [
            pattern.once(end_clearance),
            table.v - across - bounds.low_v_edge,
            bounds.high_v_edge - table.v - across,
        ]
    )
    if pattern.rail.taper:
        clearance = np.minimum(clearance, _cut_clearance(pattern, pattern.rail.taper))
    return clearance


def _cut_clearance(pattern: Pattern, taper: TaperShape) -> FloatArray:
    """Clearance to the taper's cuts: the seam's edge on the feature's own side, and the relief hole."""
    clearance = pattern.once(seam_clearance).copy()
    rows = np.flatnonzero(np.isfinite(clearance))
    to_relief = (
        shapely.distance(pattern.geometries(rows, finished=True), shapely.Point(taper.apex)) - taper.relief_radius
    )
    clearance[rows] = np.minimum(clearance[rows], to_relief - pattern.cores.radius[rows])
    return clearance


def seam_clearance(pattern: Pattern) -> FloatArray:
    """Clearance of each true shape in the rail's web to its own side of the taper's seam, mm; elsewhere infinite."""
    clearance, taper = np.full(len(pattern.table), np.inf), pattern.rail.taper
    if taper:
        for panel, edge in ((Panel.WEB, taper.lower_cut_edge), (Panel.TAIL_WEB, taper.seam)):
            rows = np.flatnonzero(_on_rail_panel(pattern, panel))
            to_edge = shapely.distance(pattern.geometries(rows, finished=True), shapely.LineString(edge))
            clearance[rows] = to_edge - pattern.cores.radius[rows]
    return clearance


def _inside_tail(pattern: Pattern, taper: TaperShape) -> FloatArray:
    """How far each web feature's true shape keeps off the steel that the taper takes or upsets, mm."""
    inside = np.full(len(pattern.table), np.inf)
    web = np.flatnonzero(_on_rail_panel(pattern, Panel.WEB))
    radius = pattern.cores.radius
    cores = pattern.geometries(web, finished=True)
    to_relief = shapely.distance(cores, shapely.Point(taper.apex)) - taper.relief_radius
    to_taken = shapely.distance(cores, taken_from_web(taper)) - _depth_in_taken(pattern, taper)[web]
    inside[web] = np.minimum(to_taken, to_relief) - radius[web]
    strip = np.flatnonzero(_on_rail_panel(pattern, Panel.TAIL_WEB))
    if len(strip):
        inside[strip] = _inside_strip(pattern, taper, strip)
    return inside


def _inside_strip(pattern: Pattern, taper: TaperShape, rows: np.ndarray) -> FloatArray:
    """Distance of strip features to seam, upset steel, relief hole and rear end, mm, below zero outside."""
    table, cores = pattern.table, pattern.cores
    _, across = pattern.reach
    slit = float(pattern.rail.section.blank_y(0, taper.apex[1]))
    to_seam = table.v[rows] - across[rows] - slit
    # The bisector's normal lies at minus half the slope to the x axis of the finished part.
    square, _ = cores.reach(table.angle + np.degrees(taper.slope / 2))
    behind = taper.behind_bisector(table.station[rows], table.across[rows])
    to_upset = behind - taper.upset_half_width - square[rows] - cores.radius[rows]
    relief = shapely.distance(pattern.geometries(rows, finished=True), shapely.Point(taper.apex))
    to_relief = relief - taper.relief_radius - cores.radius[rows]
    return np.asarray(np.minimum.reduce([to_seam, to_upset, to_relief, pattern.once(end_clearance)[rows]]))


def _depth_in_taken(pattern: Pattern, taper: TaperShape) -> FloatArray:
    """How deep each centre lies in what the taper takes from the web, mm; 0 outside. Of a mark it is all there is."""
    station, across = pattern.table.station, pattern.table.across
    behind = taper.behind_bisector(station, across) + taper.upset_half_width
    above = (across - taper.lower_cut_z(station)) * np.cos(taper.slope)
    return np.asarray(np.maximum(np.minimum(behind, above), 0.0))


def taken_from_web(taper: TaperShape) -> shapely.Polygon:
    """What is no web behind the bisector: upset steel, strip, wedge and gap, in the finished part."""
    apex_x, slit = taper.apex
    _, cut_rear = taper.lower_cut_edge
    sine, cosine = np.sin(taper.slope), np.cos(taper.slope)
    tip = (apex_x - taper.root_gap * sine, slit - taper.root_gap * cosine)
    at_slit = (taper.start - float(taper.upset_reach(slit)), slit)
    at_top = (taper.start - float(taper.upset_reach(taper.depth)), taper.depth)
    return shapely.Polygon([cut_rear, tip, taper.apex, at_slit, at_top, (taper.rear, taper.depth)])


def _on_rail_panel(pattern: Pattern, panel: Panel) -> BoolArray:
    return np.asarray((pattern.table.part != LINER) & (pattern.table.panel == panel))
