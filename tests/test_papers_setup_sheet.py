"""The setup sheet: what each tool does, how the blank lies, and the path of the hits."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from typing import Any

import numpy as np
import pytest
from builders import Hole
from press_blanks import ROUNDS, dense_holes, hits_on, press_with, work_of
from pypdf import PdfReader

from railgen.data.plant import Tool
from railgen.formats.cautions import CAUTIONS
from railgen.formats.cut_entities import Text as StampText
from railgen.formats.cut_file import cut_entities
from railgen.formats.nc_stamps import blank_stamps
from railgen.holes.table import NONE
from railgen.papers.hit_path import path_scale
from railgen.papers.press_view import path_pen, runs_of
from railgen.papers.setup_sheet import setup_sheet_pdf, setup_sheets
from railgen.papers.sheet import FRAME_BOTTOM, FRAME_LEFT, FRAME_RIGHT, FRAME_TOP, Sheet
from railgen.shop.hit_order import HitOrder, order_hits
from railgen.shop.hits import hits_of
from railgen.shop.station_uses import die_clearance, station_uses

CLAMPS = [{"station": s, "width": 200.0, "depth": 60.0} for s in (700.0, 2500.0, 4300.0)]


def ordered(seed: int = 5, count: int = 90, side: str = "LH", **press: Any) -> HitOrder:
    return order_hits(hits_on(dense_holes(seed, count), press_with(**press), side))


def words_of(sheet: Sheet) -> list[str]:
    return [text.text for text in sheet.texts]


# What a station does


def test_hits_forces_and_first_holes_of_the_stations() -> None:
    found = ordered()
    uses = station_uses(found)
    assert sum(use.hits for use in uses) == len(found.hits)
    for place, use in enumerate(uses):
        own = found.hits.station == place
        assert use.hits == own.sum()
        assert use.force == found.hits.force[own].max()
        assert found.order[use.at - 1] == use.first
        assert not own[found.order[: use.at - 1]].any()


def test_the_marking_tool_shows_a_mark_though_it_stamps_text_before() -> None:
    work = work_of([Hole(1000.0 + 500.0 * n, 150.0, shape="mark") for n in range(3)])
    marked = order_hits(hits_of(work, stamps=blank_stamps(work, work.press)))
    found = replace(marked, order=marked.order[::-1])
    rows = found.hits.row[found.order].tolist()
    assert rows == [NONE, NONE, 2, 1, 0]
    (use,) = station_uses(found)
    assert (use.hits, use.at, found.hits.row[use.first]) == (5, 3, 2)
    alone = order_hits(hits_of(work_of([Hole(0.0, 150.0)]), stamps=blank_stamps(work, work.press)))
    assert [alone.hits.stamp_at(use.first) is None for use in station_uses(alone)] == [True, False]


def test_die_clearance_is_a_share_of_the_thickness_up_to_a_thickness() -> None:
    entries = [{"thickness_to": 8.5, "share": 0.12}, {"thickness_to": 6.0, "share": 0.10}]
    tool = Tool.model_validate({"id": "R 17", "shape": "round", "diameter": 17.0, "die_clearance": entries})
    given = [die_clearance(tool, t) for t in (5.0, 6.0, 6.01, 8.5, 9.5)]
    assert given == pytest.approx([0.5, 0.6, 0.7212, 1.02, None])


def test_a_tool_that_passes_its_limit_on_this_blank_is_due() -> None:
    tools = [{"id": "R 17", "shape": "round", "diameter": 17.0, "hits_since_regrind": 98, "regrind_limit": 100}]
    for holes, due in ((2, False), (3, True)):
        found = order_hits(hits_on([Hole(100.0 * n, 150.0) for n in range(holes)], press_with(tools=tools)))
        assert [use.due for use in station_uses(found)] == [due]
        shown = any(words.startswith("REGRIND DUE") for words in words_of(setup_sheets([found])[0]))
        assert shown == due


# The sheets


def test_two_sheets_a_blank_with_everything_a_setter_needs() -> None:
    found = [ordered(side=side, clamps=CLAMPS) for side in ("LH", "RH")]
    content = setup_sheet_pdf(found)
    assert content == setup_sheet_pdf(found)
    reader = PdfReader(BytesIO(content))
    pages = [page.extract_text() for page in reader.pages]
    assert len(pages) >= 4
    text = "\n".join(pages)
    for side, stop in (("LH", "left"), ("RH", "right")):
        assert f"Press setup, {side} rail" in text
        assert f"Hit path, {side} rail" in text
        assert f"front end at the {stop} end stop" in text
    for use in station_uses(found[0]):
        assert use.station.tool.id in text
        assert found[0].hits.hole_id(use.first) in text
    assert "clamp at 2500 from the stop, 200 wide" in text
    assert f"{found[0].cycle.total:.1f}" in text
    assert all(" ".join(CAUTIONS[0].split()) in " ".join(page.split()) for page in pages)


def test_measured_places_are_those_from_the_stop_and_the_gauge_edge() -> None:
    found = order_hits(hits_on([Hole(-900.0, 150.0, 17.0), Hole(4000.0, 150.0, 17.0)], side="RH"))
    words = words_of(setup_sheets([found])[0])
    # The front end meets the right stop: 100 and 5 000 mm from it; the web's z = 150 lies at 217.05 of the blank.
    assert "100.00" in words
    assert "5000.00" in words
    assert words.count("217.05") == 2


def test_strings_are_to_be_dressed_and_moved_clamps_are_told() -> None:
    tools = [{"id": "R 20", "shape": "round", "diameter": 20.0, "strings": True}]
    tools += [{"id": "R 17", "shape": "round", "diameter": 17.0}]
    holes = [Hole(0.0, 150.0, 20.0, shape="slot", length=80.0), Hole(-300.0, 60.0, face="bottom"), Hole(900.0, 150.0)]
    found = order_hits(hits_on(holes, press_with(tools=tools, clamps=CLAMPS)))
    assert found.stages.repositions == 1
    setup, path = setup_sheets([found])
    assert any("DRESS 1 opening cut" in " ".join(words_of(setup)[at : at + 2]) for at in range(len(setup.texts)))
    assert any("moves the clamps" in words for words in words_of(setup))
    assert any(words.endswith("clamps moved") for words in words_of(path))


@pytest.mark.parametrize(
    "press",
    [{}, {"clamps": CLAMPS, "gauge_edge": "top"}, {"feed_may_return": False, "mounted_tools": 5}],
)
def test_all_words_lie_within_the_frame_and_flags_do_not_overlap(press: dict[str, Any]) -> None:
    for side in ("LH", "RH"):
        found = ordered(3, 150, side, **press)
        sheets = setup_sheets([found])
        for sheet in sheets:
            for text in sheet.texts:
                left, bottom, right, top = text.box
                assert left >= FRAME_LEFT, text.text
                assert right <= FRAME_RIGHT, text.text
                assert bottom >= FRAME_BOTTOM, text.text
                assert top <= FRAME_TOP, text.text
        flags = [text for text in sheets[-1].texts if text.bold and text.text.split(" ")[0].isdigit()]
        boxes = np.array([flag.box for flag in flags if " T" in flag.text])
        assert len(boxes) == len(runs_of(found))
        apart = (
            (boxes[:, None, 0] >= boxes[:, 2])
            | (boxes[:, 0] >= boxes[:, None, 2])
            | (boxes[:, None, 1] >= boxes[:, 3])
            | (boxes[:, 1] >= boxes[:, None, 3])
        )
        assert (apart | np.eye(len(boxes), dtype=bool)).all()


def test_lines_of_up_to_seventy_tools_differ_in_colour_or_dashes() -> None:
    pens = [path_pen(place) for place in range(70)]
    assert len({(pen.colour, pen.dashes) for pen in pens}) == 70
    # In black and white as many as go round the line types differ by them alone.
    assert len({pen.dashes for pen in pens[:7]}) == 7


def test_the_path_goes_on_one_sheet_at_the_largest_scale_that_fits() -> None:
    found = ordered()
    assert 5.0 <= path_scale(found) <= 10.0
    assert len(setup_sheets([found])) <= 3


def test_no_blank_is_refused() -> None:
    with pytest.raises(ValueError, match="no blank"):
        setup_sheet_pdf([])


# Stamps


@pytest.mark.parametrize("side", ["LH", "RH"])
def test_the_press_stamps_what_the_cut_file_has_on_mark(side: str) -> None:
    work = work_of(dense_holes(2, 60), side=side)
    entities = cut_entities(work.plan.order, work.plan.holes, side, "rail")  # type: ignore[arg-type]
    drawn = [e for e in entities if isinstance(e, StampText) and e.layer == "MARK"]
    stamps = blank_stamps(work, work.press)
    assert [(s.blank_x, s.blank_y, s.height) for s in stamps] == [(e.x, e.y, e.height) for e in drawn]
    assert stamps[0].text == drawn[0].text == f"P-1001 {side} RAIL"
    assert stamps[1].text == {"LH": "< FRONT", "RH": "FRONT >"}[side]
    turned = blank_stamps(work, press_with(gauge_edge="top"))
    assert turned[1].text == {"LH": "FRONT >", "RH": "< FRONT"}[side]
    hits = hits_of(work, stamps=stamps)
    assert (hits.row[-2:] == NONE).all()
    assert [hits.stamp_at(len(hits) - 2), hits.stamp_at(len(hits) - 1)] == stamps


def test_the_benchmark_s_blanks_use_every_round_tool() -> None:
    hits = hits_on(dense_holes(1, 200))
    assert len({s.tool.diameter for s in hits.stations if s.tool.shape == "round"}) == len(ROUNDS)
