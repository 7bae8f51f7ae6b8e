"""A moving component against what stands beside it, and its own features against each other, on a real rail."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from railgen.frame.panels import Face, Panel
from railgen.frame.taper import TaperShape
from railgen.holes.table import RAIL, BoolArray, FloatArray, IntArray
from railgen.placing.holes import Holes, holes_of, measured_in_blank, spans_between
from railgen.placing.moving import Moving
from railgen.placing.slices import generators
from railgen.placing.spans import Spans, joined
from railgen.rules.pattern import Pattern

_SKEW = 1.1
"""How much further apart two stations may lie than their places in the blank."""


def closed_beside(moved: Moving, still: Pattern, velocity: FloatArray, reach: float) -> Spans:
    """Steps from where each row stands in which it is in error against a hole that stands still."""
    pattern = moved.pattern
    a = holes_of(pattern, np.arange(len(pattern.table)), velocity)
    b = holes_of(still, np.arange(len(still.table)), np.zeros((len(still.table), 2)))
    station, other = a.table.station[a.row] - moved.at[a.row], b.table.station[b.row]
    low, high = station + moved.low[a.row] - _SKEW * reach, station + moved.high[a.row] + _SKEW * reach
    i, j = np.nonzero((low[:, None] <= other) & (high[:, None] >= other))
    return _met(_Met(pattern, still, a, b, i, j, np.zeros(len(a.row)), 0.0))


def closed_among(moved: Moving, velocity: FloatArray) -> Spans:
    """Stations at which the component's own holes are in error against each other."""
    pattern, table = moved.pattern, moved.pattern.table
    holes = holes_of(pattern, np.arange(len(table)), velocity)
    row = holes.row
    # Every hole where it would lie with the component at station 0, if its panel ran on for ever.
    back = moved.at[row]
    at_zero = replace(holes, x=holes.x - back * holes.velocity[:, 0], y=holes.y - back * holes.velocity[:, 1])
    i, j = np.triu_indices(len(row), 1)
    first, second = row[i], row[j]
    low, high = np.maximum(moved.low[first], moved.low[second]), np.minimum(moved.high[first], moved.high[second])
    two = (table.feature[first] != table.feature[second]) | (table.instance[first] != table.instance[second])
    i, j = i[two & (low < high)], j[two & (low < high)]
    closed = _met(_Met(pattern, pattern, at_zero, at_zero, i, j, back, 1.0))
    first, second = closed.first, closed.second
    low = np.maximum.reduce([closed.low, moved.low[first], moved.low[second]])
    high = np.minimum.reduce([closed.high, moved.high[first], moved.high[second]])
    return Spans(low, high, closed.reason, first, np.full(len(first), -1))


@dataclass(frozen=True)
class _Met:
    """Holes i of a and j of b on one side of a rail.

    back: how far ahead of its row in the table each hole is taken (mm); drift: 1 where b moves as a does, 0 where it
    stands still.
    """

    pattern: Pattern
    other: Pattern
    a: Holes
    b: Holes
    i: IntArray
    j: IntArray
    back: FloatArray
    drift: float

    def at(self, index: IntArray) -> _Met:
        return replace(self, i=self.i[index], j=self.j[index])


def _met(met: _Met) -> Spans:
    """Steps in which pairs are in error, in the blank or, across a taper's bisector, in the finished part."""
    in_blank = met.at(np.flatnonzero(measured_in_blank(met.a, met.b, met.i, met.j)))
    velocity = in_blank.a.velocity[in_blank.i] - met.drift * in_blank.b.velocity[in_blank.j]
    spans, pair = _steps(in_blank, velocity)
    taper = met.pattern.rail.taper
    if taper is None:
        return spans
    limit = _slit_crossed_from(in_blank, taper)[pair]
    ahead = Spans(spans.low, np.minimum(spans.high, limit), spans.reason, spans.first, spans.second)
    return joined([ahead, _across_bisector(met, taper)])


def _steps(met: _Met, velocity: FloatArray) -> tuple[Spans, IntArray]:
    """Intervals of pairs and their numbers; endless where pairs that keep their distance are in error."""
    keeps: BoolArray = np.asarray(~velocity.any(axis=1))
    moved, number = spans_between(met.a, met.b, met.i, met.j, np.where(keeps[:, None], np.array([1.0, 0.0]), velocity))
    steady = keeps[number]
    held = ~steady | ((moved.low < 0.0) & (moved.high > 0.0))
    low, high = np.where(steady, -np.inf, moved.low), np.where(steady, np.inf, moved.high)
    return Spans(low, high, moved.reason, moved.first, moved.second).at(held), number[held]


def _slit_crossed_from(met: _Met, taper: TaperShape) -> FloatArray:
    """Step from which the line between a pair's centres in the blank crosses the slit, infinite where it never does."""
    a, b, i, j = met.a, met.b, met.i, met.j
    rail = met.pattern.rail
    apex, slit = taper.apex[0] - rail.front, float(rail.section.blank_y(Face.WEB, taper.apex[1]))
    above, below = a.y[i] - slit, b.y[j] - slit
    ahead = (a.table.panel[a.row[i]] <= Panel.TOP) & (b.table.panel[b.row[j]] <= Panel.TOP)
    crosses = (above * below < 0) & ahead & (a.table.part[a.row[i]] == RAIL)
    share = np.divide(above, above - below, out=np.zeros(len(i)), where=crosses)
    at, speed = a.x[i] + share * (b.x[j] - a.x[i]), 1.0 - share + met.drift * share
    return np.where(crosses, (apex - at) / np.where(crosses, speed, 1.0), np.inf)


def _across_bisector(met: _Met, taper: TaperShape) -> Spans:
    """Web and strip holes that see each other across the bisector, above the apex."""
    a, b = met.a, met.b
    panel_a, panel_b = a.table.panel[a.row[met.i]], b.table.panel[b.row[met.j]]
    web_first: BoolArray = np.asarray((panel_a == Panel.WEB) & (panel_b == Panel.TAIL_WEB))
    on_rail = (a.table.part[a.row[met.i]] == RAIL) & (b.table.part[b.row[met.j]] == RAIL)
    kind = np.flatnonzero(on_rail & (web_first | ((panel_a == Panel.TAIL_WEB) & (panel_b == Panel.WEB))))
    pairs = met.at(kind)
    if not len(pairs.i):
        return joined([])
    back_b = met.drift * met.back if met.drift else np.zeros(len(b.row))
    finished = replace(pairs, a=_finished(met.pattern, a, met.back), b=_finished(met.other, b, back_b))
    low, high = _seen_over_apex(finished, web_first[kind], taper)
    spans, pair = _steps(finished, np.tile([1.0 - met.drift, 0.0], (len(pairs.i), 1)))
    low, high = np.maximum(spans.low, low[pair]), np.minimum(spans.high, high[pair])
    return Spans(low, high, spans.reason, spans.first, spans.second)


def _finished(pattern: Pattern, holes: Holes, back: FloatArray) -> Holes:
    """Holes as they lie in the finished part."""
    table, cores, row = pattern.table, pattern.cores, holes.row
    sides = generators(cores.half_length[row], cores.half_width[row], table.angle[row])
    along = np.tile([1.0, 0.0], (len(row), 1))
    return replace(holes, x=table.station[row] - back, y=table.across[row], sides=sides, velocity=along)


def _seen_over_apex(met: _Met, web_first: BoolArray, taper: TaperShape) -> tuple[FloatArray, FloatArray]:
    """Steps in which the line between the centres passes the bisector above the apex, the web's hole ahead of it."""
    a, b, i, j = met.a, met.b, met.i, met.j
    moves = np.where(web_first, 1.0, met.drift), np.where(web_first, met.drift, 1.0)
    web = np.where(web_first, a.x[i], b.x[j]), np.where(web_first, a.y[i], b.y[j])
    strip = np.where(web_first, b.x[j], a.x[i]), np.where(web_first, b.y[j], a.y[i])
    x, z = taper.apex
    turn = (strip[0] - web[0]) * (z - web[1]) - (strip[1] - web[1]) * (x - web[0])
    speed = (moves[1] - moves[0]) * (z - web[1]) + (strip[1] - web[1]) * moves[0]
    step = np.divide(-turn, speed, out=np.zeros(len(turn)), where=speed != 0)
    low = np.where(speed < 0, step, np.where((speed == 0) & (turn > 0), np.inf, -np.inf))
    high = np.where(speed > 0, step, np.inf)
    stands = np.where(web_first, a.table.station[a.row[i]], b.table.station[b.row[j]])
    ahead = taper.behind_bisector(stands, web[1]) <= 0
    return np.where(ahead, low, np.inf), high
