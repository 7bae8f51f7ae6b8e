"""What one more screw keeps clear of besides its hole: washers, sockets, feet, inside faces, what stands opposite."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from railgen.frame.panels import Face
from railgen.holes.table import LH, BoolArray, IntArray
from railgen.layout.envelopes import CLEARANCES
from railgen.placing.free_frame import FAR, each_grown, grown
from railgen.placing.free_near import Near

_IN_THE_WAY = [CLEARANCES.index(name) for name in ("static", "service", "heat")]


def from_washers(
    near: Near, rows: IntArray, cores: np.ndarray, same: BoolArray
) -> Iterator[tuple[shapely.Geometry, int]]:
    """Washer to washer, and socket to washer, of screws on this panel."""
    present = near.present
    seated = np.flatnonzero(same & (present.washer_radius[rows] > 0))
    some, points = rows[seated], shapely.extract_unique_points(cores[seated])
    washer, socket = present.washer_radius[some], present.socket_radius[some]
    own = float(near.alone.socket_radius[near.row])
    apart = near.with_others("washer-seat", "washer", some) + near.washer + washer
    turning = near.with_others("wrench-access", "radial", some) + np.maximum(own + washer, socket + near.washer)
    yield from each_grown(points, np.maximum(apart, turning), some)


def beside_fastener(near: Near) -> Iterator[shapely.Geometry]:
    """Feet near a washer or a socket, faces and tangents inside, envelopes before it; nothing without a fastener."""
    if not near.washer:
        return
    feet = near.present.feet
    rows = np.flatnonzero((feet.side == near.side) & (feet.face == near.frame.face))
    socket = float(near.alone.socket_radius[near.row])
    radial = near.least("wrench-access", "radial") + socket
    distance = max(near.least("footprint-clash", "washer") + near.washer, radial)
    for area in grown(feet.polygons(rows), distance):
        yield near.frame.to_blank(area)
    yield from _inside_faces(near, radial)
    yield from _liner_tangents(near)
    yield from _before_envelopes(near, socket)


def _inside_faces(near: Near, distance: float) -> Iterator[shapely.Geometry]:
    """Inside faces beside the socket inside: of flanges for the web, of the web for flanges, or the liner's."""
    rail = near.present.rail
    passes, liner = bool(near.alone.passes_liner[near.row]), rail.liner
    low, high = rail.section.thickness, rail.section.depth - rail.section.thickness
    if near.frame.face != Face.WEB:
        low += liner.section.thickness if liner and passes else 0.0
        yield near.frame.to_blank(shapely.box(-FAR, -FAR, FAR, low + distance))
        return
    if liner and passes:
        inner = liner.section.thickness
        low, high = liner.offset_z + inner, liner.offset_z + liner.section.depth - inner
    above = shapely.box(-FAR, high - distance, FAR, FAR)
    yield near.frame.to_blank(shapely.box(-FAR, -FAR, FAR, low + distance))
    yield near.frame.to_blank(above)
    if rail.taper:
        yield near.frame.to_blank(shapely.transform(above, rail.taper.turn_down))


def _liner_tangents(near: Near) -> Iterator[shapely.Geometry]:
    """The liner's tangents, on which the washer inside may not sit."""
    liner = near.present.rail.liner
    distance = near.least("washer-seat", "tangent") + near.washer
    if liner is None or not near.alone.passes_liner[near.row]:
        return
    ends = liner.start, liner.end
    if near.frame.face == Face.WEB:
        yield near.frame.to_blank(shapely.box(ends[0], -FAR, ends[1], liner.web_lower_tangent + distance))
        yield near.frame.to_blank(shapely.box(ends[0], liner.web_upper_tangent - distance, ends[1], FAR))
    else:
        yield near.frame.to_blank(shapely.box(ends[0], -FAR, ends[1], liner.flange_tangent + distance))


def _before_envelopes(near: Near, socket: float) -> Iterator[shapely.Geometry]:
    """Envelopes that leave nut or head less free length than is asked; the head is outside, no ply lies under it."""
    rail, boxes = near.present.rail, near.present.envelopes
    solid = np.flatnonzero(np.isin(boxes.clearance, _IN_THE_WAY))
    low, high = boxes.low[solid].copy(), boxes.high[solid].copy()
    if near.side != LH:
        width = near.present.order.dimensions["frame_width"]
        low[:, 1], high[:, 1] = width - boxes.high[solid, 1], width - boxes.low[solid, 1]
    on_web = near.frame.face == Face.WEB
    beside, away = (2, 1) if on_web else (1, 2)
    near_end, far_end = low[:, away], high[:, away]
    if near.frame.face == Face.TOP:
        depth = float(rail.depth_at(near.alone.table.station[near.row]))
        near_end, far_end = depth - high[:, 2], depth - low[:, 2]
    steel = rail.section.thickness
    if rail.liner and near.alone.passes_liner[near.row]:
        steel = (steel if on_web else rail.liner.offset_z) + rail.liner.section.thickness
    for measure, start, end, seat in (
        ("nut-length", near_end, far_end, steel),
        ("head-length", -far_end, -near_end, 0.0),
    ):
        asked = near.least("wrench-access", measure)
        closing = (end > seat + 1e-6) & (np.maximum(start - seat, 0.0) < asked)
        seen = shapely.box(low[closing, 0], low[closing, beside], high[closing, 0], high[closing, beside])
        for area in grown(np.asarray(seen), socket):
            yield near.frame.to_blank(area)
