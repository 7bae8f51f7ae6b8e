"""Elevation sheets: true to scale, every hole once and dimensioned, findings numbered as listed."""

from __future__ import annotations

import re
from io import BytesIO

import numpy as np
import pytest
from builders import Hole, rail_shape, rail_table
from builders_plan import finding, plan_of
from drawn_plans import (
    POINTS_PER_MM,
    all_layouts,
    drawing,
    every_plan,
    layouts,
    layouts_of,
    page_words,
    pdf,
    plan,
    words_of,
)
from pypdf import PdfReader

from railgen.data.findings import in_order
from railgen.frame.panels import Face
from railgen.holes.table import RAIL, SIDES
from railgen.papers.drawing import drawing_pdf
from railgen.papers.elevation_layout import view_width
from railgen.papers.feet import foot_corners
from railgen.papers.fonts import SMALL, text_width
from railgen.papers.legend import sheet_counts
from railgen.papers.part import drawn_rail
from railgen.papers.sheet import (
    Figures,
)
from railgen.papers.stretches import CLEAR, OVERLAP, SCALE
from railgen.papers.subject import subject_of

# Scale


def circle_starts(page: object) -> np.ndarray:
    """Where the page's paths begin, mm: a round hole's path begins at its right end."""
    data = page.get_contents().get_data().decode("latin-1")  # type: ignore[attr-defined]
    return np.array(re.findall(r"(-?[\d.]+) (-?[\d.]+) m\b", data), dtype=np.float64) / POINTS_PER_MM


def ruler_marks(page: object) -> dict[str, float]:
    """x (mm) of the middle of each word on the page that is a number."""
    found: dict[str, float] = {}

    def visit(text: str, _cm: list[float], tm: list[float], *_: object) -> None:
        if re.fullmatch(r"-?\d+", text.strip()):
            found[text.strip()] = tm[4] / POINTS_PER_MM + text_width(text.strip(), SMALL) / 2

    page.extract_text(visitor_text=visit)  # type: ignore[attr-defined]
    return found


@pytest.mark.parametrize("side", [0, 1])
def test_a_hole_is_at_its_place_and_size_on_the_printed_page(side: int) -> None:
    holes = [Hole(-730.0, 120.0, 20.0, component="a"), Hole(-330.0, 200.0, 13.0, component="b")]
    rail = rail_shape()
    made = plan_of(rail, rail_table(rail, holes))
    sheets = layouts_of(made)[side]
    number = 1 + side * len(sheets)
    page = PdfReader(BytesIO(drawing_pdf(made))).pages[number]
    marks, starts = ruler_marks(page), circle_starts(page)
    way = -1 if side else 1
    # The ruler from the front axle, hence -200 and -600: 400 mm of steel are 80 mm of paper.
    assert way * (marks["-200"] - marks["-600"]) == pytest.approx(400 / 5, abs=0.01)
    for hole in holes:
        x = marks["-200"] + way * (hole.station + 200) / 5
        radius = hole.diameter / 2 / 5
        near = starts[np.abs(starts[:, 0] - (x + radius)) < 0.01]
        heights = sheets[0].views[Face.WEB].base + hole.across / 5
        assert np.abs(near[:, 1] - heights).min() < 0.01


@pytest.mark.parametrize("name", ["tapered", "lined", "crowded"])
def test_views_map_steel_to_paper_at_one_to_five_and_rh_is_the_mirror_of_lh(name: str) -> None:
    for layout in all_layouts(name):
        mirrored = layout.side == SIDES.index("RH")
        for face, view in layout.views.items():
            steps = np.array([0.0, 100.0])
            assert np.diff(view.x(steps))[0] == pytest.approx(-20.0 if mirrored else 20.0)
            assert np.diff(view.y(steps))[0] == pytest.approx(-20.0 if face == Face.BOTTOM else 20.0)
    for lh, rh in zip(*layouts(name), strict=True):
        middle = (lh.views[Face.WEB].left + lh.views[Face.WEB].right) / 2
        stations = np.array([lh.stretch.drawn_start, lh.stretch.drawn_end])
        assert lh.views[Face.WEB].x(stations) - middle == pytest.approx(middle - rh.views[Face.WEB].x(stations))


@every_plan
def test_ruler_and_views_of_a_sheet_stand_one_above_the_other(name: str) -> None:
    for layout in all_layouts(name):
        top, web, bottom = (layout.views[face] for face in (Face.TOP, Face.WEB, Face.BOTTOM))
        heights = [layout.ruler, top.upper, top.lower, web.upper, web.lower, bottom.upper, bottom.lower]
        assert heights == sorted(heights, reverse=True)
        assert web.upper - web.lower == pytest.approx(layout.part.section.depth / 5)


# Stretches


@every_plan
def test_every_station_of_the_rail_belongs_to_one_sheet_and_match_lines_keep_clear_of_holes(name: str) -> None:
    subject = subject_of(plan(name))
    holes = subject.holes
    stations = np.concatenate([np.linspace(-1000, 5000, 601), holes.station])
    for side in layouts(name):
        held = np.array([layout.stretch.holds(stations) for layout in side])
        assert (held.sum(axis=0) == 1).all()
        assert all(
            layout.stretch.drawn_end - layout.stretch.drawn_start
            <= view_width(subject, drawn_rail(plan(name).order.rail)) * SCALE
            for layout in side
        )
    if name in ("bare", "tapered", "lined"):
        for layout in layouts(name)[0][1:]:
            apart = np.abs(holes.station - layout.stretch.start) - subject.along
            assert apart.min() >= min(CLEAR, 3.0)


def test_a_hole_beyond_the_rails_end_is_drawn_too() -> None:
    rail = rail_shape()
    made = plan_of(rail, rail_table(rail, [Hole(5080.0, 150.0), Hole(0.0, 150.0)]))
    last = layouts_of(made)[0][-1]
    assert last.stretch.drawn_end == pytest.approx(5080 + 17 / 2 + OVERLAP)
    assert last.stretch.bears(np.array([5080.0])).all()


@every_plan
def test_the_legends_of_a_rails_sheets_add_up_to_its_holes(name: str) -> None:
    subject = subject_of(plan(name))
    for side, sheets in enumerate(layouts(name)):
        here = sum(sheet_counts(subject, layout)[0] for layout in sheets)
        assert (here == subject.chart.counts[:, side, RAIL]).all()


def test_every_hole_of_a_sheet_is_drawn_once_and_differs_from_holes_of_other_kinds() -> None:
    subject = subject_of(plan("tapered"))
    holes = subject.holes
    looks = {}
    for index, kind in enumerate(subject.chart.classes):
        looks[kind.shape, kind.operation, kind.diameter, kind.length] = subject.chart.fills[index]
    by_shape = {}
    for (shape, _, diameter, length), fill in looks.items():
        by_shape.setdefault((shape, fill), set()).add((diameter, length))
    assert all(len(sizes) == 1 for (shape, _), sizes in by_shape.items() if shape != 3)
    side = layouts("tapered")[0]
    for number, layout in enumerate(side):
        figures = [item for item in drawing("tapered").sheets[1 + number].items if isinstance(item, Figures)]
        view = layout.views[Face.WEB]
        own = (holes.side == 0) & (holes.part == RAIL) & (holes.face == Face.WEB) & (holes.shape == 0)
        for row in np.flatnonzero(own & layout.stretch.shows(holes.station)).tolist():
            centre = np.array([view.x(holes.station[row]), view.y(holes.across[row])])
            radius = holes.diameter[row] / 2 / SCALE
            outlines = [
                figure.points
                for figure in figures
                if figure.commands.startswith("MCCCL") and figure.fill == "#ffffff" and figure.points.shape[1] == 16
            ]
            drawn = sum(
                int((np.abs(points - centre).max(axis=2).max(axis=1) <= radius + 1e-6).sum())
                for points in outlines
                if abs((points[0, :, 0].max() - points[0, :, 0].min()) / 2 - radius) < 1e-6
            )
            assert drawn == 1


def test_feet_are_turned_with_their_component_and_stand_on_their_datum() -> None:
    made = plan("bare")
    foot = next(iter(made.order.library.components.values())).footprints[0]
    ahead = foot_corners(foot, made.order.rail.section, 1000.0, 1.0)
    turned = foot_corners(foot, made.order.rail.section, 1000.0, -1.0)
    assert ahead[:, 0] - 1000 == pytest.approx(1000 - turned[:, 0])
    # The datum "middle" is half of 300 mm up.
    assert ahead[:, 1].min() == pytest.approx(150 - 60)


# Names and findings


@every_plan
def test_every_component_is_named_on_its_rail_or_counted_as_left_out(name: str) -> None:
    made = plan(name)
    names = made.holes.names.components
    for side, sheets in enumerate(layouts(name)):
        called = {c.words.split(".")[0] for layout in sheets for band in layout.bands.values() for c in band.callouts}
        left_out = sum(band.left_out for layout in sheets for band in layout.bands.values())
        expected = {names[index] for index in made.placements.component[made.placements.side == side]}
        assert len(expected - called) <= left_out
        if name != "hopeless":
            assert left_out == 0
            assert expected <= called


@pytest.mark.parametrize("name", ["tapered", "lined", "crowded"])
def test_findings_are_listed_in_order_under_the_numbers_at_their_rings(name: str) -> None:
    made = plan(name)
    subject = subject_of(made)
    ordered = in_order(made.findings)
    assert subject.findings == ordered
    listed = " ".join(page for page in page_words(pdf(name)) if "limit, source" in page)
    for number, one in enumerate(ordered, 1):
        assert re.search(rf"\b{number} {one.severity} {one.rule}", listed)
    for layout in all_layouts(name):
        for callout in (c for band in layout.bands.values() for c in band.callouts if c.severity):
            assert callout.words == ", ".join(map(str, callout.findings))
            for number in callout.findings:
                rows = subject.rows_named(ordered[number - 1])
                places = np.stack([made.holes.station[rows], made.holes.across[rows]], axis=-1)
                assert np.abs(places - (callout.station, callout.across)).max(axis=1).min() < 1e-9


@pytest.mark.parametrize("name", ["tapered", "lined", "crowded"])
def test_every_finding_about_holes_is_ringed_and_numbered(name: str) -> None:
    numbered = {
        number
        for layout in all_layouts(name)
        for band in layout.bands.values()
        for callout in band.callouts
        for number in callout.findings
    }
    assert numbered == set(range(1, len(plan(name).findings) + 1))


def test_a_pair_close_together_is_ringed_as_one_and_a_pair_far_apart_hole_by_hole() -> None:
    rail = rail_shape()
    holes = [Hole(x, 150.0, component=name, feature="h") for name, x in (("a", 0.0), ("b", 40.0), ("c", 900.0))]
    findings = (finding(("a.1.h", "b.1.h")), finding(("a.1.h", "c.1.h"), "warning"))
    rings = layouts_of(plan_of(rail, rail_table(rail, holes), findings))[0]
    found = [(len(ring.centres), ring.severity) for layout in rings for ring in layout.rings]
    assert sorted(found) == [(1, "warning"), (1, "warning"), (2, "error")]


def test_findings_at_one_place_share_a_ring_of_the_worst_severity() -> None:
    rail = rail_shape()
    table = rail_table(rail, [Hole(0.0, 150.0, component="a", feature="h")])
    findings = (finding(("a.1.h",), "note"), finding(("a.1.h",), "error", measure="ligament"))
    (layout,) = (one for one in layouts_of(plan_of(rail, table, findings))[0] if one.rings)
    assert [ring.severity for ring in layout.rings] == ["error"]
    assert [c.words for band in layout.bands.values() for c in band.callouts if c.severity] == ["1, 2"]


def test_rings_about_one_hole_are_nested_and_their_leaders_lie_apart() -> None:
    rail = rail_shape()
    holes = [Hole(0.0, z, component=name, feature="h") for name, z in (("a", 60.0), ("b", 110.0), ("c", 160.0))]
    findings = (finding(("a.1.h", "b.1.h")), finding(("b.1.h", "c.1.h"), "warning"), finding(("b.1.h",), "note"))
    layouts_made = layouts_of(plan_of(rail, rail_table(rail, holes), findings))[0]
    (layout,) = (one for one in layouts_made if one.rings)
    radii = {len(ring.centres): ring.radius for ring in layout.rings}
    assert radii[2] > radii[1]
    assert len({ring.radius for ring in layout.rings}) == 3
    asides = [c.aside for band in layout.bands.values() for c in band.callouts if c.severity and c.band == 3]
    assert len(asides) > 1
    assert len(set(asides)) == len(asides)


def test_a_finding_with_a_station_only_is_ringed_there_and_one_without_is_only_listed() -> None:
    rail = rail_shape()
    table = rail_table(rail, [Hole(0.0, 150.0)])
    findings = (finding((), station_mm=1234.5), finding((), "warning", side="", station_mm=None, message="needs X"))
    made = plan_of(rail, table, findings)
    rings = [(layout.side, ring.centres[0, 0]) for side in layouts_of(made) for layout in side for ring in layout.rings]
    assert rings == [(0, 1234.5)]
    assert "needs X" in words_of(drawing_pdf(made))
