"""Stations at which one more hole would make a line across the rail too crowded."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.holes.table import RAIL, FloatArray, IntArray
from railgen.rules.limits import Limits, LimitTable, evaluate
from railgen.rules.pattern import Pattern

Strip = tuple[float, float]
"""From and to along the rail, mm."""


def most_allowed(limits: Limits, warnings: bool) -> FloatArray:
    """Of a measure that is held to a most: errors, or the stricter of errors and warnings."""
    return np.minimum(limits.error, limits.warning) if warnings else limits.error


def crowded_strips(
    place: FloatArray, reach: FloatArray, allowed: FloatArray, own_reach: float, own_allowed: float
) -> Iterator[Strip]:
    """Where one more extent of a reach would lie on a line that then meets more than one of its extents allows.

    place, reach, allowed: of n extents that there are, mm and counts; own_reach, own_allowed: of the one that is added.
    """
    if own_allowed + VALUE_TOLERANCE < 1:
        yield -np.inf, np.inf
        return
    low, high = place - reach, place + reach
    ends = np.unique(np.concatenate([low, high]))
    start, end = ends[:-1], ends[1:]
    middle = (start + end) / 2
    on_line = (low[:, None] < middle) & (high[:, None] > middle)
    strictest = np.where(on_line, allowed[:, None], np.inf).min(axis=0, initial=np.inf)
    count = on_line.sum(axis=0) + 1
    crowded = (count > np.minimum(strictest, own_allowed) + VALUE_TOLERANCE) & (count > 1)
    for index in np.flatnonzero(crowded & (end - start > VALUE_TOLERANCE)).tolist():
        yield float(start[index]) - own_reach, float(end[index]) + own_reach


def web_strips(pattern: Pattern, alone: Pattern, row: int, side: int, warnings: bool) -> Iterator[Strip]:
    """Stations of the finished web closed by ``holes-in-line``; alone: the pattern of the added hole, row: its own."""
    key, table = ("holes-in-line", "count"), pattern.table
    rows = np.flatnonzero(pattern.on_web & pattern.is_hole & (table.part == RAIL) & (table.side == side))
    for counted in ("extents", "centres"):
        held = tuple(entry for entry in pattern.limits.rows.get(key, ()) if entry.row.counted == counted)
        if not held:
            continue
        limits = LimitTable({key: held}, pattern.limits.replaced)
        allowed = most_allowed(evaluate(limits, *key, pattern.quantities), warnings)[rows]
        own = float(most_allowed(evaluate(limits, *key, alone.quantities), warnings)[row])
        reach, own_reach = pattern.finished_reach[0][rows], float(alone.hole_diameter[row]) / 2
        if counted == "centres":
            reach, own_reach = pattern.hole_diameter[rows] / 4, own_reach / 2
        yield from crowded_strips(table.station[rows], reach, allowed, own_reach, own)


def flange_strips(pattern: Pattern, alone: Pattern, row: int, rows: IntArray, warnings: bool) -> Iterator[Strip]:
    """Places along a flange's blank closed by ``flange-hole`` ``count``; rows: the holes of that flange."""
    key = ("flange-hole", "count")
    if not pattern.limits.holds(*key):
        return
    allowed = most_allowed(pattern.limit(*key), warnings)[rows]
    own = float(most_allowed(alone.limit(*key), warnings)[row])
    if own < 1 and not len(rows):
        return
    own_reach = float(alone.hole_diameter[row]) / 2
    yield from crowded_strips(pattern.table.u[rows], pattern.reach[0][rows], allowed, own_reach, max(own, 1.0))
