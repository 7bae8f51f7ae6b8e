"""A long rail cut into stretches, one a sheet, at match lines clear of holes."""

from __future__ import annotations

from dataclasses import dataclass
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
"""A crowded rail is cut into stretches no shorter than this, mm."""
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


def first_cuts(subject: Subject) -> tuple[float, ...]:
    """Stations of the rail's ends and of the match lines between stretches of about one length, as few as it takes."""
    rail = subject.plan.order.rail
    longest = VIEW_WIDTH * SCALE - 2 * OVERLAP
    count = max(ceil(rail.length / longest), 1)
    length, taken = rail.length / count, _taken(subject)
    slack = max(min(longest - length, length / 2) / 2, 0.0)
    return (rail.front, *(_cut(rail.front + n * length, slack, taken) for n in range(1, count)), rail.rear)


def middle_cut(subject: Subject, start: float, end: float) -> float | None:
    """Station of a match line near the middle between two others, None where they are too close to part."""
    if end - start < 2 * LEAST_STRETCH:
        return None
    slack = min((end - start) / 2 - LEAST_STRETCH, (end - start) / 8)
    return _cut((start + end) / 2, slack, _taken(subject))


def stretch_between(subject: Subject, start: float, end: float) -> Stretch:
    """The stretch between two match lines; it takes in what lies outside the rail's ends, as far as the view goes."""
    rail, taken = subject.plan.order.rail, _taken(subject)
    drawn_start, drawn_end, room = start - OVERLAP, end + OVERLAP, VIEW_WIDTH * SCALE
    if start <= rail.front and len(taken):
        drawn_start = max(min(drawn_start, float(taken[:, 0].min()) - OVERLAP), drawn_end - room)
    if end >= rail.rear and len(taken):
        drawn_end = min(max(drawn_end, float(taken[:, 1].max()) + OVERLAP), drawn_start + room)
    own_start, own_end = -np.inf if start <= rail.front else start, np.inf if end >= rail.rear else end
    return Stretch(own_start, own_end, drawn_start, drawn_end)


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
