"""A blank as it lies on the press, seen from above: outline, gauge edge, end stop, clamps, holes, hit path."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from railgen.frame.blank import bend_lines, blank_outline
from railgen.frame.contour import contour_points, mirror_contour, mirror_polyline
from railgen.frame.panels import Face
from railgen.holes.table import NONE, FloatArray, IntArray
from railgen.papers.fonts import SMALL
from railgen.papers.sheet import (
    BLACK,
    EDGE,
    GREY,
    OUTLINE,
    PALE,
    RED,
    TANGENT,
    Figures,
    Item,
    Pen,
    Text,
    circles,
    polygon,
    rectangle,
    segments,
)
from railgen.papers.symbols import HoleChart, locating_squares, symbols
from railgen.papers.views import View, clipped
from railgen.papers.wording import say
from railgen.shop.clamps import clamp_boxes
from railgen.shop.cycle_time import path_of
from railgen.shop.hit_order import HitOrder
from railgen.shop.hits import Hits

_COLOURS = (
    "#0050a0",
    "#c03000",
    "#007a50",
    "#9a2f80",
    "#000000",
    "#b07800",
    "#4a3fb0",
    "#006f80",
    "#7a4a20",
    "#d0207a",
)
_DASHES = ((), (2.4, 0.8), (0.7, 0.7), (4.0, 0.7, 0.7, 0.7), (1.2, 0.5), (5.0, 1.0), (3.0, 0.6, 0.6, 0.6, 0.6, 0.6))
"""Colours and line types go round with different periods, so that in black and white neighbours differ too."""
_PATH_WIDTH = 0.3
_IDLE = Pen(0.2, GREY, (0.5, 0.9))
_LEAST_ARROW = 7.0
"""Shorter legs of the path have no arrowhead, mm of paper."""
_ARROW = 1.5
_CHORDS = 24
_GAUGE = 1.6
"""Breadth of the bar that stands for the gauge edge, and of the end stop, mm of paper."""
DEAD_ZONE = Pen(0.13, RED, (0.8, 0.6))
CLAMP = Pen(0.3, RED)
MOVED_CLAMP = Pen(0.3, RED, (1.4, 0.7))


def path_pen(station: int) -> Pen:
    """The line to hits of a tool station (index)."""
    return Pen(_PATH_WIDTH, _COLOURS[station % len(_COLOURS)], _DASHES[station % len(_DASHES)])


def press_view(hits: Hits, start: float, end: float, left: float, base: float, scale: float) -> View:
    """The view of press x from ``start`` to ``end`` (mm of steel) whose lower left corner is at (left, base)."""
    return View(Face.WEB, start, end, left, base, scale, hits.lie.width)


def blank_items(hits: Hits, view: View) -> list[Item]:
    """Outline and bends of the blank, the gauge edge and the end stop, where the view shows them."""
    work, lie = hits.work, hits.lie
    outline, bends = blank_outline(work.rail, work.part), bend_lines(work.rail, work.part)
    if work.side == "RH":
        outline = mirror_contour(outline, lie.length)
        bends = [mirror_polyline(line, lie.length) for line in bends]
    edge = _on_press(hits, contour_points(outline, _CHORDS))
    items: list[Item] = []
    for line in bends:
        items += view.lines(_on_press(hits, line.vertices)[None], TANGENT)
    items += view.lines(np.stack([edge, np.roll(edge, -1, axis=0)], axis=1), OUTLINE)
    x = view.x(np.clip([0.0, lie.length], view.start, view.end))
    items.append(rectangle(float(x[0]), view.base - _GAUGE, float(x[1]), view.base - 0.3, None, BLACK))
    if view.start <= lie.stop_x <= view.end:
        stop, away = float(view.x(lie.stop_x)), -1.0 if lie.stop_x == 0.0 else 1.0
        ends = sorted((stop + 0.3 * away, stop + _GAUGE * away))
        items.append(rectangle(ends[0], view.base - _GAUGE, ends[1], view.base + 9.0, None, BLACK))
    return items


def _on_press(hits: Hits, points: FloatArray) -> FloatArray:
    return np.column_stack(hits.lie.to_press(points[:, 0], points[:, 1]))


def clamp_items(found: HitOrder, view: View) -> list[Item]:
    """Clamps at every shift that the blank needs: full as it is loaded, dashed where they are moved to."""
    hits = found.hits
    items: list[Item] = []
    for shift in sorted({0, *(stage.shift for stage in found.stages.stages)}):
        distance = hits.press.clamp_shifts[shift]
        pen = MOVED_CLAMP if shift else CLAMP
        zone = hits.press.clamp_dead_zone
        for low_x, low_y, high_x, high_y in clamp_boxes(hits.press, hits.lie, distance).tolist():
            if high_x < view.start or low_x > view.end:
                continue
            box = _box(view, low_x, low_y, high_x, high_y)
            items.append(polygon(box, pen, None if shift else "#f4dede"))
            items.append(polygon(_box(view, low_x - zone, low_y, high_x + zone, high_y + zone), DEAD_ZONE))
    return items


def _box(view: View, low_x: float, low_y: float, high_x: float, high_y: float) -> FloatArray:
    low_x, high_x = max(low_x, view.start), min(high_x, view.end)
    corners = np.array([(low_x, low_y), (high_x, low_y), (high_x, high_y), (low_x, high_y)])
    return view.points(corners)


def hole_items(hits: Hits, chart: HoleChart, view: View) -> list[Item]:
    """Symbols of everything that is hit within the view, places of strings' hits, and stamped words."""
    table = hits.work.holes
    items: list[Item] = []
    rows = np.unique(hits.row[(hits.row != NONE) & (hits.x >= view.start) & (hits.x < view.end)])
    x, y = hits.lie.to_press(table.blank_x, table.v)
    angle = np.nan_to_num(table.blank_angle)
    for index in np.unique(chart.row_class[rows]).tolist():
        own = rows[chart.row_class[rows] == index]
        centres = view.points(np.column_stack([x[own], y[own]]))
        items += symbols(chart.classes[index], chart.fills[index], centres, angle[own], view.scale)
    located = rows[table.locating[rows]]
    reach = np.nan_to_num(table.diameter[located]) / 2 * view.scale
    items += locating_squares(reach, view.points(np.column_stack([x[located], y[located]])))
    strung = np.flatnonzero((hits.string != NONE) & (hits.x >= view.start) & (hits.x < view.end))
    if len(strung):
        items.append(circles(view.points(np.column_stack([hits.x[strung], hits.y[strung]])), 0.3, None, RED))
    return items + list(_stamped(hits, view))


def _stamped(hits: Hits, view: View) -> Iterator[Item]:
    for hit in np.flatnonzero(hits.row == NONE).tolist():
        stamp = hits.stamp_at(hit)
        if stamp and view.start <= hits.x[hit] < view.end:
            # Letters would be too small to read: a box as large as the words, which the notes name.
            half = np.array([len(stamp.text), 1.0]) * stamp.height / 2 * view.scale
            x, y = view.points(np.array([hits.x[hit], hits.y[hit]])).tolist()
            yield rectangle(x - half[0], y - half[1], x + half[0], y + half[1], EDGE, PALE)


def path_items(found: HitOrder, view: View) -> list[Item]:
    """The hit path: each leg in the line of the tool that it leads to, long ones with an arrowhead."""
    x, y, station = path_of(found.hits, found.stages, found.order)
    ends = np.stack([np.column_stack([x[:-1], y[:-1]]), np.column_stack([x[1:], y[1:]])], axis=1)
    leads_to = np.where(station[:-1] < 0, NONE, station[1:])
    real = ~np.isnan(ends).any(axis=(1, 2))
    items: list[Item] = []
    for own in np.unique(leads_to[real]).tolist():
        legs = ends[real & (leads_to == own)]
        pen = _IDLE if own == NONE else path_pen(own)
        items += _legs(legs, view, pen)
    return items


def _legs(legs: FloatArray, view: View, pen: Pen) -> list[Item]:
    items = list(view.lines(legs, pen))
    drawn = legs[(legs[:, :, 0].min(axis=1) <= view.end) & (legs[:, :, 0].max(axis=1) >= view.start)]
    heads = []
    for first, last in drawn:
        shown = clipped(np.array([[first, last]]), view.start, view.end)
        if not len(shown):
            continue
        a, b = view.points(shown[0])
        way = view.points(np.array([first, last]))
        length = float(np.hypot(*(b - a)))
        if length >= _LEAST_ARROW:
            along = (way[1] - way[0]) / np.hypot(*(way[1] - way[0]))
            across = np.array([-along[1], along[0]])
            tip = (a + b) / 2 + along * _ARROW / 2
            tail = tip - along * _ARROW
            heads.append(np.array([tip, tail + across * _ARROW / 3, tail - across * _ARROW / 3]))
    if heads:
        items.append(Figures("MLLZ", np.array(heads), None, pen.colour))
    return items


def runs_of(found: HitOrder) -> IntArray:
    """Places in the order (from 0) at which another tool or another stage begins."""
    station = found.hits.station[found.order]
    begins = (np.diff(station) != 0) | (np.diff(found.stage) != 0)
    return np.concatenate([[0], np.flatnonzero(begins) + 1])


def gauge_words(hits: Hits) -> str:
    """How the blank is laid in, in words."""
    press, stop = hits.press, "left" if hits.lie.stop_x == 0.0 else "right"
    edge, end = say(f"gauge.{press.gauge_edge}"), say(f"gauge.{press.gauge_end}")
    return say("setup.gauge", edge=edge, end=end, stop=say(f"gauge.{stop}"), x=hits.lie.stop_x)


def axes_items(left: float, y: float) -> list[Item]:
    """The press's axes as two small arrows, their corner at (left, y)."""
    arrow = np.array([[(5.5, 0.0), (4.2, 0.5), (4.2, -0.5)], [(0.0, 5.5), (0.5, 4.2), (-0.5, 4.2)]])
    corner = np.array([left, y])
    lines = [[(left, y), (left + 5.0, y)], [(left, y), (left, y + 5.0)]]
    return [
        segments(lines, EDGE),
        Figures("MLLZ", arrow + corner, None, BLACK),
        Text(left + 6.0, y - SMALL / 2, "x", SMALL),
        Text(left - 0.6, y + 6.4, "y", SMALL),
    ]
