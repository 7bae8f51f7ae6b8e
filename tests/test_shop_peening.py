"""Peening: intensity by thickness, coverage by passes, and the area around holes against figures by hand."""

from __future__ import annotations

from math import acos, atan, cos, hypot, pi, sin, sqrt, tan

import numpy as np
import pytest
from builders import SECTION, TAPER_START, Hole, rail_shape, rail_table
from shop_plans import FINISHING

from railgen.frame.rail import RailShape
from railgen.shop.peening import (
    coverage_after,
    intensity_window,
    nozzle_minutes,
    nozzle_path,
    passes_for,
    peened,
)

PEENING = FINISHING.peening
WIDTH = 12.0


@pytest.mark.parametrize(
    ("thickness", "least", "most"),
    [
        # AMS-S-13165 table VI, steel below 200 ksi (read): 0.008 to 0.012 in A up to 0.375 in, above it 0.012 to
        # 0.016 in A. 9.5 mm is 0.3740 in, 9.525 mm is 0.375 in: each on its own side.
        (2.5, 0.20, 0.30),
        (9.5, 0.20, 0.30),
        (9.525, 0.30, 0.41),
        (12.0, 0.30, 0.41),
    ],
)
def test_intensity_by_thickness(thickness: float, least: float, most: float) -> None:
    window = intensity_window(PEENING, thickness)
    assert (window.intensity_least, window.intensity_most, window.gauge) == (least, most, "A")


def test_intensity_by_steel() -> None:
    # AMS-S-13165 table VI holds for steel below 200 ksi (read), that is 1379 MPa.
    soft = PEENING.bands[0].model_copy(update={"tensile_below": 1379.0})
    hard = soft.model_copy(update={"tensile_from": 1379.0, "tensile_below": None, "intensity_most": 0.25})
    peening = PEENING.model_copy(update={"bands": (soft, hard)})
    assert intensity_window(peening, 8.0, 1378.0) == soft
    assert intensity_window(peening, 8.0, 1379.0) == hard
    assert intensity_window(peening, 8.0) == soft
    with pytest.raises(ValueError, match="8 mm and 1400 MPa"):
        intensity_window(PEENING.model_copy(update={"bands": (soft,)}), 8.0, 1400.0)


def test_no_window_is_refused() -> None:
    with pytest.raises(ValueError, match="30 mm"):
        intensity_window(PEENING, 30.0)


def test_coverage_by_passes() -> None:
    # C(n) = 1 - (1 - C1)^n, SAE J2277 (memory).
    assert coverage_after(1, 0.7) == pytest.approx(0.7)
    assert coverage_after(3, 0.7) == pytest.approx(1 - 0.3**3)
    assert coverage_after(0, 0.7) == 0


@pytest.mark.parametrize(
    ("coverage", "single", "passes"),
    [
        (70, 0.7, 1),
        (71, 0.7, 2),
        (91, 0.7, 2),  # 1 - 0.3^2 exactly
        (98, 0.7, 4),
        (100, 0.7, 4),  # 98 % counts as full coverage
        (200, 0.7, 7),  # ln 0.02 / ln 0.3 = 3.249, twice that 6.499
        (200, 0.86, 4),  # ln 0.02 / ln 0.14 = 1.990, twice that 3.980
        (98, 0.98, 1),
        (200, 1.0, 2),
        (30, 1.0, 1),
    ],
)
def test_passes_to_a_coverage(coverage: float, single: float, passes: int) -> None:
    assert passes_for(coverage, single) == passes


@pytest.mark.parametrize("percent", range(5, 99, 3))
@pytest.mark.parametrize("single", [0.1, 0.35, 0.7, 0.86])
def test_passes_are_the_fewest_that_reach_it(percent: int, single: float) -> None:
    passes = passes_for(percent, single)
    assert coverage_after(passes, single) >= percent / 100 - 1e-9
    assert passes == 1 or coverage_after(passes - 1, single) < percent / 100


@pytest.mark.parametrize(("coverage", "single"), [(0, 0.5), (98, 0.0)])
def test_passes_that_never_reach_it_are_refused(coverage: float, single: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        passes_for(coverage, single)


def area(rail: RailShape, holes: list[Hole], width: float = WIDTH, part: str = "rail", side: int = 0) -> float:
    """Peened area of one face of the LH (0) or RH (1) part."""
    table = rail_table(rail, holes)
    rows = table.rows((table.side == side) & (table.part == (part == "liner")))
    ring = PEENING.model_copy(update={"ring_width": width})
    return peened(rail, part, rows, ring).area  # type: ignore[arg-type]


def ring(diameter: float, width: float = WIDTH) -> float:
    return pi * ((diameter / 2 + width) ** 2 - (diameter / 2) ** 2)


def test_lone_round_holes_have_their_rings() -> None:
    holes = [Hole(0, 150, 17.0), Hole(400, 150, 25.0), Hole(800, 60, 20.0, face="top")]
    expected = ring(17) + ring(25) + ring(20)
    assert area(rail_shape(), holes) == pytest.approx(expected, rel=1e-9)
    assert area(rail_shape(), holes, side=1) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0])
def test_rings_of_slots_and_rectangles(angle: float) -> None:
    # The ring around a convex edge: its length times the width, and pi times the width squared.
    slot = Hole(0, 150, 18.0, shape="slot", length=40.0, angle=angle)
    box = Hole(600, 150, 40.0, shape="rectangle", length=70.0, corner_radius=6.0, angle=angle)
    edges = pi * 18 + 2 * 22, 2 * (70 - 12) + 2 * (40 - 12) + pi * 12
    for side in (0, 1):
        found = [area(rail_shape(), [hole], side=side) for hole in (slot, box)]
        assert found == pytest.approx([edge * WIDTH + pi * WIDTH**2 for edge in edges], rel=3e-3)


def test_a_rectangle_rounded_to_half_its_width_is_peened_like_a_slot() -> None:
    box = Hole(0, 150, 18.0, shape="rectangle", length=40.0, corner_radius=9.0)
    slot = Hole(0, 150, 18.0, shape="slot", length=40.0)
    assert area(rail_shape(), [box]) == pytest.approx(area(rail_shape(), [slot]), rel=1e-12)


def lens(radius: float, apart: float) -> float:
    """Area that two circles of a radius have in common."""
    return 2 * radius**2 * acos(apart / 2 / radius) - apart / 2 * sqrt(4 * radius**2 - apart**2)


def test_rings_that_meet_count_once() -> None:
    apart, outer = 35.0, 17 / 2 + WIDTH
    found = area(rail_shape(), [Hole(0, 150, 17.0), Hole(apart, 150, 17.0)])
    assert found == pytest.approx(2 * ring(17) - lens(outer, apart), rel=3e-3)


def test_a_hole_within_anothers_ring_is_not_peened() -> None:
    apart, outer = 20.0, 17 / 2 + WIDTH
    found = area(rail_shape(), [Hole(0, 150, 17.0), Hole(apart, 150, 17.0)])
    union = 2 * pi * outer**2 - lens(outer, apart)
    assert found == pytest.approx(union - 2 * pi * 8.5**2, rel=3e-3)


def segment(radius: float, distance: float) -> float:
    """Area of a circle beyond a chord at a distance from its centre."""
    return radius**2 * acos(distance / radius) - distance * sqrt(radius**2 - distance**2)


@pytest.mark.parametrize(
    ("face", "across"),
    [("web", SECTION.tangent + 14), ("top", SECTION.flange - 14), ("bottom", SECTION.tangent + 14)],
)
def test_rings_end_at_bends_and_edges(face: str, across: float) -> None:
    hole = Hole(0, across, 17.0, face=face)
    outer = 17 / 2 + WIDTH
    assert area(rail_shape(), [hole]) == pytest.approx(ring(17) - segment(outer, 14), rel=3e-3)


def test_liner_rings_end_at_its_own_bends() -> None:
    rail = rail_shape(liner=True)
    assert rail.liner is not None
    hole = Hole(1000, rail.liner.web_lower_tangent + 14, 17.0)
    found = area(rail, [hole], part="liner")
    assert found == pytest.approx(ring(17) - segment(17 / 2 + WIDTH, 14), rel=3e-3)


def tail_by_points(rail: RailShape, hole: Hole, seam: float) -> float:
    """Peened area of one face of the tail's web by a fine grid of points on the finished part, the taper's lines by
    hand: the slit and what lies above it turned by the slope about the hinge."""
    taper, t, tangent, step = rail.taper, SECTION.thickness, SECTION.tangent, 0.5
    assert taper
    slope = atan((SECTION.depth - taper.end_depth) / (rail.rear - taper.start))
    h, slit = taper.slit_depth - t / 2, SECTION.depth - taper.slit_depth
    half = h * tan(slope / 2)
    apex = taper.start - half, slit
    x, z = np.meshgrid(np.arange(taper.start - 400, rail.rear, step), np.arange(tangent, SECTION.depth, step))
    x, z = x + step / 2, z + step / 2
    below_seam = (apex[1] - z) * cos(slope) - (x - apex[0]) * sin(slope)
    to_bisector = (x - taper.start) * cos(slope / 2) + (SECTION.depth - t / 2 - z) * sin(slope / 2)
    upset = (np.abs(to_bisector) < half) & (z > slit)
    ahead = (to_bisector < 0) & (z > slit) & (z < SECTION.depth - tangent)
    lower = (z <= slit) & ((x < apex[0]) | (below_seam > taper.root_gap))
    upper = (to_bisector > 0) & (below_seam < 0) & (below_seam > -(taper.slit_depth - tangent))
    # The relief hole is cut before the upper panel is turned: of that, points are turned back.
    dx, dz = x - taper.start, z - (SECTION.depth - t / 2)
    turned = taper.start + dx * cos(slope) - dz * sin(slope), SECTION.depth - t / 2 + dx * sin(slope) + dz * cos(slope)
    cut_x, cut_z = (np.where(upper, back, here) for back, here in zip(turned, (x, z), strict=True))
    to_relief = np.hypot(cut_x - apex[0], cut_z - apex[1]) - taper.relief_diameter / 2
    to_hole = np.hypot(x - hole.station, z - hole.across) - hole.diameter / 2
    steel = (ahead | lower | upper) & ~upset & (to_relief > 0) & (to_hole > 0)
    along = (x - apex[0]) * cos(slope) - (z - apex[1]) * sin(slope)
    beside = upper & (along > 0) & (below_seam > -seam)
    beside |= lower & (along > taper.relief_diameter / 2) & (below_seam < taper.root_gap + seam)
    peened_here = steel & ((to_relief < WIDTH) | (to_hole < WIDTH) | beside)
    return float(np.count_nonzero(peened_here)) * step**2


@pytest.mark.parametrize("wedge", ["after-forming", "in-blank"])
@pytest.mark.parametrize("seam", [0.0, 20.0])
def test_relief_hole_and_seam_are_peened_beside_a_hole(wedge: str, seam: float) -> None:
    rail = rail_shape(wedge)  # type: ignore[arg-type]
    assert rail.taper is not None
    hole = Hole(rail.taper.apex[0], rail.taper.apex[1] - 30.0, 17.0)
    rows = rail_table(rail, [hole])
    peening = PEENING.model_copy(update={"ring_width": WIDTH, "seam_width": seam})
    found = peened(rail, "rail", rows.rows(rows.side == 0), peening)
    assert found.area == pytest.approx(tail_by_points(rail, hole, seam), rel=5e-3)
    assert found.relief == pytest.approx(pi * (rail.taper.relief_diameter + WIDTH))
    assert found.seam == pytest.approx(2 * rail.taper.seam_length if seam else 0)


def test_free_edges_are_peened_over_their_length_and_counted_once() -> None:
    rail = rail_shape()
    peening = PEENING.model_copy(update={"ring_width": WIDTH, "edge_width": 10.0})
    table = rail_table(rail, [Hole(0, 150, 17.0)])
    found = peened(rail, "rail", table.rows(table.side == 0), peening)
    assert found.area == pytest.approx(2 * 10 * rail.length + ring(17))
    assert found.edges == pytest.approx(2 * rail.length)
    # A hole whose ring reaches 4 mm into the strip along the edge.
    near = rail_table(rail, [Hole(0, SECTION.flange - 10 + 4 - 8.5 - WIDTH, 17.0, face="top")])
    both = peened(rail, "rail", near.rows(near.side == 0), peening).area
    assert both == pytest.approx(2 * 10 * rail.length + ring(17) - segment(8.5 + WIDTH, 8.5 + WIDTH - 4), rel=1e-5)


def test_a_tapers_free_edges_are_longer_than_the_rail() -> None:
    rail = rail_shape("after-forming")
    assert rail.taper
    rows = rail_table(rail, [Hole(0, 150, 17.0)])
    peening = PEENING.model_copy(update={"ring_width": WIDTH, "edge_width": 10.0})
    found = peened(rail, "rail", rows.rows(rows.side == 0), peening)
    # The top flange is as long as the ramp behind the fold, and has no flat steel within the fold.
    ramp = hypot(rail.rear - TAPER_START, SECTION.depth - rail.taper.end_depth)
    expected = rail.length + (TAPER_START - rail.front) + ramp - 2 * rail.taper.fold_half_width
    assert found.edges == pytest.approx(expected)


def test_tail_panels_are_peened_too() -> None:
    rail = rail_shape("after-forming")
    holes = [Hole(TAPER_START + 600, 60, 17.0, face="top"), Hole(TAPER_START + 600, 60, 17.0)]
    assert area(rail, holes) - area(rail, []) == pytest.approx(2 * ring(17), rel=1e-6)


def test_marks_are_not_peened() -> None:
    marks = [Hole(0, 150, shape="mark", operation="stud")]
    assert area(rail_shape(), marks) == 0
    assert area(rail_shape(), [*marks, Hole(400, 150, 17.0)]) == pytest.approx(ring(17), rel=1e-9)


def test_nozzle_path_and_time() -> None:
    table = rail_table(rail_shape(), [Hole(0, 150, 17.0, sides=("LH",)), Hole(400, 150, 25.0, sides=("LH",))])
    path = nozzle_path(table, SECTION.thickness, WIDTH)
    assert path == pytest.approx(pi * (17 + WIDTH) + pi * (25 + WIDTH))
    # 98 % at 0.7 a pass: 4 passes; two faces; 25 mm/s.
    assert nozzle_minutes(PEENING, path) == pytest.approx(4 * 2 * path / 25 / 60)


def test_area_equals_a_fine_grid_of_points() -> None:
    holes = [
        Hole(0, 150, 17.0),
        Hole(30, 165, 25.0),
        Hole(55, 150, 18.0, shape="slot", length=50.0, angle=40.0),
    ]
    step = 0.25
    x, z = np.meshgrid(np.arange(-60, 140, step), np.arange(60, 250, step))
    along, up = np.cos(np.radians(40.0)), np.sin(np.radians(40.0))
    reach = np.clip((x - 55) * along + (z - 150) * up, -16, 16)
    edge = np.stack(
        [
            np.hypot(x, z - 150) - 8.5,
            np.hypot(x - 30, z - 165) - 12.5,
            np.hypot(x - 55 - reach * along, z - 150 - reach * up) - 9.0,
        ]
    ).min(axis=0)
    counted = np.count_nonzero((edge > 0) & (edge <= WIDTH)) * step**2
    assert area(rail_shape(), holes) == pytest.approx(counted, rel=5e-3)
