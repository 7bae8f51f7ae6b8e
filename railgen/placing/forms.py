"""Stations as linear forms of a family's order dimensions, and the values that those dimensions may take.

A fixed component stands at anchor + offset + coefficients x order dimensions. Repeats that reach up to a station are
linear too as long as their count does not change: one piece for each count, told by the span that it holds for.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil

import numpy as np

from railgen.data.component import BUILT_IN_ANCHORS, ORDER_DIMENSIONS, Component, Family, Parameter, Station
from railgen.data.library import Library
from railgen.holes.table import FloatArray, IntArray
from railgen.layout.resolve import family_zones
from railgen.placing.floats import grid_stations

SLACK = 1e-9
"""mm and shares of a pitch: what the layout allows for rounding when it counts repeats and holds intervals."""


@dataclass(frozen=True)
class Dimension:
    """An order dimension: its name, the least and most (mm), and every value it may take; None where it has no step."""

    name: str
    least: float
    most: float
    values: FloatArray | None


@dataclass(frozen=True)
class Dimensions:
    """The order dimensions of a family and the parameters of the options sold in it, D of them, in a fixed order."""

    family: Family
    each: tuple[Dimension, ...]

    @property
    def names(self) -> tuple[str, ...]:
        """Their names; an option's parameter as CODE.name."""
        return tuple(dimension.name for dimension in self.each)

    def form(self, station: Station) -> Form:
        """A station of the family as a form."""
        anchor = self.anchors[station.anchor]
        return Form(anchor.offset + station.offset, anchor.per + self._row(station.per))

    @property
    def anchors(self) -> dict[str, Form]:
        """All stations that positions are measured from."""
        every = BUILT_IN_ANCHORS | self.family.anchors
        return {name: Form(entry.offset, self._row(entry.per)) for name, entry in every.items()}

    @property
    def zones(self) -> dict[str, tuple[Form, Form]]:
        """From and to of every zone of the family."""
        return {name: (self.form(start), self.form(end)) for name, (start, end) in family_zones(self.family).items()}

    def alone(self, name: str) -> Form:
        """One dimension itself as a form."""
        return Form(0.0, self._row({name: 1.0}))

    def _row(self, per: dict[str, float]) -> FloatArray:
        return np.array([per.get(name, 0.0) for name in self.names])

    @property
    def least(self) -> FloatArray:
        """(D,) least values, mm."""
        return np.array([dimension.least for dimension in self.each])

    @property
    def most(self) -> FloatArray:
        """(D,) greatest values, mm."""
        return np.array([dimension.most for dimension in self.each])


@dataclass(frozen=True)
class Form:
    """offset (mm) + per (D,) x order dimensions."""

    offset: float
    per: FloatArray

    def minus(self, other: Form) -> Form:
        """The difference of two forms."""
        return Form(self.offset - other.offset, self.per - other.per)

    def reach(self, dimensions: Dimensions) -> tuple[float, float]:
        """Its least and greatest value over all values of the dimensions, mm."""
        low, high = form_range(np.array([self.offset]), self.per[None, :], dimensions)
        return float(low[0]), float(high[0])


def form_range(offset: FloatArray, per: FloatArray, dimensions: Dimensions) -> tuple[FloatArray, FloatArray]:
    """Least and greatest values of n forms: offset (n,) or (n, m), per the same with (..., D) behind."""
    at_least, at_most = per * dimensions.least, per * dimensions.most
    low = offset + np.minimum(at_least, at_most).sum(axis=-1)
    high = offset + np.maximum(at_least, at_most).sum(axis=-1)
    return low, high


def dimensions_of(library: Library, family: Family) -> Dimensions:
    """The dimensions of a family and what each may be."""
    of_family: dict[str, Parameter] = {str(name): entry for name, entry in family.dimensions.items()}
    each = [_dimension(name, of_family[name]) for name in ORDER_DIMENSIONS]
    for option in library.options.values():
        for name, entry in option.parameters.items():
            sold = family.id in option.families
            each.append(_dimension(f"{option.code}.{name}", entry, varies=sold))
    return Dimensions(family, tuple(each))


def _dimension(name: str, allowed: Parameter, varies: bool = True) -> Dimension:
    """A dimension; one of an option that is not sold here is always at its default."""
    if not varies:
        return Dimension(name, allowed.default, allowed.default, np.array([allowed.default]))
    if allowed.choices:
        return _stepped(name, np.array(sorted(set(allowed.choices))))
    if allowed.most == allowed.least:
        return _stepped(name, np.array([allowed.least]))
    if not allowed.step:
        return Dimension(name, allowed.least, allowed.most, None)
    steps = int((allowed.most - allowed.least) / allowed.step + 1e-6)
    return _stepped(name, np.asarray(allowed.least + allowed.step * np.arange(steps + 1)))


def _stepped(name: str, values: FloatArray) -> Dimension:
    return Dimension(name, float(values[0]), float(values[-1]), values)


@dataclass(frozen=True)
class Stations:
    """Every station that a component may have: K rows, one for each instance in each piece.

    offset (K,) and per (K, D): the forms; instance (K,) from 1; count (K,) instances in the row's piece; the row holds
    where the span lies strictly between low and high (K,); present: likewise for the whole component, or None; shift
    (S,): how far a floating component may settle from there, mm, nearest first.
    """

    offset: FloatArray
    per: FloatArray
    instance: IntArray
    count: IntArray
    span: Form
    low: FloatArray
    high: FloatArray
    present: tuple[Form, float, float] | None
    shift: FloatArray

    @property
    def pieces(self) -> bool:
        """Whether the number of instances depends on the order."""
        return bool(np.isfinite(self.low).any())


def stations_of(component: Component, dimensions: Dimensions) -> Stations:
    """All stations of a component over all values of the dimensions."""
    first = dimensions.form(component.position)
    rows = np.array(list(_rows(component, first, dimensions)))
    share, along, instance, count, low, high = rows.T
    span = _span(component, first, dimensions)
    shift = np.array(list(grid_stations(component, 0.0))) if component.floating else np.zeros(1)
    return Stations(
        offset=first.offset + along + share * span.offset,
        per=first.per + share[:, None] * span.per,
        instance=instance.astype(np.int64),
        count=count.astype(np.int64),
        span=span,
        low=low,
        high=high,
        present=_present(component, dimensions),
        shift=shift,
    )


def _span(component: Component, first: Form, dimensions: Dimensions) -> Form:
    repeat = component.repeat
    if repeat is None or repeat.to is None:
        return Form(0.0, np.zeros(len(dimensions.each)))
    return dimensions.form(repeat.to).minus(first)


def _rows(component: Component, first: Form, dimensions: Dimensions) -> Iterator[tuple[float, ...]]:
    """Share of the span, distance, instance and count of each row, and the ends of the span that it holds for."""
    repeat = component.repeat
    if repeat is None or repeat.to is None or repeat.greatest_pitch is None:
        count, pitch = (repeat.count or 1, repeat.pitch or 0.0) if repeat else (1, 0.0)
        for index in range(count):
            yield 0.0, index * pitch, index + 1, count, -np.inf, np.inf
        return
    greatest = repeat.greatest_pitch
    shortest, longest = _span(component, first, dimensions).reach(dimensions)
    fewest, most = (max(ceil(length / greatest - SLACK), 0) for length in (shortest, longest))
    # A span below zero cannot be built: the layout refuses it.
    for gaps in range(fewest, most + 1):
        low = greatest * (gaps - 1 + SLACK) if gaps else -1e-6
        for index in range(gaps + 1):
            yield index / max(gaps, 1), 0.0, index + 1, gaps + 1, low, greatest * (gaps + SLACK) + 1e-12


def _present(component: Component, dimensions: Dimensions) -> tuple[Form, float, float] | None:
    interval = component.present
    if interval is None:
        return None
    least = -np.inf if interval.least is None else interval.least - SLACK
    most = np.inf if interval.most is None else interval.most + SLACK
    return dimensions.alone(interval.dimension), least, most
