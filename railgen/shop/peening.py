"""Shot peening around holes: intensity window, passes to a coverage, peened area, nozzle time."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, log, pi, sin, sqrt
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from railgen.data.plant import Peening, PeeningBand
from railgen.frame.development import develop, develop_liner, mirror_angle
from railgen.frame.panel_shapes import liner_panel_corners, panel_corners, panels
from railgen.frame.panels import FACE_OF_PANEL, Face, Panel
from railgen.frame.rail import Part, RailShape, part_section, required_liner
from railgen.frame.taper import TaperShape
from railgen.holes.shapes import core_geometries, cores_of, is_hole, perimeters
from railgen.holes.table import RECTANGLE, RH, SLOT, FloatArray, HoleTable

Geometries = NDArray[np.object_]

FULL_COVERAGE = 0.98
"""What counts as full coverage, 100 per cent. Source: SAE J2277, from memory."""
Gauge = Literal["N", "A", "C"]
_A_OF_GAUGE: dict[Gauge, float] = {"N": 1 / 3, "A": 1.0, "C": 3.5}
FACES_PEENED = 2
"""Both faces of the sheet around each hole."""
_QUARTER_SEGMENTS = 8
_SAME_AREA = sqrt((pi / 16) / sin(pi / 16))
"""A circle drawn with 32 chords has its own area when its corners lie this much further out."""


def intensity_window(peening: Peening, thickness: float, tensile: float | None = None) -> PeeningBand:
    """The arc-height window for a thickness (mm) and a steel's greatest tensile strength (MPa, None: of any).

    Raises ValueError where the data have none. Source: named in the data; the demo's are AMS-S-13165 table VI for steel
    below 200 ksi, whose boundary of 0.375 in (9.525 mm) belongs to the thicker side here.
    """
    band = peening.band(thickness, tensile)
    if band is None:
        strong = "" if tensile is None else f" and {tensile:g} MPa"
        raise ValueError(f"the peening data have no intensity window for steel of {thickness:g} mm{strong}")
    return band


def on_gauge(arc_height: float, strip: Gauge, wanted: Gauge) -> float:
    """An arc height on one gauge of Almen strip as another would show it, roughly: C x 3.5 = A, A x 3 = N.

    Source: AMS-S-13165 6.10.
    """
    return arc_height * _A_OF_GAUGE[strip] / _A_OF_GAUGE[wanted]


def coverage_after(passes: float, single_pass: float) -> float:
    """Share of the surface dented after n passes, C(n) = 1 - (1 - C1)^n; shares from 0 to 1.

    Source: SAE J2277, the Avrami form (from memory).
    """
    return float(1.0 - (1.0 - single_pass) ** passes)


def passes_for(coverage: float, single_pass: float) -> int:
    """Fewest passes to a coverage in per cent, given the share that one pass dents.

    Up to full coverage (98 % counts as 100 %) by the Avrami form; beyond it a multiple of the exposure to
    full coverage, so that 200 % is twice the exposure. Raises ValueError where a pass dents nothing, or
    nothing is asked. Source: SAE J2277 (from memory).
    """
    if not (0 < single_pass <= 1 and coverage > 0):
        raise ValueError("coverage and single-pass coverage must be above 0")
    if single_pass >= FULL_COVERAGE:
        return ceil(max(coverage / 100, 1.0) - 1e-9)
    share = min(coverage / 100, FULL_COVERAGE)
    exposure = log(1 - share) / log(1 - single_pass) * max(coverage / 100, 1.0)
    return max(ceil(exposure - 1e-9), 1)


@dataclass(frozen=True)
class Peened:
    """What is peened of one face of a part: area mm2, and the nozzle's path over it, mm, one lap.

    holes, edges, relief, seam: the path around holes, along free flange edges, around the taper's relief hole and along
    both sides of its seam.
    """

    area: float
    holes: float
    edges: float
    relief: float
    seam: float

    @property
    def path(self) -> float:
        """All of the path, mm."""
        return self.holes + self.edges + self.relief + self.seam


def peened(rail: RailShape, part: Part, holes: HoleTable, peening: Peening) -> Peened:
    """What is peened of each face: the union of rings and strips, clipped to the flat steel of each panel, less holes.

    ``holes`` are rows of one part of one side. Arcs are chords: lone round holes come out exact, others within 0.3 %.
    Raises ValueError for a liner that is not there.
    """
    rows = holes.rows(is_hole(holes))
    thickness = part_section(rail, part).thickness
    openings, rings = _openings_and_rings(rows, np.full(len(rows), thickness), peening.ring_width)
    taper = rail.taper if part == "rail" else None
    total = edges = 0.0
    for panel in panels(rail) if part == "rail" else (Panel.WEB, Panel.TOP, Panel.BOTTOM):
        inside = rows.panel == panel
        flat = _flat_steel(rail, part, panel)
        edge = _edge_strip(flat, panel, peening.edge_width)
        if edge is not None:
            edges += float(shapely.area(edge)) / peening.edge_width
        strips = [edge, *(_taper_strips(rail, taper, panel, peening) if taper else [])]
        kept = np.array([strip for strip in strips if strip is not None], dtype=object)
        total += _area_on(flat, openings[inside], rings[inside], kept)
    return Peened(
        area=total,
        holes=nozzle_path(rows, thickness, peening.ring_width),
        edges=edges,
        relief=2 * pi * (taper.relief_radius + peening.ring_width / 2) if taper else 0.0,
        seam=2 * taper.seam_length if taper and peening.seam_width else 0.0,
    )


def _edge_strip(flat: shapely.Geometry, panel: Panel, width: float) -> shapely.Geometry | None:
    """The strip along a flange's free edge, in blank axes; None where there is none to peen."""
    if not width or FACE_OF_PANEL[panel] == Face.WEB:
        return None
    left, low, right, high = (float(bound) for bound in shapely.bounds(flat))
    strip = (low, low + width) if FACE_OF_PANEL[panel] == Face.BOTTOM else (high - width, high)
    return shapely.Polygon([(left, strip[0]), (right, strip[0]), (right, strip[1]), (left, strip[1])])


def _taper_strips(rail: RailShape, taper: TaperShape, panel: Panel, peening: Peening) -> list[shapely.Geometry | None]:
    """The ring around the relief hole and the strip along the seam, in blank axes, on a panel that meets them."""
    if FACE_OF_PANEL[panel] != Face.WEB:
        return []
    ring = _relief_circle(rail, taper, peening.ring_width)
    if not peening.seam_width:
        return [ring]
    edge = taper.seam if panel == Panel.TAIL_WEB else taper.lower_cut_edge
    strip = shapely.LineString(edge).buffer(peening.seam_width, cap_style="flat")
    along, across = shapely.get_coordinates(strip).T
    return [ring, _polygon(*develop(rail, panel, along, across))]


def _area_on(flat: shapely.Geometry, openings: Geometries, rings: Geometries, strips: Geometries) -> float:
    """Area (mm2) of a panel within any of the rings and strips and outside all openings."""
    shapes = np.concatenate([rings, strips])
    first, second = shapely.STRtree(shapes).query(shapes, predicate="intersects")
    crowded = np.zeros(len(shapes), dtype=np.bool_)
    crowded[first[first != second]] = True
    opened = crowded[: len(rings)]
    # Most rings meet no other: for them areas are summed, which is far quicker than a union of all.
    lone = _clipped_area(flat, shapes[~crowded]) - _clipped_area(flat, openings[~opened])
    met = shapely.difference(shapely.union_all(shapes[crowded]), shapely.union_all(openings[opened]))
    return lone + float(shapely.area(shapely.intersection(met, flat)))


def _clipped_area(flat: shapely.Geometry, shapes: Geometries) -> float:
    """Sum of the areas (mm2) that shapes have in common with a panel."""
    shapely.prepare(flat)
    within = shapely.covers(flat, shapes)
    cut = shapely.intersection(shapes[~within], flat)
    return float(shapely.area(shapes[within]).sum() + shapely.area(cut).sum())


def _openings_and_rings(rows: HoleTable, thickness: FloatArray, ring_width: float) -> tuple[Geometries, Geometries]:
    """Each hole, and the hole with its ring, as polygons in un-mirrored blank axes."""
    cores = cores_of(rows, thickness)
    # A rectangle rounded to its half width is a slot: as a polygon its core would have no area and no buffer.
    shape = np.where((rows.shape == RECTANGLE) & (cores.half_width <= 0), SLOT, rows.shape)
    angle = np.where(rows.side == RH, mirror_angle(rows.blank_angle), rows.blank_angle)
    geometries = core_geometries(rows.u, rows.v, angle, shape, cores.half_length, cores.half_width)
    openings = shapely.buffer(geometries, cores.radius * _SAME_AREA, quad_segs=_QUARTER_SEGMENTS)
    rings = shapely.buffer(geometries, (cores.radius + ring_width) * _SAME_AREA, quad_segs=_QUARTER_SEGMENTS)
    return openings, rings


def _flat_steel(rail: RailShape, part: Part, panel: Panel) -> shapely.Geometry:
    """A panel in un-mirrored blank axes, the taper's relief hole taken out."""
    if part == "liner":
        liner = required_liner(rail)
        face = Face(int(panel))
        return _polygon(*develop_liner(liner, face, *liner_panel_corners(liner, face).T))
    flat = _polygon(*develop(rail, panel, *panel_corners(rail, panel).T))
    if rail.taper is None or FACE_OF_PANEL[panel] != Face.WEB:
        return flat
    return flat.difference(_relief_circle(rail, rail.taper, 0.0))


def _relief_circle(rail: RailShape, taper: TaperShape, beyond: float) -> shapely.Geometry:
    """The relief hole and so much (mm) around it, in blank axes."""
    station, height = taper.apex
    apex = shapely.Point(station - rail.front, float(rail.section.blank_y(Face.WEB, height)))
    return apex.buffer((taper.relief_radius + beyond) * _SAME_AREA, quad_segs=_QUARTER_SEGMENTS)


def _polygon(u: FloatArray, v: FloatArray) -> shapely.Polygon:
    return shapely.Polygon(np.column_stack([u, v]))


def nozzle_path(holes: HoleTable, thickness: float, ring_width: float) -> float:
    """Length (mm) of one lap of the nozzle around every hole of one face, along the middle of each ring.

    A line at half the ring's width outside a convex edge is longer than it by 2 pi times that distance.
    """
    rows = holes.rows(is_hole(holes))
    return float(np.sum(perimeters(rows, np.full(len(rows), thickness)) + pi * ring_width))


def nozzle_minutes(peening: Peening, path: float) -> float:
    """Minutes at the nozzle for one face's path (mm): all passes, both faces, no moves between holes."""
    passes = passes_for(peening.coverage, peening.single_pass_coverage)
    return passes * FACES_PEENED * path / peening.travel_speed / 60
