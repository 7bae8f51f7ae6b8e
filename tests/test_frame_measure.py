"""Volume, mass and surface against plain integration over the finished shape."""

from math import pi

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.frame.liner import LinerShape
from railgen.frame.measure import cut_web_area, part_measures, upset_area
from railgen.frame.rail import RailShape
from railgen.frame.section import Section, properties
from railgen.frame.taper import TaperShape

SECTION = Section(270, 90, 8, 20, 0.42)
FRONT, REAR = -1200.0, 6500.0


def make_taper(start: float = 5000.0, end_depth: float = 200.0, root_gap: float = 3.0) -> TaperShape:
    return TaperShape(start, end_depth, 60, root_gap, 15, 24, False, 270, 8, 28, REAR)


def middle_line(section: Section) -> shapely.LineString:
    angles = np.linspace(0, pi / 2, 400)
    radius, low, high = section.bend_middle_radius, section.tangent, section.depth - section.tangent
    lower = np.column_stack([low - radius * np.sin(angles), low - radius * np.cos(angles)])
    upper = np.column_stack([low - radius * np.cos(angles), high + radius * np.sin(angles)])
    half = section.thickness / 2
    ends = [(section.flange, half)], [(section.flange, section.depth - half)]
    return shapely.LineString(np.concatenate([ends[0], lower, upper, ends[1]]))


def test_straight_rail_is_section_times_length() -> None:
    rail = RailShape(SECTION, FRONT, REAR)
    measures = part_measures(rail, "rail", 0.0, 0.0)
    drawn = middle_line(SECTION).buffer(4, cap_style="flat", quad_segs=32)
    assert measures.volume == pytest.approx(properties(SECTION).area * 7700, rel=1e-12)
    assert measures.volume == pytest.approx(drawn.area * 7700, rel=1e-5)
    # EN 1991-1-1 table A.4, from memory: steel 7850 kg/m3.
    assert measures.mass == pytest.approx(measures.volume * 1e-9 * 7850, rel=1e-12)
    assert measures.surface == pytest.approx(drawn.length * 7700 + 2 * drawn.area, rel=1e-5)


def test_holes_take_their_openings_and_give_their_walls() -> None:
    rail = RailShape(SECTION, FRONT, REAR)
    area, perimeter = pi / 4 * 17**2, pi * 17
    whole, punched = (
        part_measures(rail, "rail", 0.0, 0.0),
        part_measures(rail, "rail", 10 * area, 10 * perimeter),
    )
    assert whole.volume - punched.volume == pytest.approx(10 * area * 8, rel=1e-9)
    assert whole.surface - punched.surface == pytest.approx(10 * (2 * area - perimeter * 8), rel=1e-9)


def test_liner_is_measured_by_its_own_section() -> None:
    inner = Section(250, 78, 6, 16, 0.42)
    rail = RailShape(SECTION, FRONT, REAR, None, LinerShape(500, 3500, inner, SECTION))
    assert part_measures(rail, "liner", 0.0, 0.0).volume == pytest.approx(properties(inner).area * 3000, rel=1e-12)
    with pytest.raises(ValueError, match="no liner"):
        part_measures(RailShape(SECTION, FRONT, REAR), "liner", 0.0, 0.0)


def integrated_volume(taper: TaperShape) -> float:
    """Mid-surface, strip by strip along the section, each as long as it reaches to the finished rear end."""
    apex_x, slit_z = taper.apex
    far = taper.blank_rear + 500
    edge = [(x, float(taper.lower_cut_z(x))) for x in (apex_x, far)]
    wedge = shapely.Polygon([(apex_x, slit_z), *edge, (far, slit_z)])
    gone = wedge.union(shapely.Point(taper.apex).buffer(taper.relief_radius, quad_segs=512))
    line = middle_line(SECTION)
    # No strip spans the slit, where lengths jump.
    slit = line.project(shapely.Point(4, slit_z))
    lengths = np.unique(np.append(np.linspace(0, line.length, 10001), slit))
    middles = shapely.get_coordinates(line.interpolate((lengths[:-1] + lengths[1:]) / 2))[:, 1]
    # A row of the upper panel ends where its turned line crosses the rear end's station.
    near, beyond = (taper.turn_down(np.column_stack([np.full_like(middles, x), middles]))[:, 0] for x in (0, far))
    ends = np.where(middles > slit_z, (REAR - near) / (beyond - near) * far, REAR)
    rows = shapely.linestrings(
        np.stack([np.column_stack([np.full_like(ends, FRONT), middles]), np.column_stack([ends, middles])], axis=1)
    )
    web = (middles > SECTION.tangent) & (middles < SECTION.depth - SECTION.tangent)
    kept = np.where(web, shapely.length(shapely.difference(rows, gone)), ends - FRONT)
    return float(kept @ np.diff(lengths) * SECTION.thickness)


@pytest.mark.parametrize(("start", "end_depth", "root_gap"), [(5000, 200, 3), (5900, 150, 0), (3000, 240, 4)])
def test_tapered_volume_against_integration(start: float, end_depth: float, root_gap: float) -> None:
    taper = make_taper(start, end_depth, root_gap)
    rail = RailShape(SECTION, FRONT, REAR, taper)
    assert part_measures(rail, "rail", 0.0, 0.0).volume == pytest.approx(integrated_volume(taper), rel=2e-6)


def test_cut_web_area_against_polygons() -> None:
    taper = make_taper()
    x, z = taper.apex
    edge = [(s, float(taper.lower_cut_z(s))) for s in (x, REAR)]
    wedge = shapely.Polygon([taper.apex, *edge, (REAR, z)])
    relief = shapely.Point(taper.apex).buffer(taper.relief_radius, quad_segs=2048)
    assert cut_web_area(taper) == pytest.approx(wedge.union(relief).area, abs=1e-2)


@given(st.floats(3000, 6000), st.floats(150, 268))
@settings(max_examples=30, deadline=None)
def test_a_taper_only_takes_steel_away(start: float, end_depth: float) -> None:
    plain = part_measures(RailShape(SECTION, FRONT, REAR), "rail", 0.0, 0.0)
    rail = RailShape(SECTION, FRONT, REAR, make_taper(start, end_depth))
    tapered = part_measures(rail, "rail", 0.0, 0.0)
    # The ramp is longer than it is level, by far less than the wedge; the seam's edges are welded, not free.
    assert 0.9 * plain.volume < tapered.volume
    assert tapered.volume < plain.volume
    assert 0.9 * plain.surface < tapered.surface < plain.surface
    assert tapered.mass / tapered.volume == pytest.approx(7.85e-6)


def test_shallow_taper_tends_to_the_plain_rail() -> None:
    taper = make_taper(end_depth=269.9999, root_gap=0.0)
    rail = RailShape(SECTION, FRONT, REAR, taper)
    plain = part_measures(RailShape(SECTION, FRONT, REAR), "rail", 0.0, 0.0)
    measures = part_measures(rail, "rail", 0.0, 0.0)
    assert plain.volume - measures.volume == pytest.approx(pi * 12**2 * 8, rel=1e-3)
    wall = 2 * pi * 12 * 8
    assert plain.surface - measures.surface == pytest.approx(2 * pi * 12**2 - wall, rel=2e-3)


def test_upset_area() -> None:
    rail = RailShape(SECTION, FRONT, REAR, make_taper())
    assert rail.taper is not None
    assert upset_area(rail) == rail.taper.upset_area > 0
    assert upset_area(RailShape(SECTION, FRONT, REAR)) == 0.0
