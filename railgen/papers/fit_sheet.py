"""Where a component fits, under the rail: each side's elevation with its holes and feet, free stations as bars beneath.

A3 landscape. Both rails stand with their front to the left, so that stations lie one above the other: the RH rail is
seen through from inside. The component is drawn in blue at the nearest free station and, where that is another, in red
outlines at the wanted one. What bounds each bar is listed below, by number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count
from math import ceil, floor

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import FACES, RAIL, SHAPES, SIDES
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import hole_table, rail_features
from railgen.layout.place import place_one, placements
from railgen.papers.feet import foot_figures
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, fitted, printable, text_width
from railgen.papers.labels import spread
from railgen.papers.overlay import hole_outline
from railgen.papers.overlay_subject import OverlayHole
from railgen.papers.part import drawn_rail
from railgen.papers.sheet import (
    BLUE,
    FINE,
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    OUTLINE,
    RED,
    THIN,
    Figures,
    Item,
    Pen,
    Sheet,
    Text,
    rectangle,
    segments,
)
from railgen.papers.style import number
from railgen.papers.subject import Subject, subject_of
from railgen.papers.symbols import symbols
from railgen.papers.tables import Column, Row, table_height, table_pages
from railgen.papers.views import View, grid_lines, part_lines
from railgen.papers.wording import cautions, say
from railgen.placing.fit import Fit
from railgen.placing.free import Bound, FreeInterval, Interval

FREE, FREE_PEN, CLOSED = "#7fb28a", Pen(0.18, "#2f6b3c"), "#f0e4e0"
"""Colours of free stations and of what lies between them."""
_TOGETHER, _TOGETHER_PEN = "#2f6b3c", Pen(0.18, "#1d4526")
_WANTED_PEN, _NEAREST_PEN = Pen(0.25, RED, (1.6, 0.8)), Pen(0.25, BLUE)
_LEFT, _RIGHT = FRAME_LEFT + 14.0, FRAME_RIGHT - 8.0
_FOOT = FRAME_BOTTOM + 18.0
_HEAD = 24.0
_MARGIN = 250.0
"""mm of rail shown beyond the window."""
_GAP, _BAR, _NUMBERS = 2.0, 4.0, 5.0
_RULER = 8.0
_COLUMNS = (
    ("number", 9.0, True),
    ("side", 10.0, False),
    ("from", 19.0, True),
    ("to", 19.0, True),
    ("length", 19.0, True),
    ("ahead", 151.0, False),
    ("behind", 151.0, False),
)


@dataclass(frozen=True)
class _Stretch:
    """Stations shown (mm) and paper for one mm of steel."""

    start: float
    end: float
    scale: float

    def x(self, station: float) -> float:
        """x on the sheet of a station."""
        return _LEFT + (station - self.start) * self.scale


def fit_sheets(found: Fit, catalogue: Catalogue) -> tuple[Sheet, ...]:
    """The picture and, under it or on as many sheets as they need, what bounds the free intervals."""
    stretch = _stretch(found)
    items: list[Item] = []
    top, first = FRAME_TOP - _HEAD, 1
    for side, intervals in found.free.sides.items():
        block, top = _side(found, catalogue, side, stretch, top, first)
        items += block
        first += len(intervals)
    if len(found.free.sides) > 1:
        bars = [(interval, None) for interval in found.free.together]
        items += _bars(stretch, top, bars, found.free.window, _TOGETHER, _TOGETHER_PEN)
        items.append(Text(FRAME_LEFT + 2, top - _BAR + 0.8, say("fit.both"), MIDDLE, bold=True))
        top -= _BAR + 3.0
    items += _guides(found, stretch, FRAME_TOP - _HEAD + 1.0, top)
    rows = [Row(cells) for cells in _rows(found)]
    columns = [Column(say(f"fit_table.{key}"), width, right) for key, width, right in _COLUMNS]
    under = top - 4.0 - table_height(columns, rows) > _FOOT + 3
    pages = table_pages(columns, rows, FRAME_LEFT + 6, top - 4.0 if under else FRAME_TOP - 16, _FOOT + 3)
    bodies = [[*items, *pages[0]]] if under else [items, *(list(page) for page in pages)]
    return tuple(
        Sheet(f"{place}", (*body, *_frame(found, stretch, place, len(bodies)))) for place, body in enumerate(bodies, 1)
    )


def _stretch(found: Fit) -> _Stretch:
    rail = found.plan.order.rail
    start = max(rail.front - 20.0, found.free.window[0] - _MARGIN)
    end = min(rail.rear + 20.0, found.free.window[1] + _MARGIN)
    rows = max(len(found.free.sides), 1)
    # As large as the breadth of the sheet allows, and as half of its height for all sides.
    tall = (rail.section.depth + 2 * rail.section.flange) * rows
    scale = min((_RIGHT - _LEFT) / (end - start), 120.0 / tall, 1.0)
    spare = (_RIGHT - _LEFT) / scale - (end - start)
    start = max(rail.front - 20.0, start - spare / 2)
    end = min(rail.rear + 20.0, start + (_RIGHT - _LEFT) / scale)
    return _Stretch(max(rail.front - 20.0, end - (_RIGHT - _LEFT) / scale), end, scale)


def _side(
    found: Fit, catalogue: Catalogue, side: str, stretch: _Stretch, top: float, first: int
) -> tuple[list[Item], float]:
    """One side's elevation with its bars; and how far down it reaches."""
    subject, index = _subject(found, catalogue), SIDES.index(side)
    rail = found.plan.order.rail
    flange, depth = rail.section.flange * stretch.scale, rail.section.depth * stretch.scale
    common = (stretch.start, stretch.end, _LEFT)
    web = top - flange - _GAP - depth
    views = (
        View(Face.TOP, *common, top - flange, stretch.scale, rail.section.flange),
        View(Face.WEB, *common, web, stretch.scale, rail.section.depth),
        View(Face.BOTTOM, *common, web - _GAP, stretch.scale, rail.section.flange, down=True),
    )
    part = drawn_rail(rail)
    items: list[Item] = []
    for view in views:
        items += grid_lines(view)
        items += foot_figures(subject, index, view)
        items += part_lines(part, view)
        items += _holes(subject, index, view)
        items += _ghosts(found, catalogue, index, view)
    items.append(Text(FRAME_LEFT + 2, web + depth / 2 - LARGE / 2, side, LARGE, bold=True))
    low = views[-1].lower
    items += _ruler(stretch, low, rail.front, rail.rear)
    low -= _RULER
    numbered = [((i.start, i.end), first + n) for n, i in enumerate(found.free.sides[side])]
    items += _bars(stretch, low, numbered, found.free.window, FREE, FREE_PEN)
    return items, low - _BAR - _NUMBERS - 3.0


def _subject(found: Fit, catalogue: Catalogue) -> Subject:
    """The serial without the component."""
    holes = hole_table(found.plan.order, catalogue, found.standing)
    return subject_of(replace(found.plan, placements=found.standing, holes=holes, findings=()))


def _holes(subject: Subject, side: int, view: View) -> list[Item]:
    table, chart = subject.holes, subject.chart
    shown = (table.side == side) & (table.part == RAIL) & (table.face == view.face)
    shown &= (table.station - subject.along >= view.start) & (table.station + subject.along <= view.end)
    items: list[Item] = []
    for index, (kind, fill) in enumerate(zip(chart.classes, chart.fills, strict=True)):
        rows = np.flatnonzero(shown & (chart.row_class == index))
        if len(rows):
            centres = view.points(np.stack([table.station[rows], table.across[rows]], axis=-1))
            drawn = symbols(kind, fill, centres, view.angle(np.nan_to_num(table.angle[rows])), view.scale)
            items += [replace(i, pen=Pen(0.13)) if isinstance(i, Figures) and i.pen else i for i in drawn]
    return items


def _ghosts(found: Fit, catalogue: Catalogue, side: int, view: View) -> Iterator[Item]:
    """The component at the wanted station in red, at the nearest free one in blue over it."""
    if found.wanted != found.nearest:
        yield from _ghost(found, catalogue, side, view, found.wanted, Pen(0.2, RED, (1.0, 0.5)), None)
    if found.nearest is not None:
        yield from _ghost(found, catalogue, side, view, found.nearest, Pen(0.25, BLUE), "#c9d9ec")


def _ghost(
    found: Fit, catalogue: Catalogue, side: int, view: View, station: float, pen: Pen, fill: str | None
) -> Iterator[Item]:
    order = found.plan.order
    standing = placements(place_one(found.component, station, order, catalogue))
    table = rail_features(order, catalogue, standing)
    shown = replace(found.plan, placements=standing, holes=table, findings=())
    for figure in foot_figures(subject_of(shown), side, view):
        if isinstance(figure, Figures):
            yield replace(figure, pen=pen, fill=fill and "#e6eef7")
    rows = (table.side == side) & (table.face == view.face)
    rows &= (table.station >= view.start) & (table.station <= view.end)
    for row in np.flatnonzero(rows).tolist():
        shape, sizes = SHAPES[table.shape[row]], (table.diameter[row], table.length[row], table.angle[row])
        diameter, length, angle = np.nan_to_num(sizes).tolist()
        place = SIDES[side], FACES[table.face[row]], float(table.station[row]), float(table.across[row])
        yield hole_outline(OverlayHole("same", *place, shape, diameter, length, angle), view, pen, fill)


def _ruler(stretch: _Stretch, y: float, front: float, rear: float) -> Iterator[Item]:
    """Stations every 500 mm, or every 100 where there is room."""
    step = 500 if stretch.end - stretch.start > 2500 else 100
    stations = np.arange(ceil(max(stretch.start, front) / step), floor(min(stretch.end, rear) / step) + 1) * step
    for station in stations.tolist():
        x = stretch.x(station)
        yield segments([[(x, y - 0.6), (x, y - 2.0)]], THIN)
        yield Text(x, y - 2.6 - SMALL, str(station), SMALL, "middle", colour=GREY)


def _bars(
    stretch: _Stretch,
    top: float,
    intervals: Sequence[tuple[Interval, int | None]],
    window: Interval,
    fill: str,
    pen: Pen,
) -> Iterator[Item]:
    """Free stations on the window's ground, each with its number below."""
    yield rectangle(stretch.x(window[0]), top - _BAR, stretch.x(window[1]), top, Pen(0.1, GREY), CLOSED)
    for (start, end), _ in intervals:
        yield rectangle(stretch.x(start), top - _BAR, stretch.x(end), top, pen, fill)
    named = [(stretch.x((start + end) / 2), str(name)) for (start, end), name in intervals if name is not None]
    widths = np.array([text_width(name, SMALL) + 1.2 for _, name in named])
    places = spread(np.array([x for x, _ in named]), widths, _LEFT, _RIGHT)
    if places is None:
        return
    for (x, name), at in zip(named, places.tolist(), strict=True):
        yield segments([[(x, top - _BAR), (at, top - _BAR - 1.4)]], FINE)
        yield Text(at, top - _BAR - 2.0 - SMALL, name, SMALL, "middle")


def _guides(found: Fit, stretch: _Stretch, top: float, bottom: float) -> Iterator[Item]:
    """Lines through everything at the wanted and the nearest free station, with their figures."""
    marks = [(found.wanted, _WANTED_PEN, f"{say('fit.wanted')} {number(found.wanted, 3)}", RED)]
    if found.nearest is not None:
        same = found.nearest == found.wanted
        words = say("fit.wanted_free" if same else "fit.nearest")
        marks = [] if same else marks
        marks.append((found.nearest, _NEAREST_PEN, f"{words} {number(found.nearest, 3)}", BLUE))
    shown = [mark for mark in sorted(marks) if stretch.start <= mark[0] <= stretch.end]
    for place, (station, pen, words, colour) in enumerate(shown):
        x = stretch.x(station)
        yield segments([[(x, bottom), (x, top + 1.0)]], pen)
        # Of two the foremost has its words to the left; one alone on the side with more room.
        left = place == 0 if len(shown) > 1 else x > (_LEFT + _RIGHT) / 2
        yield Text(x - 1.2 if left else x + 1.2, top + 1.4, words, MIDDLE, "right" if left else "left", True, colour)


def _rows(found: Fit) -> Iterator[tuple[str, ...]]:
    numbers = count(1)
    for side, intervals in found.free.sides.items():
        for interval in intervals:
            yield (
                str(next(numbers)),
                side,
                *_figures(interval),
                _closed_by(interval.ahead),
                _closed_by(interval.behind),
            )


def _figures(interval: FreeInterval) -> tuple[str, ...]:
    return tuple(f"{value:.3f}" for value in (interval.start, interval.end, interval.end - interval.start))


def _closed_by(bound: Bound | None) -> str:
    """What bounds an interval: rule and measure, the component's own hole, and what it meets."""
    if bound is None:
        return say("fit.window_end")
    rule, other = f"{bound.rule} {bound.measure}", bound.other or ", ".join(bound.components)
    if bound.hole and other:
        return say("fit.bound_pair", rule=rule, hole=bound.hole, other=other)
    return say("fit.bound", rule=rule, what=bound.hole or other) if bound.hole or other else rule


def _frame(found: Fit, stretch: _Stretch, place: int, count: int) -> Iterator[Item]:
    """Frame, title, legend and cautions."""
    yield rectangle(FRAME_LEFT, FRAME_BOTTOM, FRAME_RIGHT, FRAME_TOP, OUTLINE)
    yield segments([[(FRAME_LEFT, _FOOT), (FRAME_RIGHT, _FOOT)]], OUTLINE)
    order = found.plan.order
    yield Text(FRAME_LEFT + 4, FRAME_TOP - 8, fitted(printable(fit_title(found)), LARGE, 260, True), LARGE, bold=True)
    about = say(
        "fit.about",
        component=found.component.name,
        family=order.family.name,
        wheelbase=order.dimensions["wheelbase"],
    )
    yield Text(FRAME_LEFT + 4, FRAME_TOP - 13, fitted(printable(about), MIDDLE, 260), MIDDLE)
    right = say("fit.sheet", limits=order.limit_set, scale=1 / stretch.scale, sheet=place, sheets=count)
    yield Text(FRAME_RIGHT - 4, FRAME_TOP - 8, right, MIDDLE, "right")
    x = FRAME_LEFT + 4.0
    for fill, pen, key in _LEGEND:
        words = say(f"fit.{key}")
        yield rectangle(x, _FOOT - 5.2, x + 5, _FOOT - 3.0, pen, fill)
        yield Text(x + 6.5, _FOOT - 5.0, words, SMALL)
        x += text_width(words, SMALL) + 14.0
    for line, text in enumerate((say("fit.how_to_read"), " ".join(cautions()))):
        yield Text(FRAME_LEFT + 4, _FOOT - 9.5 - 3.4 * line, text, SMALL)


_LEGEND = (
    (FREE, FREE_PEN, "is_free"),
    (CLOSED, Pen(0.1, GREY), "is_closed"),
    (_TOGETHER, _TOGETHER_PEN, "is_together"),
    ("#c9d9ec", Pen(0.25, BLUE), "is_nearest"),
    (None, Pen(0.2, RED, (1.0, 0.5)), "is_wanted"),
)


def fit_title(found: Fit) -> str:
    """What the sheets show, in words."""
    return say("fit.title", component=found.component.id, serial=found.plan.serial)


def fit_pdf(found: Fit, catalogue: Catalogue) -> bytes:
    """The sheets as a PDF; the same figures give the same bytes."""
    from railgen.papers.pdf import write_pdf

    return write_pdf(fit_sheets(found, catalogue), fit_title(found))
