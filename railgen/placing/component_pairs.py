"""Two components of a family for all its orders at once: where they are in error against each other.

Which relative stations are closed to a pair is known once for all rails (see ``setting``). Both stations are linear in
the order dimensions, one piece for each count of repeats, so that the pair clashes exactly where the difference of two
forms falls into a closed interval.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from railgen.data.component import Component
from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.placing.forms import Dimensions, Form, Stations, form_range
from railgen.placing.regions import Axes, Condition, Hits, Region, axes_of, both, condition, region, solve, values_met
from railgen.placing.spans import REASONS, Spans, union

_FAR = 1e6
"""mm; further than any station, so that intervals without an end fit on a line."""


@dataclass(frozen=True, eq=False)
class Standing:
    """A component with its stations over all orders of a family; index: its row in the catalogue."""

    component: Component
    index: int
    stations: Stations


@dataclass(frozen=True)
class Meeting:
    """Two features that come too near: rows of the setting's table (-1: an end of the rail), and their instances."""

    reason: tuple[str, str]
    first: int
    second: int
    instances: tuple[int, int]


@dataclass(frozen=True, eq=False)
class Found:
    """Where two components clash.

    possible: somewhere on the floats' grids, forced: wherever they settle; without a float both are one. by_reason:
    what of possible each rule closes. meetings: the features. closed: (S, T) stations of the first's and the second's
    grid that clash in some order.
    """

    possible: Region
    forced: Region
    by_reason: dict[tuple[str, str], Region]
    meetings: tuple[Meeting, ...]
    closed: BoolArray


@dataclass(frozen=True)
class _Rows:
    """Pairs of station rows, n of them: difference of their forms, and which rows they are."""

    offset: FloatArray
    per: FloatArray
    first: IntArray
    second: IntArray

    def at(self, rows: IntArray | BoolArray) -> _Rows:
        return _Rows(self.offset[rows], self.per[rows], self.first[rows], self.second[rows])


def clash(a: Stations, b: Stations, closed: Spans, sure: BoolArray, dimensions: Dimensions) -> Found | None:
    """Where stations of a, seen from those of b, fall into closed intervals; None where no order can have any.

    sure: of each interval, whether it holds whatever else the order says (a liner's does where there is one).
    """
    rows = _differences(a, b)
    return _clash(rows, (a, b), closed, sure, dimensions)


def clash_among(a: Stations, closed: Spans, dimensions: Dimensions) -> Found | None:
    """Where instances of one component are in error against each other."""
    rows = _differences(a, a)
    same_piece = a.count[rows.first] == a.count[rows.second]
    later = a.instance[rows.first] > a.instance[rows.second]
    single = Stations(a.offset, a.per, a.instance, a.count, a.span, a.low, a.high, a.present, np.zeros(1))
    return _clash(rows.at(same_piece & later), (single, single), closed, np.ones(len(closed), dtype=bool), dimensions)


def clash_with(a: Stations, mark: Form, closed: Spans, dimensions: Dimensions) -> Found | None:
    """Where stations seen from an end of the rail fall into closed intervals."""
    end = Stations(
        offset=np.array([mark.offset]),
        per=mark.per[None, :],
        instance=np.zeros(1, dtype=np.int64),
        count=np.ones(1, dtype=np.int64),
        span=Form(0.0, np.zeros_like(mark.per)),
        low=np.array([-np.inf]),
        high=np.array([np.inf]),
        present=None,
        shift=np.zeros(1),
    )
    return clash(a, end, closed, np.ones(len(closed), dtype=bool), dimensions)


def _differences(a: Stations, b: Stations) -> _Rows:
    first, second = (grid.ravel() for grid in np.indices((len(a.offset), len(b.offset))))
    return _Rows(a.offset[first] - b.offset[second], a.per[first] - b.per[second], first, second)


def _clash(
    rows: _Rows, pair: tuple[Stations, Stations], closed: Spans, sure: BoolArray, dimensions: Dimensions
) -> Found | None:
    least, most = form_range(rows.offset, rows.per, dimensions)
    shifts = Shifts(*pair)
    near = (closed.low < most.max() + shifts.each[-1]) & (closed.high > least.min() + shifts.each[0])
    closed, sure = closed.at(near), sure[near]
    span, low, high = shifts.anywhere(closed.low, closed.high)
    row, interval = np.nonzero((least[:, None] < high) & (most[:, None] > low))
    if not len(row):
        return None
    span = span[interval]
    main = Condition(rows.offset[row], rows.per[row], low[interval], high[interval])
    conditions = [main, *_held(pair, rows, row)]
    axes = _axes(conditions, dimensions)
    hits = solve(axes, conditions)
    hits = replace(hits, sure=hits.sure & sure[span[hits.row]])
    possible = region(axes, hits)
    if not possible.any:
        return None
    reason = closed.reason[span[hits.row]]
    by_reason = {REASONS[r]: region(axes, hits.at(reason == r)) for r in np.unique(reason).tolist()}
    grid = np.ones((len(pair[0].shift), len(pair[1].shift)), dtype=np.bool_)
    forced = possible
    if shifts.floats:
        firm = closed.at(sure)
        forced = _forced(rows, pair, shifts, (firm.low, firm.high), possible)
        grid = shifts.closed(_differences_met(axes, rows, pair), union(closed.low, closed.high))
    return Found(possible, forced, by_reason, _meetings(pair, rows, row, span, hits, closed), grid)


def _axes(conditions: Sequence[Condition], dimensions: Dimensions) -> Axes:
    used = np.any([np.any(held.per != 0.0, axis=0) for held in conditions], axis=0)
    return axes_of(dimensions, np.flatnonzero(used).tolist())


class Shifts:
    """How far two components may settle from where they would stand, seen from each other."""

    def __init__(self, a: Stations, b: Stations) -> None:
        self._apart = np.round(a.shift[:, None] - b.shift[None, :], 9)
        self.each, self._number = np.unique(self._apart, return_inverse=True)
        self.floats = len(self.each) > 1

    def anywhere(self, low: FloatArray, high: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
        """Intervals of the unsettled difference in which some shift brings it into each of n intervals.

        Returns the number of the interval, and the ends.
        """
        if not self.floats:
            return np.arange(len(low)), low, high
        # Every interval on a stretch of its own, so that one sweep unites them all.
        finite = np.clip(np.concatenate([low, high]), -_FAR, _FAR)
        low, high = np.split(finite, 2)
        at = np.arange(len(low))[:, None] * 8 * _FAR
        first, last = union(*((end[:, None] - self.each + at).ravel() for end in (low, high)))
        number = np.round((first + last) / 2 / (8 * _FAR)).astype(np.int64)
        return number, first - number * 8 * _FAR, last - number * 8 * _FAR

    def nowhere(self, low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Intervals of the unsettled difference that every shift brings into one of n intervals."""
        low, high = union(low, high)
        found = low - self.each[0], high - self.each[0]
        for shift in self.each[1:].tolist():
            ends = np.maximum(found[0][:, None], low - shift), np.minimum(found[1][:, None], high - shift)
            kept = ends[0] < ends[1]
            found = ends[0][kept], ends[1][kept]
            if not len(found[0]):
                break
        return found

    def closed(self, differences: FloatArray, intervals: tuple[FloatArray, FloatArray]) -> BoolArray:
        """(S, T) of both grids: which two stations fall into an interval for any of some unsettled differences."""
        low, high = intervals
        moved = differences[:, None] + self.each
        inside = np.searchsorted(low, moved, side="left") - 1
        hit: BoolArray = (inside >= 0) & (moved < high[np.maximum(inside, 0)])
        ever = np.logical_or.reduce(hit, axis=0)
        return np.asarray(ever[self._number].reshape(self._apart.shape))


def _differences_met(axes: Axes, rows: _Rows, pair: tuple[Stations, Stations]) -> FloatArray:
    """All differences that the steps of the dimensions allow, mm; those that may be, where a dimension has no step."""
    every = np.arange(len(rows.offset))
    always = Condition(rows.offset, rows.per, np.full(len(every), -np.inf), np.full(len(every), np.inf))
    return values_met(axes, always, [*_held(pair, rows, every)])


def _forced(
    rows: _Rows,
    pair: tuple[Stations, Stations],
    shifts: Shifts,
    closed: tuple[FloatArray, FloatArray],
    possible: Region,
) -> Region:
    """Orders in which every station of the grids clashes."""
    every = np.arange(len(rows.offset))
    axes, held = possible.axes, [*_held(pair, rows, every)]
    if not any(stations.pieces for stations in pair):
        # All instances keep their distances: what each closes is closed to the first.
        along = rows.offset - rows.offset[0]
        ends = ((end[None, :] - along[:, None]).ravel() for end in closed)
        low, high = shifts.nowhere(*ends)
        one = np.zeros(len(low), dtype=np.int64)
        main = Condition(rows.offset[one], rows.per[one], low, high)
        return region(axes, solve(axes, [main, *(part.at(one) for part in held)]))
    low, high = union(*closed)
    found = possible
    row, number = (grid.ravel() for grid in np.indices((len(every), len(low))))
    for shift in shifts.each.tolist():
        main = Condition(rows.offset[row] + shift, rows.per[row], low[number], high[number])
        found = both(found, region(axes, solve(axes, [main, *(part.at(row) for part in held)])))
        if found.is_empty:
            break
    return found


def _held(pair: tuple[Stations, Stations], rows: _Rows, row: IntArray) -> Iterator[Condition]:
    """What else must hold for the rows: the counts of their repeats, and the components' being there."""
    for stations, which in zip(pair, (rows.first, rows.second), strict=True):
        if stations.pieces:
            piece = condition(stations.span, 0.0, 0.0, len(row))
            yield Condition(piece.offset, piece.per, stations.low[which[row]], stations.high[which[row]])
        if stations.present is not None:
            yield condition(*stations.present, len(row))


def _meetings(
    pair: tuple[Stations, Stations], rows: _Rows, row: IntArray, span: IntArray, hits: Hits, closed: Spans
) -> tuple[Meeting, ...]:
    """The features that meet in any order, each two once for a rule, those with the widest interval first."""
    met = np.unique(hits.row)
    at = span[met]
    met = met[np.argsort((closed.low - closed.high)[at], kind="stable")]
    at = span[met]
    key = np.stack([closed.reason[at], closed.first[at], closed.second[at]], axis=-1)
    once = np.sort(np.unique(key, axis=0, return_index=True)[1])
    reason, first, second = key[once].T.tolist()
    instances = (
        stations.instance[which[row[met[once]]]].tolist()
        for stations, which in zip(pair, (rows.first, rows.second), strict=True)
    )
    return tuple(
        Meeting(REASONS[r], a, b, (i, j)) for r, a, b, i, j in zip(reason, first, second, *instances, strict=True)
    )
