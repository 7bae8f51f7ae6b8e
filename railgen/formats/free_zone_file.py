"""Free zones as plain data and as a DXF of the finished rails, 1:1 in mm, the free areas on a layer of their own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from ezdxf.layouts.layout import Modelspace

from railgen.formats.dxf_r2018 import document_bytes, fixed_metadata, millimetre_document
from railgen.frame.panel_shapes import panel_corners, panels
from railgen.frame.panels import FACE_OF_PANEL
from railgen.frame.rail import RailShape
from railgen.holes.shapes import core_geometries, cores_of
from railgen.holes.table import FACES, MARK, RAIL, ROUND, SIDES, FloatArray
from railgen.layout.plan import SerialPlan
from railgen.placing.free_zone import FreeZone

LAYERS = {"OUTLINE": 7, "HOLES": 1, "FREE": 3, "NOTE": 8}
"""Layers of the file with their colours: panels, holes that are there, free areas, words."""
_APART = 400.0
"""mm between the LH rail and the RH rail below it."""
_GAP = 40.0
"""mm between the views of a rail."""
_DECIMALS = 3


def free_zone_data(serial: str, zone: FreeZone) -> dict[str, object]:
    """Hole, what is kept clear of, and all areas: rings of (station, across) in mm, closed, to a micrometre."""
    return {
        "serial": serial,
        "diameter_mm": zone.hole.diameter,
        "operation": zone.hole.operation,
        "fastener": zone.hole.fastener,
        "clear_of_warnings": zone.warnings,
        "refused": list(zone.refused),
        "areas": [
            {
                "side": area.side,
                "face": area.face,
                "area_mm2": round(area.polygon.area, _DECIMALS),
                "outline": _ring(area.polygon.exterior),
                "openings": [_ring(ring) for ring in area.polygon.interiors],
            }
            for area in zone.areas
        ],
    }


def _ring(ring: shapely.LinearRing) -> list[list[float]]:
    rounded: list[list[float]] = (shapely.get_coordinates(ring).round(_DECIMALS) + 0.0).tolist()
    return rounded


def free_zone_dxf(plan: SerialPlan, zone: FreeZone, sides: Sequence[str]) -> bytes:
    """Rails as seen from outside: x is the station on LH and its negative on RH, which lies below.

    On the web y is z; the top flange stands above it and the bottom flange below, y = 0 next to the web.
    """
    with fixed_metadata():
        document = millimetre_document()
        for name, colour in LAYERS.items():
            document.layers.add(name, color=colour)
        space = document.modelspace()
        for side in sides:
            _draw(space, plan, zone, side)
        return document_bytes(document)


def _draw(space: Modelspace, plan: SerialPlan, zone: FreeZone, side: str) -> None:
    rail = plan.order.rail
    for panel in panels(rail):
        face = FACES[FACE_OF_PANEL[panel]]
        _line(space, _placed(rail, side, face, panel_corners(rail, panel)), "OUTLINE")
    holes = plan.holes
    rows = np.flatnonzero((holes.side == SIDES.index(side)) & (holes.part == RAIL) & (holes.shape != MARK))
    some = holes.rows(rows)
    cores = cores_of(some, np.full(len(some), rail.section.thickness))
    size = some.shape, cores.half_length, cores.half_width
    shapes = core_geometries(some.station, some.across, some.angle, *size)
    for row, core in enumerate(shapes):
        face, radius = FACES[some.face[row]], float(cores.radius[row])
        if some.shape[row] == ROUND:
            centre = _placed(rail, side, face, shapely.get_coordinates(core))[0]
            space.add_circle(tuple(centre.tolist()), radius, {"layer": "HOLES"})
        else:
            outline = shapely.buffer(core, radius, quad_segs=16)
            _line(space, _placed(rail, side, face, shapely.get_coordinates(outline)[:-1]), "HOLES")
    for area in zone.areas:
        if area.side == side:
            for ring in (area.polygon.exterior, *area.polygon.interiors):
                _line(space, _placed(rail, side, area.face, shapely.get_coordinates(ring)[:-1]), "FREE")
    words = f"{plan.serial} {side} rail, free for the centre of one more hole of {zone.hole.diameter:g} mm: layer FREE"
    at = _placed(rail, side, "top", np.array([[rail.front if side == "LH" else rail.rear, rail.section.flange]]))[0]
    text = space.add_text(words, height=20, dxfattribs={"layer": "NOTE"})
    text.set_placement((float(at[0]), float(at[1]) + 30))


def _placed(rail: RailShape, side: str, face: str, points: FloatArray) -> FloatArray:
    """Points (n, 2) of a face where the file has them."""
    section = rail.section
    x, across = points.T
    below = 0.0 if side == "LH" else -(section.depth + 2 * (section.flange + _GAP) + _APART)
    y = {"web": across, "top": section.depth + _GAP + across, "bottom": -_GAP - across}[face]
    return np.stack([x if side == "LH" else -x, y + below], axis=-1)


def _line(space: Modelspace, points: FloatArray, layer: str) -> None:
    space.add_lwpolyline(points.tolist(), close=True, dxfattribs={"layer": layer})
