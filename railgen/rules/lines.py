"""Transverse lines: how many features they meet, and the longest runs of lines that meet too many."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE, Finding
from railgen.data.limit_sets import Counted
from railgen.holes.table import RAIL, SIDES, BoolArray, FloatArray, IntArray
from railgen.rules.breaks import Severity, finding, in_hole_order
from railgen.rules.limits import Limits, LimitTable, evaluate
from railgen.rules.pattern import Pattern

_Line = tuple[int, int, bool, float, int]
"""Index of a stretch, its count, whether that is an error, the limit and its source."""


@dataclass(frozen=True)
class Run:
    """A longest run of lines across the rail that each meet more extents than allowed.

    members: indices of the extents that the run meets; greatest: the most that one of its lines meets; limit and
    source: of its worst line.
    """

    members: IntArray
    greatest: int
    is_error: bool
    limit: float
    source: int


def crowded_runs(low: FloatArray, high: FloatArray, limits: Limits) -> Iterator[Run]:
    """Longest runs of lines that meet more of the extents [low, high] (n each, mm) than one of them allows.

    limits: the greatest count that each extent allows on its lines. Extents that overlap by no more than 1e-6 mm do not
    lie on one line. Cost: a sort, then only the lines that meet more than the strictest limit of all.
    """
    ends = np.unique(np.concatenate([low, high]))
    start, end = ends[:-1], ends[1:]
    wide = end - start > VALUE_TOLERANCE
    middle = (start + end) / 2
    count = np.searchsorted(np.sort(low), middle, side="left") - np.searchsorted(np.sort(high), middle, side="left")
    least = min(float(np.min(limits.error, initial=np.inf)), float(np.min(limits.warning, initial=np.inf)))
    lines: list[_Line] = []
    for index in np.flatnonzero(wide & (count > least + VALUE_TOLERANCE)).tolist():
        on_line = (low < middle[index]) & (high > middle[index])
        worst = _worst(limits, on_line, int(count[index]))
        if worst is None:
            continue
        if lines and start[index] - end[lines[-1][0]] > VALUE_TOLERANCE:
            yield _run(low, high, start, end, lines)
            lines = []
        lines.append((index, int(count[index]), *worst))
    if lines:
        yield _run(low, high, start, end, lines)


def _worst(limits: Limits, on_line: BoolArray, count: int) -> tuple[bool, float, int] | None:
    """Whether it is an error, the limit and its source, where a line with that many extents breaks one."""
    for is_error, figures, sources in (
        (True, limits.error, limits.error_source),
        (False, limits.warning, limits.warning_source),
    ):
        strictest = int(np.argmin(np.where(on_line, figures, np.inf)))
        if count > figures[strictest] + VALUE_TOLERANCE and on_line[strictest]:
            return is_error, float(figures[strictest]), int(sources[strictest])
    return None


def _run(
    low: FloatArray,
    high: FloatArray,
    start: FloatArray,
    end: FloatArray,
    lines: list[tuple[int, int, bool, float, int]],
) -> Run:
    first, last = start[lines[0][0]], end[lines[-1][0]]
    members = np.flatnonzero(np.minimum(high, last) - np.maximum(low, first) > VALUE_TOLERANCE)
    _, _, is_error, limit, source = min(lines, key=lambda line: (not line[2], line[3]))
    return Run(members, max(line[1] for line in lines), is_error, limit, source)


def line_findings(
    pattern: Pattern, rule: str, rows: IntArray, place: FloatArray, reach: FloatArray, limits: Limits
) -> Iterator[Finding]:
    """The measure ``count`` of a rule: runs of lines that meet too many of some rows.

    place, reach: of every row of the table, its centre along the rail and how far it reaches either way, mm; limits:
    of every row.
    """
    low, high = place[rows] - reach[rows], place[rows] + reach[rows]
    for run in crowded_runs(low, high, limits.at(rows)):
        inside = in_hole_order(pattern, rows[run.members].tolist())
        held = limits.held[run.source]
        severity: Severity = "error" if run.is_error else "warning"
        value, unit = float(run.greatest), held.row.unit
        yield finding(pattern, rule, "count", severity, inside, value, run.limit, unit, held.source)


def holes_in_line(pattern: Pattern) -> Iterator[Finding]:
    """Runs of lines across the web of the finished rail that meet too many of its holes.

    House limits count holes whose extents a line meets (common practice); published sets holes whose centres lie within
    one hole radius of each other, that is whose half as wide extents meet.
    """
    table, on_web = pattern.table, web_rows(pattern)
    for reach, limits in line_limits(pattern):
        for side in range(len(SIDES)):
            rows = on_web[table.side[on_web] == side]
            yield from line_findings(pattern, "holes-in-line", rows, table.station, reach, limits)


def web_rows(pattern: Pattern) -> IntArray:
    """Rows of holes in the rails' webs."""
    return np.flatnonzero(pattern.on_web & (pattern.table.part == RAIL) & pattern.is_hole)


def line_limits(pattern: Pattern) -> Iterator[tuple[FloatArray, Limits]]:
    """Ways of counting holes on one line: how far each row reaches either way along the rail, mm, and its limits."""
    key = ("holes-in-line", "count")
    reaches: dict[Counted, FloatArray] = {"extents": pattern.finished_reach[0], "centres": pattern.hole_diameter / 4}
    for counted, reach in reaches.items():
        held = tuple(row for row in pattern.limits.rows.get(key, ()) if row.row.counted == counted)
        if held:
            yield reach, evaluate(LimitTable({key: held}, pattern.limits.replaced), *key, pattern.quantities)
