"""One more hole beside all that is there: what both are held to."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import RAIL, FloatArray, IntArray
from railgen.placing.free_frame import Frame
from railgen.rules.limits import Limits
from railgen.rules.pattern import Pattern


@dataclass(frozen=True)
class Near:
    """The added hole (a row of its own pattern) beside all that is there, on one panel of one part of one side.

    warnings: whether warnings are kept clear of, too.
    """

    frame: Frame
    present: Pattern
    alone: Pattern
    row: int
    side: int
    warnings: bool

    @property
    def part(self) -> int:
        return int(self.alone.table.part[self.row])

    @property
    def radius(self) -> float:
        return float(self.alone.cores.radius[self.row])

    @property
    def washer(self) -> float:
        """Radius of its washer, mm; 0 without a fastener, and in the liner."""
        return float(self.alone.washer_radius[self.row]) if self.part == RAIL else 0.0

    def least(self, rule: str, measure: str, direction: str = "") -> float:
        """What the hole alone is held to by a measure with a least value; minus infinity where there is nothing."""
        if not self.present.limits.holds(rule, measure):
            return -np.inf
        return float(self._figures(self.alone.limit(rule, measure, direction))[self.row])

    def with_others(self, rule: str, measure: str, rows: IntArray, direction: str = "") -> FloatArray:
        """The stricter of what the hole and what each of some rows is held to."""
        own = self.least(rule, measure, direction)
        if not self.present.limits.holds(rule, measure):
            return np.full(len(rows), -np.inf)
        return np.maximum(self._figures(self.present.limit(rule, measure, direction))[rows], own)

    def _figures(self, limits: Limits) -> FloatArray:
        figures = np.maximum(limits.error, limits.warning) if self.warnings else limits.error
        # A table says nothing beyond its last size.
        return np.where(np.isnan(figures), -np.inf, figures)
