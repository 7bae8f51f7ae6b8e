"""Running dimensions: positions from one origin along one side of a view, their words never over one another.

After ISO 129-1 (from memory): an extension line from each feature to one dimension line, an arrowhead on it that points
away from the origin, a circle at the origin, the value at the end of the extension line. Where features stand closer
than words are high, the words keep their order and are moved as little as may be (`labels.spread`), with leaders of
other labels passing between them in slots of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from railgen.holes.table import FloatArray
from railgen.papers.fonts import SMALL, text_width
from railgen.papers.labels import spread
from railgen.papers.sheet import BLACK, DIMENSION, FINE, Anchor, Figures, Item, Text, circles, segments

Way = Literal["below", "above", "left", "right"]
"""The side of the view on which the dimensions stand."""

PITCH = 2.7
"""Least distance (mm) between the middle lines of two words."""
SLOT = 1.3
"""Room (mm) along the row that a leader takes which passes between words."""
LEVEL = 2.4
"""Distance (mm) from the view to the dimension line."""
_STRAIGHT, _WORDS_OFF, _BEYOND = 0.7, 0.6, 1.2
_LEAST_JOG, _GREATEST_JOG, _STEEPNESS = 2.0, 7.0, 0.35
_HEAD, _HALF_HEAD, _DOT, _ORIGIN = 1.7, 0.28, 0.3, 0.8
"""Arrowheads, the dots that stand for them where there is no room, and the circle at the origin, mm."""


@dataclass(frozen=True, eq=False)
class Running:
    """Running dimensions along one side of a view, ordered along it; paper, mm.

    `at` (n,): where the extension lines leave the view; `reach` (n,): how far inside it they begin; `place` (n,): where
    the words stand; `slots` (k,): where leaders of the view's labels pass; `jog`: depth in which lines go from `at` to
    `place`; `origin`: where the origin is, None where it is on another sheet; `left_out`: how many dimensions find no
    room.
    """

    at: FloatArray
    reach: FloatArray
    place: FloatArray
    words: tuple[str, ...]
    slots: FloatArray
    jog: float
    origin: float | None
    left_out: int = 0

    @property
    def words_at(self) -> float:
        """Distance (mm) from the view to the words."""
        return LEVEL + _STRAIGHT + self.jog + _WORDS_OFF

    @property
    def depth(self) -> float:
        """Distance (mm) from the view to the end of the longest words; 0 where there are none."""
        longest = max((text_width(words, SMALL) for words in self.words), default=0.0)
        return self.words_at + longest + _BEYOND if self.words else 0.0

    @property
    def farthest(self) -> float:
        """The furthest that any words are moved, mm."""
        return float(np.abs(self.place - self.at).max(initial=0.0))

    def moved(self, by: float) -> Running:
        """The same dimensions further along, mm."""
        origin = None if self.origin is None else self.origin + by
        return replace(self, at=self.at + by, place=self.place + by, slots=self.slots + by, origin=origin)


def running(
    at: FloatArray,
    reach: FloatArray,
    words: Sequence[str],
    ends: tuple[float, float],
    origin: float | None = None,
    leaders: FloatArray | None = None,
    greatest_jog: float = _GREATEST_JOG,
) -> Running:
    """Place n running dimensions and the slots of k leaders between `ends`, least and greatest place, mm.

    `at` (n,), `reach` (n,), `words` in any order; `leaders` (k,) where they leave the view. Where the row is too short
    for all, every so many are left out and counted.
    """
    passing = np.empty(0) if leaders is None else leaders
    order = np.argsort(at, kind="stable")
    room = int((ends[1] - ends[0] - SLOT * len(passing)) / PITCH + 1e-9)
    if len(order) > room:
        order = order[np.unique(np.linspace(0, len(order) - 1, max(room, 0)).round().astype(np.int64))]
    both = np.concatenate([at[order], passing])
    sizes = np.concatenate([np.full(len(order), PITCH), np.full(len(passing), SLOT)])
    along = np.argsort(both, kind="stable")
    placed = spread(both[along], sizes[along], *ends)
    places = both.copy()
    if placed is not None:
        places[along] = placed
    moved = float(np.abs(places - both).max(initial=0.0))
    return Running(
        at=at[order],
        reach=reach[order],
        place=places[: len(order)],
        words=tuple(words[index] for index in order.tolist()),
        slots=places[len(order) :],
        jog=float(np.clip(_STEEPNESS * moved, _LEAST_JOG, greatest_jog)),
        origin=origin,
        left_out=len(at) - len(order),
    )


NOTHING = Running(np.empty(0), np.empty(0), np.empty(0), (), np.empty(0), 0.0, None)
"""No dimensions at all."""


def unique_values(values: FloatArray, reach: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Values that drawings write apart, ascending, and the greatest reach of each; values equal to 0.01 mm are one."""
    rounded = values.round(2)
    kept, index = np.unique(rounded, return_inverse=True)
    greatest = np.full(len(kept), -np.inf)
    np.maximum.at(greatest, index, reach)
    return kept, greatest


def running_items(dimensions: Running, way: Way, edge: float, start: float) -> list[Item]:
    """Lines and words on the sheet.

    `edge`: where the side of the view lies; `start`: where the dimension line begins if the origin is on another sheet.
    """
    if not dimensions.words:
        return []
    origin = start if dimensions.origin is None else dimensions.origin
    away = 1.0 if way in ("above", "right") else -1.0
    at, place = dimensions.at, dimensions.place
    level = edge + away * LEVEL
    bend, end = level + away * _STRAIGHT, level + away * (_STRAIGHT + dimensions.jog)
    last = np.full(len(at), end + away * _WORDS_OFF * 0.5)
    lines = [
        (at, edge - away * dimensions.reach),
        (at, np.full(len(at), bend)),
        (place, np.full(len(at), end)),
        (place, last),
    ]
    points = np.stack([_mapped(way, along, off) for along, off in lines], axis=1)
    farthest = float(at[np.argmax(np.abs(at - origin))])
    items: list[Item] = [
        Figures("MLLL", points, FINE),
        segments(_mapped(way, np.array([origin, farthest]), np.full(2, level))[None], DIMENSION),
    ]
    items += _terminators(way, at, origin, level)
    if dimensions.origin is not None:
        items.append(circles(_mapped(way, np.array([origin]), np.array([level])), _ORIGIN, DIMENSION))
    return items + _words(dimensions, way, edge + away * dimensions.words_at)


def _terminators(way: Way, at: FloatArray, origin: float, level: float) -> list[Item]:
    """Arrowheads that point away from the origin; dots where the line before is too near."""
    items: list[Item] = []
    heads, dots = [], []
    for sign in (1.0, -1.0):
        beyond = np.sort(sign * (at[sign * (at - origin) > 1e-6] - origin))
        gaps = np.diff(beyond, prepend=0.0)
        heads += [(origin + sign * x, sign) for x in beyond[gaps > _HEAD + 0.3].tolist()]
        dots += [origin + sign * x for x in beyond[gaps <= _HEAD + 0.3].tolist()]
    if heads:
        tip, sign = np.array(heads).T
        back = tip - sign * _HEAD
        corners = [(tip, 0.0), (back, _HALF_HEAD), (back, -_HALF_HEAD)]
        points = np.stack([_mapped(way, x, np.full(len(tip), level + off)) for x, off in corners], axis=1)
        items.append(Figures("MLLZ", points, None, BLACK))
    if dots:
        items.append(circles(_mapped(way, np.array(dots), np.full(len(dots), level)), _DOT, None, BLACK))
    return items


def _words(dimensions: Running, way: Way, start: float) -> list[Item]:
    """The values, in line with their extension lines; read from below or from the right."""
    upright = way in ("left", "right")
    anchor: Anchor = "left" if way in ("above", "right") else "right"
    items: list[Item] = []
    for place, words in zip(dimensions.place.tolist(), dimensions.words, strict=True):
        if upright:
            items.append(Text(start, place - SMALL / 2, words, SMALL, anchor))
        else:
            items.append(Text(place + SMALL / 2, start, words, SMALL, anchor, angle=90))
    return items


def _mapped(way: Way, along: FloatArray, off: FloatArray) -> FloatArray:
    """Points (n, 2) on the sheet from positions along a side and square to it."""
    return np.stack([along, off] if way in ("below", "above") else [off, along], axis=-1)
