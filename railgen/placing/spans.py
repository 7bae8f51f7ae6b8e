"""Sets of stations as unions of intervals, each told with what closes it."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from railgen.data.limit_sets import MEASURES
from railgen.holes.table import BoolArray, FloatArray, IntArray

REASONS: tuple[tuple[str, str], ...] = tuple((rule, measure) for rule, held in MEASURES.items() for measure in held)
"""Every rule and measure; intervals name theirs by its place here."""
REASON = {reason: index for index, reason in enumerate(REASONS)}


@dataclass(frozen=True)
class Spans:
    """Open intervals (low, high) that are closed to a station, n of them in no particular order, mm.

    reason indexes REASONS; first is the row that is moved, second the row that it meets (-1 where it meets none).
    """

    low: FloatArray
    high: FloatArray
    reason: IntArray
    first: IntArray
    second: IntArray

    def __len__(self) -> int:
        return len(self.low)

    def at(self, index: IntArray | BoolArray) -> Spans:
        """Some of the intervals."""
        return Spans(self.low[index], self.high[index], self.reason[index], self.first[index], self.second[index])

    def moved(self, distance: float) -> Spans:
        """All intervals moved along."""
        return Spans(self.low + distance, self.high + distance, self.reason, self.first, self.second)

    def seen_from_other(self) -> Spans:
        """The intervals as what stands still sees them, when it moves instead."""
        return Spans(-self.high, -self.low, self.reason, self.second, self.first)

    def holding(self, station: float) -> Spans:
        """The intervals that a station lies in."""
        return self.at((self.low < station) & (station < self.high))


def spans(
    reason: tuple[str, str], low: FloatArray, high: FloatArray, first: IntArray, second: IntArray | None = None
) -> Spans:
    """Intervals of one reason."""
    met = np.full(len(low), -1) if second is None else second
    return Spans(low, high, np.full(len(low), REASON[reason]), first, met)


def joined(parts: Sequence[Spans]) -> Spans:
    """All intervals of some sets."""
    parts = [part for part in parts if len(part)]
    empty = np.empty(0), np.empty(0), *(np.empty(0, dtype=np.int64) for _ in range(3))
    columns = [
        np.concatenate([first, *(getattr(part, f.name) for part in parts)])
        for f, first in zip(fields(Spans), empty, strict=True)
    ]
    return Spans(*columns)


def union(low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Ends of the longest intervals that some intervals (n each) cover together, ascending; touching ones are one."""
    order = np.argsort(low, kind="stable")
    low, high = low[order], high[order]
    if not len(low):
        return low, high
    reached = np.maximum.accumulate(high)
    starts = np.concatenate(([True], low[1:] > reached[:-1]))
    ends = np.concatenate((starts[1:], [True]))
    return low[starts], reached[ends]


def covered(station: FloatArray, low: FloatArray, high: FloatArray) -> BoolArray:
    """Which stations (ascending) lie inside any of the open intervals (low, high)."""
    begin = np.searchsorted(station, low, side="right")
    end = np.maximum(np.searchsorted(station, high, side="left"), begin)
    change = np.bincount(begin, minlength=len(station) + 1) - np.bincount(end, minlength=len(station) + 1)
    return np.cumsum(change[:-1]) > 0


def holds(
    ends: tuple[Sequence[float] | FloatArray, Sequence[float] | FloatArray], station: float, shift: float
) -> bool:
    """Whether a station lies inside one of some open intervals, ascending and apart, all moved by a shift, mm."""
    lows, highs = ends
    k = bisect_left(lows, station - shift)
    # Moved ends are compared as ``covered`` does, so that both tell the same to the last bit.
    return any(lows[i] + shift < station < highs[i] + shift for i in range(max(k - 1, 0), min(k + 1, len(lows))))


def without(
    low: FloatArray, high: FloatArray, cut_low: FloatArray, cut_high: FloatArray
) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]:
    """What is left of intervals on either side of a cut, pairwise; where the cut is empty all is left of it."""
    empty = cut_low >= cut_high
    left = low, np.where(empty, high, np.minimum(high, cut_low))
    right = np.where(empty, high, np.maximum(low, cut_high)), high
    return left, right


def split(number: IntArray, count: int) -> list[IntArray]:
    """Rows of each number from 0 to count - 1."""
    order = np.argsort(number, kind="stable")
    return np.split(order, np.searchsorted(number[order], np.arange(1, count)))
