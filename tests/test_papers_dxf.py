"""The DXF drawing: clean, the same geometry and words as the PDF, a layout a sheet, the same bytes every time."""

from __future__ import annotations

import re
from functools import cache
from io import BytesIO, StringIO

import ezdxf
import numpy as np
import pytest
import shapely
from drawn_plans import POINTS_PER_MM, drawing, pdf
from ezdxf.document import Drawing as Document
from other_process import printed_elsewhere
from pypdf import PdfReader

from railgen.papers.dxf import SHEET_STEP, write_dxf
from railgen.papers.paths import sub_paths
from railgen.papers.sheet import HEIGHT, WIDTH, Figures, arcs, circles, polyline, rectangle, rounded_outline

NAMES = pytest.mark.parametrize("name", ["tapered", "lined", "empty"])


@cache
def written(name: str) -> bytes:
    return write_dxf(drawing(name).sheets)


@cache
def document(name: str) -> Document:
    return ezdxf.read(StringIO(written(name).decode("utf-8")))


@NAMES
def test_the_audit_finds_nothing(name: str) -> None:
    auditor = document(name).audit()
    assert not auditor.errors
    assert not auditor.fixes


def test_every_sheet_has_a_layout_of_a3_with_a_viewport_on_its_place_in_model_space() -> None:
    names = document("tapered").layouts.names_in_taborder()
    assert names == ["Model", *(f"Sheet {n}" for n in range(1, len(drawing("tapered").sheets) + 1))]
    for number, name in enumerate(names[1:]):
        layout = document("tapered").layouts.get(name)
        assert (layout.dxf.paper_width, layout.dxf.paper_height) == (WIDTH, HEIGHT)
        viewport = layout.query("VIEWPORT")[-1]
        assert viewport.dxf.view_center_point.x == pytest.approx(number * SHEET_STEP + WIDTH / 2)
        assert viewport.dxf.view_height == pytest.approx(viewport.dxf.height)


# The same geometry as the PDF


def pdf_points(name: str) -> list[np.ndarray]:
    """Points (n, 2), mm, through which the paths of each page go; handles of curves left out.

    The codes of a page are forms, drawn where they stand in the page's own axes.
    """
    pages = []
    for page in PdfReader(BytesIO(pdf(name))).pages:
        data = page.get_contents().get_data().decode("latin-1")
        for form in re.findall(r"(/FormXob\.\S+) Do", data):
            data += page["/Resources"]["/XObject"][form].get_object().get_data().decode("latin-1")
        found = re.findall(r"(-?[\d.]+) (-?[\d.]+) [mlc]\b", data)
        pages.append(np.array(found, dtype=np.float64) / POINTS_PER_MM)
    return pages


def dxf_geometry(name: str) -> list[tuple[np.ndarray, np.ndarray]]:
    """For each sheet, from its corner: vertices (n, 2) of lines and areas, and circles (k, 3) as centre and radius."""
    found: list[tuple[list[tuple[float, float]], list[tuple[float, float, float]]]] = [
        ([], []) for _ in drawing(name).sheets
    ]
    for entity in document(name).modelspace():
        kind = entity.dxftype()
        points: list[tuple[float, float]] = []
        if kind == "LINE":
            points = [(end.x, end.y) for end in (entity.dxf.start, entity.dxf.end)]
        elif kind == "LWPOLYLINE":
            points = list(entity.get_points("xy"))
        elif kind == "HATCH":
            points = [(x, y) for path in entity.paths for x, y, _ in path.vertices]
        elif kind == "CIRCLE":
            points = [(entity.dxf.center.x, entity.dxf.center.y)]
        for x, y in points:
            sheet = min(max(round((x - WIDTH / 2) / SHEET_STEP), 0), len(found) - 1)
            if kind == "CIRCLE":
                found[sheet][1].append((x - sheet * SHEET_STEP, y, entity.dxf.radius))
            else:
                found[sheet][0].append((x - sheet * SHEET_STEP, y))
    return [(np.array(points), np.array(rings).reshape(-1, 3)) for points, rings in found]


def off_by(points: np.ndarray, others: np.ndarray) -> np.ndarray:
    """Distance (n,) of each of `points` (n, 2) to the nearest of `others`, mm."""
    tree = shapely.STRtree(shapely.points(others))
    return np.asarray(tree.query_nearest(shapely.points(points), return_distance=True, all_matches=False)[1])


@NAMES
def test_lines_arcs_and_areas_are_those_of_the_pdf(name: str) -> None:
    # The PDF writes hundredths of a point: half of one each way, 0.0025 mm across.
    near = 0.003
    for printed, (vertices, rings) in zip(pdf_points(name), dxf_geometry(name), strict=True):
        assert off_by(vertices, printed).max() < near
        # A whole circle is drawn through four points of it, wherever they are; areas may have circles too.
        to_centre = np.hypot(*(printed[:, None, :] - rings[None, :, :2]).transpose(2, 0, 1))
        on_ring = np.abs(to_centre - rings[:, 2]) < near
        assert (on_ring.sum(axis=0) >= 4).all()
        left = off_by(printed, vertices) >= near
        assert on_ring[left].any(axis=1).all()


@NAMES
def test_words_stand_where_the_sheet_has_them_and_are_as_wide(name: str) -> None:
    expected = [
        (round(text.x, 4), round(text.y, 4), text.text, round(text.height, 4), text.anchor)
        for sheet in drawing(name).sheets
        for text in sheet.texts
    ]
    entities = list(document(name).modelspace().query("TEXT"))
    assert [entity.dxf.text for entity in entities] == [words for _, _, words, _, _ in expected]
    for entity, (x, y, words, height, anchor) in zip(entities, expected, strict=True):
        assert entity.dxf.height == pytest.approx(height)
        assert 0.8 < entity.dxf.width < 1.5 or len(words) < 2
        if anchor == "left":
            step = (entity.dxf.insert.x - x) / SHEET_STEP
            assert step == pytest.approx(round(step), abs=1e-5)
            assert entity.dxf.insert.y == pytest.approx(y, abs=1e-3)


def test_layers_are_the_purposes_of_the_lines_with_their_widths() -> None:
    space = document("tapered").modelspace()
    layers = {entity.dxf.layer for entity in space}
    assert {"OUTLINE", "HIDDEN", "DIMENSIONS", "AXES", "BENDS", "TANGENTS", "TEXT", "FRAME", "FINDINGS"} <= layers
    assert {entity.dxf.lineweight for entity in space.query('LINE[layer=="OUTLINE"]')} == {35}
    assert all(entity.dxf.linetype.startswith("RAILGEN_") for entity in space.query('LINE[layer=="HIDDEN"]'))


# Figures as polylines


def paths_of(figures: Figures) -> list:
    return [path for part in sub_paths(figures.commands) for path in part.of(figures.points)]


def test_circles_are_circles_and_slots_have_arcs() -> None:
    made = paths_of(circles([(10.0, 20.0), (50.0, 60.0)], 3.0))
    assert [path.circle for path in made] == [pytest.approx((10, 20, 3)), pytest.approx((50, 60, 3))]
    commands, outline = rounded_outline(8.0, 3.0, 3.0)
    (slot,) = paths_of(Figures(commands, outline[None]))
    assert slot.circle is None
    assert np.count_nonzero(slot.bulges) == 4
    assert slot.bulges[slot.bulges != 0] == pytest.approx(np.full(4, np.tan(np.pi / 8)), abs=1e-6)


@pytest.mark.parametrize(("first", "last"), [(0.0, 30.0), (10.0, -80.0), (200.0, 470.0)])
def test_an_arc_keeps_its_angle_and_radius_through_cubics_and_bulges(first: float, last: float) -> None:
    (path,) = paths_of(arcs((5.0, 5.0), 4.0, first, last))
    assert np.degrees(4 * np.arctan(path.bulges)).sum() == pytest.approx(last - first, abs=1e-6)
    assert np.hypot(*(path.vertices - 5.0).T) == pytest.approx(np.full(len(path.vertices), 4.0))


def test_lines_and_rectangles_stay_what_they_are() -> None:
    (line,) = paths_of(polyline([(0, 0), (5, 0), (5, 5)]))
    assert (line.closed, line.vertices.tolist()) == (False, [[0, 0], [5, 0], [5, 5]])
    (box,) = paths_of(rectangle(0, 0, 4, 2))
    assert (box.closed, len(box.vertices), box.bulges.any()) == (True, 4, False)


def test_the_same_sheets_give_the_same_bytes_in_another_process() -> None:
    script = (
        "import hashlib; from builders_plan import made_plan; from railgen.papers.drawing import draw; "
        "from railgen.papers.dxf import write_dxf; "
        "print(hashlib.sha256(write_dxf(draw(made_plan(1, 8, 3)).sheets)).hexdigest())"
    )
    assert len(printed_elsewhere(script)) == 1
