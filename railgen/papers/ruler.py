"""Rulers: stations along the rail, heights across a view."""

from __future__ import annotations

import numpy as np

from railgen.papers.fonts import SMALL
from railgen.papers.sheet import EDGE, FRAME_LEFT, THIN, Item, Text, segments
from railgen.papers.views import View

_STEP, _MIDDLE_STEP, _NUMBER_STEP = 10, 50, 100
_SHORT, _MIDDLE, _LONG = 0.8, 1.4, 2.2
"""Lengths of ticks, mm of paper."""
_LEAST_BETWEEN = 3.0
"""Least distance (mm of paper) between two numbers of a ruler across a view."""


def station_ruler(view: View, y: float, zero: float, name: tuple[str, str], ends: tuple[float, float]) -> list[Item]:
    """A ruler along the view, its line at `y`, ticks and numbers below it, counted from station `zero` to the rear.

    It reaches as far as the rail, whose ends are the stations `ends`, mm.
    """
    start, end = max(view.start, ends[0]), min(view.end, ends[1])
    marks = (
        np.arange(np.ceil((start - zero) / _STEP - 1e-9), np.floor((end - zero) / _STEP + 1e-9) + 1).astype(int) * _STEP
    )
    x = view.x(marks + zero)
    length = np.where(marks % _NUMBER_STEP == 0, _LONG, np.where(marks % _MIDDLE_STEP == 0, _MIDDLE, _SHORT))
    ticks = np.stack([np.stack([x, np.full(len(x), y)], -1), np.stack([x, y - length], -1)], axis=1)
    items: list[Item] = [
        segments([[(float(view.x(start)), y), (float(view.x(end)), y)]], EDGE),
        segments(ticks, THIN),
    ]
    numbered = marks % _NUMBER_STEP == 0
    for mark, at in zip(marks[numbered].tolist(), x[numbered].tolist(), strict=True):
        items.append(Text(at, y - 2.8 - SMALL, str(mark), SMALL, "middle"))
    items += [Text(FRAME_LEFT + 2, y - 2.2 - 2.9 * n, line, SMALL, bold=n == 1) for n, line in enumerate(name)]
    return items


def across_ruler(view: View, ends: tuple[float, float]) -> list[Item]:
    """Heights beside the left end of a view, every 50 mm and at its edge; the rail's ends are the stations `ends`."""
    steps = [float(mark) for mark in range(0, int(view.breadth) + 1, _MIDDLE_STEP)]
    marks = [mark for mark in steps if (view.breadth - mark) * view.scale >= _LEAST_BETWEEN] + [view.breadth]
    left = max(view.left, float(view.x(np.array(ends)).min())) - 0.6
    ticks = [[(left, float(view.y(mark))), (left - 1.2, float(view.y(mark)))] for mark in marks]
    numbers = [Text(left - 1.8, float(view.y(mark)) - SMALL / 2, f"{mark:.0f}", SMALL, "right") for mark in marks]
    return [segments(ticks, THIN), *numbers]
