"""Feet that move past each other and past fasteners, as intervals of their relative station.

Two outlines are within a distance where one of their edges is within it of an edge of the other, which is one interval
for each two edges (see ``slices``); where one lies inside the other, a corner of it lies on a chord of the other.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.holes.neighbours import runs
from railgen.holes.table import FloatArray, IntArray
from railgen.layout.feet import SURFACES, Feet, declared_stacks
from railgen.placing.slices import near_spans
from railgen.placing.spans import Spans, joined, spans
from railgen.rules.along import quantities_at
from railgen.rules.limits import evaluate
from railgen.rules.pattern import Pattern

_FEET = ("footprint-clash", "feet")


@dataclass(frozen=True)
class Prints:
    """Feet with what placing asks of them, n of them: apart: how far other feet must be from each, -inf where free."""

    feet: Feet
    apart: FloatArray

    def __len__(self) -> int:
        return len(self.feet)


def prints_of(pattern: Pattern) -> Prints:
    """The feet of a pattern."""
    feet = pattern.feet
    if not len(feet) or not pattern.limits.holds(*_FEET):
        return Prints(feet, np.full(len(feet), -np.inf))
    return Prints(feet, evaluate(pattern.limits, *_FEET, quantities_at(pattern, feet.station)).error)


def foot_spans(pattern: Pattern, a: Prints, b: Prints, i: IntArray, j: IntArray) -> Spans:
    """Where, in steps of a's station from where it is given, feet i of a are too near to feet j of b, on one side.

    Components that stack may meet. first and second are the feet of a and b.
    """
    one, other = a.feet, b.feet
    face = one.face * len(SURFACES) + one.surface, other.face * len(SURFACES) + other.surface
    stacked = declared_stacks(pattern.order.library)[one.component[i], other.component[j]]
    distance = np.maximum(a.apart[i], b.apart[j]) - VALUE_TOLERANCE
    gap = np.maximum(other.low[j, 1] - one.high[i, 1], one.low[i, 1] - other.high[j, 1])
    near = np.flatnonzero((face[0][i] == face[1][j]) & ~stacked & (distance > 0) & (gap < distance))
    i, j, distance = i[near], j[near], distance[near]
    found = [_edges_near(one, other, i, j, distance)]
    for mine, theirs, k, m, way in ((one, other, i, j, 1.0), (other, one, j, i, -1.0)):
        # Whichever lies inside the other, its first corner does.
        corner = mine.corners[mine.start[k]]
        pair, low, high = _chords(theirs, m, corner[:, 1])
        ends = way * (low - corner[pair, 0]), way * (high - corner[pair, 0])
        found.append((pair, np.minimum(*ends), np.maximum(*ends)))
    return joined([spans(_FEET, low, high, i[pair], j[pair]) for pair, low, high in found])


_Found = tuple[IntArray, FloatArray, FloatArray]
"""Numbers of pairs, and ends of intervals."""


def _following(feet: Feet) -> FloatArray:
    """The corner after each corner of its foot, (n, 2) mm."""
    following = np.arange(1, len(feet.corners) + 1)
    following[feet.start[1:] - 1] = feet.start[:-1]
    return feet.corners[following]


def _edges(feet: Feet) -> tuple[FloatArray, FloatArray]:
    """Middle and half of the edge from each corner to the next of its foot, (n, 2) mm."""
    ends = _following(feet)
    return (feet.corners + ends) / 2, (ends - feet.corners) / 2


def _edges_near(one: Feet, other: Feet, i: IntArray, j: IntArray, distance: FloatArray) -> _Found:
    """Where any edges of feet i and j are nearer than distances."""
    counts = np.diff(one.start)[i], np.diff(other.start)[j]
    pair = np.repeat(np.arange(len(i)), counts[0] * counts[1])
    number = runs(np.zeros(len(i), dtype=np.int64), counts[0] * counts[1])
    edge, facing = one.start[i][pair] + number // counts[1][pair], other.start[j][pair] + number % counts[1][pair]
    middle, half = _edges(one)
    other_middle, other_half = _edges(other)
    sides = np.stack([half[edge], other_half[facing]], axis=1)
    return _steps(pair, middle[edge] - other_middle[facing], sides, distance[pair])


def _steps(pair: IntArray, apart: FloatArray, sides: FloatArray, distance: FloatArray) -> _Found:
    """Steps in which shapes (n, k, 2 generators) whose middles lie apart (n, 2) are nearer than distances."""
    some = np.flatnonzero(np.abs(apart[:, 1]) < np.abs(sides[..., 1]).sum(axis=1) + distance)
    pair, apart, distance = pair[some], apart[some], distance[some]
    whole = np.zeros((len(pair), 4, 2))
    whole[:, : sides.shape[1]] = sides[some]
    low, high = near_spans(apart[:, 1], whole, distance)
    met = np.flatnonzero(low < high)
    return pair[met], low[met] - apart[met, 0], high[met] - apart[met, 0]


def _chords(feet: Feet, foot: IntArray, height: FloatArray) -> _Found:
    """Where lines along the rail at heights (one a foot, mm) lie inside feet; numbers index the feet given."""
    count = np.diff(feet.start)[foot]
    number = np.repeat(np.arange(len(foot)), count)
    corner = runs(feet.start[foot], count)
    start, end, y = feet.corners[corner], _following(feet)[corner], height[number]
    # Ends as they are given: what is reckoned from an edge's middle may cross a line at a corner once too often.
    crossing = np.flatnonzero((start[:, 1] <= y) != (end[:, 1] <= y))
    number, start, end, y = number[crossing], start[crossing], end[crossing], y[crossing]
    x = start[:, 0] + (end[:, 0] - start[:, 0]) * (y - start[:, 1]) / (end[:, 1] - start[:, 1])
    order = np.lexsort((x, number))
    # Into a foot and out of it again, as often as the line meets it.
    return number[order][::2], x[order][::2], x[order][1::2]


def core_spans(feet: Feet, foot: IntArray, place: FloatArray, cores: FloatArray, distance: FloatArray) -> _Found:
    """Where cores at places (n, 2: station, across) of generators (n, 2, 2) are nearer to feet than distances.

    In steps of the cores' station; one core, foot and distance a pair, of which the numbers are returned.
    """
    count = np.where(distance > 0, np.diff(feet.start)[foot], 0)
    pair = np.repeat(np.arange(len(foot)), count)
    corner = runs(feet.start[foot], count)
    middle, half = _edges(feet)
    sides = np.concatenate([cores[pair], half[corner][:, None]], axis=1)
    found = [_steps(pair, place[pair] - middle[corner], sides, distance[pair])]
    asked = np.flatnonzero(distance > 0)
    number, low, high = _chords(feet, foot[asked], place[asked, 1])
    at = place[asked[number], 0]
    found.append((asked[number], low - at, high - at))
    pairs, lows, highs = (np.concatenate(column) for column in zip(*found, strict=True))
    return pairs, lows, highs
