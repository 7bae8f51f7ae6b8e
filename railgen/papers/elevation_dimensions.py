"""Running dimensions of an elevation sheet: stations from the front end, heights and across from zero."""

from __future__ import annotations

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import RAIL, FloatArray, IntArray
from railgen.papers.fonts import SMALL, text_width
from railgen.papers.part import DrawnPart
from railgen.papers.running import Running, Way, running, unique_values
from railgen.papers.sheet import FRAME_LEFT, FRAME_RIGHT
from railgen.papers.stretches import Stretch
from railgen.papers.subject import Subject
from railgen.papers.views import View
from railgen.papers.wording import say

_SIDE_JOG = 2.6
_SIDE_LINES = 7.5
"""Width (mm) of the dimensions across a view, less their words."""
_OVER = 1.3
"""How far (mm) words of dimensions across a view may stand above or below it."""


def side_depth(subject: Subject, part: DrawnPart) -> float:
    """Width (mm) that the dimensions across the part's views take at most, on either side of them."""
    holes = subject.holes
    words = {subject.style.length(part.breadth(face)) for face in Face}
    for face in Face:
        own = (holes.part == part.part) & (holes.face == face)
        words |= {subject.style.length(x) for x in np.unique((holes.across[own] - part.zero(face)).round(2)).tolist()}
    return _SIDE_LINES + max(text_width(text, SMALL) for text in words)


def station_dimensions(
    subject: Subject, part: DrawnPart, side: int, stretch: Stretch, view: View, leaders: FloatArray
) -> Running:
    """The stations of a view's features that belong to the sheet, and of the part's own points on its web.

    `leaders` (k,): x at which labels leave the view on the same side.
    """
    rows = _rows(subject, part, side, stretch, view.face)
    values, reach = subject.holes.station[rows], _depth_inside(view, subject.holes.across[rows])
    if view.face == Face.WEB:
        points = np.array([point for point in _own_points(part, view) if stretch.bears(point[0])]).reshape(-1, 2)
        values, reach = np.concatenate([values, points[:, 0]]), np.concatenate([reach, points[:, 1]])
    values, reach = unique_values(values - part.front, reach)
    words = [subject.style.length(value) for value in values.tolist()]
    origin = float(view.x(part.front)) if stretch.bears(part.front) else None
    # At the sheet's left the row is named.
    ends = FRAME_LEFT + text_width(say("elevation.from_front"), SMALL) + 4.0, FRAME_RIGHT - 1.5
    return running(view.x(values + part.front), reach, words, ends, origin, leaders)


def _own_points(part: DrawnPart, view: View) -> list[tuple[float, float]]:
    """Stations of the part's ends, of its taper and of its liner, and how far inside the view they are."""
    points = [(part.front, 0.0), (part.rear, 0.0)]
    if part.part == RAIL and part.rail.taper:
        points.append((part.rail.taper.start, part.rail.taper.hinge[1] * view.scale))
    if part.part == RAIL and part.rail.liner:
        liner = part.rail.liner
        points += [(x, liner.offset_z * view.scale) for x in (liner.start, liner.end)]
    return points


def across_dimensions(subject: Subject, part: DrawnPart, side: int, stretch: Stretch, view: View) -> dict[Way, Running]:
    """Heights or across of a view's features that belong to the sheet, at the side of the view that they are nearer to.

    The part's whole depth or width stands at the left, the depth of a tapered rear end where that end is.
    """
    rows = _rows(subject, part, side, stretch, view.face)
    x = view.x(subject.holes.station[rows])
    at_left = x < (view.left + view.right) / 2
    return {
        "left": _one_side(subject, part, view, rows[at_left], x[at_left] - view.left, "left"),
        "right": _one_side(subject, part, view, rows[~at_left], view.right - x[~at_left], "right"),
    }


def _one_side(subject: Subject, part: DrawnPart, view: View, rows: IntArray, inside: FloatArray, way: Way) -> Running:
    values = subject.holes.across[rows] - view.zero
    ends = _end_values(part, view, way)
    if not len(ends) and len(values):
        ends = [0.0]
    end_station = view.start if (way == "left") != view.mirrored else view.end
    from_end = abs(end_station - float(np.clip(end_station, part.front, part.rear))) * view.scale
    values = np.concatenate([values, ends])
    values, reach = unique_values(values, np.concatenate([inside, np.full(len(ends), from_end)]))
    words = [subject.style.length(value) for value in values.tolist()]
    room = view.lower - _OVER, view.upper + _OVER
    origin = float(view.y(view.zero)) if len(values) else None
    return running(view.y(values + view.zero), reach, words, room, origin, greatest_jog=_SIDE_JOG)


def _end_values(part: DrawnPart, view: View, way: Way) -> list[float]:
    """Zero and the part's breadth at a side of its view; nothing where a taper is cut off in the middle."""
    at_front = (way == "left") != view.mirrored
    end = view.start if at_front else view.end
    if view.face == Face.WEB and part.part == RAIL and part.rail.taper:
        whole = end >= part.rear if end > part.rail.taper.start else way == "left"
        return [0.0, float(part.rail.depth_at(min(end, part.rear)))] if whole else []
    return [0.0, view.breadth] if way == "left" else []


def _rows(subject: Subject, part: DrawnPart, side: int, stretch: Stretch, face: Face) -> IntArray:
    holes = subject.holes
    own = (holes.side == side) & (holes.part == part.part) & (holes.face == face)
    return np.flatnonzero(own & stretch.bears(holes.station))


def _depth_inside(view: View, across: FloatArray) -> FloatArray:
    """How far (mm of paper) features lie inside the edge beside which the view's stations stand."""
    y = view.y(across)
    return y - view.lower if view.face == Face.WEB or view.below else view.upper - y
