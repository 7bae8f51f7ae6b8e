"""The blank's outline, bend lines and later cuts, and the taper's template."""

from math import cos, tan

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from test_frame_taper import FRONT, REAR, SECTION, START, make_rail, rails

from railgen.frame.blank import (
    bend_lines,
    blank_outline,
    blank_polygon,
    mirror_contour,
    second_cuts,
    taper_template,
)
from railgen.frame.contour import contour_points, mirror_polyline
from railgen.frame.development import develop, mirror_blank
from railgen.frame.panels import Face, Panel
from railgen.frame.rail import RailShape


@given(rails())
@settings(max_examples=30, deadline=None)
def test_outline_is_rectangle_less_wedge_less_relief(rail: RailShape) -> None:
    taper = rail.taper
    assert taper is not None
    u, v = taper.apex[0] - rail.front, float(SECTION.blank_y(Face.WEB, taper.apex[1]))
    run, drop = rail.blank_length - u, taper.root_gap / cos(taper.slope)
    wedge = shapely.Polygon([(u, v), (u + run, v), (u + run, v - drop - run * tan(taper.slope)), (u, v - drop)])
    relief = shapely.Point(u, v).buffer(taper.relief_radius, quad_segs=2048)
    rectangle = shapely.box(0, 0, rail.blank_length, rail.blank_width)
    shape = blank_polygon(rail, "rail", arc_segments=4096)
    assert shape.is_valid
    assert shape.exterior.is_ccw
    assert shape.area == pytest.approx(rectangle.difference(wedge.union(relief)).area, abs=1e-2)


def test_relief_arc_is_about_the_apex() -> None:
    rail = make_rail()
    outline = blank_outline(rail, "rail")
    (first,) = np.nonzero(outline.bulges)[0][:1]
    assert (outline.bulges[first : first + 2] < 0).all()
    centre = (rail.taper.apex[0] - FRONT, SECTION.blank_y(Face.WEB, 210.0))  # type: ignore[union-attr]
    on_hole = np.hypot(*(outline.vertices[first : first + 3] - centre).T)
    assert on_hole == pytest.approx([12, 12, 12], abs=1e-9)


def test_both_ways_of_cutting_the_wedge_use_one_curve() -> None:
    in_blank, later = make_rail(), make_rail(in_blank=False)
    assert second_cuts(in_blank) == []
    assert second_cuts(RailShape(SECTION, FRONT, REAR)) == []
    (cut,) = second_cuts(later)
    outline = blank_outline(in_blank, "rail")
    assert not cut.closed
    assert (cut.vertices == outline.vertices[2:7]).all()
    assert (cut.bulges == outline.bulges[2:7]).all()
    assert later.blank_length == in_blank.blank_length
    plain = blank_outline(later, "rail")
    assert plain.vertices.tolist() == [
        [0, 0],
        [later.blank_length, 0],
        [later.blank_length, later.blank_width],
        [0, later.blank_width],
    ]


def test_bend_lines_run_the_length_and_the_fold_line_across_the_flat() -> None:
    rail = make_rail()
    lower, upper, fold_line = bend_lines(rail, "rail")
    length, width = rail.blank_length, rail.blank_width
    low, high = SECTION.lower_bend_blank_y, SECTION.upper_bend_blank_y
    assert low + high == pytest.approx(width)
    assert lower.vertices == pytest.approx(np.array([(0, low), (length, low)]))
    assert upper.vertices == pytest.approx(np.array([(0, high), (length, high)]))
    assert fold_line.vertices == pytest.approx(np.array([(6200, SECTION.top_tangent_blank_y), (6200, width)]))
    assert len(bend_lines(RailShape(SECTION, FRONT, REAR), "rail")) == 2
    assert mirror_polyline(fold_line, length).vertices[:, 0] == pytest.approx([length - 6200] * 2)


def test_template_is_the_same_cut_in_the_rails_axes() -> None:
    rail = make_rail(in_blank=False)
    template = taper_template(rail)
    (cut,) = second_cuts(rail)
    u, v = develop(rail, Panel.WEB, *template.cut.vertices.T)
    assert np.column_stack([u, v]) == pytest.approx(cut.vertices, abs=1e-9)
    taper = rail.taper
    assert taper is not None
    assert (template.fold_station, template.relief_centre) == (START, taper.apex)
    front_line, rear_line = template.upset_lines
    assert front_line.vertices[1] == pytest.approx(taper.apex)
    assert taper.turn_down(rear_line.vertices) == pytest.approx(front_line.vertices, abs=1e-9)
    heights = [line.vertices[0, 1] for line in template.reference_lines]
    assert heights == [0, 28, 242, 270]
    # The upset steel reaches upset_half_width to either side of the bisector.
    front_edge, rear_edge = template.upset_edges
    assert taper.behind_bisector(*front_edge.vertices.T) == pytest.approx([-taper.upset_half_width] * 2)
    finished = taper.turn_down(rear_edge.vertices)
    assert taper.behind_bisector(*finished.T) == pytest.approx([taper.upset_half_width] * 2)


def test_mirrored_outline_is_the_other_hand() -> None:
    rail = make_rail()
    length = rail.blank_length
    outline = blank_outline(rail, "rail")
    mirrored = mirror_contour(outline, length)
    points = contour_points(outline)
    expected = shapely.Polygon(np.column_stack([mirror_blank(points[:, 0], length), points[:, 1]]))
    shape = shapely.Polygon(contour_points(mirrored))
    assert shape.symmetric_difference(expected).area < 1e-6
    assert shape.exterior.is_ccw == shapely.Polygon(points).exterior.is_ccw is True
    again = mirror_contour(mirrored, length)
    assert again.vertices == pytest.approx(outline.vertices)
    assert (again.bulges == outline.bulges).all()
    (cut,) = second_cuts(make_rail(in_blank=False))
    open_points = contour_points(mirror_contour(cut, length))
    assert shapely.hausdorff_distance(shapely.LineString(open_points), shape.exterior) > 0
    assert expected.exterior.buffer(1e-6).contains(shapely.LineString(open_points))
