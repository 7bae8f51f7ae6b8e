"""Distances that change evenly as a component moves along the rail."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import FloatArray, IntArray


@dataclass(frozen=True)
class Term:
    """A distance of each row (n, mm), how fast it grows over the station, and what it is measured from (see alone)."""

    value: FloatArray
    slope: FloatArray
    mark: int

    def below(self, rows: IntArray, limit: FloatArray, drift: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Ends of the interval of steps in which some rows are below their limits; inf and -inf where there is none.

        drift: how fast the limits grow over the station.
        """
        value, slope = self.value[rows], self.slope[rows] - drift
        moves = slope != 0
        step = np.divide(limit - value, slope, out=np.zeros(len(rows)), where=moves)
        # An infinite distance is never below a limit, an infinite limit never kept.
        always = np.where(moves, False, value < limit)
        low = np.where(moves & (slope > 0), -np.inf, np.where(moves, step, np.where(always, -np.inf, np.inf)))
        high = np.where(moves & (slope < 0), np.inf, np.where(moves, step, np.where(always, np.inf, -np.inf)))
        return low, high
