"""Dimensions on the sheets: those of the hole table on elevations, those of the frame on details; units, projection."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from math import degrees

import numpy as np
import pytest
from builders import Hole, rail_shape, rail_table
from builders_plan import made_plan, plan_of
from drawn_plans import all_layouts, every_plan, layouts_of, liner_layouts, plan

from railgen.frame.blank import taper_template
from railgen.frame.panels import Face
from railgen.frame.rail import required_taper
from railgen.holes.table import LINER, SIDES
from railgen.layout.plan import SerialPlan
from railgen.papers.callouts import Band, flange_band
from railgen.papers.drawing import draw
from railgen.papers.elevation_layout import ElevationLayout, elevation_layouts
from railgen.papers.part import drawn_rail
from railgen.papers.running import Running
from railgen.papers.sheet import Drawing, Figures, Sheet, Text
from railgen.papers.style import PLAIN, DrawingStyle
from railgen.papers.subject import subject_of
from railgen.papers.wording import say

DIMENSIONED = pytest.mark.parametrize("name", ["bare", "tapered", "lined", "crowded"])


def station_row(layout: ElevationLayout, face: Face, style: DrawingStyle = PLAIN) -> Running:
    """The running dimensions along a view."""
    return layout.bands[Band.LOWER if face == Face.WEB else flange_band(face, style)].running


def dimension_of(layout: ElevationLayout, face: Face, station: float) -> str:
    """The words at whose extension line a station of a view lies."""
    row = station_row(layout, face)
    off = np.abs(row.at - layout.views[face].x(station))
    assert off.min() < 0.006 / 5
    return row.words[int(off.argmin())]


def across_of(layout: ElevationLayout, face: Face, station: float, across: float) -> str:
    """The words at whose extension line a feature's height or across lies, on the side of the view nearer to it."""
    view = layout.views[face]
    on_left = view.x(station) < (view.left + view.right) / 2
    side = layout.sides[face, "left" if on_left else "right"]
    off = np.abs(side.at - view.y(across))
    assert off.min() < 0.006 / 5
    return side.words[int(off.argmin())]


# Elevations


@DIMENSIONED
def test_every_feature_is_dimensioned_as_in_the_hole_table_on_one_sheet(name: str) -> None:
    holes = plan(name).holes
    for layout in all_layouts(name):
        part = layout.part
        own = (holes.side == layout.side) & (holes.part == part.part) & layout.stretch.bears(holes.station)
        for row in np.flatnonzero(own).tolist():
            face, station, across = Face(int(holes.face[row])), float(holes.station[row]), float(holes.across[row])
            from_front = float(dimension_of(layout, face, station))
            assert from_front == pytest.approx(station - part.front, abs=0.0051)
            shown = float(across_of(layout, face, station, across))
            assert shown == pytest.approx(across - part.zero(face), abs=0.0051)


@DIMENSIONED
def test_no_dimension_finds_no_room_and_none_stands_on_two_sheets(name: str) -> None:
    for layout in all_layouts(name):
        for band in layout.bands.values():
            assert not band.running.left_out
            assert len(set(band.running.words)) == len(band.running.words)
        assert not any(side.left_out for side in layout.sides.values())
    for side in (0, 1):
        words = Counter(
            word
            for layout in all_layouts(name)
            if layout.side == side and layout.part.part != LINER
            for word in station_row(layout, Face.WEB).words
        )
        assert max(words.values()) == 1


@every_plan
def test_extension_lines_and_leaders_never_cross_between_view_and_words(name: str) -> None:
    for layout in all_layouts(name):
        for band in (Band.ABOVE, Band.LOWER, Band.BELOW):
            labels, row = layout.bands[band], layout.bands[band].running
            if not row.words or row.left_out:
                continue
            face = {flange_band(f, PLAIN): f for f in (Face.TOP, Face.BOTTOM)}.get(band, Face.WEB)
            leaders = [float(layout.views[face].x(c.station)) + c.aside for c in labels.callouts]
            before = np.concatenate([row.at, leaders])
            after = np.concatenate([row.place, row.slots])
            assert (np.diff(after[np.lexsort((after, before))]) > 0).all()


def test_the_ends_and_the_whole_depth_are_dimensioned_from_the_origin() -> None:
    made = plan_of(rail_shape("after-forming"), rail_table(rail_shape("after-forming"), [Hole(-900.0, 120.0)]))
    lh = layouts_of(made)[0]
    rail = made.order.rail
    assert station_row(lh[0], Face.WEB).words[0] == "0"
    assert station_row(lh[0], Face.WEB).origin == pytest.approx(float(lh[0].views[Face.WEB].x(rail.front)))
    assert station_row(lh[-1], Face.WEB).words[-1] == PLAIN.length(rail.length)
    assert station_row(lh[-1], Face.WEB).origin is None
    assert lh[0].sides[Face.WEB, "left"].words == ("0", "120", PLAIN.length(rail.section.depth))
    assert lh[-1].sides[Face.WEB, "right"].words == ("0", PLAIN.length(required_taper(rail).end_depth))
    assert PLAIN.length(required_taper(rail).start - rail.front) in station_row(lh[-1], Face.WEB).words


def test_the_liner_is_dimensioned_from_its_own_front_end_and_its_own_bottom_flange() -> None:
    made = plan("lined")
    liner = made.order.rail.liner
    assert liner is not None
    sheets = liner_layouts("lined")[0]
    words = [word for layout in sheets for word in station_row(layout, Face.WEB).words]
    assert words[0] == "0"
    assert words[-1] == PLAIN.length(liner.length)
    heights = sheets[0].sides[Face.WEB, "left"].words
    assert heights[0] == "0"
    assert heights[-1] == PLAIN.length(liner.section.depth)


def test_the_dimensions_are_printed_with_the_words_of_the_layout() -> None:
    made = made_plan(1, 25, 0)
    sheet = draw(made).sheets[1]
    layout = layouts_of(made)[0][0]
    printed = [(round(text.x, 6), text.text) for text in sheet.texts if text.angle == 90]
    row = station_row(layout, Face.WEB)
    for place, words in zip(row.place.tolist(), row.words, strict=True):
        assert any(text == words and abs(x - place) < 1.5 for x, text in printed)


# Units and projection


@cache
def bare_layouts(style: DrawingStyle) -> tuple[ElevationLayout, ...]:
    made = made_plan(1, 25, 0)
    return elevation_layouts(subject_of(made, style), drawn_rail(made.order.rail))[0]


def test_inches_are_the_millimetres_over_25_4_and_both_stand_in_brackets() -> None:
    plain, inch, both = (bare_layouts(DrawingStyle(units)) for units in ("mm", "in", "both"))
    numbers = {"mm": r"-?\d+(\.\d+)?", "in": r"0|-?\d+\.\d{3}", "both": r"0|-?\d+(\.\d+)? \[-?\d+\.\d{3}\]"}
    for units, layouts in (("mm", plain), ("in", inch), ("both", both)):
        for layout in layouts:
            assert all(re.fullmatch(numbers[units], word) for word in station_row(layout, Face.WEB).words)
    words = [[word for layout in layouts for word in station_row(layout, Face.WEB).words] for layouts in (plain, inch)]
    in_mm, in_inches = (np.array(sorted(map(float, found))) for found in words)
    assert len(in_mm) == len(in_inches)
    assert in_inches * 25.4 == pytest.approx(in_mm, abs=0.0127 + 0.0051)


def test_in_first_angle_projection_the_flanges_change_places_and_the_symbol_is_turned() -> None:
    third, first = (bare_layouts(DrawingStyle("mm", projection)) for projection in ("third", "first"))
    for one, other in zip(third, first, strict=True):
        assert one.views[Face.TOP].lower > one.views[Face.WEB].upper
        assert one.views[Face.BOTTOM].upper < one.views[Face.WEB].lower
        assert other.views[Face.TOP].upper < other.views[Face.WEB].lower
        assert other.views[Face.BOTTOM].lower > other.views[Face.WEB].upper
        # Seen from above and from below, whichever way they stand: only the side of the web changes.
        for face in (Face.TOP, Face.BOTTOM):
            assert np.sign(np.diff(one.views[face].y(np.array([0.0, 1.0])))) == (1 if face == Face.TOP else -1)
            assert np.sign(np.diff(other.views[face].y(np.array([0.0, 1.0])))) == (1 if face == Face.TOP else -1)
    made = made_plan(1, 5, 0)
    sheets = [draw(made, DrawingStyle("mm", projection)).sheets[1] for projection in ("third", "first")]
    cones, rings = zip(*(projection_marks(sheet) for sheet in sheets), strict=True)
    assert rings[0] < cones[0]
    assert rings[1] > cones[1]


def projection_marks(sheet: Sheet) -> tuple[float, float]:
    """x of the cone and of the rings of the projection symbol: the last polygon and circles of that pen."""
    figures = [item for item in sheet.items if isinstance(item, Figures)]
    place = next(
        i
        for i, item in enumerate(figures)
        if item.commands == "MLLLZ"
        and item.points.shape[0] == 1
        and np.ptp(item.points[0, :, 0]) == pytest.approx(6.0)
        and np.ptp(item.points[0, :, 1]) == pytest.approx(4.0)
    )
    return float(figures[place].points[..., 0].mean()), float(figures[place - 1].points[..., 0].mean())


# Details


@cache
def tapered(wedge: str) -> tuple[SerialPlan, Drawing]:
    rail = rail_shape(wedge)
    holes = [Hole(4500.0, 100.0, component="a", feature="h"), Hole(4700.0, 60.0, face="top", component="b")]
    made = plan_of(rail, rail_table(rail, holes))
    return made, draw(made)


def sheet_named(drawing: Drawing, key: str) -> Sheet:
    return next(sheet for sheet in drawing.sheets if sheet.name.split(" ", 1)[1] == say(key))


@pytest.mark.parametrize("wedge", ["after-forming", "in-blank"])
def test_the_taper_sheet_dimensions_hinge_wedge_fold_relief_hole_and_seam(wedge: str) -> None:
    made, drawing = tapered(wedge)
    rail = made.order.rail
    taper, template = required_taper(rail), taper_template(rail)
    words = [text.text for text in sheet_named(drawing, "taper_sheet.name").texts]
    length = PLAIN.length
    from_front = [taper.apex[0], taper.start, taper.rear, taper.blank_rear]
    assert {length(x - rail.front) for x in from_front} <= set(words)
    for station in template.fold_tangents:
        assert say("taper_sheet.at_tangent", at=length(station - rail.front)) in words
    assert say("taper_sheet.at_fold", at=length(taper.start - rail.front)) in words
    zero = float(rail.section.across(Face.WEB, 0.0)) if taper.in_blank else 0.0
    assert say("taper_sheet.at_slit", at=length(rail.section.depth - taper.slit_depth - zero)) in words
    assert say("taper_sheet.at_cut", at=length(float(taper.lower_cut_z(taper.blank_rear)) - zero)) in words
    assert say("taper_sheet.at_seam", at=length(float(taper.seam_z(taper.rear)))) in words
    assert say("taper_sheet.at_end", at=length(taper.end_depth)) in words
    assert say("taper_sheet.slope", angle=degrees(taper.slope)) in words
    assert say("elevation.relief", diameter=length(taper.relief_diameter)) in words
    assert length(taper.seam_length) in words
    assert made.order.library.finishing.weld_procedure.split(",")[0] in " ".join(words)


def test_heights_of_a_wedge_cut_in_the_blank_are_its_blank_y() -> None:
    made, drawing = tapered("in-blank")
    rail = made.order.rail
    slit = float(rail.section.blank_y(Face.WEB, required_taper(rail).apex[1]))
    assert say("taper_sheet.at_slit", at=PLAIN.length(slit)) in [
        t.text for t in sheet_named(drawing, "taper_sheet.name").texts
    ]


@pytest.mark.parametrize("wedge", ["after-forming", "in-blank"])
def test_the_blank_sheet_dimensions_what_the_width_is_made_of(wedge: str) -> None:
    made, drawing = tapered(wedge)
    section, rail = made.order.rail.section, made.order.rail
    words = [text.text for text in sheet_named(drawing, "blank_sheet.name_rail").texts]
    length = PLAIN.length
    developed = 2 * section.flat_flange + section.flat_web + 2 * section.bend_allowance
    assert say("blank_sheet.width", width=length(developed)) in words
    assert words.count(say("blank_sheet.length", length=length(rail.blank_length))) == 2
    for v in (section.lower_bend_blank_y, section.upper_bend_blank_y):
        assert say("blank_sheet.at_bend", at=length(v)) in words
    tangents = (section.flat_flange, section.flat_flange + section.bend_allowance)
    for v in (*tangents, *(developed - v for v in tangents)):
        assert say("blank_sheet.at_tangent", at=length(v)) in words
    assert words.count(length(section.bend_allowance)) >= 3
    assert length(section.flat_web) in words
    # The RH blank is counted from its rearmost point.
    fold = required_taper(rail).start - rail.front
    assert length(fold) in words
    assert length(rail.blank_length - fold) in words


def test_the_general_arrangement_has_overall_dimensions_and_names_every_sheet() -> None:
    made, drawing = tapered("after-forming")
    words = [text.text for text in drawing.sheets[0].texts]
    order, length = made.order, PLAIN.length
    rail = order.rail
    assert say("arrangement.rail", length=length(rail.length)) in words
    assert say("arrangement.wheelbase", length=length(order.dimensions["wheelbase"])) in words
    assert say("arrangement.front_overhang", length=length(-rail.front)) in words
    assert say("arrangement.taper", length=length(rail.rear - required_taper(rail).start)) in words
    assert any(text.startswith("frame width") or text == length(order.dimensions["frame_width"]) for text in words)
    for name, station in order.anchors.items():
        assert say("elevation.anchor", name=name.replace("_", " "), station=length(station)) in words
    for sheet in drawing.sheets:
        assert sheet.name.split(" ", 1)[1] in words


def test_a_section_and_its_steel_stand_on_sheet_one_and_revisions_beside_the_title_block() -> None:
    made, drawing = tapered("after-forming")
    words = [text.text for text in drawing.sheets[0].texts]
    section = made.order.rail.section
    assert say("section.depth", value=PLAIN.length(section.depth)) in words
    assert say("section.radius_mark", value=PLAIN.size(section.inside_radius)) in words
    assert say("section.thickness", value=PLAIN.size(section.thickness)) in words
    assert made.order.order.revision in words
    assert made.order.order.build_date.isoformat() in words


def test_the_liners_sheets_name_its_own_section_and_steel() -> None:
    made = plan("lined")
    liner = made.order.order.liner
    sheets = [sheet for sheet in draw(made).sheets if "liner" in sheet.name]
    assert sheets
    assert liner is not None
    for sheet in sheets:
        words = {text.text for text in sheet.texts if isinstance(text, Text)}
        assert liner.section in words
        assert any(f"{side} liner" in word for word in words for side in SIDES)
