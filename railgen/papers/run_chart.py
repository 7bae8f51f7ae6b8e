"""Run charts on paper: a small chart for each quantity, those in which something is to be seen first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from railgen.holes.table import BoolArray, FloatArray
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, fitted, printable
from railgen.papers.pdf import write_pdf
from railgen.papers.sheet import (
    BLACK,
    BLUE,
    EDGE,
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    OUTLINE,
    RED,
    Item,
    Pen,
    Sheet,
    Text,
    circles,
    polyline,
    rectangle,
    segments,
)
from railgen.papers.wording import say

_ACROSS, _DOWN = 2, 5
_HEAD = 14.0
_LEFT, _RIGHT, _BOTTOM, _TOP = 18.0, 4.0, 12.0, 9.0
"""mm of paper around a chart's field."""
_LIMIT = Pen(0.2, RED, (2.0, 1.0))
_MEAN = Pen(0.2, GREY, (4.0, 1.0))
_MOST_NAMES = 14


@dataclass(frozen=True, eq=False)
class Chart:
    """One chart: m points with the names below them, mean and limits (NaN for none), points to be seen, and words."""

    title: str
    unit: str
    names: tuple[str, ...]
    values: FloatArray
    mean: float
    lower: float
    upper: float
    signals: BoolArray
    words: tuple[str, ...]


def run_chart_pdf(charts: Sequence[Chart], title: str) -> bytes:
    """All charts as a PDF, A3 landscape, ten on a page. The same charts give the same bytes."""
    return write_pdf(run_chart_sheets(charts, title), title)


def run_chart_sheets(charts: Sequence[Chart], title: str) -> tuple[Sheet, ...]:
    """The sheets with all charts, in their order."""
    per_sheet = _ACROSS * _DOWN
    groups = [charts[first : first + per_sheet] for first in range(0, len(charts), per_sheet)] or [()]
    return tuple(
        Sheet(f"{number}", (*_frame(title, number, len(groups)), *_charts(group)))
        for number, group in enumerate(groups, 1)
    )


def _frame(title: str, number: int, count: int) -> Iterator[Item]:
    yield rectangle(FRAME_LEFT, FRAME_BOTTOM, FRAME_RIGHT, FRAME_TOP, OUTLINE)
    words = fitted(printable(title), LARGE, FRAME_RIGHT - FRAME_LEFT - 70, True)
    yield Text(FRAME_LEFT + 3, FRAME_TOP - 8, words, LARGE, bold=True)
    yield Text(FRAME_RIGHT - 3, FRAME_TOP - 8, say("page.sheet", sheet=number, sheets=count), MIDDLE, "right")
    yield Text(FRAME_LEFT + 3, FRAME_TOP - 12.5, say("run_chart.note"), SMALL)


def _charts(charts: Sequence[Chart]) -> Iterator[Item]:
    width = (FRAME_RIGHT - FRAME_LEFT) / _ACROSS
    height = (FRAME_TOP - FRAME_BOTTOM - _HEAD) / _DOWN
    for index, chart in enumerate(charts):
        row, column = divmod(index, _ACROSS)
        left, top = FRAME_LEFT + column * width, FRAME_TOP - _HEAD - row * height
        yield from _chart(chart, left, top - height, left + width, top)


def _chart(chart: Chart, left: float, bottom: float, right: float, top: float) -> Iterator[Item]:
    words = "; ".join(chart.words)
    yield Text(
        left + 3,
        top - 4.0,
        fitted(printable(f"{chart.title} ({chart.unit})"), MIDDLE, right - left - 6, True),
        MIDDLE,
        bold=True,
    )
    if words:
        yield Text(left + 3, top - 7.2, fitted(words, SMALL, right - left - 6), SMALL, colour=RED)
    field = (left + _LEFT, bottom + _BOTTOM, right - _RIGHT, top - _TOP)
    yield rectangle(*field, EDGE)
    low, high = _range(chart)
    x = _spread(len(chart.values), field[0], field[2])
    y = field[1] + (chart.values - low) / (high - low) * (field[3] - field[1])
    for level, pen in ((chart.mean, _MEAN), (chart.lower, _LIMIT), (chart.upper, _LIMIT)):
        if not np.isnan(level):
            at = field[1] + (level - low) / (high - low) * (field[3] - field[1])
            yield segments([[(field[0], at), (field[2], at)]], pen)
            yield Text(field[0] - 1, at - SMALL / 2, f"{level:.3f}", SMALL, "right")
    points = np.stack([x, y], axis=-1)
    if len(points) > 1:
        yield polyline(points, Pen(0.2, BLUE))
    for marked, colour in ((False, BLUE), (True, RED)):
        chosen = points[chart.signals == marked]
        if len(chosen):
            yield circles(chosen, 0.8, None, colour)
    step = max(1, -(-len(points) // _MOST_NAMES))
    for row in range(0, len(points), step):
        yield Text(float(x[row]), field[1] - 3.2, printable(chart.names[row]), SMALL, "middle", colour=BLACK)


def _range(chart: Chart) -> tuple[float, float]:
    """The values that the field's lower and upper edge stand for."""
    levels = [*chart.values.tolist(), *(level for level in (chart.lower, chart.upper, chart.mean) if level == level)]
    low, high = min(levels), max(levels)
    room = max((high - low) * 0.12, 0.01)
    return low - room, high + room


def _spread(count: int, left: float, right: float) -> FloatArray:
    return left + (np.arange(count) + 0.5) * (right - left) / max(count, 1)
