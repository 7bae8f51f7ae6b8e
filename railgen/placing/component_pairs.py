"""Two components of a family for all its orders at once: where they are in error against each other.

Which relative stations are closed to a pair is known once for all rails (see ``setting``). Both stations are linear in
the order dimensions, one piece for each count of repeats, so that the pair clashes exactly where the difference of two
forms falls into a closed interval.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from railgen.data.component import Component
from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.placing.forms import SLACK, Dimensions, Form, Stations, form_range
from railgen.placing.regions import (
    Axes,
    Condition,
    Hits,
    Region,
    axes_of,
    condition,
    in_all,
    joined_hits,
    merged_hits,
    region,
    solve,
)
from railgen.placing.spans import REASONS, Spans, union


@dataclass(frozen=True, eq=False)
class Standing:
    """A component with its stations over all orders of a family; index: its row in the catalogue."""

    component: Component
    index: int
    stations: Stations


@dataclass(frozen=True, eq=False)
class Found:
    """Where two components clash.

    possible: somewhere on the floats' grids, forced: wherever they settle; without a float both are one. closed: (S, T)
    stations of the first's and the second's grid that may clash in some order, none that may left out. hits: what
    possible is made of, each rule and measure apart; their rows are those of REASONS.
    """

    possible: Region
    forced: Region
    closed: BoolArray
    hits: Hits

    @cached_property
    def by_reason(self) -> dict[tuple[str, str], Region]:
        """What of possible each rule and measure closes."""
        axes = self.possible.axes
        return {REASONS[r]: region(axes, self.hits.at(self.hits.row == r)) for r in sorted(set(self.hits.row.tolist()))}

    @property
    def reasons(self) -> tuple[tuple[str, str], ...]:
        """Rules and measures that close anything of it."""
        return tuple(REASONS[r] for r in sorted(set(self.hits.row.tolist())))


@dataclass(frozen=True)
class _Rows:
    """Pairs of station rows, n of them: difference of their forms, and which rows they are."""

    offset: FloatArray
    per: FloatArray
    first: IntArray
    second: IntArray

    def at(self, rows: IntArray | BoolArray) -> _Rows:
        return _Rows(self.offset[rows], self.per[rows], self.first[rows], self.second[rows])


@dataclass(frozen=True)
class Closed:
    """Intervals of the difference of two stations that are closed, n of them, mm.

    sure (n,): whether one holds whatever else the order says (a liner's does where there is a liner); held (n,): which
    of ``only`` must hold besides, forms with what they lie strictly between; None for nothing.
    """

    spans: Spans
    sure: BoolArray
    held: IntArray
    only: tuple[tuple[Form, float, float] | None, ...] = (None,)

    def at(self, rows: BoolArray) -> Closed:
        """Some of the intervals."""
        return Closed(self.spans.at(rows), self.sure[rows], self.held[rows], self.only)


def clash(a: Stations, b: Stations, closed: Closed, dimensions: Dimensions) -> Found | None:
    """Where stations of a, seen from those of b, fall into closed intervals; None where no order can have any."""
    return _clash(_differences(a, b), (a, b), closed, dimensions)


def clash_among(a: Stations, closed: Closed, dimensions: Dimensions) -> Found | None:
    """Where instances of one component are in error against each other."""
    rows = _differences(a, a)
    same_piece = a.count[rows.first] == a.count[rows.second]
    later = a.instance[rows.first] > a.instance[rows.second]
    single = Stations(a.offset, a.per, a.instance, a.count, a.span, a.low, a.high, a.present, np.zeros(1))
    return _clash(rows.at(same_piece & later), (single, single), closed, dimensions)


def _differences(a: Stations, b: Stations) -> _Rows:
    first, second = (grid.ravel() for grid in np.indices((len(a.offset), len(b.offset))))
    return _Rows(a.offset[first] - b.offset[second], a.per[first] - b.per[second], first, second)


def _clash(rows: _Rows, pair: tuple[Stations, Stations], closed: Closed, dimensions: Dimensions) -> Found | None:
    least, most = _range(rows, pair, dimensions)
    shifts = Shifts(*pair)
    spans = closed.spans
    closed = closed.at((spans.low < most.max() + shifts.each[-1]) & (spans.high > least.min() + shifts.each[0]))
    # What one rule closes, surely or not, while the same holds besides, is one union of intervals.
    spans, count = closed.spans, len(closed.only)
    key, low, high = shifts.anywhere((2 * spans.reason + closed.sure) * count + closed.held, spans.low, spans.high)
    row, interval = np.nonzero((least[:, None] < high) & (most[:, None] > low))
    if not len(row):
        return None
    key = key[interval]
    main = Condition(rows.offset[row], rows.per[row], low[interval], high[interval])
    conditions = [main, *_held(pair, rows, row), *_besides(closed, key % count, dimensions)]
    axes = _axes(conditions, dimensions)
    hits = solve(axes, conditions)
    of_hit = key[hits.row] // count
    hits = merged_hits(axes, replace(hits, row=of_hit // 2, sure=hits.sure & (of_hit % 2 == 1)))
    possible = region(axes, hits)
    if not possible.any:
        return None
    grid, forced = np.ones((1, 1), dtype=np.bool_), possible
    if shifts.floats:
        forced = _forced(rows, (least, most), pair, shifts, closed.at(closed.sure), possible)
        grid = shifts.closed((least, most), union(spans.low, spans.high))
    return Found(possible, forced, grid, hits)


def _range(rows: _Rows, pair: tuple[Stations, Stations], dimensions: Dimensions) -> tuple[FloatArray, FloatArray]:
    """Least and greatest differences of rows, each while the counts of its instances hold."""
    least, most = form_range(rows.offset, rows.per, dimensions)
    for stations, which in zip(pair, (rows.first, rows.second), strict=True):
        if not stations.pieces:
            continue
        span = stations.span
        low, high = np.maximum(stations.low[which], 0.0), stations.high[which]
        share = (stations.instance[which] - 1) / np.maximum(stations.count[which] - 1, 1)
        # A station lies a share of the span behind the first one, and the rest of it ahead of the last.
        for part in (share, share - 1.0) if stations is pair[0] else (-share, 1.0 - share):
            rest = form_range(rows.offset - part * span.offset, rows.per - part[:, None] * span.per, dimensions)
            least = np.maximum(least, rest[0] + np.minimum(part * low, part * high) - SLACK)
            most = np.minimum(most, rest[1] + np.maximum(part * low, part * high) + SLACK)
    return least, most


def _besides(closed: Closed, held: IntArray, dimensions: Dimensions) -> Iterator[Condition]:
    """What must hold besides, one condition for all rows; held: which of ``only``, a row each."""
    if closed.only == (None,):
        return
    nothing = Form(0.0, np.zeros(len(dimensions.each))), -np.inf, np.inf
    each = [entry or nothing for entry in closed.only]
    offset, per = np.array([form.offset for form, _, _ in each]), np.array([form.per for form, _, _ in each])
    low, high = np.array([entry[1] for entry in each]), np.array([entry[2] for entry in each])
    yield Condition(offset[held], per[held], low[held], high[held])


def _axes(conditions: Sequence[Condition], dimensions: Dimensions) -> Axes:
    used = np.any([np.any(held.per != 0.0, axis=0) for held in conditions], axis=0)
    return axes_of(dimensions, np.flatnonzero(used).tolist())


class Shifts:
    """How far two components may settle from where they would stand, seen from each other."""

    def __init__(self, a: Stations, b: Stations) -> None:
        self._apart = np.round(a.shift[:, None] - b.shift[None, :], 9)
        self.each, self._number = np.unique(self._apart, return_inverse=True)
        self.floats = len(self.each) > 1

    def anywhere(self, key: IntArray, low: FloatArray, high: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
        """Intervals of the unsettled difference in which some shift brings it into one of n intervals.

        Returns the union of those of each key: keys, and the ends.
        """
        keys = sorted(set(key.tolist()))
        parts = [(one, *self._anywhere(low[key == one], high[key == one])) for one in keys]
        numbers = [np.full(len(first), one) for one, first, _ in parts]
        nothing = np.empty(0)
        return (
            np.concatenate([np.empty(0, dtype=np.int64), *numbers]),
            np.concatenate([nothing, *(first for _, first, _ in parts)]),
            np.concatenate([nothing, *(last for _, _, last in parts)]),
        )

    def _anywhere(self, low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
        if self.floats:
            low, high = ((end[:, None] - self.each).ravel() for end in (low, high))
        return union(low, high)

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

    def closed(self, differences: tuple[FloatArray, FloatArray], intervals: tuple[FloatArray, FloatArray]) -> BoolArray:
        """(S, T) of both grids: which two stations may fall into an interval for some differences (from, to)."""
        least, most = (end[:, None, None] + self.each[:, None] for end in differences)
        low, high = intervals
        hit = np.logical_or.reduce((least < high) & (most > low), axis=(0, 2))
        return np.asarray(hit[self._number].reshape(self._apart.shape))


Ends = tuple[FloatArray, FloatArray]
"""Least and greatest differences of rows, mm."""


def _forced(
    rows: _Rows, ends: Ends, pair: tuple[Stations, Stations], shifts: Shifts, closed: Closed, possible: Region
) -> Region:
    """Orders in which every station of the grids clashes."""
    parts = []
    for number in range(len(closed.only)):
        some = closed.at(closed.held == number)
        besides = _besides(closed, np.full(len(rows.offset), number), possible.axes.dimensions)
        conditions = [*_held(pair, rows, np.arange(len(rows.offset))), *besides]
        found = _forced_while(rows, ends, pair, shifts, some.spans, conditions, possible)
        parts.append(Hits(np.zeros(len(found.combo), dtype=np.int64), found.combo, found.low, found.high, found.sure))
    return region(possible.axes, joined_hits(parts))


def _forced_while(
    rows: _Rows,
    ends: Ends,
    pair: tuple[Stations, Stations],
    shifts: Shifts,
    closed: Spans,
    held: Sequence[Condition],
    possible: Region,
) -> Region:
    """Orders in which every station of the grids clashes while conditions (of all rows) hold."""
    axes = possible.axes
    if not any(stations.pieces for stations in pair):
        # All instances keep their distances: what each closes is closed to the first.
        along = rows.offset - rows.offset[0]
        low, high = shifts.nowhere(*((end[None, :] - along[:, None]).ravel() for end in (closed.low, closed.high)))
        one = np.zeros(len(low), dtype=np.int64)
        main = Condition(rows.offset[one], rows.per[one], low, high)
        return region(axes, solve(axes, [main, *(part.at(one) for part in held)]))
    low, high = union(closed.low, closed.high)
    least, most = ends
    # Which rows can reach which intervals at each shift; one that reaches none is free in every order.
    shift = shifts.each[:, None, None]
    number, row, interval = np.nonzero((least[:, None] + shift < high) & (most[:, None] + shift > low))
    if not np.bincount(number, minlength=len(shifts.each)).all():
        return region(axes, joined_hits([]))
    main = Condition(rows.offset[row] + shifts.each[number], rows.per[row], low[interval], high[interval])
    hits = solve(axes, [main, *(part.at(row) for part in held)])
    return in_all(axes, hits, number[hits.row], len(shifts.each))


def _held(pair: tuple[Stations, Stations], rows: _Rows, row: IntArray) -> Iterator[Condition]:
    """What else must hold for the rows: the counts of their repeats, and the components' being there."""
    for stations, which in zip(pair, (rows.first, rows.second), strict=True):
        if stations.pieces:
            piece = condition(stations.span, 0.0, 0.0, len(row))
            yield Condition(piece.offset, piece.per, stations.low[which[row]], stations.high[which[row]])
        if stations.present is not None:
            yield condition(*stations.present, len(row))
