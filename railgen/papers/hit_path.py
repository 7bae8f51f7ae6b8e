"""The hit path of one blank, drawn in strips one below the other, with a legend of the tools."""

from __future__ import annotations

from math import ceil

import numpy as np

from railgen.papers.fonts import MIDDLE, SMALL, fitted, text_width
from railgen.papers.labels import place_labels
from railgen.papers.legend import legend_symbol
from railgen.papers.press_view import (
    blank_items,
    clamp_items,
    hole_items,
    path_items,
    path_pen,
    press_view,
    runs_of,
)
from railgen.papers.setup_tables import station_name
from railgen.papers.sheet import (
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    OUTLINE,
    THIN,
    Item,
    Pen,
    Text,
    rectangle,
    segments,
)
from railgen.papers.symbols import HoleChart
from railgen.papers.title_block import BLOCK_LEFT, STRIP_TOP
from railgen.papers.views import View
from railgen.papers.wording import say
from railgen.shop.hit_order import HitOrder
from railgen.shop.press_stages import Stage
from railgen.shop.station_uses import station_uses

_LEFT, _RIGHT = FRAME_LEFT + 8.0, FRAME_RIGHT - 8.0
_SCALES = tuple(scale / 2 for scale in range(10, 81))
_ROW, _MOST_ROWS, _JOG = 2.7, 4, 2.2
_RULER = 6.0
_HEADER = 9.0
_STEP, _NUMBERED = 100.0, 500.0
_LEADER = Pen(0.13, "#707070")
_GAP = 0.6


def path_scale(found: HitOrder) -> float:
    """Millimetres of steel for one of paper: the largest scale at which all strips go on one sheet."""
    lie = found.hits.lie
    room = FRAME_TOP - _HEADER - STRIP_TOP - 2.0
    fitting = (s for s in _SCALES if _strips(lie.length, s) * _strip_height(lie.width, s) <= room)
    return next(fitting, _SCALES[-1])


def _strips(length: float, scale: float) -> int:
    return ceil(length / ((_RIGHT - _LEFT) * scale))


def _strip_height(width: float, scale: float) -> float:
    return _MOST_ROWS * _ROW + _JOG + width / scale + _RULER


def path_sheet(found: HitOrder, chart: HoleChart) -> list[Item]:
    """Everything inside the frame but the title block."""
    lie, scale = found.hits.lie, path_scale(found)
    count = _strips(lie.length, scale)
    spare = FRAME_TOP - _HEADER - STRIP_TOP - count * _strip_height(lie.width, scale)
    items: list[Item] = [
        Text(
            FRAME_LEFT + 4,
            FRAME_TOP - 6.5,
            say("hit_path.title"),
            MIDDLE,
            bold=True,
        )
    ]
    length = lie.length / count
    for strip in range(count):
        top = FRAME_TOP - _HEADER - strip * (_strip_height(lie.width, scale) + spare / count)
        base = top - _MOST_ROWS * _ROW - _JOG - lie.width / scale
        view = press_view(found.hits, strip * length, (strip + 1) * length, _LEFT, base, 1 / scale)
        items += _strip(found, chart, view)
    return items + _legend(found, chart)


def _strip(found: HitOrder, chart: HoleChart, view: View) -> list[Item]:
    return [
        *clamp_items(found, view),
        *blank_items(found.hits, view),
        *path_items(found, view),
        *hole_items(found.hits, chart, view),
        *_ruler(view),
        *_flags(found, view),
    ]


def _ruler(view: View) -> list[Item]:
    """Press x below the strip."""
    y = view.base - 2.0
    marks = np.arange(ceil(view.start / _STEP - 1e-9), int(view.end / _STEP + 1e-9) + 1, dtype=np.float64) * _STEP
    x = view.x(marks)
    ticks = np.where(marks % _NUMBERED == 0.0, 1.6, 0.8)
    ends = np.stack([np.column_stack([x, np.full(len(x), y)]), np.column_stack([x, y - ticks])], axis=1)
    items: list[Item] = [segments(ends, THIN)]
    for mark, at in zip(marks.tolist(), x.tolist(), strict=True):
        if mark % _NUMBERED == 0.0:
            items.append(Text(at, y - 2.0 - SMALL, f"{mark:.0f}", SMALL, "middle"))
    return items


def _flags(found: HitOrder, view: View) -> list[Item]:
    """A flag at the first hit of every run of one tool that begins in the strip."""
    hits, names = found.hits, _station_names(found)
    begun = [
        (int(hit), place + 1)
        for place, hit in ((p, found.order[p]) for p in runs_of(found).tolist())
        if view.start <= hits.x[hit] < view.end or (hits.x[hit] == view.end == hits.lie.length)
    ]
    begun.sort(key=lambda pair: (hits.x[pair[0]], pair[1]))
    words = [f"{place} T{names[int(hits.station[hit])]}{_stopped(found, place - 1)}" for hit, place in begun]
    x = view.x(np.array([hits.x[hit] for hit, _ in begun], dtype=np.float64))
    widths = np.array([text_width(text, SMALL, True) + 2 * _GAP for text in words], dtype=np.float64)
    placing = place_labels(x, widths, _LEFT - 4, _RIGHT + 6, _MOST_ROWS)
    if placing is None:
        return []
    items: list[Item] = []
    edge = view.upper
    for (hit, _), text, target, staff, row, leftward in zip(
        begun,
        words,
        x.tolist(),
        placing.staff.tolist(),
        placing.row.tolist(),
        placing.leftward.tolist(),
        strict=True,
    ):
        level = edge + _JOG + _ROW * row
        y = float(view.y(float(hits.y[hit])))
        line = [[(target, y), (target, edge + 0.4)], [(target, edge + 0.4), (staff, edge + _JOG - 0.4)]]
        line.append([(staff, edge + _JOG - 0.4), (staff, level + SMALL)])
        items.append(segments(line, _LEADER))
        at = staff - _GAP if leftward else staff + _GAP
        items.append(Text(at, level, text, SMALL, "right" if leftward else "left", bold=True))
    return items


def _stopped(found: HitOrder, place: int) -> str:
    """What was done ahead of the hit at a place in the order, where another stage begins with it."""
    stages = found.stages.stages
    now = stages[int(found.stage[place])]
    loaded = Stage(1, 1, 0)
    before = stages[int(found.stage[place - 1])] if place else loaded
    words = []
    if now.feed_pass != before.feed_pass:
        words, before = [say("hit_path.run", number=now.feed_pass)], Stage(now.feed_pass, before.mounting, loaded.shift)
    if now.mounting != before.mounting:
        words.append(say("hit_path.mounting", number=now.mounting))
    if now.shift != before.shift:
        words.append(say("hit_path.moved"))
    return "".join(f" {word}" for word in words)


def _station_names(found: HitOrder) -> list[str]:
    return [station_name(found, use) for use in station_uses(found)]


_COLUMNS, _ROWS = 3, 9


def _legend(found: HitOrder, chart: HoleChart) -> list[Item]:
    """The tools left of the title block: line, symbol, station, name and hits."""
    items: list[Item] = [rectangle(FRAME_LEFT, FRAME_BOTTOM, BLOCK_LEFT, STRIP_TOP, OUTLINE)]
    items.append(Text(FRAME_LEFT + 2, STRIP_TOP - 3.6, say("hit_path.tools"), SMALL, bold=True))
    width = (BLOCK_LEFT - FRAME_LEFT) / _COLUMNS
    uses = station_uses(found)
    for place, use in enumerate(uses[: _COLUMNS * _ROWS]):
        column, row = divmod(place, _ROWS)
        x, y = FRAME_LEFT + column * width + 2, STRIP_TOP - 8.2 - 4.2 * row
        items.append(segments([[(x, y), (x + 11, y)]], path_pen(place)))
        hole = int(found.hits.row[use.first])
        if hole >= 0:
            index = int(chart.row_class[hole])
            items += legend_symbol(chart.classes[index], chart.fills[index], x + 14.5, y)
        count = say("hit_path.hit" if use.hits == 1 else "hit_path.hits", count=use.hits)
        words = say("hit_path.tool", station=station_name(found, use), tool=use.station.tool.id, hits=count)
        items.append(Text(x + 18, y - SMALL / 2, fitted(words, SMALL, width - 21), SMALL))
    return items
