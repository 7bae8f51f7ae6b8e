"""Ranges that enclose a value over a stretch: interval arithmetic on arrays, for bounds that hold without sampling.

Every operation returns a range that holds all results of its operands' values. Source: interval arithmetic (Moore),
without directed rounding: what is proved with it holds to the rounding of double precision.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray


@dataclass(frozen=True)
class Range:
    """Least and greatest of a value, arrays of one shape; an end may be infinite."""

    low: FloatArray
    high: FloatArray

    @staticmethod
    def between(first: FloatArray, second: FloatArray) -> Range:
        """Of a value that only grows or only falls from first to second."""
        return Range(np.minimum(first, second), np.maximum(first, second))

    @staticmethod
    def point(value: FloatArray) -> Range:
        """Of one value."""
        return Range(value, value)

    def __add__(self, other: Range | FloatArray | float) -> Range:
        if not isinstance(other, Range):
            return Range(self.low + other, self.high + other)
        return Range(self.low + other.low, self.high + other.high)

    def __neg__(self) -> Range:
        return Range(-self.high, -self.low)

    def __sub__(self, other: Range | FloatArray | float) -> Range:
        return self + -other

    def __mul__(self, other: Range | FloatArray | float) -> Range:
        if not isinstance(other, Range):
            return Range.between(self.low * other, self.high * other)
        with np.errstate(invalid="ignore"):
            products = [x * y for x in (self.low, self.high) for y in (other.low, other.high)]
        low, high = _ends(products)
        if np.isnan(low).any():
            # An infinite end is a limit that is not reached: times nothing it is nothing.
            low, high = _ends([np.where(np.isnan(product), 0.0, product) for product in products])
        return Range(low, high)

    def over(self, divisor: Range) -> Range:
        """Divided by a value that is above zero, though its range may not be: then it may be as small as can be."""
        with np.errstate(divide="ignore", over="ignore"):
            inverse = Range(1 / divisor.high, np.where(divisor.low > 0, 1 / divisor.low, np.inf))
        return self * inverse

    def take(self, index: IntArray) -> Range:
        """The ranges at an index."""
        return Range(self.low[index], self.high[index])

    def summed(self, group: IntArray, count: int) -> Range:
        """Sums over groups 0 to count - 1."""
        return Range(*(np.bincount(group, end, count).astype(np.float64) for end in (self.low, self.high)))

    def chosen(self, other: Range, here: BoolArray) -> Range:
        """This range where told, elsewhere the other."""
        return Range(np.where(here, self.low, other.low), np.where(here, self.high, other.high))

    def hull(self, other: Range, where: BoolArray) -> Range:
        """Where told, the range that holds both."""
        return Range(np.minimum(self.low, other.low), np.maximum(self.high, other.high)).chosen(self, where)

    @property
    def size(self) -> FloatArray:
        """Greatest absolute value."""
        return np.maximum(np.abs(self.low), np.abs(self.high))


def _ends(values: Sequence[FloatArray]) -> tuple[FloatArray, FloatArray]:
    """Least and greatest of four arrays."""
    first, second, third, fourth = values
    low = np.minimum(np.minimum(first, second), np.minimum(third, fourth))
    return low, np.maximum(np.maximum(first, second), np.maximum(third, fourth))
