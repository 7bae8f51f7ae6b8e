"""Rules over whole patterns as closed stations: holes of one flange on one line, and mated parts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.holes.table import LH, RAIL, FloatArray, HoleTable, IntArray
from railgen.layout.plan import ResolvedOrder
from railgen.placing.moving import Moving
from railgen.placing.spans import Spans, joined, spans
from railgen.rules.flanges import FLANGES, flange_rows
from railgen.rules.lines import line_limits, web_rows
from railgen.rules.mates import mate_groups
from railgen.rules.pattern import Pattern


@dataclass(frozen=True)
class _Lines:
    """What a rule about lines across the rail counts: its name, and of each row of a pattern place, reach and limit."""

    rule: str
    rows: IntArray
    place: FloatArray
    reach: FloatArray
    limit: FloatArray


def closed_on_lines(moved: Moving, still: Pattern, velocity: FloatArray) -> Spans:
    """Stations at which the component puts too many holes of one flange, or of the web, on one line."""
    found = []
    for panel in FLANGES:
        if moved.pattern.limits.holds("flange-hole", "count"):
            own, others = _flange_lines(moved.pattern, panel), _flange_lines(still, panel)
            found.append(_closed_on(moved, own, others, velocity[:, 0]))
    for own, others in zip(_web_lines(moved.pattern), _web_lines(still), strict=True):
        found.append(_closed_on(moved, own, others, np.ones(len(velocity))))
    return joined(found)


def _flange_lines(pattern: Pattern, panel: int) -> _Lines:
    rows, limit = flange_rows(pattern), pattern.limit("flange-hole", "count").error
    rows = rows[pattern.table.panel[rows] == panel]
    return _Lines("flange-hole", rows, pattern.table.u, pattern.reach[0], limit)


def _web_lines(pattern: Pattern) -> list[_Lines]:
    return [
        _Lines("holes-in-line", web_rows(pattern), pattern.table.station, reach, limits.error)
        for reach, limits in line_limits(pattern)
    ]


def _closed_on(moved: Moving, own: _Lines, others: _Lines, speed: FloatArray) -> Spans:
    """Closed stations of one rule, from stretch to stretch in which every feature stays in its piece."""
    if not len(own.rows):
        return joined([])
    marks = np.unique(np.concatenate([moved.low[own.rows], moved.high[own.rows]]))
    standing = _profile(others, others.rows, np.zeros(len(others.rows)))
    found = []
    for start, end in zip(marks[:-1].tolist(), marks[1:].tolist(), strict=True):
        mine = own.rows[(moved.low[own.rows] <= start) & (moved.high[own.rows] >= end)]
        if not len(mine):
            continue
        way = float(speed[mine[0]])
        profile = _profile(own, mine, moved.at[mine] * way)
        for low, high, first, second in (_alone(profile), _crowded(profile, standing)):
            closed = spans((own.rule, "count"), low / way, high / way, first, second)
            found.append(replace(closed, low=np.maximum(closed.low, start), high=np.minimum(closed.high, end)))
    return joined(found)


@dataclass(frozen=True)
class _Profile:
    """Stretches of a panel (mm), how many holes the lines of each meet, the fewest allowed on them, and one of them."""

    start: FloatArray
    end: FloatArray
    count: IntArray
    limit: FloatArray
    row: IntArray


def _profile(lines: _Lines, rows: IntArray, back: FloatArray) -> _Profile:
    """Stretches of lines that meet some rows, each taken so far ahead of where it lies."""
    middle, reach = lines.place[rows] - back, lines.reach[rows]
    low, high = middle - reach, middle + reach
    limit = lines.limit[rows]
    ends = np.unique(np.concatenate([low, high]))
    start, end = ends[:-1], ends[1:]
    on_line = (low <= start[:, None]) & (high >= end[:, None]) & (end - start > VALUE_TOLERANCE)[:, None]
    fewest = np.where(on_line, limit, np.inf).min(axis=1, initial=np.inf)
    count = on_line.sum(axis=1)
    some = np.flatnonzero(count > 0)
    one = rows[on_line[some].argmax(axis=1)] if len(some) else np.zeros(0, dtype=np.int64)
    return _Profile(start[some], end[some], count[some], fewest[some], one)


_Lies = tuple[FloatArray, FloatArray, IntArray, IntArray]
"""Steps from and to (mm) in which a line is crowded, a row of the component on it, and one that stands there or -1."""


def _alone(own: _Profile) -> _Lies:
    """Endless where the component's own holes are too many."""
    crowded = np.flatnonzero(own.count > own.limit + VALUE_TOLERANCE)[:1]
    far = np.full(len(crowded), np.inf)
    return -far, far, own.row[crowded], np.full(len(crowded), -1)


def _crowded(own: _Profile, others: _Profile) -> _Lies:
    """Steps in which a stretch of the component's lies over one of the others' with too many holes on both."""
    count = own.count[:, None] + others.count
    i, j = np.nonzero(count > np.minimum(own.limit[:, None], others.limit) + VALUE_TOLERANCE)
    low, high = others.start[j] - own.end[i] + VALUE_TOLERANCE, others.end[j] - own.start[i] - VALUE_TOLERANCE
    return low, high, own.row[i], others.row[j]


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
