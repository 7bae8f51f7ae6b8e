"""Envelopes of components that move past each other, as intervals of their relative station.

Boxes keep their distance across the truck and in height while one of them moves along it, so that two are nearer than a
clearance on one interval.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.holes.table import RH, FloatArray, IntArray
from railgen.layout.envelopes import CLEARANCES
from railgen.layout.feet import declared_stacks
from railgen.placing.spans import REASON, Spans
from railgen.rules.pattern import Pattern
from railgen.rules.space import needs_of

_REASONS = np.array([REASON["space-clash", name] for name in CLEARANCES])


@dataclass(frozen=True)
class Boxes:
    """Envelopes, n of them, as the rail sees them that carries their components; mm.

    component: index into the library's; placement: row of the pattern's placements; low and high (n, 3): station,
    across inboard from the web's outside face, height; clearance indexes CLEARANCES; need: the distance that its class
    asks for as an error limit, -inf where none.
    """

    component: IntArray
    placement: IntArray
    clearance: IntArray
    low: FloatArray
    high: FloatArray
    need: FloatArray

    def __len__(self) -> int:
        return len(self.component)

    def at(self, index: IntArray) -> Boxes:
        """Some of the envelopes."""
        return Boxes(*(getattr(self, name)[index] for name in Boxes.__dataclass_fields__))

    def across_from(self, frame_width: float) -> Boxes:
        """The envelopes as the rail on the other side sees them."""
        return _mirrored(self, np.arange(len(self)), frame_width)


def boxes_of(pattern: Pattern) -> Boxes:
    """The envelopes of a pattern, each as its own side's rail sees it."""
    held, needs = pattern.envelopes, needs_of(pattern)
    boxes = Boxes(held.component, held.placement, held.clearance, held.low, held.high, needs.error)
    return _mirrored(boxes, np.flatnonzero(held.side == RH), pattern.order.dimensions["frame_width"])


def _mirrored(boxes: Boxes, rows: IntArray, frame_width: float) -> Boxes:
    low, high = boxes.low.copy(), boxes.high.copy()
    low[rows, 1], high[rows, 1] = frame_width - boxes.high[rows, 1], frame_width - boxes.low[rows, 1]
    return replace(boxes, low=low, high=high)


def box_spans(pattern: Pattern, a: Boxes, b: Boxes, i: IntArray, j: IntArray) -> Spans:
    """Where, in steps of a's station from where it is given, envelopes i of a are too near to envelopes j of b.

    Envelopes of one component and of components that stack do not clash. first and second are those of a and b.
    """
    one, other = a.component[i], b.component[j]
    apart = (one != other) & ~declared_stacks(pattern.order.library)[one, other]
    i, j = i[apart], j[apart]
    need = np.maximum(a.need[i], b.need[j]) - VALUE_TOLERANCE
    gaps = np.maximum(b.low[j, 1:] - a.high[i, 1:], a.low[i, 1:] - b.high[j, 1:])
    beside = (np.maximum(gaps, 0.0) ** 2).sum(axis=1)
    # Where no distance is asked for boxes may meet, though not overlap: so far must each side lie from the other.
    reach = np.where(need > 0, np.sqrt(np.maximum(need**2 - beside, 0.0)), need)
    near = np.flatnonzero(np.where(need > 0, beside < need**2, (gaps < need[:, None]).all(axis=1)))
    i, j, reach = i[near], j[near], reach[near]
    low, high = b.low[j, 0] - a.high[i, 0] - reach, b.high[j, 0] - a.low[i, 0] + reach
    # The larger need names the measure, of equal ones the class that comes first.
    mine = (a.need[i] > b.need[j]) | ((a.need[i] == b.need[j]) & (a.clearance[i] <= b.clearance[j]))
    reason = _REASONS[np.where(mine, a.clearance[i], b.clearance[j])]
    some = low < high
    return Spans(low[some], high[some], reason[some], i[some], j[some])
