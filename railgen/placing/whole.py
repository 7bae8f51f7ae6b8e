"""Rules over whole patterns as closed stations: holes of one flange on one line, and mated parts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.holes.table import LH, RAIL, FloatArray, HoleTable, IntArray
from railgen.layout.plan import ResolvedOrder
from railgen.placing.moving import Moving
from railgen.placing.spans import Spans, joined, spans
from railgen.rules.flanges import FLANGES, flange_rows
from railgen.rules.mates import mate_groups
from railgen.rules.pattern import Pattern


def closed_on_lines(moved: Moving, still: Pattern, velocity: FloatArray) -> Spans:
    """Stations at which the component puts too many holes of one flange on one line."""
    rows = flange_rows(moved.pattern)
    if not len(rows) or not moved.pattern.limits.holds("flange-hole", "count"):
        return joined([])
    marks = np.unique(np.concatenate([moved.low[rows], moved.high[rows]]))
    return joined(
        [
            found
            for start, end in zip(marks[:-1].tolist(), marks[1:].tolist(), strict=True)
            for found in _between(moved, still, velocity, rows, start, end)
        ]
    )


def _between(
    moved: Moving, still: Pattern, velocity: FloatArray, rows: IntArray, start: float, end: float
) -> Iterator[Spans]:
    """Closed stations within a stretch in which every feature stays in its piece."""
    present = rows[(moved.low[rows] <= start) & (moved.high[rows] >= end)]
    standing = flange_rows(still)
    for panel in FLANGES:
        mine = present[moved.pattern.table.panel[present] == panel]
        if not len(mine):
            continue
        speed = float(velocity[mine[0], 0])
        own = _profile(moved.pattern, mine, moved.at[mine] * speed)
        theirs = standing[still.table.panel[standing] == panel]
        others = _profile(still, theirs, np.zeros(len(theirs)))
        for low, high in (_alone(own), *_crowded(own, others)):
            closed = spans(("flange-hole", "count"), low / speed, high / speed, np.full(len(low), mine[0]))
            yield Spans(
                np.maximum(closed.low, start), np.minimum(closed.high, end), closed.reason, closed.first, closed.second
            )


@dataclass(frozen=True)
class _Profile:
    """Stretches of a flange's blank (mm), how many holes the lines of each meet, and the fewest allowed on them."""

    start: FloatArray
    end: FloatArray
    count: IntArray
    limit: FloatArray


def _profile(pattern: Pattern, rows: IntArray, back: FloatArray) -> _Profile:
    """Stretches of lines that meet some rows, each taken so far ahead of where it lies."""
    middle, reach = pattern.table.u[rows] - back, pattern.reach[0][rows]
    low, high = middle - reach, middle + reach
    limit = pattern.limit("flange-hole", "count").error[rows]
    ends = np.unique(np.concatenate([low, high]))
    start, end = ends[:-1], ends[1:]
    on_line = (low <= start[:, None]) & (high >= end[:, None]) & (end - start > VALUE_TOLERANCE)[:, None]
    fewest = np.where(on_line, limit, np.inf).min(axis=1, initial=np.inf)
    count = on_line.sum(axis=1)
    return _Profile(start[count > 0], end[count > 0], count[count > 0], fewest[count > 0])


def _alone(own: _Profile) -> tuple[FloatArray, FloatArray]:
    """Endless where the component's own holes are too many."""
    far = np.full(int((own.count > own.limit + VALUE_TOLERANCE).any()), np.inf)
    return -far, far


def _crowded(own: _Profile, others: _Profile) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Steps in which a stretch of the component's lies over one of the others' with too many holes on both."""
    count = own.count[:, None] + others.count
    i, j = np.nonzero(count > np.minimum(own.limit[:, None], others.limit) + VALUE_TOLERANCE)
    yield (
        others.start[j] - own.end[i] + VALUE_TOLERANCE,
        others.end[j] - own.start[i] - VALUE_TOLERANCE,
    )


def closed_by_mates(moved: Moving, order: ResolvedOrder, table: HoleTable) -> Spans:
    """Stations at which features do not stand opposite those of the parts that belong together with the component.

    table: all that stands on both sides.
    """
    pattern = moved.pattern
    group = mate_groups(order, table.names)
    own = pattern.table
    rows = np.flatnonzero(pattern.is_hole & (own.part == RAIL) & np.isin(own.component, list(group)))
    if not len(rows):
        return joined([])
    other_side = 1 - int(own.side[rows[0]]) if len(rows) else LH
    opposite = {
        (group[int(table.component[row])], int(table.instance[row]), int(table.feature[row])): row
        for row in np.flatnonzero((table.side == other_side) & (table.part == RAIL)).tolist()
        if int(table.component[row]) in group
    }
    keys = [(group[int(own.component[row])], int(own.instance[row]), int(own.feature[row])) for row in rows.tolist()]
    met = np.array([opposite.get(key, -1) for key in keys], dtype=np.int64)
    still = Pattern(order, table, pattern.limits)
    return joined(list(_unmatched(moved, still, rows[met >= 0], met[met >= 0])))


def _unmatched(moved: Moving, still: Pattern, rows: IntArray, met: IntArray) -> Iterator[Spans]:
    pattern = moved.pattern
    for measure, values, others, speed in (
        ("station", pattern.table.station[rows] - moved.at[rows], still.table.station[met], 1.0),
        ("height", pattern.table.across[rows], still.table.across[met], 0.0),
    ):
        if not pattern.limits.holds("pair-match", measure):
            continue
        limit = np.minimum(
            pattern.limit("pair-match", measure).error[rows], still.limit("pair-match", measure).error[met]
        )
        apart = others - values
        most = limit + VALUE_TOLERANCE
        low, high = moved.low[rows], moved.high[rows]
        if speed:
            yield spans(("pair-match", measure), low, np.minimum(high, apart - most), rows)
            yield spans(("pair-match", measure), np.maximum(low, apart + most), high, rows)
        else:
            broken = np.abs(apart) > most
            yield spans(("pair-match", measure), low[broken], high[broken], rows[broken])
