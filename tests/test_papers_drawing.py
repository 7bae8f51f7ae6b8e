"""The drawing: true to scale, nothing overlapping, findings numbered as listed, the same bytes every time."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from io import BytesIO
from itertools import islice
from xml.etree import ElementTree

import numpy as np
import pytest
from builders import Hole, rail_shape, rail_table
from builders_plan import finding, made_plan, plan_of
from drawn_plans import (
    POINTS_PER_MM,
    drawing,
    every_plan,
    page_words,
    pdf,
    plan,
    words_of,
)
from other_process import printed_elsewhere
from pypdf import PdfReader

from railgen.formats.cautions import CAUTIONS
from railgen.holes.table import PARTS, SIDES
from railgen.layout.plan import SerialPlan
from railgen.papers.drawing import draw, drawing_pdf, drawing_pictures
from railgen.papers.fonts import SMALL, fitted, printable, text_width, wrapped
from railgen.papers.sheet import (
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    HEIGHT,
    WIDTH,
    Text,
)
from railgen.papers.subject import subject_of
from railgen.papers.tables import Column, Row, table_pages
from railgen.papers.wording import Wording, say, wording

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
    for expected in ("P-1001", "Plough carrier", "S700MC", "2025-01-02", "front axle 0", "taper from 3800", "1:5"):
        assert expected in words
    for page in PdfReader(BytesIO(pdf("tapered"))).pages:
        for font in page["/Resources"]["/Font"].values():
            assert "/FontFile2" in font.get_object()["/FontDescriptor"].get_object()


@every_plan
def test_every_sheet_carries_the_cautions_and_its_number(name: str) -> None:
    pages = page_words(pdf(name))
    for number, words in enumerate(pages, 1):
        assert " ".join((*CAUTIONS, say("title.checks_only"))) in words
        assert f"{number} of {len(pages)}" in words


@every_plan
def test_sheets_are_marked_not_for_production_exactly_where_a_finding_is_an_error(name: str) -> None:
    wrong = any(f.severity == "error" for f in plan(name).findings)
    # Once across the sheet, once in the title block.
    assert {page.count(say("title.not_for_production")) for page in page_words(pdf(name))} == {2 if wrong else 0}


def test_names_in_another_script_do_not_break_the_drawing() -> None:
    made = plan("bare")
    strange = replace(
        made, order=replace(made.order, family=made.order.family.model_copy(update={"name": "Плуг 犂 6x6"}))
    )
    assert "6x6" in words_of(drawing_pdf(strange))


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


@pytest.mark.parametrize("name", ["tapered", "lined"])
def test_the_printed_hole_chart_has_the_tables_totals(name: str) -> None:
    holes = plan(name).holes
    by_part = [np.sum((holes.side == side) & (holes.part == part)) for part in (0, 1) for side in (0, 1)]
    shown = by_part if name == "lined" else by_part[:2]
    assert " ".join(map(str, ("all", *shown, len(holes)))) in words_of(pdf(name))


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
    assert len(printed_elsewhere(script)) == 1


@pytest.fixture(scope="module")
def small() -> SerialPlan:
    rail = rail_shape("after-forming")
    holes = [Hole(4500.0, 100.0, component="a", feature="h"), Hole(4600.0, 100.0, 22.0, component="b", feature="h")]
    return plan_of(rail, rail_table(rail, holes), (finding(("a.1.h",), station_mm=4500.0),))


def test_png_pictures_are_a3_at_150_dots_an_inch(small: SerialPlan) -> None:
    picture = next(iter(drawing_pictures(draw(small), "png")))
    assert picture[:8] == b"\x89PNG\r\n\x1a\n"
    assert (int.from_bytes(picture[16:20]), int.from_bytes(picture[20:24])) == (2480, 1753)
    assert picture == next(iter(drawing_pictures(draw(small), "png")))


def test_svg_pictures_have_the_sheets_true_size_and_the_same_bytes_every_time(small: SerialPlan) -> None:
    first, second = (list(islice(drawing_pictures(draw(small), "svg"), 2)) for _ in range(2))
    assert first == second
    root = ElementTree.fromstring(first[0])
    assert float(root.get("width", "").removesuffix("pt")) == pytest.approx(420 * POINTS_PER_MM, abs=0.01)
    assert b"<dc:date>" not in first[0]


def test_there_is_a_picture_a_sheet(small: SerialPlan, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("railgen.papers.pictures.write_picture", lambda sheet, kind: sheet.name)
    assert list(drawing_pictures(draw(small), "png")) == [sheet.name for sheet in draw(small).sheets]


def test_a_picture_of_another_kind_is_refused(small: SerialPlan) -> None:
    with pytest.raises(ValueError, match="png or svg"):
        list(drawing_pictures(draw(small), "gif"))


# Words


def test_no_word_of_the_drawing_is_said_but_from_the_text_file(monkeypatch: pytest.MonkeyPatch) -> None:
    made = made_plan(1, 10, 0, rail_shape("after-forming"))
    own = wording().words
    places = {key: "¤ " + " ".join(re.findall(r"\{[^}]*\}", words)) for key, words in own.items()}
    monkeypatch.setattr("railgen.papers.wording.wording", lambda: Wording(places))
    shown = {word for sheet in draw(made).sheets for text in sheet.texts for word in letters_of(text.text)}
    known = {word for words in own.values() for word in letters_of(re.sub(r"\{[^}]*\}", " ", words))}
    # What the order, the library and the cautions of cut files say is data, whatever the language of the words.
    order, library = made.order, made.order.library
    data = [*CAUTIONS, order.family.name, order.drive, order.section, order.steel, library.about.name, *order.anchors]
    data += [text for name, part in library.components.items() for text in (name, part.name, part.kind)]
    data += [library.finishing.weld_procedure, *(steel.standard for steel in library.steels.values())]
    said = {word for text in data for word in letters_of(text)} | {"railgen"}
    assert shown & known <= said


def letters_of(text: str) -> set[str]:
    """The words of at least four letters in a text."""
    return {word.lower() for word in re.findall(r"[^\W\d_]{4,}", text)}
