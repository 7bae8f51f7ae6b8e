"""The ruler of an elevation sheet: stations from the front axle, in which anchors and findings are given."""

from __future__ import annotations

import numpy as np

from railgen.data.values import MM_PER_INCH
from railgen.papers.fonts import SMALL
from railgen.papers.sheet import FRAME_LEFT, THIN, Item, Text, segments
from railgen.papers.style import DrawingStyle
from railgen.papers.views import View
from railgen.papers.wording import say

_SHORT, _MIDDLE, _LONG = 0.8, 1.4, 2.2
"""Lengths of ticks, mm of paper."""
_STEPS = {"mm": (1.0, 10, 50, 100), "in": (MM_PER_INCH, 1, 5, 10)}
"""Unit in mm; ticks, middle ticks and numbers every so many units."""


def station_ruler(view: View, y: float, style: DrawingStyle, ends: tuple[float, float]) -> list[Item]:
    """A ruler along the view, its line at `y`, ticks and numbers below it; inches on a drawing in inches alone.

    It reaches as far as the part, whose ends are the stations `ends`, mm.
    """
    unit, step, middle, numbers = _STEPS["in" if style.units == "in" else "mm"]
    start, end = max(view.start, ends[0]), min(view.end, ends[1])
    first, last = np.ceil(start / unit / step - 1e-9), np.floor(end / unit / step + 1e-9)
    marks = np.arange(first, last + 1).astype(int) * step
    x = view.x(marks * unit)
    length = np.where(marks % numbers == 0, _LONG, np.where(marks % middle == 0, _MIDDLE, _SHORT))
    ticks = np.stack([np.stack([x, np.full(len(x), y)], -1), np.stack([x, y - length], -1)], axis=1)
    line = [[(float(view.x(start)), y), (float(view.x(end)), y)]]
    items: list[Item] = [segments(line, THIN), segments(ticks, THIN)]
    numbered = marks % numbers == 0
    for mark, at in zip(marks[numbered].tolist(), x[numbered].tolist(), strict=True):
        items.append(Text(at, y - 2.8 - SMALL, str(mark), SMALL, "middle"))
    return [*items, Text(FRAME_LEFT + 2, y + 0.8, say("elevation.from_axle"), SMALL)]
