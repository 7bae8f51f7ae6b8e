"""Section: published values, and the general library `sectionproperties` as the oracle."""

from math import cos, pi, sin

import numpy as np
import pytest
import shapely
from sectionproperties.analysis import Section as Analysis
from sectionproperties.pre import Geometry

from railgen.frame.panels import FACE_OF_PANEL, Face, Panel
from railgen.frame.section import (
    Section,
    neutral_line_factor,
    problems,
    properties,
    sharp_corner_modulus,
)

INCH = 25.4

SECTIONS = {
    "300 x 90 x 9.5 r 24": (300.0, 90.0, 9.5, 24.0),
    "270 x 90 x 8 r 20": (270.0, 90.0, 8.0, 20.0),
    "10.25 x 3.5 x 5/16 in": (10.25 * INCH, 3.5 * INCH, 5 / 16 * INCH, 0.5 * INCH),
    "thin": (220.0, 70.0, 4.0, 6.0),
}


def make_section(depth: float, flange: float, thickness: float, radius: float) -> Section:
    return Section(depth, flange, thickness, radius, neutral_line_factor(radius, thickness))


def section_polygon(section: Section, steps: int = 32) -> shapely.Polygon:
    """The cross-section drawn arc by arc, in (y, z)."""
    inside, outside = section.inside_radius, section.tangent
    angles = [pi / 2 * step / steps for step in range(steps + 1)]
    low, high, edge = section.tangent, section.depth - section.tangent, section.flange
    outer = [(low - outside * sin(a), low - outside * cos(a)) for a in angles]
    outer += [(low - outside * cos(a), high + outside * sin(a)) for a in angles]
    inner = [(low - inside * cos(a), high + inside * sin(a)) for a in angles]
    inner = [(low - inside * sin(a), low - inside * cos(a)) for a in angles] + inner
    lower_edge = [(edge, section.thickness), (edge, 0.0)]
    upper_edge = [(edge, section.depth), (edge, section.depth - section.thickness)]
    return shapely.Polygon([*lower_edge, *outer, *upper_edge, *inner[::-1]])


def test_developed_width_by_din_6935() -> None:
    # DIN 6935, from memory: 300 x 90 x 9.5, inside radius 23.75 has a width of 434.28 mm.
    section = make_section(300, 90, 9.5, 23.75)
    assert section.developed_width == pytest.approx(434.28, abs=0.005)


@pytest.mark.parametrize(
    ("ratio", "factor"),
    # DIN 6935, from memory: k = 0.65 + 0.5 log10(r / t) up to 5, then 1; K = k / 2.
    [(1.0, 0.325), (2.5, 0.42448), (5.0, 0.49974), (5.001, 0.5), (50.0, 0.5)],
)
def test_neutral_line_factor_by_din_6935(ratio: float, factor: float) -> None:
    assert neutral_line_factor(8 * ratio, 8) == pytest.approx(factor, abs=1e-5)


@pytest.mark.parametrize(("radius", "thickness"), [(0, 8), (-1, 8), (20, 0)])
def test_neutral_line_factor_refuses(radius: float, thickness: float) -> None:
    with pytest.raises(ValueError, match="above 0 mm"):
        neutral_line_factor(radius, thickness)


@pytest.mark.parametrize(
    ("share", "neutral_line"),
    # Machinery's Handbook, bending allowance of 90 degrees, from memory: 1.57 r + 0.55 t, 0.64 t, 0.71 t.
    [(0.55, 0.35), (0.64, 0.41), (0.71, 0.45)],
)
def test_bend_allowance_by_machinerys_handbook(share: float, neutral_line: float) -> None:
    section = Section(300, 90, 9.5, 24, neutral_line)
    assert section.bend_allowance == pytest.approx(1.57 * 24 + share * 9.5, rel=2e-3)


@pytest.mark.parametrize(("depth", "modulus"), [(10.0, 10.2), (10.5, 11.0), (11.0, 11.9)])
def test_sharp_corner_modulus_of_frame_table(depth: float, modulus: float) -> None:
    # Truck-mounted crane service manual 500E2 and 800D, installation section, table E: t 3/8, flange 1.50 in.
    # 10.5 in works out at 11.03, 11.0 in at 11.91 in3.
    assert sharp_corner_modulus(depth, 1.5, 0.375) == pytest.approx(modulus, abs=0.05)


@pytest.mark.parametrize("sizes", SECTIONS.values(), ids=SECTIONS.keys())
def test_properties_against_sectionproperties(sizes: tuple[float, float, float, float]) -> None:
    section = make_section(*sizes)
    geometry = Geometry(section_polygon(section)).create_mesh(mesh_sizes=[section.thickness**2 / 6])
    oracle = Analysis(geometry)
    oracle.calculate_geometric_properties()
    oracle.calculate_warping_properties()
    own = properties(section)
    ixx, iyy, _ = oracle.get_ic()
    centroid_y, centroid_z = oracle.get_c()
    zxx, _, zyy_flange, zyy_web = oracle.get_z()
    assert own.area == pytest.approx(oracle.get_area(), rel=1e-3)
    assert own.centroid_y == pytest.approx(centroid_y, rel=1e-3)
    assert own.centroid_z == pytest.approx(centroid_z, rel=1e-3)
    assert own.ixx == pytest.approx(ixx, rel=1e-3)
    assert own.iyy == pytest.approx(iyy, rel=1e-3)
    assert own.modulus_xx == pytest.approx(zxx, rel=1e-3)
    assert own.modulus_yy_flange == pytest.approx(zyy_flange, rel=1e-3)
    assert own.modulus_yy_web == pytest.approx(zyy_web, rel=1e-3)
    assert own.torsion == pytest.approx(oracle.get_j(), rel=5e-3)


def test_area_is_middle_length_times_thickness() -> None:
    section = make_section(300, 90, 9.5, 24)
    assert properties(section).area == pytest.approx(section.middle_length * 9.5, rel=1e-12)


def test_blank_axes_follow_the_bends() -> None:
    section = make_section(300, 90, 9.5, 24)
    marks = [
        0.0,
        section.bottom_tangent_blank_y,
        section.lower_bend_blank_y,
        section.web_lower_tangent_blank_y,
        section.web_upper_tangent_blank_y,
        section.upper_bend_blank_y,
        section.top_tangent_blank_y,
        section.developed_width,
    ]
    half = section.bend_allowance / 2
    assert np.diff(marks) == pytest.approx([56.5, half, half, 233.0, half, half, 56.5])
    # The blank is the same read from either edge.
    assert np.add(marks, marks[::-1]) == pytest.approx(np.full(8, section.developed_width))


def test_blank_y_of_known_points() -> None:
    section = make_section(300, 90, 9.5, 24)
    faces = [Face.WEB, Face.WEB, Face.TOP, Face.TOP, Face.BOTTOM, Face.BOTTOM]
    across = [33.5, 150.0, 90.0, 33.5, 90.0, 33.5]
    width = section.developed_width
    expected = [section.web_lower_tangent_blank_y, width / 2, width, section.top_tangent_blank_y, 0.0, 56.5]
    assert section.blank_y(faces, across) == pytest.approx(expected)
    assert section.across(faces, section.blank_y(faces, across)) == pytest.approx(across)


def test_face_of_panel() -> None:
    assert FACE_OF_PANEL[[Panel.TAIL_WEB, Panel.TAIL_TOP]].tolist() == [Face.WEB, Face.TOP]
    assert all(FACE_OF_PANEL[face] == face for face in Face)


def test_impossible_sections_name_every_problem() -> None:
    found = problems(60, 30, 9.5, 24)
    assert len(found) == 2
    with pytest.raises(ValueError, match=r"leaves nothing flat.*leaves no flat web"):
        Section(60, 30, 9.5, 24, 0.4)
    assert len(problems(-1, float("nan"), 0, -2)) == 4
    with pytest.raises(ValueError, match="neutral_line"):
        Section(300, 90, 9.5, 24, 1.2)
