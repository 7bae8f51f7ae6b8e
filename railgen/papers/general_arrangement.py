"""Sheet 1, the general arrangement: frame from above, both rails whole, anchors, overall dimensions, sheets, blocks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import RAIL
from railgen.papers.callouts import anchor_callout
from railgen.papers.elevation import PartSheets
from railgen.papers.elevation_layout import BandLayout, band_layout
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, text_width
from railgen.papers.frame_plan import PLAN_ROWS, labels_above, plan_items, plan_names
from railgen.papers.overall_dimensions import overall_dimensions, overall_height
from railgen.papers.scales import REDUCTIONS, fitting_scale
from railgen.papers.sheet import (
    BLUE,
    CUT,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    MATCH,
    THIN,
    Item,
    Pen,
    Text,
    centred,
    circles,
    polygon,
    rectangle,
    segments,
)
from railgen.papers.subject import Subject
from railgen.papers.title_block import STRIP_TOP
from railgen.papers.views import View, rail_lines
from railgen.papers.wording import say

SECTION_LETTER = "A"
_LEFT, _RIGHT = FRAME_LEFT + 15.0, FRAME_RIGHT - 15.0
_HEADING, _NAME, _BOX, _GAP = 8.5, 4.5, 4.0, 4.5
_TICKS = 1.5
"""How far (mm) match lines reach past the RH rail, whose name stands above."""
_LEAST_FREE = 66.0
"""Height (mm) that the blocks below the views need at least."""
_ANCHOR_ROWS = 6
_MARK_HEIGHT = 4.2
"""Height (mm) of the section's mark beside the rail."""
_LEAST_HOLE = 0.25
"""Least radius (mm) at which a hole is drawn on the small rails."""
_ANCHOR_PEN = Pen(0.13, BLUE, layer="AXES")
_SHEET_MATCH = replace(MATCH, width=0.25)


@dataclass(frozen=True, eq=False)
class _Plan:
    """What the sheet is laid out from: scale, views with y = 0 as their base, and the bands of words above them."""

    scale: float
    lh: View
    anchors: BandLayout
    names: BandLayout

    def heights(self, subject: Subject) -> tuple[float, float, float]:
        """Heights (mm) of the blocks: frame from above, LH rail, RH rail."""
        width = subject.plan.order.dimensions.get("frame_width", 0.0) / self.scale
        depth = subject.plan.order.rail.section.depth / self.scale
        frame = _NAME + self.names.height + width + _GAP if width else 0.0
        lh = _NAME + self.anchors.height + depth + overall_height(subject) + _BOX + _GAP
        return frame, lh, _NAME + _TICKS + depth + 1.0 + _BOX + _GAP


def arrangement_scale(subject: Subject) -> float:
    """Millimetres of steel for one of paper: the first scale at which everything goes on to the sheet."""
    return _plan(subject).scale


def _plan(subject: Subject) -> _Plan:
    """The first scale at which the whole rail goes across and all blocks below one another."""
    widest = fitting_scale(subject.plan.order.rail.length, _RIGHT - _LEFT, REDUCTIONS)
    for scale in (scale for scale in REDUCTIONS if scale >= widest):
        made = _plan_at(subject, scale)
        if sum(made.heights(subject)) + _HEADING + _LEAST_FREE <= FRAME_TOP - STRIP_TOP:
            break
    return made


def _plan_at(subject: Subject, scale: float) -> _Plan:
    view = _whole(subject, 0, 0.0, scale)
    named = [(name, x) for name, x in subject.plan.order.anchors.items() if view.start - 1e-6 <= x <= view.end + 1e-6]
    anchors = band_layout([anchor_callout(subject.style, name, x) for name, x in named], view, _ANCHOR_ROWS)
    anchors = replace(anchors, jog=max(anchors.jog, _MARK_HEIGHT))
    return _Plan(scale, view, anchors, band_layout(plan_names(subject, view), view, PLAN_ROWS))


def arrangement_items(subject: Subject, sheets: tuple[PartSheets, PartSheets]) -> tuple[list[Item], float]:
    """The views, and the y below which the sheet is free; `sheets`: those of LH and of RH."""
    made = _plan(subject)
    heading = say("arrangement.heading", scale=made.scale)
    items: list[Item] = [Text(FRAME_LEFT + 3, FRAME_TOP - 6.5, heading, LARGE, bold=True)]
    frame_height, lh_height, rh_height = made.heights(subject)
    third = subject.style.projection == "third"
    y = FRAME_TOP - _HEADING
    # The view from above stands above the LH rail in third-angle projection and below it in first-angle projection.
    frame_top, lh_top = (y, y - frame_height) if third else (y - lh_height, y)
    items += plan_items(subject, _view_name("frame", frame_top), made.lh, made.names, frame_top - _NAME)
    items += _lh_block(subject, made, sheets[0], lh_top)
    y -= frame_height + lh_height
    rh = _whole(subject, 1, y - _NAME - _TICKS - subject.plan.order.rail.section.depth / made.scale, made.scale)
    items += [_view_name("RH", y), *_rail(subject, rh), *_sheet_boxes(rh, sheets[1], rh.lower - 1.0)]
    return items, y - rh_height


def _lh_block(subject: Subject, made: _Plan, sheets: PartSheets, top: float) -> list[Item]:
    depth = subject.plan.order.rail.section.depth / made.scale
    lh = replace(made.lh, base=top - _NAME - made.anchors.height - depth)
    items = [_view_name("LH", top), *_rail(subject, lh), *_section_mark(subject, lh)]
    items += labels_above(made.anchors, lh, lh.upper, lh.lower, _ANCHOR_PEN)
    items += overall_dimensions(subject, lh)
    return items + _sheet_boxes(lh, sheets, lh.lower - overall_height(subject))


def _view_name(key: str, top: float) -> Text:
    return Text(_LEFT, top - MIDDLE - 0.5, say(f"arrangement.{key}"), MIDDLE, bold=True)


def _whole(subject: Subject, side: int, base: float, scale: float) -> View:
    rail = subject.plan.order.rail
    left = (_LEFT + _RIGHT) / 2 - rail.length / scale / 2
    return View(Face.WEB, rail.front, rail.rear, left, base, 1 / scale, rail.section.depth, mirrored=side == 1)


def _rail(subject: Subject, view: View) -> list[Item]:
    holes, side = subject.holes, int(view.mirrored)
    rows = np.flatnonzero((holes.side == side) & (holes.part == RAIL) & (holes.face == Face.WEB))
    items = rail_lines(subject.plan.order.rail, view)
    centres = view.points(np.stack([holes.station[rows], holes.across[rows]], axis=-1))
    radius = np.fmax(holes.diameter[rows] / 2 * view.scale, _LEAST_HOLE)
    for size in np.unique(radius).tolist():
        items.append(circles(centres[radius == size], size, Pen(0.13, layer="HOLES")))
    return items


def _sheet_boxes(view: View, sheets: PartSheets, top: float) -> list[Item]:
    """Which sheet shows which part of the rail, and the match lines across it."""
    x = view.x(np.array(sheets.cuts))
    lines = [[(at, view.lower - 1), (at, view.upper + 1)] for at in x[1:-1].tolist()]
    items: list[Item] = [segments(lines, _SHEET_MATCH)] if lines else []
    for index in range(len(x) - 1):
        low, high = sorted(x[index : index + 2].tolist())
        words = say("arrangement.sheet", number=sheets.first + index)
        if text_width(words, SMALL) > high - low - 1:
            words = str(sheets.first + index)
        items += [rectangle(low, top - _BOX, high, top, THIN), centred((low + high) / 2, top - _BOX / 2, words, SMALL)]
    return items


def _section_mark(subject: Subject, view: View) -> list[Item]:
    """Where the section is cut, seen toward the rear: through the liner where there is one, ahead of the taper."""
    rail = subject.plan.order.rail
    ends = (
        (rail.liner.start, rail.liner.end)
        if rail.liner
        else (rail.front, rail.taper.front if rail.taper else rail.rear)
    )
    x = float(view.x(ends[0] + 0.62 * (ends[1] - ends[0])))
    items: list[Item] = []
    for edge, way in ((view.upper, 1.0), (view.lower, -1.0)):
        near, far = edge + way * 0.4, edge + way * 3.4
        arrow = [(x + 3.4, far), (x + 1.2, far + 0.45), (x + 1.2, far - 0.45)]
        items.append(segments([[(x, near), (x, far)]], replace(CUT, dashes=())))
        items += [segments([[(x, far), (x + 1.2, far)]], THIN), polygon(arrow, None, CUT.colour)]
        items.append(Text(x - 0.8, edge + way * 1.9 - SMALL / 2, SECTION_LETTER, SMALL, "right", True))
    return items


def sheet_index(names: Sequence[tuple[str, str]]) -> list[tuple[str, str, str]]:
    """Sheets of one name as one line: numbers, name, scale; `names`: name and scale of each sheet in order."""
    lines: list[tuple[int, int, str, str]] = []
    for number, (name, scale) in enumerate(names, 1):
        if lines and lines[-1][2:] == (name, scale):
            lines[-1] = (lines[-1][0], number, name, scale)
        else:
            lines.append((number, number, name, scale))
    return [
        (str(a) if a == b else say("arrangement.range", first=a, last=b), name, scale) for a, b, name, scale in lines
    ]
