"""The drawing: true to scale, nothing overlapping, findings numbered as listed, the same bytes every time."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from functools import cache
from io import BytesIO
from itertools import islice
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from builders import Hole, rail_shape, rail_table
from builders_plan import finding, made_plan, plan_of
from pypdf import PdfReader

from railgen.data.findings import in_order
from railgen.formats.cautions import CAUTIONS
from railgen.frame.panels import Face
from railgen.holes.table import PARTS, RAIL, SIDES
from railgen.layout.plan import SerialPlan
from railgen.papers.drawing import draw, drawing_pdf, drawing_pictures
from railgen.papers.elevation_layout import ElevationLayout, elevation_layouts
from railgen.papers.feet import foot_corners
from railgen.papers.fonts import SMALL, fitted, printable, text_width, wrapped
from railgen.papers.legend import sheet_counts
from railgen.papers.sheet import (
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    HEIGHT,
    WIDTH,
    Drawing,
    Figures,
    Text,
)
from railgen.papers.stretches import CLEAR, OVERLAP, SCALE, VIEW_WIDTH
from railgen.papers.subject import subject_of
from railgen.papers.tables import Column, Row, table_pages
from railgen.papers.title_block import CHECKS_ONLY, NOT_FOR_PRODUCTION

POINTS_PER_MM = 72 / 25.4
PLANS = {
    "bare": lambda: made_plan(1, 25, 0),
    "tapered": lambda: made_plan(2, 35, 30, rail_shape("after-forming")),
    "lined": lambda: made_plan(3, 40, 25, rail_shape(liner=True)),
    "crowded": lambda: made_plan(4, 110, 120),
    "hopeless": lambda: made_plan(5, 130, 90, rail_shape("in-blank"), (1000.0, 1150.0)),
    "empty": lambda: plan_of(rail_shape(), rail_table(rail_shape(), []), (finding((), side="", station_mm=None),)),
}


@cache
def plan(name: str) -> SerialPlan:
    return PLANS[name]()


@cache
def drawing(name: str) -> Drawing:
    return draw(plan(name))


@cache
def pdf(name: str) -> bytes:
    return drawing_pdf(plan(name))


@cache
def layouts(name: str) -> tuple[tuple[ElevationLayout, ...], tuple[ElevationLayout, ...]]:
    return elevation_layouts(subject_of(plan(name)))


def all_layouts(name: str) -> list[ElevationLayout]:
    return [layout for side in layouts(name) for layout in side]


@cache
def page_words(data: bytes) -> tuple[str, ...]:
    """The words of each page, single spaces between them."""
    return tuple(re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(BytesIO(data)).pages)


def words_of(data: bytes) -> str:
    return " ".join(page_words(data))


every_plan = pytest.mark.parametrize("name", PLANS)


# Paper


@every_plan
def test_every_page_is_a3_landscape_and_there_is_one_a_sheet(name: str) -> None:
    pages = PdfReader(BytesIO(pdf(name))).pages
    assert len(pages) == len(drawing(name).sheets)
    for page in pages:
        assert float(page.mediabox.width) == pytest.approx(420 * POINTS_PER_MM, abs=0.01)
        assert float(page.mediabox.height) == pytest.approx(297 * POINTS_PER_MM, abs=0.01)


@every_plan
def test_no_two_texts_overlap_and_none_leaves_the_frame(name: str) -> None:
    for sheet in drawing(name).sheets:
        texts = [text for text in sheet.texts if not text.behind]
        boxes = np.array([text.box for text in texts])
        left, bottom, right, top = boxes.T
        assert left.min() >= FRAME_LEFT
        assert bottom.min() >= FRAME_BOTTOM
        assert right.max() <= FRAME_RIGHT
        assert top.max() <= FRAME_TOP
        over = (left[:, None] < right) & (left < right[:, None]) & (bottom[:, None] < top) & (bottom < top[:, None])
        np.fill_diagonal(over, False)
        met = [(texts[i].text, texts[j].text) for i, j in np.argwhere(over)]
        assert not met, f"{sheet.name}: {met[:5]}"


@every_plan
def test_nothing_is_drawn_off_the_sheet_and_no_text_is_too_small_to_read(name: str) -> None:
    for sheet in drawing(name).sheets:
        for item in sheet.items:
            if isinstance(item, Text):
                assert item.height >= SMALL
            elif len(item.points):
                assert item.points.min() >= 0
                assert item.points[..., 0].max() <= WIDTH
                assert item.points[..., 1].max() <= HEIGHT
                assert item.pen is None or item.pen.width >= 0.05


def test_the_words_can_be_searched_and_the_faces_are_embedded() -> None:
    words = words_of(pdf("tapered"))
    made = plan("tapered")
    for name in made.holes.names.components:
        assert name in words
    for expected in ("P-1001", "Plough carrier", "S700MC", "2025-01-02", "front axle 0.0", "taper from 3800.0", "1:5"):
        assert expected in words
    for page in PdfReader(BytesIO(pdf("tapered"))).pages:
        for font in page["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"].get_object()


@every_plan
def test_every_sheet_carries_the_cautions_and_its_number(name: str) -> None:
    pages = page_words(pdf(name))
    for number, words in enumerate(pages, 1):
        assert " ".join((*CAUTIONS, CHECKS_ONLY)) in words
        assert f"{number} of {len(pages)}" in words


@every_plan
def test_sheets_are_marked_not_for_production_exactly_where_a_finding_is_an_error(name: str) -> None:
    wrong = any(f.severity == "error" for f in plan(name).findings)
    # Once across the sheet, once in the title block.
    assert {page.count(NOT_FOR_PRODUCTION) for page in page_words(pdf(name))} == {2 if wrong else 0}


def test_names_in_another_script_do_not_break_the_drawing() -> None:
    made = plan("bare")
    strange = replace(
        made, order=replace(made.order, family=made.order.family.model_copy(update={"name": "Плуг 犂 6x6"}))
    )
    assert "6x6" in words_of(drawing_pdf(strange))


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


def layouts_of(made: SerialPlan) -> tuple[tuple[ElevationLayout, ...], tuple[ElevationLayout, ...]]:
    return elevation_layouts(subject_of(made))


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
def test_views_and_rulers_of_a_sheet_stand_one_above_the_other(name: str) -> None:
    for layout in all_layouts(name):
        top, web, bottom = (layout.views[face] for face in (Face.TOP, Face.WEB, Face.BOTTOM))
        upper, lower = layout.rulers
        heights = [upper, top.upper, top.lower, web.upper, web.lower, bottom.upper, bottom.lower, lower]
        assert heights == sorted(heights, reverse=True)
        assert web.upper - web.lower == pytest.approx(plan(name).order.rail.section.depth / 5)


# Stretches


@every_plan
def test_every_station_of_the_rail_belongs_to_one_sheet_and_match_lines_keep_clear_of_holes(name: str) -> None:
    subject = subject_of(plan(name))
    holes = subject.holes
    stations = np.concatenate([np.linspace(-1000, 5000, 601), holes.station])
    for side in layouts(name):
        held = np.array([layout.stretch.holds(stations) for layout in side])
        assert (held.sum(axis=0) == 1).all()
        assert all(layout.stretch.drawn_end - layout.stretch.drawn_start <= VIEW_WIDTH * SCALE for layout in side)
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


# Holes and their counts


@every_plan
def test_the_hole_chart_counts_what_is_in_the_table(name: str) -> None:
    holes = plan(name).holes
    chart = subject_of(plan(name)).chart
    expected: Counter[tuple[str, float, float, int, int, int]] = Counter()
    for row in range(len(holes)):
        size, length = np.nan_to_num(holes.diameter[row]), np.nan_to_num(holes.length[row])
        key = int(holes.shape[row]), float(size), float(length), int(holes.operation[row])
        expected[(*key, int(holes.side[row]), int(holes.part[row]))] += 1
    found: Counter[tuple[str, float, float, int, int, int]] = Counter()
    for index, kind in enumerate(chart.classes):
        for side in range(len(SIDES)):
            for part in range(len(PARTS)):
                found[(kind.shape, kind.diameter, kind.length, kind.operation, side, part)] += chart.counts[
                    index, side, part
                ]
    assert +found == expected


@every_plan
def test_the_legends_of_a_rails_sheets_add_up_to_its_holes(name: str) -> None:
    subject = subject_of(plan(name))
    for side, sheets in enumerate(layouts(name)):
        here = sum(sheet_counts(subject, layout)[0] for layout in sheets)
        assert (here == subject.chart.counts[:, side, RAIL]).all()


@pytest.mark.parametrize("name", ["tapered", "lined"])
def test_the_printed_hole_chart_has_the_tables_totals(name: str) -> None:
    holes = plan(name).holes
    by_part = [np.sum((holes.side == side) & (holes.part == part)) for part in (0, 1) for side in (0, 1)]
    shown = by_part if name == "lined" else by_part[:2]
    assert " ".join(map(str, ("all", *shown, len(holes)))) in page_words(pdf(name))[0]


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


# Tables and text


def test_a_row_longer_than_a_page_goes_on_and_no_word_is_lost() -> None:
    words = [f"w{number}" for number in range(400)]
    rows = [Row(("1", " ".join(words))), Row(("2", "end"))]
    pages = table_pages([Column("no.", 10, right=True), Column("words", 30)], rows, 20, 120, 60)
    texts = [item for page in pages for item in page if isinstance(item, Text)]
    assert len(pages) > 3
    printed = [word for text in texts for word in text.text.split()]
    assert [word for word in printed if word.startswith("w") and word != "words"] == words
    assert all(text.box[1] >= 60 and text.box[3] <= 120 for text in texts)


@pytest.mark.parametrize("width", [4.0, 9.0, 25.0, 80.0])
def test_wrapped_text_keeps_every_letter_within_its_width(width: float) -> None:
    text = "bogie-trunnion-cross-member.1.b2 is one hole of bogie-trunnion-cross-member, bogie-trunnion-hanger"
    lines = wrapped(text, SMALL, width)
    assert all(text_width(line, SMALL) <= width for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")


def test_text_that_does_not_fit_is_cut_with_an_ellipsis() -> None:
    assert fitted("frame", SMALL, 100) == "frame"
    cut = fitted("a long name of a family", SMALL, 20)
    assert cut.endswith("…")
    assert text_width(cut, SMALL) <= 20


def test_letters_that_the_face_lacks_are_shown_as_question_marks() -> None:
    assert printable("Ø 17 – müde, ≤ 3 犂") == "Ø 17 – müde, ≤ 3 ?"


# The same bytes, and pictures


def test_the_same_plan_gives_the_same_bytes_and_no_date() -> None:
    assert drawing_pdf(made_plan(2, 35, 30, rail_shape("after-forming"))) == pdf("tapered")
    # The writer's fixed date stands in for the clock.
    assert PdfReader(BytesIO(pdf("tapered"))).metadata.creation_date_raw.startswith("D:2000")


def test_another_process_in_another_time_zone_gives_the_same_bytes_without_loading_matplotlib() -> None:
    script = (
        "import sys, hashlib; from builders_plan import made_plan; from railgen.papers.drawing import drawing_pdf; "
        "data = drawing_pdf(made_plan(1, 25, 0)); assert 'matplotlib' not in sys.modules; "
        "print(hashlib.sha256(data).hexdigest())"
    )
    root = Path(__file__).parent
    digests = set()
    for zone, seed in (("Asia/Tokyo", "1"), ("America/Lima", "2")):
        paths = os.pathsep.join((str(root), str(root.parent)))
        environment = {**os.environ, "TZ": zone, "PYTHONHASHSEED": seed, "PYTHONPATH": paths}
        result = subprocess.run([sys.executable, "-c", script], env=environment, capture_output=True, text=True)
        assert result.returncode == 0, result.stderr
        digests.add(result.stdout.strip())
    assert len(digests) == 1


@pytest.fixture(scope="module")
def small() -> SerialPlan:
    rail = rail_shape("after-forming")
    holes = [Hole(4500.0, 100.0, component="a", feature="h"), Hole(4600.0, 100.0, 22.0, component="b", feature="h")]
    return plan_of(rail, rail_table(rail, holes), (finding(("a.1.h",), station_mm=4500.0),))


def test_png_pictures_are_a3_at_150_dots_an_inch(small: SerialPlan) -> None:
    picture = next(iter(drawing_pictures(small, "png")))
    assert picture[:8] == b"\x89PNG\r\n\x1a\n"
    assert (int.from_bytes(picture[16:20]), int.from_bytes(picture[20:24])) == (2480, 1753)
    assert picture == next(iter(drawing_pictures(small, "png")))


def test_svg_pictures_have_the_sheets_true_size_and_the_same_bytes_every_time(small: SerialPlan) -> None:
    first, second = (list(islice(drawing_pictures(small, "svg"), 2)) for _ in range(2))
    assert first == second
    root = ElementTree.fromstring(first[0])
    assert float(root.get("width", "").removesuffix("pt")) == pytest.approx(420 * POINTS_PER_MM, abs=0.01)
    assert b"<dc:date>" not in first[0]


def test_there_is_a_picture_a_sheet(small: SerialPlan, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("railgen.papers.pictures.write_picture", lambda sheet, kind: sheet.name)
    assert list(drawing_pictures(small, "png")) == [sheet.name for sheet in draw(small).sheets]


def test_a_picture_of_another_kind_is_refused(small: SerialPlan) -> None:
    with pytest.raises(ValueError, match="png or svg"):
        list(drawing_pictures(small, "gif"))
