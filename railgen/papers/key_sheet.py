"""The key sheet: both rails whole and small, with anchors, main dimensions and the sheets that show them."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import RAIL, SIDES
from railgen.papers.callouts import anchor_callout
from railgen.papers.elevation import RailSheets, words_of
from railgen.papers.elevation_layout import ROW, BandLayout, band_layout
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, text_width
from railgen.papers.sheet import (
    BLACK,
    BLUE,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    MATCH,
    THIN,
    Anchor,
    Item,
    Pen,
    Text,
    centred,
    circles,
    polygon,
    polyline,
    rectangle,
    segments,
)
from railgen.papers.subject import Subject
from railgen.papers.symbols import number
from railgen.papers.views import View, rail_lines

_SCALES = (10, 20, 25, 50, 100, 200, 500)
"""Scales for the whole rail: those of ISO 5455 and 1:25, usual on truck drawings (from memory)."""
_LEFT, _RIGHT = FRAME_LEFT + 10.0, FRAME_RIGHT - 10.0
_ANCHOR_ROWS = 6
_DIMENSIONS = 13.0
_BOX = 4.0
_LEAST_HOLE = 0.25
"""Least radius (mm) at which a hole is drawn on the small rails."""


def key_scale(subject: Subject) -> int:
    """Millimetres of steel for one of paper: the first scale at which the whole rail goes across the sheet."""
    length = subject.plan.order.rail.length
    return next((scale for scale in _SCALES if length / scale <= _RIGHT - _LEFT), _SCALES[-1])


def key_items(subject: Subject, sheets: tuple[RailSheets, RailSheets]) -> tuple[list[Item], float]:
    """Both rails whole, and the y below which the sheet is free; `sheets`: those of LH and of RH."""
    scale = key_scale(subject)
    depth = subject.plan.order.rail.section.depth / scale
    items: list[Item] = [Text(FRAME_LEFT + 3, FRAME_TOP - 6.5, f"Key to the sheets, scale 1:{scale}", LARGE, bold=True)]
    anchors = _anchor_band(subject)
    y = FRAME_TOP - 13.5
    items.append(_rail_name(0, y))
    lh = _whole(subject, 0, y - 2.5 - anchors.height - depth)
    items += [*_rail(subject, lh), *_anchors(lh, anchors), *_dimensions(subject, lh)]
    items += _sheet_boxes(lh, sheets[0], lh.lower - _DIMENSIONS)
    y = lh.lower - _DIMENSIONS - _BOX - 11
    items.append(_rail_name(1, y))
    rh = _whole(subject, 1, y - 4 - depth)
    items += [*_rail(subject, rh), *_sheet_boxes(rh, sheets[1], rh.lower - 1)]
    return items, rh.lower - 1 - _BOX - 15


def _rail_name(side: int, y: float) -> Item:
    words = f"{SIDES[side]} rail, web from outside, front end at the {('left', 'right')[side]}"
    return Text(_LEFT, y, words, MIDDLE, bold=True)


def _whole(subject: Subject, side: int, base: float) -> View:
    rail, scale = subject.plan.order.rail, 1 / key_scale(subject)
    left = (_LEFT + _RIGHT) / 2 - rail.length * scale / 2
    return View(Face.WEB, rail.front, rail.rear, left, base, scale, rail.section.depth, mirrored=side == 1)


def _rail(subject: Subject, view: View) -> list[Item]:
    holes, side = subject.holes, int(view.mirrored)
    rows = np.flatnonzero((holes.side == side) & (holes.part == RAIL) & (holes.face == Face.WEB))
    items = rail_lines(subject.plan.order.rail, view)
    centres = view.points(np.stack([holes.station[rows], holes.across[rows]], axis=-1))
    radius = np.fmax(holes.diameter[rows] / 2 * view.scale, _LEAST_HOLE)
    for size in np.unique(radius).tolist():
        items.append(circles(centres[radius == size], size, Pen(0.13)))
    return items


def _sheet_boxes(view: View, sheets: RailSheets, top: float) -> list[Item]:
    """Which sheet shows which part of the rail, and the match lines across it."""
    x = view.x(np.array(sheets.cuts))
    lines = [[(at, view.lower - 1), (at, view.upper + 1)] for at in x[1:-1].tolist()]
    items: list[Item] = [segments(lines, Pen(0.25, MATCH.colour, (3, 0.8, 0.6, 0.8)))] if lines else []
    for index in range(len(x) - 1):
        low, high = sorted(x[index : index + 2].tolist())
        words = f"sheet {sheets.first + index}"
        if text_width(words, SMALL) > high - low - 1:
            words = str(sheets.first + index)
        items += [rectangle(low, top - _BOX, high, top, THIN), centred((low + high) / 2, top - _BOX / 2, words, SMALL)]
    return items


def _anchor_band(subject: Subject) -> BandLayout:
    view = _whole(subject, 0, 0.0)
    named = [(name, x) for name, x in subject.plan.order.anchors.items() if view.start - 1e-6 <= x <= view.end + 1e-6]
    return band_layout([anchor_callout(name, x, view.breadth) for name, x in named], view, _ANCHOR_ROWS)


def _anchors(view: View, band: BandLayout) -> list[Item]:
    placing, pen = band.placing, Pen(0.18, BLUE)
    items: list[Item] = []
    for callout, staff, row, leftward in zip(
        band.callouts, placing.staff.tolist(), placing.row.tolist(), placing.leftward.tolist(), strict=True
    ):
        x, level = float(view.x(callout.station)), view.upper + band.jog + ROW * (row + 0.5)
        bends = [(x, view.upper + 0.8), (staff, view.upper + band.jog - 0.4)]
        items.append(polyline([(x, view.lower), *bends, (staff, level + SMALL / 2)], pen))
        items += words_of(callout, staff, level, leftward)
    return items


def _dimensions(subject: Subject, view: View) -> list[Item]:
    """Overhangs, wheelbase and length below the rail."""
    rail = subject.plan.order.rail
    inner = {"front axle": 0.0, "rear axle": subject.plan.order.dimensions.get("wheelbase", 0.0)}
    stations = sorted({rail.front, rail.rear, *(x for x in inner.values() if rail.front < x < rail.rear)})
    names = ["front overhang", "wheelbase", "rear overhang"] if len(stations) == 4 else [""] * 3
    upper, lower = view.lower - 5.0, view.lower - 10.5
    items: list[Item] = []
    for index, (start, end) in enumerate(pairwise(stations)):
        last = index == len(stations) - 2
        outward: Anchor = "middle" if index > 0 and not last else "right" if index == 0 else "left"
        items += _dimension(view, start, end, upper, f"{names[index]} {number(end - start)}".strip(), outward)
    items += _dimension(view, rail.front, rail.rear, lower, f"rail {number(rail.length)}", "middle")
    x = view.x(np.array(stations)).tolist()
    feet = [lower - 1 if station in (rail.front, rail.rear) else upper - 1 for station in stations]
    lines = [[(at, view.lower - 1), (at, foot)] for at, foot in zip(x, feet, strict=True)]
    return [segments(lines, THIN), *items]


def _dimension(view: View, start: float, end: float, y: float, words: str, outward: Anchor) -> list[Item]:
    """A dimension line with its words above; beside it, away from the others, where they are too long for it."""
    left, right = sorted((float(view.x(start)), float(view.x(end))))
    heads = [[(x, y), (x + way * 2.5, y + 0.45), (x + way * 2.5, y - 0.45)] for x, way in ((left, 1), (right, -1))]
    items: list[Item] = [segments([[(left, y), (right, y)]], THIN), *(polygon(head, None, BLACK) for head in heads)]
    if text_width(words, SMALL) < right - left or outward == "middle":
        return [*items, Text((left + right) / 2, y + 0.8, words, SMALL, "middle")]
    x = left - 1 if outward == "right" else right + 1
    return [*items, Text(x, y - SMALL / 2, words, SMALL, outward)]
