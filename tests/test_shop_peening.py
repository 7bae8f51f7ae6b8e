"""Peening: intensity by thickness, coverage by passes, and the area around holes against figures by hand."""

from __future__ import annotations

from math import acos, pi, sqrt

import numpy as np
import pytest
from builders import LINER_SECTION, SECTION, TAPER_START, Hole, rail_shape, rail_table
from shop_plans import FINISHING

from railgen.frame.rail import RailShape
from railgen.shop.peening import (
    coverage_after,
    intensity_window,
    nozzle_minutes,
    nozzle_path,
    passes_for,
    peened_area,
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
    thickness = LINER_SECTION.thickness if part == "liner" else SECTION.thickness
    return peened_area(rail, part, rows, thickness, width)  # type: ignore[arg-type]


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


def test_ring_beside_the_relief_hole_is_cut_by_it() -> None:
    rail = rail_shape("after-forming")
    assert rail.taper is not None
    apex_station, apex_height = rail.taper.apex
    apart, outer, relief = 30.0, 17 / 2 + WIDTH, rail.taper.relief_radius
    hole = Hole(apex_station, apex_height - apart, 17.0)
    a = (apart**2 + outer**2 - relief**2) / (2 * apart)
    shared = segment(outer, a) + segment(relief, apart - a)
    # The wedge's lower cut edge begins beyond the ring, behind the relief hole.
    assert area(rail, [hole]) == pytest.approx(ring(17) - shared, rel=5e-3)


def test_tail_panels_are_peened_too() -> None:
    rail = rail_shape("after-forming")
    holes = [Hole(TAPER_START + 600, 60, 17.0, face="top"), Hole(TAPER_START + 600, 60, 17.0)]
    assert area(rail, holes) == pytest.approx(2 * ring(17), rel=1e-6)


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
