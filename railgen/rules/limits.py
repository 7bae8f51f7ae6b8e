"""Limits that hold for each feature: the rows of a limit set, its zones, and the strictest figure of them all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from railgen.data.library import Library, LibraryKey
from railgen.data.limit_sets import MEASURES, LimitRow, LimitSet, Multiplied, Range
from railgen.data.order import Zone
from railgen.holes.table import BoolArray, FloatArray, IntArray

Key = tuple[str, str]
"""Rule and measure."""


@dataclass(frozen=True)
class HeldRow:
    """A row as it holds for an order: inside its zone only where it stands in an order's zone."""

    row: LimitRow
    source: str
    zone: tuple[float, float] | None = None


@dataclass(frozen=True)
class LimitTable:
    """All rows by rule and measure, and for each the order's zones that replace them."""

    rows: Mapping[Key, tuple[HeldRow, ...]]
    replaced: Mapping[Key, tuple[tuple[float, float], ...]]

    def holds(self, rule: str, measure: str) -> bool:
        """Whether any row speaks of this measure."""
        return (rule, measure) in self.rows

    @cached_property
    def directed(self) -> frozenset[Key]:
        """Measures of pairs that some row holds along the rail or across it only."""
        return frozenset(
            key for key, held in self.rows.items() if any(entry.row.when and entry.row.when.direction for entry in held)
        )

    def plainly(self, rule: str, measure: str) -> float:
        """A figure that no limit of a measure is stricter than, wherever it is asked.

        What breaks no such figure breaks no limit. Infinitely strict where rows multiply sizes or are tables.
        """
        screen = self.screens.get((rule, measure), ())
        if len(screen) == 1 and screen[0][0] is None:
            return screen[0][1]
        return np.inf if sense_of(rule, measure) == "least" else -np.inf

    @cached_property
    def screens(self) -> Mapping[Key, tuple[tuple[Multiplied | None, float], ...]]:
        """Of each measure figures that none of its limits is stricter than, whatever its rows' conditions.

        At most one figure for each quantity that it multiplies, None for figures in mm; none for measures with a table.
        """
        return {key: _screen(key, held) for key, held in self.rows.items()}


def _screen(key: Key, held: tuple[HeldRow, ...]) -> tuple[tuple[Multiplied | None, float], ...]:
    if any(entry.row.table for entry in held):
        return ()
    pick = max if sense_of(*key) == "least" else min
    figures: dict[Multiplied | None, float] = {}
    for row in (entry.row for entry in held):
        for figure in (row.error, row.warning):
            if figure is not None:
                figures[row.of] = pick(figure, figures.get(row.of, figure))
    return tuple(figures.items())


def sense_of(rule: str, measure: str) -> str:
    """Whether a measure's limits are the least or the most that is allowed."""
    return MEASURES[rule][measure]


@dataclass(frozen=True)
class Quantities:
    """What rows multiply and ask for, one value a feature (mm, MPa)."""

    station: FloatArray
    thickness: FloatArray
    liner_thickness: float
    hole: FloatArray
    bolt: FloatArray
    depth: FloatArray
    tensile: FloatArray
    zones: Mapping[str, tuple[float, float]]

    def multiplied(self, of: Multiplied) -> FloatArray | float:
        """A quantity by the name that rows have for it."""
        named: dict[Multiplied, FloatArray | float] = {
            "t": self.thickness,
            "liner t": self.liner_thickness,
            "hole": self.hole,
            "bolt": self.bolt,
            "depth": self.depth,
        }
        return named[of]


@dataclass(frozen=True)
class Limits:
    """The strictest figures for each feature; infinite where no row holds. Sources index ``held``."""

    error: FloatArray
    warning: FloatArray
    error_source: IntArray
    warning_source: IntArray
    held: tuple[HeldRow, ...]
    sense: str

    def at(self, index: IntArray | BoolArray) -> Limits:
        """The limits of some features."""
        return Limits(
            self.error[index],
            self.warning[index],
            self.error_source[index],
            self.warning_source[index],
            self.held,
            self.sense,
        )

    @cached_property
    def strictest(self) -> FloatArray:
        """Of each feature the figure that is broken first, of the error's and the warning's."""
        return np.asarray((np.fmax if self.sense == "least" else np.fmin)(self.error, self.warning))

    @property
    def greatest(self) -> float:
        """The greatest figure of them all, no less than 0: how far away something may still matter."""
        return max(float(np.fmax.reduce(figures, initial=0.0)) for figures in (self.error, self.warning))

    def stricter(self, other: Limits) -> Limits:
        """Pairwise the stricter of two, both of one measure."""
        better = np.greater if self.sense == "least" else np.less
        return self._with(other, better(other.error, self.error), better(other.warning, self.warning))

    def chosen(self, other: Limits, take_other: BoolArray) -> Limits:
        """These limits, those of another evaluation of the same measure where told."""
        return self._with(other, take_other, take_other)

    def _with(self, other: Limits, error: BoolArray, warning: BoolArray) -> Limits:
        """These limits with the other's errors and warnings where told."""
        return Limits(
            np.where(error, other.error, self.error),
            np.where(warning, other.warning, self.warning),
            np.where(error, other.error_source, self.error_source),
            np.where(warning, other.warning_source, self.warning_source),
            self.held,
            self.sense,
        )


def inherited_rows(limit_sets: Mapping[str, LimitSet], name: str) -> dict[Key, tuple[LimitRow, ...]]:
    """Rows of a set by rule and measure; its own replace all inherited rows of the same measure."""
    limit_set = limit_sets[name]
    rows = inherited_rows(limit_sets, limit_set.inherits) if limit_set.inherits else {}
    own: dict[Key, list[LimitRow]] = {}
    for row in limit_set.rows:
        own.setdefault((row.rule, row.measure), []).append(row)
    return rows | {key: tuple(value) for key, value in own.items()}


def limit_table(library: Library, name: str, zones: tuple[Zone, ...] = ()) -> LimitTable:
    """The rows that hold for an order: those of a set, with the order's zones in place of them."""
    of_set = _set_table(LibraryKey(library), name)
    if not zones:
        return of_set
    rows = dict(of_set.rows)
    replaced: dict[Key, tuple[tuple[float, float], ...]] = {}
    for zone in zones:
        span = (zone.start, zone.end)
        source = f"zone {zone.start:g} to {zone.end:g}: {zone.reason} (approved by {zone.approver})"
        for row in zone.rows:
            key = (row.rule, row.measure)
            rows[key] = (*rows.get(key, ()), HeldRow(row, source, span))
            if span not in replaced.get(key, ()):
                replaced[key] = (*replaced.get(key, ()), span)
    return LimitTable(rows, replaced)


@lru_cache(maxsize=64)
def _set_table(library: LibraryKey, name: str) -> LimitTable:
    rows = inherited_rows(library.library.limit_sets, name)
    held_rows = {key: tuple(HeldRow(row, row.source) for row in held) for key, held in rows.items()}
    return LimitTable(held_rows, {})


def evaluate(table: LimitTable, rule: str, measure: str, of: Quantities, direction: str = "") -> Limits:
    """The strictest limits of one measure for every feature; direction ("along", "across") is for pairs."""
    held = table.rows.get((rule, measure), ())
    sense = sense_of(rule, measure)
    count = len(of.station)
    error = warning = _Strictest(_everywhere(count, -np.inf if sense == "least" else np.inf), _first_row(count))
    spans = table.replaced.get((rule, measure))
    replaced = _inside(spans, of.station) if spans else None
    for index, entry in enumerate(held):
        row = entry.row
        if row.when and row.when.direction and row.when.direction != direction:
            continue
        applies = _applies(row, of)
        if entry.zone:
            applies = _inside((entry.zone,), of.station) & (True if applies is None else applies)
        elif replaced is not None:
            applies = ~replaced & (True if applies is None else applies)
        error = error.or_stricter(_figure(row, "error", of), sense, index, applies)
        warning = warning.or_stricter(_figure(row, "warning", of), sense, index, applies)
    return Limits(error.figure, warning.figure, error.source, warning.source, held, sense)


@dataclass(frozen=True)
class _Strictest:
    """The strictest figures so far, of errors or of warnings, for each of n features, and the rows they are from."""

    figure: FloatArray
    source: IntArray
    is_none: bool = True
    """Whether no row has spoken yet: every figure is beyond all others."""

    def or_stricter(
        self, value: FloatArray | float | None, sense: str, index: int, applies: BoolArray | None
    ) -> _Strictest:
        """Another row's figure where it applies (None: everywhere) and is stricter than those so far."""
        if value is None:
            return self
        if self.is_none and applies is None:
            figure = np.full(len(self.figure), value) if np.ndim(value) == 0 else np.asarray(value)
            source = np.full(len(figure), index) if index else self.source
            return _Strictest(figure, source, is_none=False)
        stricter = (np.greater if sense == "least" else np.less)(value, self.figure)
        chosen = stricter if applies is None else stricter & applies
        source = np.where(chosen, index, self.source) if index else self.source
        return _Strictest(np.where(chosen, value, self.figure), source, is_none=False)


@lru_cache(maxsize=1024)
def _everywhere(count: int, value: float) -> FloatArray:
    """One value for all, not to be written to: it is shared."""
    values = np.full(count, value)
    values.flags.writeable = False
    return values


@lru_cache(maxsize=1024)
def _first_row(count: int) -> IntArray:
    rows = np.zeros(count, dtype=np.int64)
    rows.flags.writeable = False
    return rows


def rows_present(table: LimitTable, rule: str, measure: str, station: FloatArray) -> BoolArray:
    """Whether the measure has any row at stations (n, mm), whatever else the row asks for."""
    present = np.zeros(len(station), dtype=np.bool_)
    replaced = _inside(table.replaced.get((rule, measure), ()), station)
    for entry in table.rows.get((rule, measure), ()):
        present |= _inside((entry.zone,), station) if entry.zone else ~replaced
    return present


def _inside(spans: tuple[tuple[float, float] | None, ...], station: FloatArray) -> BoolArray:
    inside = np.zeros(len(station), dtype=np.bool_)
    for span in spans:
        if span is not None:
            inside |= (station >= span[0]) & (station <= span[1])
    return inside


def _applies(row: LimitRow, of: Quantities) -> BoolArray | None:
    """Where the row's conditions hold; None where it has none and a figure for every feature."""
    when = row.when
    if when is None and not row.table:
        return None
    applies: BoolArray = np.array(True)
    if when is None:
        return applies
    for bounds, values in (
        (when.tensile, of.tensile),
        (when.thickness, of.thickness),
        (when.depth, of.depth),
        (when.hole, of.hole),
        (when.bolt, of.bolt),
    ):
        if bounds is not None:
            applies = applies & within(bounds, values)
    if when.zone is not None:
        applies = applies & _inside((of.zones.get(when.zone),), of.station)
    return applies


def within(bounds: Range, values: FloatArray) -> BoolArray:
    within = np.ones(len(values), dtype=np.bool_)
    if bounds.least is not None:
        within &= values >= bounds.least
    if bounds.most is not None:
        within &= values <= bounds.most
    if bounds.above is not None:
        within &= values > bounds.above
    if bounds.below is not None:
        within &= values < bounds.below
    return within


def _figure(row: LimitRow, kind: str, of: Quantities) -> FloatArray | float | None:
    """Value of a row's error or warning for every feature; a table gives errors, NaN beyond its last size."""
    if row.table:
        if kind == "warning":
            return None
        sizes = np.array([size for size, _ in row.table])
        values = np.array([value for _, value in row.table] + [np.nan])
        of_what = of.bolt if row.of == "bolt" else of.hole
        return np.asarray(values[np.searchsorted(sizes, of_what - 1e-9, side="left")])
    figure = row.error if kind == "error" else row.warning
    if figure is None or row.of is None:
        return figure
    return np.asarray(figure * of.multiplied(row.of))
