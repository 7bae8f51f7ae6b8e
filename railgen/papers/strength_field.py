"""A field of a strength sheet: values along the rail above its stations, with a scale at its left."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor, log10

import numpy as np
import shapely

from railgen.holes.table import FloatArray
from railgen.papers.fonts import MIDDLE, SMALL
from railgen.papers.sheet import EDGE, GREY, GRID, THIN, Item, Text, polygon, rectangle, segments
from railgen.papers.views import View

_STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)
_TICK = 1.2
_NEAR = 0.03
"""mm of paper that no one sees."""


@dataclass(frozen=True)
class Field:
    """A field between y = `bottom` and `top` (mm of paper) for values from `low` to `high`, stations as in `view`."""

    view: View
    bottom: float
    top: float
    low: float
    high: float

    def y(self, values: FloatArray | float) -> FloatArray:
        """y on the sheet of values, any shape; those beyond the field lie on its edge."""
        share = (np.clip(values, self.low, self.high) - self.low) / (self.high - self.low)
        return np.asarray(self.bottom + share * (self.top - self.bottom))

    def points(self, stations: FloatArray, values: FloatArray) -> FloatArray:
        """Points on the sheet of the line through some values, (n, 2): as few as keep within 0.03 mm of it."""
        line = shapely.LineString(np.stack([self.view.x(stations), self.y(values)], axis=-1))
        return np.asarray(shapely.get_coordinates(shapely.simplify(line, _NEAR, preserve_topology=False)))

    def area(self, stations: FloatArray, values: FloatArray, fill: str) -> Item:
        """The area between values along the rail and nothing."""
        line = self.points(stations, values)
        x, zero = line[[-1, 0], 0], float(self.y(0.0))
        return polygon(np.concatenate([line, np.stack([x, [zero, zero]], axis=-1)]), None, fill)


def field_of(view: View, bottom: float, top: float, values: FloatArray, room: float = 0.08) -> Field:
    """The field that holds all values, and 0, with some room beside them."""
    low, high = min(float(values.min(initial=0.0)), 0.0), max(float(values.max(initial=0.0)), 0.0)
    spare = room * max(high - low, 1e-6)
    return Field(view, bottom, top, low - spare if low < 0 else 0.0, high + spare)


def field_frame(field: Field, heading: str, unit: str, grid: float = 500.0) -> Iterator[Item]:
    """The field's edge, its scale with pale lines, its zero line, pale lines at round stations, and its heading."""
    left, right = field.view.left, field.view.right
    ticks = round_values(field.low, field.high)
    y = field.y(ticks)
    yield segments([[(left, at), (right, at)] for at in y.tolist()], GRID)
    x = field.view.x(round_stations(field.view, grid))
    yield segments([[(at, field.bottom), (at, field.top)] for at in x.tolist()], GRID)
    yield rectangle(left, field.bottom, right, field.top, EDGE)
    yield segments([[(left - _TICK, at), (left, at)] for at in y.tolist()], THIN)
    decimals = max(-floor(log10(float(np.diff(ticks).min()) + 1e-12)), 0) if len(ticks) > 1 else 0
    for value, at in zip(ticks.tolist(), y.tolist(), strict=True):
        yield Text(left - _TICK - 0.8, at - SMALL / 2, f"{value + 0.0:.{decimals}f}", SMALL, "right")
    if field.low < 0 < field.high:
        zero = float(field.y(0.0))
        yield segments([[(left, zero), (right, zero)]], THIN)
    yield Text(left, field.top + 1.4, heading, MIDDLE, bold=True)
    yield Text(left - _TICK - 0.8, field.top + 1.4, unit, SMALL, "right", colour=GREY)


def round_values(low: float, high: float, most: int = 5) -> FloatArray:
    """Round values from low to high at one step, no more than so many steps."""
    raw = (high - low) / most
    power = 10.0 ** floor(log10(raw))
    step = next(power * step for step in _STEPS if power * step >= raw - 1e-12)
    return _multiples(low, high, step)


def round_stations(view: View, step: float) -> FloatArray:
    """Stations at a step from the front axle that lie in a view."""
    return _multiples(view.start, view.end, step)


def _multiples(low: float, high: float, step: float) -> FloatArray:
    return np.asarray(np.arange(ceil(low / step - 1e-9), floor(high / step + 1e-9) + 1) * step, dtype=np.float64)


def station_axis(view: View, y: float, words: str, step: float = 500.0) -> Iterator[Item]:
    """Stations below the lowest field, mm from the front axle."""
    stations = round_stations(view, step)
    x = view.x(stations)
    yield segments([[(at, y), (at, y - _TICK)] for at in x.tolist()], THIN)
    for station, at in zip(stations.tolist(), x.tolist(), strict=True):
        yield Text(at, y - _TICK - 0.8 - SMALL, f"{station:.0f}", SMALL, "middle")
    if words:
        yield Text(view.left, y - _TICK - 4.8 - SMALL, words, SMALL, colour=GREY)
