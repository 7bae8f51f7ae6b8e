"""The taper's template: the lines to mark and cut on the formed, straight rail, seen from outside the web.

One file a hand, each in the web's coordinates: x as blank_x of that hand's rail, y the height z. It is laid on the
web's outside face with its rear edge to the rear, so the RH template is the mirror image of the LH one.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from railgen.formats.cautions import CAUTIONS
from railgen.formats.cut_entities import (
    BEND,
    MARK,
    NOTE,
    OUTLINE,
    SECOND,
    Entity,
    Line,
    Path,
    Point,
    lines,
    path,
    rounded,
)
from railgen.formats.cut_notes import note_texts
from railgen.formats.dxf import DxfVersion, dxf_bytes
from railgen.formats.names import Side
from railgen.formats.stamp import CLEARANCE, find_place, stamp_entities
from railgen.frame.blank import TaperTemplate, taper_template
from railgen.frame.contour import (
    Contour,
    Polyline,
    contour_points,
    mirror_contour,
    mirror_polyline,
    polygon_contour,
)
from railgen.frame.rail import RailShape, required_taper
from railgen.holes.table import FloatArray
from railgen.layout.plan import ResolvedOrder

_AHEAD = 100.0  # mm of template ahead of the foremost line
_LONGEST_BOX = 40.0  # mm of the cut in one of the boxes that the stamp keeps clear of
_ARC_PIECES = 32


def taper_file(order: ResolvedOrder, side: Side, version: DxfVersion = "R12") -> bytes:
    """The template of one hand as DXF. Raises ValueError when the rail has no taper."""
    return dxf_bytes(taper_entities(order, side), version)


def taper_entities(order: ResolvedOrder, side: Side) -> list[Entity]:
    """The template of one hand; raises ValueError when the rail has no taper.

    Its edge is on OUTLINE, wedge and relief hole on SECOND, the fold line on BEND, the relief hole's centre and the
    stamp on MARK; tangents and the limits of the upset steel are on NOTE.
    """
    rail = order.rail
    template = taper_template(rail)
    front = max(rail.front, required_taper(rail).front - _AHEAD)
    heights = [float(line.vertices[0, 1]) for line in template.reference_lines]
    edge = polygon_contour(_box(front, heights[0], rail.front + rail.blank_length, heights[3]))
    centre_x, centre_y = _drawn_line(rail, side, Polyline(np.array([template.relief_centre]))).vertices[0]
    text = f"{order.serial} {side} TAPER"
    steel = (front - rail.front, rail.blank_length, heights[1] + CLEARANCE, heights[2] - CLEARANCE)
    place = find_place(text, (steel[0] + CLEARANCE, *steel[1:]), _in_the_way(rail, template))
    entities: list[Entity] = [
        _drawn_path(rail, side, OUTLINE, edge),
        _drawn_path(rail, side, SECOND, template.cut),
        *_drawn_lines(rail, side, BEND, [_upright(template.fold_station, heights[2], heights[3])]),
        Point(MARK, *rounded([centre_x, centre_y])),
        *(stamp_entities(text, place, rail.blank_length if side == "RH" else None) if place else ()),
        *_drawn_lines(rail, side, NOTE, _read_only(template, front)),
    ]
    left = front - rail.front if side == "LH" else 0.0
    return entities + list(note_texts(_notes(order, side), heights[3], left))


def _read_only(template: TaperTemplate, front: float) -> list[Polyline]:
    """Tangents of the bends and of the fold, and the limits of the upset steel; (station, z) in mm."""
    _, lower, upper, top = (line.vertices for line in template.reference_lines)
    tangents = [Polyline(np.array([(front, z), (rear, z)])) for (_, z), (rear, _) in (lower, upper)]
    folds = [_upright(station, upper[0, 1], top[0, 1]) for station in template.fold_tangents]
    return [*tangents, *folds, *template.upset_lines, *template.upset_edges]


def _notes(order: ResolvedOrder, side: Side) -> list[str]:
    taper = required_taper(order.rail)
    when = "Already cut in the blank: template for checking." if taper.in_blank else "Cut after forming."
    end = "front" if side == "LH" else "rear"
    sizes = f"Relief hole {taper.relief_diameter:g} mm, root gap {taper.root_gap:g} mm"
    return [
        f"{order.serial} {side} TAPER TEMPLATE, revision {order.order.revision}, section {order.section}. {when}",
        f"1:1 in mm, laid on the outside face of the web, x from the {end} end of the blank.",
        f"{sizes}, {taper.trim:g} mm to trim after welding.",
        "Lines on NOTE: tangents of bends and fold, middle and limits of the upset steel.",
        *CAUTIONS,
    ]


def _in_the_way(rail: RailShape, template: TaperTemplate) -> FloatArray:
    """Boxes round the cut, and one round the steel that is folded and upset; (u, z) in mm."""
    ends = contour_points(template.cut, _ARC_PIECES)
    pieces = [_split(first, last) for first, last in pairwise(ends)]
    points = np.concatenate([*pieces, ends[-1:]])
    around = np.concatenate([line.vertices for line in (*template.upset_edges, *template.upset_lines)])
    boxes = np.column_stack([np.minimum(points[:-1], points[1:]), np.maximum(points[:-1], points[1:])])
    boxes = np.vstack([boxes, [*around.min(axis=0), *around.max(axis=0)]])
    return np.asarray(boxes - np.array([rail.front, 0.0, rail.front, 0.0]))


def _split(first: FloatArray, last: FloatArray) -> FloatArray:
    """Points from first up to, but without, last, no further apart than a box may be long."""
    count = int(np.hypot(*(last - first)) // _LONGEST_BOX) + 1
    return np.asarray(first + np.arange(count)[:, None] / count * (last - first))


def _box(x1: float, y1: float, x2: float, y2: float) -> FloatArray:
    return np.array([(x1, y1), (x2, y1), (x2, y2), (x1, y2)], dtype=np.float64)


def _upright(station: float, low: float, high: float) -> Polyline:
    return Polyline(np.array([(station, low), (station, high)]))


def _drawn_path(rail: RailShape, side: Side, layer: str, contour: Contour) -> Path:
    moved = Contour(contour.vertices - np.array([rail.front, 0.0]), contour.bulges, contour.closed)
    return path(layer, mirror_contour(moved, rail.blank_length) if side == "RH" else moved)


def _drawn_lines(rail: RailShape, side: Side, layer: str, polylines: list[Polyline]) -> list[Line]:
    return lines(layer, [_drawn_line(rail, side, polyline) for polyline in polylines])


def _drawn_line(rail: RailShape, side: Side, polyline: Polyline) -> Polyline:
    moved = Polyline(polyline.vertices - np.array([rail.front, 0.0]))
    return mirror_polyline(moved, rail.blank_length) if side == "RH" else moved
