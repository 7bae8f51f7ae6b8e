"""Saturation of Almen strips: arc height fitted against time, the saturation time and the intensity there."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log

import numpy as np

from railgen.holes.table import FloatArray

LEAST_TIMES = 4
"""Strips of different times that a curve is drawn from, at least. Source: SAE J443, from memory."""
GAIN = 0.10
"""Doubling the time of saturation adds this share of the arc height. Source: SAE J443."""
GREATEST_MISFIT = 0.10
"""A strip further from the curve than this share of its height is not of this curve. Common practice, no source."""
_FAR = 10.0  # longest times: what lies further out is a straight line's
_GRID = 400
_FINEST = 1e-12  # of ln(rate), where the search ends
_GOLDEN = (5**0.5 - 1) / 2


class NoSaturation(ValueError):  # noqa: N818 - it says something of the data, not of the program
    """The strips do not support a saturation curve; the message says why and what to do."""


@dataclass(frozen=True)
class Saturation:
    """The curve h = height (1 - exp(-rate t)) and its point of saturation, in the units of the strips.

    misfit: the furthest that any strip lies from the curve, as a share of the curve's height there.
    """

    height: float
    rate: float
    misfit: float

    @property
    def time(self) -> float:
        """Saturation time: the first at which doubling it adds no more than 10 %, ln(10) / rate. Source: SAE J443."""
        return log(1 / GAIN) / self.rate

    @property
    def intensity(self) -> float:
        """Arc height at the saturation time: 0.9 of what the curve tends to."""
        return (1 - GAIN) * self.height

    def at(self, time: FloatArray) -> FloatArray:
        """The curve at times (n,)."""
        return np.asarray(self.height * -np.expm1(-self.rate * time))


def saturation(time: FloatArray, arc_height: FloatArray) -> Saturation:
    """The curve of least squares through strips: times (n,) and arc heights (n,), both above 0, in any order.

    Raises NoSaturation where there are too few times, where the curve still rises at the longest one, where even the
    shortest lies beyond saturation, and where a strip lies too far from the curve. Source: SAE J443 and J2597 (the
    exponential of two parameters; from memory).
    """
    times = np.unique(time)
    if len(times) < LEAST_TIMES:
        raise NoSaturation(
            f"too few points: {len(times)} different times; a curve needs {LEAST_TIMES} at least. Expose more strips."
        )
    rate = _best_rate(time, arc_height)
    height, _ = _scaled(time, arc_height, rate)
    curve = -height * np.expm1(-rate * time)
    found = Saturation(height, rate, float((np.abs(arc_height - curve) / curve).max()))
    shortest, longest = float(times[0]), float(times[-1])
    if not np.isfinite(found.time) or 2 * found.time > longest * (1 + 1e-9):
        at = f"at {found.time:.4g}" if found.time < _FAR * longest else "beyond any time tried"
        raise NoSaturation(
            f"no saturation: the curve saturates {at}, and only a strip of twice that time or longer "
            f"shows it; the longest is {longest:.4g}. Expose strips longer."
        )
    if found.time < shortest:
        raise NoSaturation(
            f"the first point lies beyond saturation: the curve saturates at {found.time:.4g}, before the shortest "
            f"time of {shortest:.4g}, so that nothing shows how it rises. Expose strips shorter."
        )
    if found.misfit > GREATEST_MISFIT:
        worst = int(np.argmax(np.abs(arc_height - curve) / curve))
        raise NoSaturation(
            f"the strips lie on no one curve: at time {time[worst]:.4g} the arc height is {arc_height[worst]:.4g}, "
            f"the curve has {curve[worst]:.4g}; more than {GREATEST_MISFIT:.0%} off. Measure again."
        )
    return found


def _scaled(time: FloatArray, arc_height: FloatArray, rate: float) -> tuple[float, float]:
    """The height of least squares for a rate, and the sum of squares that is left."""
    shape = -np.expm1(-rate * time)
    height = float(shape @ arc_height / (shape @ shape))
    left = arc_height - height * shape
    return height, float(left @ left)


def _best_rate(time: FloatArray, arc_height: FloatArray) -> float:
    """The rate of least squares: the best of a grid over all rates that times can tell, refined by golden section."""

    def left(logarithm: float) -> float:
        return _scaled(time, arc_height, exp(logarithm))[1]

    grid = np.linspace(log(1e-3 / time.max()), log(1e2 / time.min()), _GRID)
    best = int(np.argmin([left(value) for value in grid.tolist()]))
    low, high = float(grid[max(best - 1, 0)]), float(grid[min(best + 1, _GRID - 1)])
    while high - low > _FINEST:
        first, second = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        if first >= second or first <= low or second >= high:
            break
        if left(first) <= left(second):
            high = second
        else:
            low = first
    return exp((low + high) / 2)
