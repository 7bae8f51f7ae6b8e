"""A long rail cut into stretches, one a sheet, at match lines clear of holes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from math import ceil

import numpy as np

from railgen.holes.table import LINER, BoolArray, FloatArray
from railgen.papers.subject import Subject

SCALE = 5
"""Millimetres of steel for one of paper: the drawing's scale is 1:5 on every elevation sheet."""
VIEW_WIDTH = 360.0
"""Greatest length of a view, mm of paper."""
OVERLAP = 25.0
"""Steel (mm) drawn beyond a match line, so that holes beside it are whole on both sheets."""
LEAST_STRETCH = 300.0
CLEAR = 20.0
"""A match line at least this far (mm) from every hole is as good as one further off."""
_STEP = 5.0


@dataclass(frozen=True)
class Stretch:
    """Stations `start` to `end` belong to the sheet; it is drawn from `drawn_start` to `drawn_end`. mm.

    `start` is minus infinity on the first sheet and `end` infinity on the last, for features outside the rail.
    """

    start: float
    end: float
    drawn_start: float
    drawn_end: float

    def holds(self, station: FloatArray | float) -> BoolArray:
        """Which stations, any shape, belong to this sheet and to no other."""
        along = np.asarray(station)
        return np.asarray((along >= self.start) & (along < self.end))

    def shows(self, station: FloatArray | float) -> BoolArray:
        """Which stations, any shape, are drawn on this sheet."""
        along = np.asarray(station)
        return np.asarray((along >= self.drawn_start) & (along <= self.drawn_end))

    def bears(self, station: FloatArray | float) -> BoolArray:
        """Which stations, any shape, belong to this sheet and are drawn on it."""
        return self.holds(station) & self.shows(station)


def least_count(subject: Subject) -> int:
    """Fewest stretches that the rail's length needs."""
    return max(ceil(subject.plan.order.rail.length / _longest()), 1)


def greatest_count(subject: Subject) -> int:
    """Most stretches a rail is cut into, however crowded."""
    return max(int(subject.plan.order.rail.length / LEAST_STRETCH), least_count(subject))


def _longest() -> float:
    return VIEW_WIDTH * SCALE - 2 * OVERLAP


def stretches(subject: Subject, count: int) -> tuple[Stretch, ...]:
    """The rail in `count` stretches of about one length, the same on both sides."""
    rail = subject.plan.order.rail
    length = rail.length / count
    slack = max(min(_longest() - length, length / 2) / 2, 0.0)
    taken = _taken(subject)
    cuts = [rail.front, *(_cut(rail.front + n * length, slack, taken) for n in range(1, count)), rail.rear]
    starts, ends = [-np.inf, *cuts[1:-1]], [*cuts[1:-1], np.inf]
    drawn = [[a - OVERLAP, b + OVERLAP] for a, b in pairwise(cuts)]
    _take_in_strays(drawn, taken)
    return tuple(Stretch(a, b, *drawn_ends) for a, b, drawn_ends in zip(starts, ends, drawn, strict=True))


def _take_in_strays(drawn: list[list[float]], taken: FloatArray) -> None:
    """Widen the first and last sheet to features that lie outside the rail, as far as the view goes."""
    if not len(taken):
        return
    room = VIEW_WIDTH * SCALE
    first, last = drawn[0], drawn[-1]
    first[0] = max(min(first[0], float(taken[:, 0].min()) - OVERLAP), first[1] - room)
    last[1] = min(max(last[1], float(taken[:, 1].max()) + OVERLAP), last[0] + room)


def _taken(subject: Subject) -> FloatArray:
    """Intervals (n, 2) of stations, mm, that a match line keeps clear of: features and the taper's apex."""
    holes, taper = subject.holes, subject.plan.order.rail.taper
    rows = holes.part != LINER
    station, reach = holes.station[rows], subject.along[rows]
    taken = np.stack([station - reach, station + reach], axis=-1)
    if taper is None:
        return taken
    apex = [min(taper.front, taper.apex[0] - taper.relief_radius), taper.apex[0] + taper.relief_radius]
    return np.concatenate([taken, [apex]])


def _cut(nominal: float, slack: float, taken: FloatArray) -> float:
    """The station within `slack` of `nominal` that is clear of everything, the nearest of these."""
    steps = int(slack / _STEP)
    candidates = round(nominal / _STEP) * _STEP + _STEP * np.arange(-steps, steps + 1)
    if not len(taken):
        return float(candidates[steps])
    apart = np.maximum(taken[:, 0] - candidates[:, None], candidates[:, None] - taken[:, 1]).min(axis=1)
    clear = np.minimum(apart, CLEAR)
    best = np.lexsort((np.abs(candidates - nominal), -clear))[0]
    return float(candidates[best])
