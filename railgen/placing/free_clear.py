"""What one more hole must keep clear of on one panel of one part, as geometry in that part's blank axes.

Every rule about a round hole and something else asks for a distance between its centre and a point, line or area, so
that what is closed to its centre is all that lies nearer.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from railgen.frame.panels import Panel
from railgen.frame.taper import TaperShape
from railgen.holes.table import RAIL, RECTANGLE, ROUND, SLOT, IntArray
from railgen.placing.free_fastener import beside_fastener, from_washers
from railgen.placing.free_frame import FAR, cone, each_grown, grown
from railgen.placing.free_near import Near
from railgen.rules.edges import taken_from_web
from railgen.rules.spacing import MEASURED_IN_BLANK
from railgen.rules.welds import stud_rows

_DIRECTIONS = ("along", "across")


def closed(near: Near) -> list[shapely.Geometry]:
    """All that is closed to the centre of the hole on this panel of this part, but for lines across the rail."""
    found = [*_edges_and_bends(near), *_holes(near), *_studs(near)]
    if near.part == RAIL:
        taper = near.present.rail.taper
        if taper and near.frame.panel in (Panel.WEB, Panel.TAIL_WEB):
            found += [*_taper_cuts(near, taper), *_across_bisector(near, taper)]
        found += [*_liner_ends(near), *beside_fastener(near)]
    return [geometry for geometry in found if not shapely.is_empty(geometry)]


def _from_edge(near: Near) -> float:
    """Least distance of the centre to a free edge, mm."""
    seat = near.least("washer-seat", "edge") + near.washer if near.washer else -np.inf
    return max(_from_outside(near), near.least("edge-distance", "edge"), seat)


def _from_outside(near: Near) -> float:
    """Least distance of the centre to the border of its panel, mm: ``off-rail`` is held to a most."""
    if not near.present.limits.holds("off-rail", "outside"):
        return -np.inf
    limits = near.alone.limit("off-rail", "outside")
    most = np.minimum(limits.error, limits.warning) if near.warnings else limits.error
    return near.radius - float(most[near.row])


def _from_end(near: Near) -> float:
    rail_end = near.least("edge-distance", "rail-end") if near.part == RAIL else -np.inf
    return max(_from_edge(near), rail_end)


def _from_tangent(near: Near) -> float:
    seat = near.least("washer-seat", "tangent") + near.washer if near.washer else -np.inf
    return max(_from_outside(near), near.least("bend-clearance", "tangent") + near.radius, seat)


def _edges_and_bends(near: Near) -> Iterator[shapely.Geometry]:
    """Ends, free edges, tangents of bends and fold, inside faces of flanges: bands along straight lines."""
    bounds, row = near.alone.bounds, near.row
    edge, end, tangent = _from_edge(near), _from_end(near), _from_tangent(near)
    yield _below_u(float(bounds.low_u_edge[row]) + end)
    yield _above_u(float(bounds.high_u_edge[row]) - end)
    yield _below_u(float(bounds.low_u_tangent[row]) + tangent)
    yield _above_u(float(bounds.high_u_tangent[row]) - tangent)
    yield _below_v(float(bounds.low_v_edge[row]) + edge)
    yield _above_v(float(bounds.high_v_edge[row]) - edge)
    low, high = float(bounds.low_v_tangent[row]), float(bounds.high_v_tangent[row])
    yield _below_v(low + tangent)
    yield _above_v(high - tangent)
    rail = near.present.rail
    if near.alone.on_web[row]:
        liner = rail.liner.section.inside_radius if rail.liner else 0.0
        inside = rail.section.inside_radius if near.part == RAIL else liner
        from_inside = near.least("bend-clearance", "flange-inside") + near.radius - inside
        yield _below_v(low + from_inside)
        above = _above_v(high - from_inside)
        if rail.taper and near.frame.panel == Panel.WEB:
            # Behind the apex the web ends at the seam: no flange is above it.
            above = shapely.intersection(above, near.frame.stations(-FAR, rail.taper.apex[0]))
        yield above
    if near.frame.panel == Panel.TAIL_WEB:
        yield near.frame.stations(rail.rear - end, FAR)


def _below_u(line: float) -> shapely.Geometry:
    return shapely.box(-FAR, -FAR, line, FAR) if line > -FAR else shapely.Polygon()


def _above_u(line: float) -> shapely.Geometry:
    return shapely.box(line, -FAR, FAR, FAR) if line < FAR else shapely.Polygon()


def _below_v(line: float) -> shapely.Geometry:
    return shapely.box(-FAR, -FAR, FAR, line) if line > -FAR else shapely.Polygon()


def _above_v(line: float) -> shapely.Geometry:
    return shapely.box(-FAR, line, FAR, FAR) if line < FAR else shapely.Polygon()


def _taper_cuts(near: Near, taper: TaperShape) -> Iterator[shapely.Geometry]:
    """Seam with its weld, relief hole, and the steel that the taper takes or upsets."""
    outside, edge = _from_outside(near), _from_edge(near)
    weld = near.least("weld-clearance", "hole") + near.radius
    on_web = near.frame.panel == Panel.WEB
    seam = shapely.LineString(taper.lower_cut_edge if on_web else taper.seam)
    apex = shapely.Point(taper.apex)
    areas = [(seam, max(edge, weld)), (apex, max(edge, outside) + taper.relief_radius)]
    if on_web:
        areas.append((taken_from_web(taper), outside))
        yield near.frame.to_blank(taken_from_web(taper))
    else:
        slit = float(near.present.rail.section.blank_y(0, taper.apex[1]))
        yield _below_v(slit + outside)
        yield near.frame.to_blank(_ahead_of_upset(taper, taper.upset_half_width + outside))
    for geometry, distance in areas:
        for area in grown(np.array([geometry]), distance):
            yield near.frame.to_blank(area)


def _ahead_of_upset(taper: TaperShape, distance: float) -> shapely.Geometry:
    """All that lies less than a distance (mm) behind the bisector, in the finished part."""
    along = np.array([np.sin(taper.slope / 2), np.cos(taper.slope / 2)])
    behind = np.array([np.cos(taper.slope / 2), -np.sin(taper.slope / 2)])
    line = np.array(taper.hinge) + distance * behind
    corners = [line + FAR * along, line - FAR * along]
    return shapely.Polygon([*corners, corners[1] - FAR * behind, corners[0] - FAR * behind])


def _holes(near: Near) -> Iterator[shapely.Geometry]:
    """Holes of the part on this panel and across one bend, as far as they are measured in the blank."""
    table, panel = near.present.table, near.frame.panel
    there = near.present.is_hole & (table.side == near.side) & (table.part == near.part)
    rows = np.flatnonzero(there & MEASURED_IN_BLANK[panel, table.panel])
    cores = near.present.geometries(rows)
    taper = near.present.rail.taper
    slit = taper if taper and near.part == RAIL and panel <= Panel.TOP else None
    for area, row in _spaced(near, rows, cores):
        yield area if slit is None else _not_across_slit(near, slit, area, int(row))


def _spaced(near: Near, rows: IntArray, cores: np.ndarray) -> Iterator[tuple[shapely.Geometry, int]]:
    """What each hole closes by spacing, conflict and washers, with its row; cores in the axes measured in."""
    present = near.present
    radius, half = present.cores.radius[rows], present.hole_diameter[rows] / 2
    same = present.table.panel[rows] == near.frame.panel
    shape = present.table.shape[rows]
    ligament = near.with_others("hole-spacing", "ligament", rows)
    conflict = np.where(same, near.with_others("size-conflict", "pair", rows), -np.inf)
    reach = np.maximum(ligament, conflict) + radius + near.radius
    along, across = (near.with_others("hole-spacing", "centre", rows, direction) for direction in _DIRECTIONS)
    # A rectangle is measured d/2 inside its edge, and asks for nothing where that is enough.
    inside = np.where(shape == RECTANGLE, radius - half, 0.0)
    along, across = (np.where((shape == RECTANGLE) & (asked <= half), 0.0, asked + inside) for asked in (along, across))
    either = np.minimum(along, across)
    round_holes = shape == ROUND
    yield from each_grown(cores, np.where(round_holes, np.maximum(reach, either), reach), rows)
    points = cores.copy()
    slots = np.flatnonzero(shape == SLOT)
    points[slots] = shapely.extract_unique_points(cores[slots])
    yield from each_grown(points, np.where(round_holes, 0.0, either), rows)
    centre_of = dict(zip(rows.tolist(), shapely.centroid(cores), strict=True))
    for direction, asked in zip(_DIRECTIONS, (along, across), strict=True):
        for area, row in each_grown(points, np.where(asked > either, asked, 0.0), rows):
            yield shapely.intersection(area, _wedge(centre_of[row], direction)), row
    if near.washer:
        yield from from_washers(near, rows, cores, same)


def _wedge(centre: shapely.Geometry, direction: str) -> shapely.Geometry:
    """Where |dx| >= |dy| from a centre (along), or the rest of the plane (across)."""
    x, y = float(shapely.get_x(centre)), float(shapely.get_y(centre))
    if direction == "along":
        sides = [[(x, y), (x + way * FAR, y - FAR), (x + way * FAR, y + FAR)] for way in (-1, 1)]
    else:
        sides = [[(x, y), (x - FAR, y + way * FAR), (x + FAR, y + way * FAR)] for way in (-1, 1)]
    return shapely.MultiPolygon([shapely.Polygon(corners) for corners in sides])


def _not_across_slit(near: Near, taper: TaperShape, area: shapely.Geometry, row: int) -> shapely.Geometry:
    """What is left where no steel joins the hole and the centre along the line between them: behind the apex."""
    rail = near.present.rail
    apex = np.array([taper.apex[0] - rail.front, float(rail.section.blank_y(0, taper.apex[1]))])
    point = np.array([near.present.table.u[row], near.present.table.v[row]])
    if near.present.table.panel[row] > Panel.TOP or abs(point[1] - apex[1]) < 1e-9:
        return area
    return shapely.difference(area, cone(point, apex, np.array([FAR, apex[1]])))


def _across_bisector(near: Near, taper: TaperShape) -> Iterator[shapely.Geometry]:
    """Web holes on the other side of the taper's bisector, seen above the apex; measured in the finished part."""
    table, own = near.present.table, near.frame.panel
    other = Panel.TAIL_WEB if own == Panel.WEB else Panel.WEB
    there = near.present.is_hole & (table.side == near.side) & (table.part == RAIL) & (table.panel == other)
    behind = taper.behind_bisector(table.station, table.across) > 0
    rows = np.flatnonzero(there & (behind == (other == Panel.TAIL_WEB)))
    if not len(rows):
        return
    apex = np.array(taper.apex)
    top = apex + FAR * np.array([np.sin(taper.slope / 2), np.cos(taper.slope / 2)])
    for area, row in _spaced(near, rows, near.present.geometries(rows, finished=True)):
        point = np.array([table.station[row], table.across[row]])
        seen = cone(point, apex, top)
        yield near.frame.to_blank(shapely.intersection(area, seen))


def _studs(near: Near) -> Iterator[shapely.Geometry]:
    table = near.present.table
    rows = stud_rows(near.present)
    rows = rows[(table.side[rows] == near.side) & (table.panel[rows] == near.frame.panel)]
    if near.part == RAIL and len(rows):
        distance = near.with_others("weld-clearance", "stud-hole", rows) + near.radius
        yield from grown(near.present.geometries(rows), distance)


def _liner_ends(near: Near) -> Iterator[shapely.Geometry]:
    """Hole edge and washer edge to the lines where the liner ends; on flanges only holes that meet its flange."""
    liner = near.present.rail.liner
    if liner is None:
        return
    seat = near.least("liner-edge", "washer") + near.washer if near.washer else -np.inf
    distance = max(near.least("liner-edge", "hole") + near.radius, seat)
    if distance <= 0:
        return
    on_web = bool(near.alone.on_web[near.row])
    for end in (liner.start, liner.end):
        high = FAR if on_web else liner.flange_edge + near.radius
        yield near.frame.to_blank(shapely.box(end - distance, -FAR, end + distance, high))
