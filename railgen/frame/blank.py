"""Outline, bend lines and later cuts of a blank, and the taper's template.

Un-mirrored blank coordinates (u, v) in mm; `contour.mirror_contour` and `contour.mirror_polyline` give the
RH blank.
"""

from dataclasses import dataclass
from math import cos, pi, sin, tan

import numpy as np
import shapely
from numpy.typing import NDArray

from railgen.frame.contour import Contour, Polyline, contour_points, mirror_contour, polygon_contour
from railgen.frame.panels import Face
from railgen.frame.rail import Part, RailShape, part_length, part_section, required_taper
from railgen.frame.taper import Point, TaperShape

__all__ = [
    "Contour",
    "Polyline",
    "TaperTemplate",
    "bend_lines",
    "blank_outline",
    "blank_polygon",
    "mirror_contour",
    "second_cuts",
    "taper_template",
]

Floats = NDArray[np.float64]


def blank_outline(rail: RailShape, part: Part) -> Contour:
    """Edge of the blank, one closed contour, counter-clockwise from the front of the bottom flange's edge.

    With the wedge cut in the blank, lower cut edge, relief arc and slit are part of it; the notch is open
    at the rear edge. Raises ValueError when a liner is asked for and there is none.
    """
    length, width = part_length(rail, part), part_section(rail, part).developed_width
    if part == "liner" or rail.taper is None or not rail.taper.in_blank:
        return polygon_contour(np.array([(0, 0), (length, 0), (length, width), (0, width)], dtype=np.float64))
    cut = _wedge_cut(rail)
    vertices = np.concatenate([[(0, 0), (length, 0)], cut.vertices, [(length, width), (0, width)]])
    return Contour(vertices, np.concatenate([[0, 0], cut.bulges, [0, 0]]))


def second_cuts(rail: RailShape) -> list[Contour]:
    """The wedge and relief hole as cut after forming, in blank coordinates: one open contour, or none.

    It runs from the blank's rear edge along the lower cut edge, round the relief hole and back along the
    slit.
    """
    if rail.taper is None or rail.taper.in_blank:
        return []
    return [_wedge_cut(rail)]


def bend_lines(rail: RailShape, part: Part) -> list[Polyline]:
    """Middle lines of the lower and upper bend, then the taper's fold line across the flat of the top flange.

    Raises ValueError when a liner is asked for and there is none.
    """
    length, section = part_length(rail, part), part_section(rail, part)
    lines = [_line((0, v), (length, v)) for v in (section.lower_bend_blank_y, section.upper_bend_blank_y)]
    if part == "rail" and rail.taper:
        u = rail.taper.start - rail.front
        lines.append(_line((u, section.top_tangent_blank_y), (u, section.developed_width)))
    return lines


def blank_polygon(rail: RailShape, part: Part, arc_segments: int = 256) -> shapely.Polygon:
    """The blank as a shapely polygon (mm), each arc of its outline as `arc_segments` chords."""
    return shapely.Polygon(contour_points(blank_outline(rail, part), arc_segments))


@dataclass(frozen=True, eq=False)
class TaperTemplate:
    """Lines to mark and cut on the formed, straight rail; (station, z) in mm.

    `cut` as in `second_cuts`; `upset_lines` from the hinge to the slit, where the two panels meet after
    turning; `upset_edges` where the upset steel ends; `fold_station` of the fold line across the top
    flange, `fold_tangents` the stations of its tangents; `reference_lines` bottom, lower tangent, upper
    tangent and top of the rail, drawn over the length that the other lines take.
    """

    cut: Contour
    relief_centre: Point
    relief_radius: float
    fold_station: float
    fold_tangents: tuple[float, float]
    upset_lines: tuple[Polyline, Polyline]
    upset_edges: tuple[Polyline, Polyline]
    reference_lines: tuple[Polyline, Polyline, Polyline, Polyline]


def taper_template(rail: RailShape) -> TaperTemplate:
    """The taper's template, whichever way the wedge is cut. Raises ValueError when the rail has no taper."""
    taper = required_taper(rail)
    slit_z = taper.apex[1]
    half, limit = taper.upset_half_width, float(taper.upset_reach(slit_z))
    limit_above = float(taper.upset_reach(taper.depth - taper.tangent))
    heights = (0.0, taper.tangent, taper.depth - taper.tangent, taper.depth)
    bottom, lower, upper, top = (_line((taper.front, z), (taper.blank_rear, z)) for z in heights)
    start, upper_z = taper.start, taper.depth - taper.tangent
    return TaperTemplate(
        cut=_cut_in_web(taper),
        relief_centre=taper.apex,
        relief_radius=taper.relief_radius,
        fold_station=start,
        fold_tangents=(start - taper.fold_half_width, start + taper.fold_half_width),
        upset_lines=(_line(taper.hinge, (start - half, slit_z)), _line(taper.hinge, (start + half, slit_z))),
        upset_edges=(
            _line((start - limit_above, upper_z), (start - limit, slit_z)),
            _line((start + limit_above, upper_z), (start + limit, slit_z)),
        ),
        reference_lines=(bottom, lower, upper, top),
    )


def _wedge_cut(rail: RailShape) -> Contour:
    cut = _cut_in_web(required_taper(rail))
    u = cut.vertices[:, 0] - rail.front
    v = rail.section.blank_y(Face.WEB, cut.vertices[:, 1])
    # Rail end and blank end are one number: the cut must meet the rear edge exactly.
    u[[0, -1]] = rail.blank_length
    return Contour(np.column_stack([u, v]), cut.bulges, closed=False)


def _cut_in_web(taper: TaperShape) -> Contour:
    """The cut in (station, z) of the straight rail: rear, lower cut edge, two relief arcs, slit, rear.

    The relief hole is passed clockwise, from the lower cut edge round the apex to the slit.
    """
    (apex_x, slit_z), radius, opening = taper.apex, taper.relief_radius, taper.opening_angle
    arc = 2 * pi - opening
    angles = -opening - arc * np.array([0.0, 0.5, 1.0])
    on_hole = [(apex_x + radius * cos(a), slit_z + radius * sin(a)) for a in angles[:2]]
    rear = taper.blank_rear
    vertices = [
        (rear, float(taper.lower_cut_z(rear))),
        *on_hole,
        (apex_x + radius, slit_z),
        (rear, slit_z),
    ]
    bulge = -tan(arc / 8)
    return Contour(np.array(vertices), np.array([0, bulge, bulge, 0, 0], dtype=np.float64), closed=False)


def _line(first: Point, second: Point) -> Polyline:
    return Polyline(np.array([first, second], dtype=np.float64))
