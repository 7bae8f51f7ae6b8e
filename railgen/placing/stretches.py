"""Regions told for people and files: for which values of which dimensions, in as few stretches as say it exactly."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from railgen.data.values import MM_PER_INCH, Units
from railgen.holes.table import BoolArray, IntArray
from railgen.placing.forms import Form
from railgen.placing.regions import Axes, Region

_MOST_TOLD = 3
"""Stretches that a sentence tells one by one; more are summed up."""


@dataclass(frozen=True)
class Stretch:
    """Intervals (open, mm) of the dimension told along, and the values on its steps that lie inside, for some others.

    fixed: values of the other dimensions for which they hold; dimensions for whose every value they hold are left out.
    """

    fixed: tuple[tuple[str, tuple[float, ...]], ...]
    along: str
    intervals: tuple[tuple[float, float], ...]
    values: tuple[float, ...]


def stretches(found: Region) -> tuple[Stretch, ...]:
    """A region exactly, combos of values with the same intervals together."""
    groups: dict[tuple[tuple[float, float], ...], list[int]] = {}
    combo, low, high = found.combo.tolist(), found.low.round(9).tolist(), found.high.round(9).tolist()
    intervals: dict[int, list[tuple[float, float]]] = {}
    for number, first, last in sorted(zip(combo, low, high, strict=True)):
        intervals.setdefault(number, []).append((first, last))
    for number in sorted(intervals):
        groups.setdefault(tuple(intervals[number]), []).append(number)
    return tuple(
        Stretch(fixed, found.axes.names[-1], ends, _inside(found, combos[0]))
        for ends, combos in groups.items()
        for fixed in boxes(found.axes, np.array(combos))
    )


def _inside(found: Region, combo: int) -> tuple[float, ...]:
    if found.axes.dimensions.each[found.axes.along].values is None:
        return ()
    return tuple(found.values[found.cells[combo]].tolist())


def boxes(axes: Axes, combos: IntArray) -> Iterator[tuple[tuple[str, tuple[float, ...]], ...]]:
    """Some combos as boxes: sets of values of the dimensions, those that take all of theirs left out."""
    names = [axes.dimensions.names[index] for index in axes.others]
    every = [np.unique(column) for column in axes.combos.T]
    yield from _boxes(names, every, axes.combos[combos])


def _boxes(
    names: Sequence[str], every: Sequence[np.ndarray], rows: np.ndarray
) -> Iterator[tuple[tuple[str, tuple[float, ...]], ...]]:
    own = [np.unique(column) for column in rows.T]
    if int(np.prod([len(values) for values in own])) == len(rows):
        yield tuple(
            (name, tuple(values.tolist()))
            for name, values, whole in zip(names, own, every, strict=True)
            if len(values) < len(whole)
        )
        return
    first = next(index for index, values in enumerate(own) if len(values) > 1)
    for value in own[first].tolist():
        yield from _boxes(names, every, rows[rows[:, first] == value])


def in_words(found: Region, units: Units = "mm") -> str:
    """Where a region lies, on the steps that orders may have."""
    dimension = found.axes.dimensions.each[found.axes.along]
    if found.all:
        return "all"
    told = [
        (fixed, found.cells[combos[0]])
        for combos in _alike(found.cells)
        for fixed in boxes(found.axes, combos)
        if found.cells[combos[0]].any()
    ]
    whole = _name(dimension.name)
    if len(told) > _MOST_TOLD:
        some = runs(found, np.logical_or.reduce(found.cells, axis=0), units)
        return f"{whole} {some}, depending on {' and '.join(_name(name) for name in found.axes.names[:-1])}"
    return "; ".join(_told(found, fixed, row, units) for fixed, row in told)


def _alike(cells: BoolArray) -> list[IntArray]:
    """Combos with the same cells."""
    _, number = np.unique(cells, axis=0, return_inverse=True)
    return [np.flatnonzero(number.ravel() == one) for one in dict.fromkeys(number.ravel().tolist())]


def _told(found: Region, fixed: tuple[tuple[str, tuple[float, ...]], ...], row: BoolArray, units: Units) -> str:
    along = found.axes.names[-1]
    parts = [f"{_name(name)} {', '.join(figure(value, units) for value in values)}" for name, values in fixed]
    if row.all() and parts:
        return " and ".join(parts)
    with_them = f" with {' and '.join(parts)}" if parts else ""
    return f"{_name(along)} {runs(found, row, units)}{with_them}"


def runs(found: Region, row: BoolArray, units: Units) -> str:
    """Values on steps as runs: from-to where they follow one another."""
    if found.axes.dimensions.each[found.axes.along].values is None:
        ends = sorted(zip(found.low.tolist(), found.high.tolist(), strict=True))
        return ", ".join(f"between {figure(low, units)} and {figure(high, units)}" for low, high in ends)
    edges = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(np.int8)))
    told = []
    for first, behind in edges.reshape(-1, 2).tolist():
        start, end = figure(float(found.values[first]), units), figure(float(found.values[behind - 1]), units)
        told.append(start if behind - first == 1 else f"{start} to {end}")
    return ", ".join(told)


def figure(value: float, units: Units) -> str:
    """A length for a sentence, thousands apart."""
    shown = value / MM_PER_INCH if units == "in" else value
    text = f"{shown:,.3f}".rstrip("0").rstrip(".").replace(",", " ")
    return f"{text} in" if units == "in" else text


def _name(dimension: str) -> str:
    return dimension.replace(".", " ").replace("_", " ")


def form_in_words(form: Form, names: Sequence[str]) -> str:
    """A form as a sum, mm."""
    parts = [f"{form.offset:+.3f}".rstrip("0").rstrip(".")] if form.offset else []
    for name, factor in zip(names, form.per.tolist(), strict=True):
        if factor:
            size = "" if abs(factor) == 1.0 else f"{abs(factor):g} x "
            parts.append(f"{'+' if factor > 0 else '-'}{size}{_name(name)}")
    text = " ".join(f"{part[0]} {part[1:]}" for part in parts)
    return text.removeprefix("+ ") or "0"
