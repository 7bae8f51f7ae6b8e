"""Tail taper: closed-form facts, development and folding back."""

from dataclasses import replace
from math import atan, cos, degrees, radians, sin, tan

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from railgen.frame.blank import (
    blank_outline,
    blank_polygon,
    taper_template,
)
from railgen.frame.development import (
    blank_angle,
    develop,
    fold,
    mirror_angle,
    panel_at_blank,
    panel_of,
)
from railgen.frame.panel_shapes import panel_corners, panels
from railgen.frame.panels import FACE_OF_PANEL, NO_PANEL, Face, Panel
from railgen.frame.rail import RailShape
from railgen.frame.section import Section, neutral_line_factor
from railgen.frame.taper import TaperShape

SECTION = Section(270, 90, 8, 20, neutral_line_factor(20, 8))
FRONT, START, REAR = -1200.0, 5000.0, 6500.0


def make_taper(section: Section = SECTION, **changes: float | bool) -> TaperShape:
    values: dict[str, float | bool] = {
        "start": START,
        "end_depth": 200.0,
        "slit_depth": 60.0,
        "root_gap": 3.0,
        "trim": 15.0,
        "relief_diameter": 24.0,
        "in_blank": True,
        "depth": section.depth,
        "thickness": section.thickness,
        "tangent": section.tangent,
        "rear": REAR,
    }
    return TaperShape(**(values | changes))  # type: ignore[arg-type]


def make_rail(**changes: float | bool) -> RailShape:
    return RailShape(SECTION, FRONT, REAR, make_taper(**changes))


@st.composite
def rails(draw: st.DrawFn) -> RailShape:
    """Tapered rails from gentle to steep, including ones without a root gap."""
    length = draw(st.floats(200, 3000))
    slit_depth = draw(st.floats(45, 110))
    changes = {
        "start": REAR - length,
        "end_depth": 270 - draw(st.floats(5, 120)),
        "slit_depth": slit_depth,
        "root_gap": draw(st.sampled_from([0.0, 2.0, 4.5])),
        "relief_diameter": draw(st.floats(12, 30)),
        "trim": draw(st.sampled_from([0.0, 12.0])),
    }
    try:
        return make_rail(**changes)
    except ValueError:
        assume(False)
        raise


def inside(rail: RailShape, panel: Panel, shares: np.ndarray) -> np.ndarray:
    """Points in a finished panel, from shares (n, 2) of its corners' box that fall inside it."""
    corners = panel_corners(rail, panel)
    low, high = corners.min(axis=0), corners.max(axis=0)
    points = low + shares * (high - low)
    polygon = shapely.Polygon(corners).buffer(-1e-3)
    return points[shapely.contains_xy(polygon, points)]


def blank_shape(rail: RailShape, panel: Panel) -> shapely.Polygon:
    corners = panel_corners(rail, panel)
    return shapely.Polygon(np.column_stack(develop(rail, panel, corners[:, 0], corners[:, 1])))


GRID = np.stack(np.meshgrid(np.linspace(0, 1, 60), np.linspace(0, 1, 23)), axis=-1).reshape(-1, 2)


# Shape


def test_closed_forms() -> None:
    taper = make_taper()
    alpha = atan(70 / 1500)
    assert taper.slope == pytest.approx(alpha, rel=1e-14)
    assert taper.hinge == (5000.0, 266.0)
    assert taper.hinge_height == 56.0
    assert taper.apex == pytest.approx((5000 - 56 * tan(alpha / 2), 210.0), rel=1e-14)
    assert taper.upset_area == pytest.approx(2 * 56**2 * tan(alpha / 2) / cos(alpha / 2), rel=1e-14)
    assert taper.fold_half_width == 16.0
    assert taper.seam_to_upper_tangent == 32.0
    assert taper.relief_to_upper_tangent == 20.0
    # The seam is the slit line turned: h / cos(alpha) below the ramp's mid-thickness.
    assert taper.seam_to_lower_tangent == pytest.approx(200 - 4 - 56 / cos(alpha) - 28, rel=1e-12)


@pytest.mark.parametrize(
    ("changes", "least"),
    [
        ({}, 6.0),
        ({"end_depth": 150.0, "start": 6000.0}, 56 * sin(atan(120 / 500))),
    ],
)
def test_least_relief_radius(changes: dict[str, float], least: float) -> None:
    assert make_taper(**changes).least_relief_radius == pytest.approx(least, rel=1e-12)


def test_least_relief_radius_of_thick_steel() -> None:
    section = Section(300, 90, 9.5, 24, 0.42)
    assert make_taper(section).least_relief_radius == pytest.approx(0.75 * 9.5)


def test_fold_is_as_wide_as_the_upset_steel_when_steep() -> None:
    taper = make_taper(start=6300.0, end_depth=180.0, slit_depth=80.0)
    assert taper.fold_half_width == taper.upset_half_width > 16.0


def test_depth_is_linear_behind_the_start() -> None:
    rail = make_rail()
    depths = rail.depth_at([FRONT, 5000.0, 5750.0, 6500.0])
    assert depths == pytest.approx([270, 270, 235, 200])
    assert RailShape(SECTION, FRONT, REAR).depth_at(np.zeros((2, 3))).shape == (2, 3)


@given(rails())
@settings(max_examples=30, deadline=None)
def test_apex_is_on_the_bisector_and_on_both_panels_edge(rail: RailShape) -> None:
    taper = rail.taper
    assert taper is not None
    assert abs(taper.behind_bisector(*taper.apex)) < 1e-9
    mirrored = (2 * taper.start - taper.apex[0], taper.apex[1])
    assert taper.turn_down(mirrored) == pytest.approx(taper.apex, abs=1e-9)
    assert taper.turn_up(taper.turn_down(GRID * 500)) == pytest.approx(GRID * 500, abs=1e-9)


def test_top_flange_ends_at_end_depth() -> None:
    taper = make_taper()
    end = taper.turn_down((taper.start + taper.flange_length, 266.0))
    assert end == pytest.approx((REAR, 200 - 4), abs=1e-9)


def test_impossible_shapes_name_every_problem() -> None:
    with pytest.raises(ValueError, match=r"start .*end_depth .*slit_depth .*upper bend.*relief_diameter"):
        make_taper(start=7000.0, end_depth=280.0, slit_depth=20.0, relief_diameter=4.0)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"end_depth": 90.0}, "lower bend"),
        ({"end_depth": 89.0, "root_gap": 0.0}, "lower bend"),
        ({"end_depth": 270.0}, "less than the section's depth"),
        ({"slit_depth": 28.0}, "upper bend"),
        ({"slit_depth": 250.0}, "lower bend"),
        ({"start": REAR}, "ahead of the rear end"),
        ({"root_gap": -1.0}, "root_gap must be 0 mm or more"),
        ({"trim": -1.0}, "trim must be 0 mm or more"),
        ({"relief_diameter": 0.0}, "relief_diameter must be above 0 mm"),
        ({"start": float("nan")}, "start must be a finite number"),
        ({"start": REAR - 10, "end_depth": 269.9}, "relief_diameter 24 mm reaches the rear end"),
    ],
)
def test_impossible_shape(changes: dict[str, float], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        make_taper(**changes)


def test_rail_refuses_a_taper_of_another_rail() -> None:
    with pytest.raises(ValueError, match="another section or another rear end"):
        RailShape(SECTION, FRONT, REAR + 1, make_taper())
    with pytest.raises(ValueError, match="beyond the rail's front end"):
        RailShape(SECTION, 4990.0, REAR, make_taper())


# Development


@given(rails(), st.integers(0, 2**32 - 1))
@settings(max_examples=40, deadline=None)
def test_folding_back_gives_every_point(rail: RailShape, seed: int) -> None:
    shares = np.random.default_rng(seed).random((200, 2))
    for panel in panels(rail):
        points = inside(rail, panel, shares)
        face = FACE_OF_PANEL[panel]
        assert (panel_of(rail, face, points[:, 0], points[:, 1]) == panel).all()
        u, v = develop(rail, panel, points[:, 0], points[:, 1])
        station, across = fold(rail, panel, u, v)
        assert np.abs(np.column_stack([station, across]) - points).max(initial=0.0) < 1e-9


@given(rails(), st.integers(0, 2**32 - 1))
@settings(max_examples=30, deadline=None)
def test_distances_within_a_panel_are_kept(rail: RailShape, seed: int) -> None:
    taper = rail.taper
    assert taper is not None
    shares = np.random.default_rng(seed).random((60, 2))
    for panel in panels(rail):
        points = inside(rail, panel, shares)
        flat = np.column_stack(develop(rail, panel, points[:, 0], points[:, 1]))
        # On the ramp a distance is along the flange, a station is its level part.
        stretch = [1 / cos(taper.slope), 1.0] if panel == Panel.TAIL_TOP else [1.0, 1.0]
        finished = points * stretch
        steps = np.hypot(*np.diff(finished, axis=0).T) - np.hypot(*np.diff(flat, axis=0).T)
        assert np.abs(steps).max(initial=0.0) < 1e-9


def test_panels_develop_in_one_call() -> None:
    rail = make_rail()
    panel = np.array(list(Panel))
    station, across = (
        np.array([0.0, 100.0, 200.0, 6000.0, 6000.0]),
        np.array([100.0, 60.0, 60.0, 200.0, 60.0]),
    )
    u, v = develop(rail, panel, station, across)
    singly = [develop(rail, p, x, y) for p, x, y in zip(panel, station, across, strict=True)]
    assert np.column_stack([u, v]) == pytest.approx(np.array(singly, dtype=float), abs=1e-12)
    assert u[:3] == pytest.approx([1200, 1300, 1400])
    assert u[4] == pytest.approx(6200 + 1000 / cos(atan(70 / 1500)), abs=1e-9)


def test_tail_panels_need_a_taper() -> None:
    rail = RailShape(SECTION, FRONT, REAR)
    assert panel_of(rail, [Face.WEB, Face.TOP], REAR, 200.0).tolist() == [Panel.WEB, Panel.TOP]
    with pytest.raises(ValueError, match="no tail taper"):
        develop(rail, Panel.TAIL_WEB, 6000.0, 200.0)
    with pytest.raises(ValueError, match="no tail taper"):
        taper_template(rail)


@given(rails())
@settings(max_examples=30, deadline=None)
def test_seam_edges_are_a_root_gap_apart_all_along(rail: RailShape) -> None:
    cut = blank_outline(rail, "rail").vertices
    lower = np.linspace(cut[2], cut[3], 40)
    slit = np.linspace(cut[5], cut[6], 40)
    seam = shapely.LineString(np.column_stack(fold(rail, Panel.TAIL_WEB, slit[[0, -1], 0], slit[[0, -1], 1])))
    edge = np.column_stack(fold(rail, Panel.WEB, lower[:, 0], lower[:, 1]))
    direction = np.diff(np.array(seam.coords), axis=0)[0]
    normal = np.array([-direction[1], direction[0]]) / np.hypot(*direction)
    assert rail.taper is not None
    gaps = (np.array(seam.coords)[0] - edge) @ normal
    assert gaps == pytest.approx(np.full(40, rail.taper.root_gap), abs=1e-9)


@given(rails())
@settings(max_examples=20, deadline=None)
def test_panel_at_blank_against_polygons(rail: RailShape) -> None:
    taper = rail.taper
    assert taper is not None
    hole_u = taper.apex[0] - rail.front
    hole_v = SECTION.blank_y(Face.WEB, taper.apex[1])
    shapes = {panel: blank_shape(rail, panel) for panel in panels(rail)}
    low = np.array([taper.front - rail.front - 40, -20.0])
    high = np.array([rail.blank_length + 20, rail.blank_width + 20])
    points = low + np.random.default_rng(1).random((3000, 2)) * (high - low)
    near_hole = np.hypot(points[:, 0] - hole_u, points[:, 1] - hole_v) < taper.relief_radius
    expected = np.full(len(points), NO_PANEL)
    for panel, shape in shapes.items():
        expected[shapely.contains_xy(shape, points) & ~near_hole] = panel
    edges = shapely.unary_union([shape.boundary for shape in shapes.values()])
    clear = shapely.distance(edges, shapely.points(points)) > 1e-6
    assert (panel_at_blank(rail, points[:, 0], points[:, 1])[clear] == expected[clear]).all()


def test_panel_at_blank_names_no_panel_in_bends() -> None:
    for rail in (make_rail(), RailShape(SECTION, FRONT, REAR)):
        bends = [SECTION.lower_bend_blank_y, SECTION.upper_bend_blank_y]
        assert (panel_at_blank(rail, 500.0, bends) == NO_PANEL).all()
        assert panel_at_blank(rail, -1.0, 200.0) == NO_PANEL
        assert panel_at_blank(rail, 0.0, 200.0) == Panel.WEB
    assert panel_at_blank(make_rail(), START - FRONT + 10, SECTION.developed_width - 5) == NO_PANEL


@given(rails())
@settings(max_examples=20, deadline=None)
def test_panels_lie_apart_in_the_blank_and_in_the_finished_rail(rail: RailShape) -> None:
    outline = blank_polygon(rail, "rail")
    assert rail.taper is not None
    u = rail.taper.apex[0] - rail.front
    relief = shapely.Point(u, SECTION.blank_y(Face.WEB, rail.taper.apex[1]))
    relief = relief.buffer(rail.taper.relief_radius, quad_segs=512)
    shapes = [blank_shape(rail, panel).difference(relief) for panel in panels(rail)]
    assert all(outline.buffer(1e-3).contains(shape) for shape in shapes)
    assert shapely.unary_union(shapes).area == pytest.approx(sum(s.area for s in shapes), rel=1e-9)
    web, strip = (shapely.Polygon(panel_corners(rail, p)) for p in (Panel.WEB, Panel.TAIL_WEB))
    assert web.intersection(strip).area < 1e-6
    # The blank's rear edge is the longest panel plus trim.
    longest = max(shape.bounds[2] for shape in shapes)
    assert longest + rail.taper.trim == pytest.approx(rail.blank_length, abs=1e-9)


# Angles


@pytest.mark.parametrize("angle", [0.0, 30.0, 90.0, 179.0])
@pytest.mark.parametrize("panel", [Panel.WEB, Panel.TOP, Panel.BOTTOM, Panel.TAIL_WEB])
def test_blank_angle_is_that_of_two_developed_points(panel: Panel, angle: float) -> None:
    rail = make_rail()
    middle = panel_corners(rail, panel).mean(axis=0)
    step = np.array([cos(radians(angle)), sin(radians(angle))])
    u, v = develop(rail, panel, middle[0] + [0, step[0]], middle[1] + [0, step[1]])
    expected = degrees(np.arctan2(v[1] - v[0], u[1] - u[0])) % 180
    assert (blank_angle(rail, panel, angle) - expected + 90) % 180 == pytest.approx(90, abs=1e-6)


def test_angles_stay_below_a_half_turn() -> None:
    rail = make_rail()
    assert mirror_angle([0.0, 30.0, 90.0, 1e-20]) == pytest.approx([0, 150, 90, 0])
    assert blank_angle(rail, Panel.BOTTOM, 0.0) == 0.0
    assert blank_angle(rail, Panel.TAIL_TOP, 40.0) == 40.0
    assert blank_angle(rail, Panel.TAIL_WEB, 179.0) == pytest.approx(179 + degrees(atan(70 / 1500)) - 180)


def test_shapes_are_frozen() -> None:
    taper = make_taper()
    with pytest.raises(AttributeError):
        taper.start = 1.0  # type: ignore[misc]
    assert replace(taper, in_blank=False).apex == taper.apex
    assert taper == make_taper()
