"""Liner: nesting, its own blank axes."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.frame.blank import bend_lines, blank_outline, blank_polygon
from railgen.frame.development import develop_liner, fold_liner, liner_blank_angle
from railgen.frame.liner import LinerShape
from railgen.frame.panel_shapes import liner_panel_corners
from railgen.frame.panels import Face
from railgen.frame.rail import RailShape
from railgen.frame.section import Section
from railgen.frame.taper import TaperShape

RAIL = Section(300, 90, 9.5, 24, 0.42)
INNER = Section(280, 78, 6, 19, 0.42)


def make_liner(section: Section = INNER, start: float = 500.0, end: float = 3500.0) -> LinerShape:
    return LinerShape(start, end, section, RAIL)


def brute_interference(liner: LinerShape) -> float:
    """Deepest point of the liner's outside corner beyond the inside of the rail's bend, from many points."""
    corner, bend, half_gap = liner.section.tangent, RAIL.inside_radius, liner.gap / 2
    angles = np.linspace(np.pi, 1.5 * np.pi, 20001)
    arc = np.column_stack([corner + corner * np.cos(angles), half_gap + corner + corner * np.sin(angles)])
    reach = np.linspace(0, 3 * bend, 20001)
    web = np.column_stack([np.zeros_like(reach), half_gap + corner + reach])
    flange = np.column_stack([corner + reach, np.full_like(reach, half_gap)])
    points = np.concatenate([arc, web, flange])
    in_bend = points[(points < bend).all(axis=1)]
    return float((np.hypot(*(in_bend - bend).T) - bend).max(initial=-np.inf))


def test_gap_is_split_equally() -> None:
    liner = make_liner()
    assert liner.gap == pytest.approx(1.0)
    assert liner.offset_z == pytest.approx(10.0)
    assert liner.offset_y == 9.5
    assert (liner.web_lower_tangent, liner.web_upper_tangent) == pytest.approx((35.0, 265.0))
    assert liner.length == 3000.0


@pytest.mark.parametrize(("flange", "proud"), [(78, -2.5), (80.5, 0.0), (82, 1.5)])
def test_proud(flange: float, proud: float) -> None:
    assert make_liner(Section(280, flange, 6, 19, 0.42)).proud == pytest.approx(proud)


def test_interference_of_a_tight_corner() -> None:
    # No gap: both arcs touch the same web and flange; the corner digs in by (r_rail - r_liner) (sqrt 2 - 1).
    liner = make_liner(Section(281, 78, 6, 8, 0.42))
    assert liner.interference == pytest.approx((24 - 14) * (2**0.5 - 1), rel=1e-12)


@pytest.mark.parametrize("radius", [18.0, 19.0, 30.0])
def test_a_rounder_corner_clears(radius: float) -> None:
    assert make_liner(Section(280, 78, 6, radius, 0.42)).interference <= 0.0


@given(st.floats(240, 281), st.floats(1, 40))
@settings(max_examples=60, deadline=None)
def test_interference_against_many_points(depth: float, radius: float) -> None:
    liner = make_liner(Section(depth, 78, 6, radius, 0.42))
    brute = brute_interference(liner)
    assert max(liner.interference, 0.0) == pytest.approx(max(brute, 0.0), abs=1e-5)


def test_clear_sections_do_not_overlap() -> None:
    liner = make_liner()
    corner = shapely.Point(liner.offset_y + 25, liner.offset_z + 25).buffer(25, quad_segs=256)
    bend = shapely.Point(33.5, 33.5).buffer(24, quad_segs=256)
    quarter = shapely.box(9.5, 9.5, 33.5, 33.5)
    assert corner.intersection(quarter).difference(bend).area < 1e-2


def test_impossible_liners() -> None:
    with pytest.raises(ValueError, match=r"ahead of its end.*does not go into the rail"):
        LinerShape(100, 50, Section(290, 78, 6, 19, 0.42), RAIL)
    with pytest.raises(ValueError, match="within the rail"):
        RailShape(RAIL, 0.0, 3000.0, None, make_liner())
    with pytest.raises(ValueError, match="another rail section"):
        RailShape(INNER, 0.0, 4000.0, None, make_liner())


def test_liner_lies_ahead_of_the_taper() -> None:
    taper = TaperShape(3400, 230, 60, 3, 15, 24, False, 300, 9.5, 33.5, 5000)
    with pytest.raises(ValueError, match="wholly ahead of the taper"):
        RailShape(RAIL, -1000, 5000, taper, make_liner())
    assert RailShape(RAIL, -1000, 5000, taper, make_liner(end=3300)).liner is not None


def test_liner_develops_by_its_own_section() -> None:
    liner = make_liner()
    faces = [Face.WEB, Face.BOTTOM, Face.TOP]
    u, v = develop_liner(liner, faces, 1500.0, [150.0, liner.flange_edge, liner.flange_edge])
    assert u == pytest.approx([1000, 1000, 1000])
    assert v == pytest.approx([INNER.developed_width / 2, 0.0, INNER.developed_width])


@given(st.sampled_from(list(Face)), st.floats(500, 3500), st.floats(0, 1))
@settings(max_examples=50, deadline=None)
def test_liner_folds_back(face: Face, station: float, share: float) -> None:
    liner = make_liner()
    low, high = liner_panel_corners(liner, face)[[0, 2], 1]
    across = low + share * (high - low)
    u, v = develop_liner(liner, face, station, across)
    assert fold_liner(liner, face, u, v) == pytest.approx((station, across), abs=1e-9)
    assert blank_polygon(RailShape(RAIL, 0, 5000, None, liner), "liner").buffer(1e-6).contains(shapely.Point(u, v))


def test_liner_blank() -> None:
    rail = RailShape(RAIL, -1000.0, 5000.0, None, make_liner())
    outline = blank_outline(rail, "liner")
    assert outline.vertices.max(axis=0) == pytest.approx([3000, INNER.developed_width])
    lower, upper = bend_lines(rail, "liner")
    assert lower.vertices[:, 1] == pytest.approx([INNER.lower_bend_blank_y] * 2)
    assert upper.vertices[:, 1] == pytest.approx([INNER.upper_bend_blank_y] * 2)
    assert liner_blank_angle([Face.WEB, Face.TOP, Face.BOTTOM], 30.0) == pytest.approx([30, 30, 150])
    with pytest.raises(ValueError, match="no liner"):
        blank_outline(RailShape(RAIL, 0.0, 1000.0), "liner")
