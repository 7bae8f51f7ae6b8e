"""The blank sheet of a part: both hands' blanks whole and flat, a piece of it large with its bends, developed sizes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from railgen.frame.blank import bend_lines, blank_outline, second_cuts
from railgen.frame.contour import Contour
from railgen.frame.panels import Face
from railgen.frame.rail import Part, part_length
from railgen.frame.taper import TaperShape
from railgen.holes.table import RAIL, SIDES
from railgen.papers.bend_detail import bend_detail
from railgen.papers.blank_table import BLANK_TABLE_WIDTH, blank_table
from railgen.papers.curves import contour_figures
from railgen.papers.dimensions import extensions, leader, level_dimension, upright_dimension
from railgen.papers.elevation import front_arrow
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, text_width
from railgen.papers.part import DrawnPart
from railgen.papers.running import Running, running, running_items, unique_values
from railgen.papers.scales import REDUCTIONS, SCALES, fitting_scale
from railgen.papers.sheet import (
    BEND,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    HIDDEN,
    OUTLINE,
    TANGENT,
    THIN,
    Item,
    Pen,
    Text,
    circles,
    polyline,
)
from railgen.papers.subject import Subject
from railgen.papers.symbols import symbols
from railgen.papers.tables import Rest
from railgen.papers.title_block import STRIP_TOP
from railgen.papers.views import View
from railgen.papers.wording import say

_LEFT, _RIGHT = FRAME_LEFT + 15.0, FRAME_RIGHT - 10.0
_HEADING, _NAME, _LENGTH, _GAP = 9.0, 6.0, 6.5, 2.0
_PIECE_LEFT, _PIECE_TITLE = FRAME_LEFT + 26.0, 6.0
_NAMES_OFF, _NAMES_JOG = 10.5, 4.0
"""Distance (mm) from the piece to the names of its lines, and the part of it in which their leaders may bend."""
_PIECE_AHEAD = 20.0
"""How far (mm of steel) ahead of a taper's cut the large piece begins."""
_LEAST_HOLE = 0.25


def blank_scale(part: DrawnPart) -> float:
    """Millimetres of steel for one of paper at which the whole blanks are drawn."""
    return fitting_scale(part_length(part.rail, _name(part)), _RIGHT - _LEFT, REDUCTIONS)


def blank_items(subject: Subject, part: DrawnPart) -> tuple[list[Item], tuple[Rest, ...]]:
    """Everything inside the frame above the strip, and rows of its table that find no room."""
    scale = blank_scale(part)
    heading = say(f"blank_sheet.heading_{part.name}", scale=scale)
    items: list[Item] = [Text(FRAME_LEFT + 3, FRAME_TOP - 6.5, heading, LARGE, bold=True)]
    y = FRAME_TOP - _HEADING
    for side in range(len(SIDES)):
        view = _whole(part, side, y - _NAME - _LENGTH, scale)
        items += _whole_blank(subject, part, view, side)
        row = _along(subject, part, view).depth if _tapered(part) else _GAP
        y = view.lower - row - _GAP
    items += _piece(subject, part, y)
    left = FRAME_RIGHT - BLANK_TABLE_WIDTH - 2.0
    table, below, rest = blank_table(subject, part, left, y, STRIP_TOP + 2.0)
    return [*items, *table, *bend_detail(subject, part, left, below - 3.0, below - STRIP_TOP - 5.0)], rest


def _name(part: DrawnPart) -> Part:
    return "rail" if part.part == RAIL else "liner"


def _whole(part: DrawnPart, side: int, top: float, scale: float) -> View:
    """A whole blank: stations are u, across is v. On the RH sheet u grows to the left, as blank_x grows forward."""
    length, width = part_length(part.rail, _name(part)), part.section.developed_width
    left = (_LEFT + _RIGHT - length / scale) / 2
    return View(Face.WEB, 0.0, length, left, top - width / scale, 1 / scale, width, mirrored=side == 1)


def _whole_blank(subject: Subject, part: DrawnPart, view: View, side: int) -> list[Item]:
    style, length, width = subject.style, view.end, view.breadth
    name_y = view.upper + _LENGTH + _NAME - MIDDLE - 1.0
    items: list[Item] = [Text(_LEFT, name_y, say(f"part.{part.name}", side=SIDES[side]), MIDDLE, bold=True)]
    items += front_arrow(side == 1, _LEFT + 40.0, name_y)
    items += _lines(part, view)
    items += _small_holes(subject, part, view, side)
    items.append(extensions([((x, view.upper), (x, view.upper + 4.5)) for x in (view.left, view.right)]))
    along = say("blank_sheet.length", length=style.length(length))
    items += level_dimension(view.left, view.right, view.upper + 4.5, along)
    x = view.left - 5.0
    items.append(extensions([((view.left, y), (x, y)) for y in (view.lower, view.upper)]))
    across = say("blank_sheet.width", width=style.length(width))
    items += upright_dimension(view.lower, view.upper, x, across, short=style.short(width))
    if not _tapered(part):
        return items
    return [*items, *running_items(_along(subject, part, view), "below", view.lower, view.left)]


def _tapered(part: DrawnPart) -> TaperShape | None:
    """The taper of the part, None for liners and rails without one."""
    return part.rail.taper if part.part == RAIL else None


def _along(subject: Subject, part: DrawnPart, view: View) -> Running:
    """Positions along a blank, as its cut file counts them: from the front end on LH, from the rear edge on RH."""
    length, points = part_length(part.rail, _name(part)), _points_along(part)
    u, across = np.array([point for point in points if view.start <= point[0] <= view.end]).T
    values, reach = unique_values(length - u if view.mirrored else u, across * view.scale)
    if view.start <= 0.0:
        # The length stands above the whole blank.
        kept = values < length - 0.01
        values, reach = values[kept], reach[kept]
    back = length - values if view.mirrored else values
    zero = length if view.mirrored else 0.0
    origin = float(view.x(zero)) if view.start <= zero <= view.end else None
    words = [subject.style.length(value) for value in values.tolist()]
    return running(view.x(back), reach, words, (FRAME_LEFT + 4.0, FRAME_RIGHT - 2.0), origin)


def _points_along(part: DrawnPart) -> list[tuple[float, float]]:
    """u of ends and, with a taper, of fold, relief hole and finished rear end; how far from v = 0 each begins."""
    length = part_length(part.rail, _name(part))
    points = [(0.0, 0.0), (length, 0.0)]
    taper = _tapered(part)
    if taper:
        section, front = part.section, part.rail.front
        points.append((taper.start - front, section.top_tangent_blank_y))
        points.append((taper.apex[0] - front, _web_v(part, taper.apex[1])))
        points.append((taper.rear - front, 0.0))
    return points


def _lines(part: DrawnPart, view: View) -> list[Item]:
    """Outline, bend lines, tangents, fold and what is cut later, as far as the view goes."""
    rail, section, name = part.rail, part.section, _name(part)
    tangents = (
        section.bottom_tangent_blank_y,
        section.web_lower_tangent_blank_y,
        section.web_upper_tangent_blank_y,
        section.top_tangent_blank_y,
    )
    length = part_length(rail, name)
    items = list(view.lines(np.array([[(0.0, v), (length, v)] for v in tangents]), TANGENT))
    items += view.lines(np.array([line.vertices for line in bend_lines(rail, name)]), BEND)
    taper = _tapered(part)
    if taper:
        ends = (section.top_tangent_blank_y, section.developed_width)
        fold, half = taper.start - rail.front, taper.fold_half_width
        items += view.lines(np.array([[(u, v) for v in ends] for u in (fold - half, fold + half)]), TANGENT)
        items += view.lines(np.array([[(rail.length, 0.0), (rail.length, section.bottom_tangent_blank_y)]]), HIDDEN)
        items += [contour_figures(cut, view, HIDDEN) for cut in second_cuts(rail)]
    outline = blank_outline(rail, name)
    if view.start <= 0.0 and view.end >= length:
        return [*items, contour_figures(outline, view, OUTLINE)]
    # A piece: the outline without the edge at which it is broken off.
    vertices = np.column_stack([np.clip(outline.vertices[:, 0], view.start, view.end), outline.vertices[:, 1]])
    first = 0 if view.end >= length else 2
    broken = Contour(np.roll(vertices, -first, axis=0), np.roll(outline.bulges, -first), closed=False)
    edge = view.left if view.end >= length else view.right
    return [*items, contour_figures(broken, view, OUTLINE), _break_line(edge, view.lower, view.upper)]


def _break_line(x: float, low: float, high: float) -> Item:
    """A narrow line with a zigzag, past the edges that it breaks off (ISO 128-2, from memory)."""
    middle, past = (low + high) / 2, 2.5
    zigzag = [(x, middle - 2.4), (x - 1.6, middle - 0.8), (x + 1.6, middle + 0.8), (x, middle + 2.4)]
    return polyline([(x, low - past), *zigzag, (x, high + past)], THIN)


@dataclass(frozen=True)
class _Line:
    """A line along the blank: its v, mm, and the key of its name."""

    v: float
    key: str


def _named_lines(part: DrawnPart) -> list[_Line]:
    """What lies where across the blank, from the free edge of the bottom flange."""
    section = part.section
    lines = [
        _Line(0.0, "edge_bottom"),
        _Line(section.bottom_tangent_blank_y, "tangent"),
        _Line(section.lower_bend_blank_y, "bend"),
        _Line(section.web_lower_tangent_blank_y, "tangent"),
        _Line(section.web_upper_tangent_blank_y, "tangent"),
        _Line(section.upper_bend_blank_y, "bend"),
        _Line(section.top_tangent_blank_y, "tangent"),
        _Line(section.developed_width, "edge_top"),
    ]
    taper = _tapered(part)
    if taper:
        heights = {"slit": taper.apex[1], "cut": float(taper.lower_cut_z(taper.blank_rear))}
        lines += [_Line(_web_v(part, z), key) for key, z in heights.items()]
    return lines


def _web_v(part: DrawnPart, z: float) -> float:
    """blank_y (mm) of a height z on the web."""
    return float(part.section.blank_y(Face.WEB, z))


def _piece(subject: Subject, part: DrawnPart, top: float) -> list[Item]:
    """A piece of the LH blank as large as the room below y = `top` allows: of the tail where there is a taper."""
    style, lines = subject.style, _named_lines(part)
    words = [say(f"blank_sheet.at_{line.key}", at=style.length(line.v)) for line in lines]
    view, scale = _piece_view(subject, part, top, max(text_width(text, SMALL) for text in words))
    heading = say("blank_sheet.piece_tail" if view.start > 0 else "blank_sheet.piece", scale=scale)
    items: list[Item] = [Text(FRAME_LEFT + 4.0, top - MIDDLE - 1.0, heading, MIDDLE, bold=True)]
    items += [*_lines(part, view), *_piece_holes(subject, part, view), *_chain(subject, part, view)]
    v = np.array([line.v for line in lines])
    past = view.lower - 6.0, view.upper + 4.0
    named = running(view.y(v), np.zeros(len(v)), words, past, float(view.y(0.0)), greatest_jog=_NAMES_JOG)
    items += running_items(named, "right", view.right, view.lower)
    taper = _tapered(part)
    if taper:
        items += running_items(_along(subject, part, view), "below", view.lower, view.left)
        x, y = view.points(np.array([taper.apex[0] - part.rail.front, _web_v(part, taper.apex[1])])).tolist()
        reach = taper.relief_radius * view.scale * np.sqrt(0.5)
        relief = say("elevation.relief", diameter=style.size(taper.relief_diameter))
        items += leader([(x + reach, y + reach), (x + reach + 3.5, y + reach + 3.5)], relief)
    return items


def _piece_view(subject: Subject, part: DrawnPart, top: float, names: float) -> tuple[View, float]:
    """The view and its scale; `names`: width (mm) of the words at its right."""
    length, width = part_length(part.rail, _name(part)), part.section.developed_width
    taper = _tapered(part)
    start = max(taper.front - part.rail.front - _PIECE_AHEAD, 0.0) if taper else 0.0
    room_across = FRAME_RIGHT - BLANK_TABLE_WIDTH - 5.0 - _NAMES_OFF - names - _PIECE_LEFT
    whole = _whole(part, 0, 0.0, 1.0)
    row = _along(subject, part, whole).depth if taper else 4.0
    room_up = top - _PIECE_TITLE - 3.0 - STRIP_TOP - row - 2.0
    scale = fitting_scale(width, room_up, SCALES[1:])
    if taper:
        scale = max(scale, fitting_scale(length - start, room_across, SCALES[1:]))
    end = length if taper else min(room_across * scale, length)
    base = top - _PIECE_TITLE - 3.0 - width / scale
    return View(Face.WEB, start, end, _PIECE_LEFT, base, 1 / scale, width), scale


def _piece_holes(subject: Subject, part: DrawnPart, view: View) -> list[Item]:
    """The LH blank's holes that lie wholly on the piece, by their symbols."""
    holes, chart = subject.holes, subject.chart
    reach = np.fmax(subject.along, subject.across)
    inside = (holes.u - reach > view.start) & (holes.u + reach < view.end)
    rows = np.flatnonzero((holes.side == 0) & (holes.part == part.part) & inside)
    items: list[Item] = []
    for index in np.unique(chart.row_class[rows]).tolist():
        own = rows[chart.row_class[rows] == index]
        centres = view.points(np.stack([holes.u[own], holes.v[own]], axis=-1))
        items += symbols(chart.classes[index], chart.fills[index], centres, holes.blank_angle[own], view.scale)
    return items


def _chain(subject: Subject, part: DrawnPart, view: View) -> list[Item]:
    """Flats and bend allowances one after the other, and the developed width."""
    section, style = part.section, subject.style
    allowance = say("blank_sheet.allowance", length=style.length(section.bend_allowance))
    sizes = (section.flat_flange, section.bend_allowance, section.flat_web, section.bend_allowance, section.flat_flange)
    marks = (
        0.0,
        section.bottom_tangent_blank_y,
        section.web_lower_tangent_blank_y,
        section.web_upper_tangent_blank_y,
        section.top_tangent_blank_y,
        section.developed_width,
    )
    y = [float(view.y(mark)) for mark in marks]
    near, far = view.left - 7.0, view.left - 15.0
    items: list[Item] = [extensions([((view.left, at), (near, at)) for at in y[1:-1]])]
    items.append(extensions([((view.left, at), (far, at)) for at in (y[0], y[-1])]))
    for (low, high), size in zip(pairwise(y), sizes, strict=True):
        words = allowance if size == section.bend_allowance else style.length(size)
        items += upright_dimension(low, high, near, words, short=style.short(size))
    width = say("blank_sheet.width", width=style.length(section.developed_width))
    return [*items, *upright_dimension(y[0], y[-1], far, width)]


def _small_holes(subject: Subject, part: DrawnPart, view: View, side: int) -> list[Item]:
    holes = subject.holes
    rows = np.flatnonzero((holes.side == side) & (holes.part == part.part))
    centres = view.points(np.stack([holes.u[rows], holes.v[rows]], axis=-1))
    radius = np.fmax(holes.diameter[rows] / 2 * view.scale, _LEAST_HOLE)
    pen = Pen(0.13, layer="HOLES")
    return [circles(centres[radius == size], size, pen) for size in np.unique(radius).tolist()]
