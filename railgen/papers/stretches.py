"""A long part cut into stretches, one a sheet, at match lines clear of holes."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

import numpy as np

from railgen.holes.table import RAIL, BoolArray, FloatArray
from railgen.papers.part import DrawnPart
from railgen.papers.subject import Subject

SCALE = 5
"""Millimetres of steel for one of paper: the drawing's scale is 1:5 on every elevation sheet."""
OVERLAP = 20.0
"""Steel (mm) drawn beyond a match line, so that holes beside it are whole on both sheets."""
LEAST_STRETCH = 300.0
"""A crowded rail is cut into stretches no shorter than this, mm."""
CLEAR = 20.0
"""A match line at least this far (mm) from every hole is as good as one further off."""
_LEAST_CLEAR = 3.0
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


def first_cuts(subject: Subject, part: DrawnPart, width: float) -> tuple[float, ...]:
    """Stations of the part's ends and of the match lines between stretches of about one length, as few as it takes.

    One stretch more is taken where fewer leave a match line no place between the holes. `width`: the greatest length of
    a view, mm of paper.
    """
    longest, obstacles = width * SCALE - 2 * OVERLAP, _obstacles(subject, part)
    fewest = max(ceil(part.length / longest), 1)
    cuts: FloatArray = np.empty(0)
    for count in (fewest, fewest + 1):
        length = part.length / count
        slack = max(min(longest - length, length / 2) / 2, 0.0)
        cuts = np.array([_cut(part.front + n * length, slack, obstacles) for n in range(1, count)])
        if (_clear(cuts, obstacles.features) >= _LEAST_CLEAR).all():
            break
    return (part.front, *cuts.tolist(), part.rear)


def middle_cut(subject: Subject, part: DrawnPart, start: float, end: float) -> float | None:
    """Station of a match line near the middle between two others, None where they are too close to part."""
    if end - start < 2 * LEAST_STRETCH:
        return None
    slack = min((end - start) / 2 - LEAST_STRETCH, (end - start) / 8)
    return _cut((start + end) / 2, slack, _obstacles(subject, part))


def stretch_between(subject: Subject, part: DrawnPart, start: float, end: float, width: float) -> Stretch:
    """The stretch between two match lines; it takes in what lies outside the part's ends, as far as `width` goes."""
    taken = _obstacles(subject, part).features
    drawn_start, drawn_end, room = start - OVERLAP, end + OVERLAP, width * SCALE
    if start <= part.front and len(taken):
        drawn_start = max(min(drawn_start, float(taken[:, 0].min()) - OVERLAP), drawn_end - room)
    if end >= part.rear and len(taken):
        drawn_end = min(max(drawn_end, float(taken[:, 1].max()) + OVERLAP), drawn_start + room)
    own_start, own_end = -np.inf if start <= part.front else start, np.inf if end >= part.rear else end
    return Stretch(own_start, own_end, drawn_start, drawn_end)


@dataclass(frozen=True, eq=False)
class _Obstacles:
    """Intervals (n, 2) of stations, mm: what a match line keeps clear of, and what it leaves whole where it can."""

    features: FloatArray
    groups: FloatArray


def _obstacles(subject: Subject, part: DrawnPart) -> _Obstacles:
    """Features and the taper's apex; the components' features together, and the anchors."""
    holes, taper = subject.holes, part.rail.taper
    reach = np.stack([holes.station - subject.along, holes.station + subject.along], axis=-1)
    features = reach[holes.part == part.part]
    if taper and part.part == RAIL:
        apex = [min(taper.front, taper.apex[0] - taper.relief_radius), taper.apex[0] + taper.relief_radius]
        features = np.concatenate([features, [apex]])
    groups = [(reach[rows, 0].min(), reach[rows, 1].max()) for rows in subject.rows_of[part.part].values()]
    anchors = [(station, station) for station in subject.plan.order.anchors.values()]
    return _Obstacles(features, np.array([*groups, *anchors], dtype=np.float64).reshape(-1, 2))


def _cut(nominal: float, slack: float, obstacles: _Obstacles) -> float:
    """The station within `slack` of `nominal` that is clear of everything, the nearest of these."""
    steps = int(slack / _STEP)
    candidates = _STEP * np.arange(-steps, steps + 1, dtype=np.float64) + round(nominal / _STEP) * _STEP
    from_features, from_groups = (_clear(candidates, found) for found in (obstacles.features, obstacles.groups))
    best = np.lexsort((np.abs(candidates - nominal), -from_groups, -from_features))[0]
    return float(candidates[best])


def _clear(stations: FloatArray, intervals: FloatArray) -> FloatArray:
    """How far (mm) each station is from the nearest interval, at most CLEAR; below 0 inside one."""
    if not len(intervals):
        return np.full(len(stations), CLEAR)
    apart = np.maximum(intervals[:, 0] - stations[:, None], stations[:, None] - intervals[:, 1]).min(axis=1)
    return np.asarray(np.minimum(apart, CLEAR))
