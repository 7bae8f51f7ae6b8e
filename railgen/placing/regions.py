"""Where linear forms of order dimensions fall into intervals: exact intervals of one dimension for each set of values
of the others, and the values on their steps that lie inside.

A region is told along one dimension, the wheelbase where it matters. Positions are computed as the layout computes
them, in floating point; ends of intervals lie a rule's tolerance (1e-6 mm) off every figure of a drawing, and rounding
is a thousand times less, so that no value on a step is ever in doubt.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.placing.forms import Dimensions, Form

_MOST_CELLS = 4_000_000
"""Numbers handled at once; more are taken in parts."""
_TOUCHING = 1e-8
"""mm: intervals no further apart are one, so that rounding leaves no gap between what two rules close."""
_MARGIN = 1e-6
"""mm beyond a dimension's least and most value to which intervals are told, so that its ends lie inside."""


@dataclass(frozen=True)
class Condition:
    """Forms that must lie strictly between two figures, N of them: offset (N,), per (N, D), low and high (N,), mm."""

    offset: FloatArray
    per: FloatArray
    low: FloatArray
    high: FloatArray

    def at(self, rows: IntArray | BoolArray) -> Condition:
        """Some of the forms."""
        return Condition(self.offset[rows], self.per[rows], self.low[rows], self.high[rows])


def condition(form: Form, low: float, high: float, count: int = 1) -> Condition:
    """One form, the same for all of ``count`` rows."""
    return Condition(
        np.full(count, form.offset), np.tile(form.per, (count, 1)), np.full(count, low), np.full(count, high)
    )


@dataclass(frozen=True)
class Axes:
    """The dimensions that a region depends on: the one it is told along, and the others with all their values.

    along: index of a dimension; others: indices of k more; combos (m, k): every set of values of those; spread (m, k):
    how far each may lie to either side, above 0 only where a dimension has no step.
    """

    dimensions: Dimensions
    along: int
    others: tuple[int, ...]
    combos: FloatArray
    spread: FloatArray

    @property
    def names(self) -> tuple[str, ...]:
        """Names of all of them, the one told along last."""
        return tuple(self.dimensions.names[index] for index in (*self.others, self.along))


def axes_of(dimensions: Dimensions, used: Iterable[int]) -> Axes:
    """Axes of a region that depends on some dimensions; the wheelbase is told along where it is among them."""
    each = dimensions.each
    vary = [index for index in sorted(set(used)) if each[index].most > each[index].least]
    endless = [index for index in vary if each[index].values is None]
    counts = {index: len(_values(each[index].values)) for index in vary if index not in endless}
    along = next(iter(endless), 0)
    if not endless and vary and 0 not in vary:
        along = max(vary, key=lambda index: (counts[index], -index))
    others = tuple(index for index in vary if index != along)
    grids = [_values(each[n].values, (each[n].least + each[n].most) / 2) for n in others]
    half = [(each[n].most - each[n].least) / 2 if each[n].values is None else 0.0 for n in others]
    combos = np.stack([g.ravel() for g in np.meshgrid(*grids, indexing="ij")], axis=-1) if grids else np.zeros((1, 0))
    return Axes(dimensions, along, others, combos, np.tile(np.array(half), (len(combos), 1)))


def _values(values: FloatArray | None, middle: float = 0.0) -> FloatArray:
    return np.array([middle]) if values is None else values


@dataclass(frozen=True)
class Hits:
    """Intervals of the dimension told along in which rows of some conditions hold, n of them.

    row: of the conditions; combo: row of the axes' combos; low, high: open ends, mm. sure: whether all the interval
    holds; false only where another dimension has no step.
    """

    row: IntArray
    combo: IntArray
    low: FloatArray
    high: FloatArray
    sure: BoolArray

    def at(self, rows: IntArray | BoolArray) -> Hits:
        """Some of the intervals."""
        return Hits(self.row[rows], self.combo[rows], self.low[rows], self.high[rows], self.sure[rows])

    def __len__(self) -> int:
        return len(self.row)


def solve(axes: Axes, conditions: Sequence[Condition]) -> Hits:
    """Where, for each row, all conditions (of one length) hold at once."""
    conditions = [_with_fixed(axes.dimensions, held) for held in conditions]
    count, combos = len(conditions[0].offset), len(axes.combos)
    step = max(_MOST_CELLS // max(combos, 1), 1)
    parts = []
    for start in range(0, count, step):
        rows = np.arange(start, min(start + step, count))
        parts += [_solved(axes, [held.at(rows) for held in conditions], rows, sure) for sure in _certainties(axes)]
    return joined_hits(parts)


def _with_fixed(dimensions: Dimensions, held: Condition) -> Condition:
    """Dimensions that have one value only, counted into the offsets."""
    fixed = np.where(dimensions.least == dimensions.most, dimensions.least, 0.0)
    return replace(held, offset=held.offset + held.per @ fixed)


def _certainties(axes: Axes) -> tuple[bool, ...]:
    return (True, False) if axes.spread.any() else (True,)


def _solved(axes: Axes, conditions: Sequence[Condition], rows: IntArray, sure: bool) -> Hits:
    """Ends for all rows and combos; where a dimension has no step, those that hold for all its values, or for some."""
    dimension = axes.dimensions.each[axes.along]
    low = np.full((len(rows), len(axes.combos)), dimension.least - _MARGIN)
    high = np.full((len(rows), len(axes.combos)), dimension.most + _MARGIN)
    for held in conditions:
        others = held.per[:, axes.others]
        rest = held.offset[:, None] + others @ axes.combos.T
        slope = held.per[:, axes.along] * (dimension.least < dimension.most)
        first, last = held.low[:, None] - rest, held.high[:, None] - rest
        if axes.spread.any():
            wide = np.abs(others) @ axes.spread.T * (1.0 if sure else -1.0)
            first, last = first + wide, last - wide
        first, last = _along(slope[:, None], first, last)
        low, high = np.maximum(low, first, out=low), np.minimum(high, last, out=high)
    row, combo = np.nonzero(low < high)
    return Hits(rows[row], combo, low[row, combo], high[row, combo], np.full(len(row), sure))


def _along(slope: FloatArray, low: FloatArray, high: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where slope (rows, 1) x value lies strictly between two figures (rows, combos)."""
    moves = slope != 0.0
    by = np.where(moves, slope, 1.0)
    first, last = low / by, high / by
    if (slope < 0.0).any():
        first, last = np.where(slope < 0.0, last, first), np.where(slope < 0.0, first, last)
    still = np.flatnonzero(~moves)
    if len(still):
        low, high = low[still], high[still]
        holds = (low < 0.0) & (high > 0.0) & (low < high)
        first[still], last[still] = np.where(holds, -np.inf, np.inf), np.where(holds, np.inf, -np.inf)
    return first, last


def joined_hits(parts: Sequence[Hits]) -> Hits:
    """All intervals of some sets."""
    empty = Hits(*(np.empty(0, dtype=np.int64),) * 2, *(np.empty(0),) * 2, np.empty(0, dtype=np.bool_))
    every = [empty, *parts]
    return Hits(*(np.concatenate([getattr(part, name) for part in every]) for name in Hits.__dataclass_fields__))


@dataclass(frozen=True)
class Region:
    """Values of order dimensions: for each combo of the axes some open intervals (n in all), apart and ascending."""

    axes: Axes
    combo: IntArray
    low: FloatArray
    high: FloatArray
    sure: BoolArray

    @property
    def is_empty(self) -> bool:
        """Whether no value at all lies in it, on a step or not."""
        return not len(self.combo)

    @cached_property
    def cells(self) -> BoolArray:
        """(m, values): which values of the dimension told along lie in it, for every combo."""
        return self._cells(np.ones(len(self.combo), dtype=np.bool_))

    @cached_property
    def sure_cells(self) -> BoolArray:
        """The same, of what holds for every value of a dimension without step."""
        return self._cells(self.sure)

    @cached_property
    def values(self) -> FloatArray:
        """Values of the dimension told along: those on its steps; without step, one in every stretch between ends."""
        dimension = self.axes.dimensions.each[self.axes.along]
        if dimension.values is not None:
            return dimension.values
        ends = np.clip(np.concatenate([self.low, self.high]), dimension.least, dimension.most)
        ends = np.unique(np.concatenate([ends, [dimension.least, dimension.most]]))
        return np.asarray((ends[1:] + ends[:-1]) / 2)

    def _cells(self, kept: BoolArray) -> BoolArray:
        values, combo = self.values, self.combo[kept]
        first = np.searchsorted(values, self.low[kept], side="right")
        behind = np.maximum(np.searchsorted(values, self.high[kept], side="left"), first)
        change = np.zeros((len(self.axes.combos), len(values) + 1), dtype=np.int64)
        np.add.at(change, (combo, first), 1)
        np.add.at(change, (combo, behind), -1)
        return np.asarray(np.cumsum(change, axis=1)[:, :-1] > 0)

    def holds(self, values: Mapping[str, float]) -> bool:
        """Whether an order's dimensions lie in it: the one told along at any value, the others on their steps."""
        axes = self.axes
        wanted = np.array([values[axes.dimensions.names[index]] for index in axes.others])
        off = np.abs(axes.combos - wanted) - axes.spread
        combo = np.flatnonzero(np.all(off <= 1e-6, axis=1))
        at = values[axes.dimensions.names[axes.along]]
        return bool(np.any(np.isin(self.combo, combo) & (self.low < at) & (at < self.high)))

    @property
    def any(self) -> bool:
        """Whether an order can have values in it."""
        return bool(self.cells.any())

    @property
    def all(self) -> bool:
        """Whether every order has values in it."""
        return bool(self.sure_cells.all())


def region(axes: Axes, hits: Hits) -> Region:
    """The union of some intervals."""
    group, low, high = _merged(hits.combo + len(axes.combos) * ~hits.sure, hits.low, hits.high)
    return _region(axes, group, low, high)


def merged_hits(axes: Axes, hits: Hits) -> Hits:
    """The same with the intervals of each row, combo and certainty as few as they can be."""
    combos = len(axes.combos)
    group, low, high = _merged((2 * hits.row + ~hits.sure) * combos + hits.combo, hits.low, hits.high)
    return Hits(group // (2 * combos), group % combos, low, high, group // combos % 2 == 0)


def in_all(axes: Axes, hits: Hits, part: IntArray, count: int) -> Region:
    """What intervals of every one of some parts hold; part: of each interval, from 0 to count - 1."""
    combos = 2 * len(axes.combos)
    groups = hits.combo + len(axes.combos) * ~hits.sure + combos * part
    group, low, high = _merged(groups, hits.low, hits.high)
    ends = np.concatenate([low, high])
    step = np.repeat([1, -1], len(low))
    group = np.tile(group % combos, 2)
    order = np.lexsort((step, ends, group))
    ends, group = ends[order], group[order]
    full = np.flatnonzero(np.cumsum(step[order]) == count)
    kept = full[ends[full] < ends[full + 1]] if len(full) else full
    return _region(axes, group[kept], ends[kept], ends[kept + 1])


def _region(axes: Axes, group: IntArray, low: FloatArray, high: FloatArray) -> Region:
    """Intervals of groups: combos that hold for certain, then those that may not."""
    sure = group < len(axes.combos)
    return Region(axes, group % len(axes.combos), low, high, sure)


def _merged(group: IntArray, low: FloatArray, high: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
    """Unions of the intervals of each group, ascending: groups, and the ends."""
    if not len(low):
        return group, low, high
    ends = np.concatenate([low, high])
    order = np.argsort(ends, kind="stable")
    ends = ends[order]
    first = np.append(True, ends[1:] - ends[:-1] > _TOUCHING)
    place = np.empty(len(ends), dtype=np.int64)
    place[order] = np.cumsum(first) - 1
    # Groups one after the other on one line of whole numbers, so that a single sweep serves them all.
    count = int(place.max()) + 1
    start, end = np.split(place, 2)
    start, end = group * count + start, group * count + end
    order_of = np.argsort(start, kind="stable")
    start, reached = start[order_of], np.maximum.accumulate(end[order_of])
    begins = np.append(True, start[1:] > reached[:-1])
    finishes = np.append(begins[1:], True)
    lowest, highest = ends[first], ends[np.append(first[1:], True)]
    return start[begins] // count, lowest[start[begins] % count], highest[reached[finishes] % count]


def spread_over(found: Region, names: Sequence[str]) -> BoolArray:
    """A region's sure cells with one axis for each of some dimensions, its own among them; others have length 1."""
    axes, own = found.axes, found.axes.names
    sizes = [len(_values(axes.dimensions.each[n].values)) for n in axes.others]
    cells = found.sure_cells.reshape(*sizes, -1)
    held = [name for name in names if name in own]
    cells = cells.transpose([own.index(name) for name in held])
    lengths = dict(zip(held, cells.shape, strict=True))
    return np.asarray(cells.reshape([lengths.get(name, 1) for name in names]))
