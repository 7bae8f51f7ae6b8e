"""Rule ``net-section``: the section modulus that the holes leave, over the gross one, along the whole rail.

Common practice; the modulus left over the gross one measures what a line of holes takes of the rail's bending strength.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE, Finding
from railgen.holes.table import RAIL, SIDES, BoolArray, FloatArray, IntArray
from railgen.rules.along import LimitStretch, limit_stretches
from railgen.rules.breaks import Severity, finding_about, in_hole_order, worse
from railgen.rules.pattern import Pattern
from railgen.strength.least_ratio import (
    NO_GAIN,
    Stretches,
    least_station,
    stretch_of,
    stretches_below,
    suspect_section,
)
from railgen.strength.net_section import NetSection
from railgen.strength.pieces import openings_of, span_of
from railgen.strength.ratio_ranges import ratio_ranges

_EQUAL = 1e-9
"""Ratios nearer than this are equal: of several lines with the least one the foremost is named."""
_FLAT = 1e-13
"""Ratios nearer than this are the same one, where a slot keeps it for a while."""
_CUT = 1e-3
"""mm: what is cut less wide does not count as cut by the line."""


def net_sections(pattern: Pattern) -> Iterator[Finding]:
    """The least ratio of each longest run of stations that break a limit, for the rail and for rail with liner."""
    for measure, with_liner in (("rail", False), ("with-liner", True)):
        if pattern.limits.holds("net-section", measure) and (pattern.rail.liner or not with_liner):
            yield from _net_section(pattern, measure, with_liner)


def _net_section(pattern: Pattern, measure: str, with_liner: bool) -> Iterator[Finding]:
    limits = limit_stretches(pattern, "net-section", measure, *span_of(pattern.rail, with_liner))
    ends = np.array([stretch.end for stretch in limits])
    asked = np.array([max(stretch.error, stretch.warning) for stretch in limits]) - VALUE_TOLERANCE
    openings = openings_of(pattern.rail, pattern.table, pattern.cores, with_liner)
    net = suspect_section(pattern.rail, openings, with_liner, ends, asked)
    if net is None:
        return
    of_piece = stretch_of(net, ends)
    stretches = stretches_below(net, asked[of_piece])
    if not len(stretches.piece):
        return
    for run in _runs(net, stretches, of_piece, asked):
        yield _finding(pattern, measure, net, run, limits[int(of_piece[run.piece])])


@dataclass(frozen=True)
class _Run:
    """A longest run of stations below what is asked: the piece of its worst station, that station, the ratio there."""

    piece: int
    station: float
    value: float


def _runs(net: NetSection, stretches: Stretches, of_piece: IntArray, asked: FloatArray) -> Iterator[_Run]:
    """Runs over the ends of all stretches in order: each stretch has two, its start and its end."""
    below = asked[of_piece[stretches.piece]]
    values = np.stack([stretches.at_start.min(axis=0), stretches.at_end.min(axis=0)], axis=1)
    broken = values < below[:, None]
    inside = np.asarray(broken.all(axis=1))
    inside[inside] &= ~_recovers(net, stretches, below, np.flatnonzero(inside))
    piece = stretches.piece
    next_to = (np.diff(piece) <= 1) & (np.diff(net.pieces.side[piece]) == 0) & (np.diff(of_piece[piece]) == 0)
    linked = np.zeros(2 * len(piece), dtype=np.bool_)
    linked[1::2], linked[2::2] = inside, next_to
    flat = broken.ravel()
    linked[1:] &= flat[:-1]
    run = np.cumsum(flat & ~linked) - 1
    station = np.stack([stretches.start, stretches.end], axis=1).ravel()
    for number in range(int(run[-1]) + 1):
        ends = np.flatnonzero(flat & (run == number))
        yield _worst(net, stretches, ends, values.ravel(), station)


def _recovers(net: NetSection, stretches: Stretches, below: FloatArray, rows: IntArray) -> BoolArray:
    """Of stretches with both ends below what is asked, whether the ratio rises to it between them.

    It can where one fibre is below at the start and only the other one at the end: then the ratio is greatest where
    both are equal.
    """
    starts, ends = stretches.at_start[:, rows] < below[rows], stretches.at_end[:, rows] < below[rows]
    recovers = np.zeros(len(rows), dtype=np.bool_)
    for index in np.flatnonzero(~(starts & ends).any(axis=0)).tolist():
        row = int(rows[index])
        low, high = float(stretches.start[row]), float(stretches.end[row])
        falling = bool(starts[0, index])
        met = net.met_by(stretches.piece[row : row + 1])
        while high - low > VALUE_TOLERANCE:
            middle = (low + high) / 2
            bottom, top = net.ratios(met, np.array([middle]))[:, 0]
            low, high = (middle, high) if (bottom < top) == falling else (low, middle)
        recovers[index] = net.ratios(met, np.array([low])).min() >= below[row]
    return recovers


def _worst(net: NetSection, stretches: Stretches, ends: IntArray, values: FloatArray, station: FloatArray) -> _Run:
    """The foremost of the least ratios of a run, at the front of where it is kept; ends: those of stretches."""
    level = values[ends].min()
    candidates = np.flatnonzero(values[ends] <= level + _EQUAL)
    first_group = candidates[: int(np.argmax(np.diff(candidates, append=candidates[-1] + 2) > 1)) + 1]
    chosen = first_group[int(np.argmax(values[ends[first_group]] <= values[ends[first_group]].min() + _FLAT))]
    end = int(ends[chosen])
    worst = _Run(int(stretches.piece[end // 2]), float(station[end]), float(values[end]))
    # A stretch counts as one that only grows or only falls where it turns back by no more than what is equal: the
    # least may lie a little inside of those beside the end.
    rows = np.unique(ends[max(chosen - 1, 0) : chosen + 2] // 2)
    for row in rows[_falls_inside(net, stretches, rows, worst.station)].tolist():
        piece = int(stretches.piece[row])
        at, value = least_station(net, piece, float(stretches.start[row]), float(stretches.end[row]))
        # So near the least the ratio itself tells no stations apart: its gain does.
        worst = _Run(piece, at, value) if value <= worst.value + _FLAT else worst
    return worst


def _falls_inside(net: NetSection, stretches: Stretches, rows: IntArray, station: float) -> BoolArray:
    """Which of the stretches that begin or end at a station (mm) have a lesser ratio just inside of it."""
    begins, ends = stretches.start[rows] == station, stretches.end[rows] == station
    here = np.full(len(rows), station)
    gain, _ = ratio_ranges(net, stretches.piece[rows], here, here)
    ratios = np.where(begins, stretches.at_start[:, rows], stretches.at_end[:, rows])
    lesser = ratios.argmin(axis=0), np.arange(len(rows))
    return np.asarray((begins & (gain.high[lesser] < -NO_GAIN)) | (ends & (gain.low[lesser] > NO_GAIN)))


def _finding(pattern: Pattern, measure: str, net: NetSection, run: _Run, limits: LimitStretch) -> Finding:
    is_error = bool(worse(np.array(run.value), np.array(limits.error), "least"))
    severity: Severity = "error" if is_error else "warning"
    side = int(net.pieces.side[run.piece])
    rows = in_hole_order(pattern, net.cut_at(run.piece, run.station, _CUT).tolist())
    table = pattern.table
    rows = [row for row in rows if table.part[row] == RAIL]
    return finding_about(
        "net-section",
        measure,
        severity,
        side=SIDES[side],
        face="web",
        station=run.station,
        value=run.value,
        limit=limits.error if is_error else limits.warning,
        held=limits.error_held if is_error else limits.warning_held,
        holes=tuple(table.hole_id(row) for row in rows),
        components=tuple(sorted({owner for row in rows for owner in table.owners_of(row)})),
    )
