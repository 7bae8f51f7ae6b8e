"""Pair rules between holes as intervals: where along the rail one hole must not stand, given another one.

Every measure of ``rules.spacing`` and ``rules.washers`` is a distance between parts of the two cores, so that each is
broken on intervals of the station of the hole that moves (see ``slices``).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.holes.sharing import SHARED_WITHIN, may_share
from railgen.holes.table import RECTANGLE, SLOT, BoolArray, FloatArray, HoleTable, IntArray, stacked
from railgen.placing.slices import generators, near_spans
from railgen.placing.spans import Spans, joined, spans, without
from railgen.rules.pattern import Pattern
from railgen.rules.spacing import COINCIDENT, MEASURED_IN_BLANK
from railgen.rules.welds import stud_rows
from railgen.rules.wrench import sockets

_CENTRE, _LIGAMENT = ("hole-spacing", "centre"), ("hole-spacing", "ligament")
_DUPLICATE, _CONFLICT = ("duplicate-hole", "pair"), ("size-conflict", "pair")
_STUD = ("weld-clearance", "stud-hole")
_WASHER, _SOCKET = ("washer-seat", "washer"), ("wrench-access", "radial")
_CORNERS = np.array([(-1.0, -1.0), (1.0, 1.0), (-1.0, 1.0), (1.0, -1.0)])
_PARTS = np.array([1, 2, 4, 1])
"""How many points a core is seen as, by shape: a centre, a slot's end centres, a rectangle's corners."""


@dataclass(frozen=True)
class Holes:
    """Holes of one side as their pairs are measured, n of them, mm.

    row: of the table; x, y: blank position; sides: (n, 2, 2) generators of the cores; velocity: (n, 2) of the blank
    position over the station; along, across, ligament, washer_gap, socket_gap, stud_gap: error limits, -inf where none;
    washer, socket: radius, 0 where the hole has none or is the liner's.
    """

    table: HoleTable
    row: IntArray
    x: FloatArray
    y: FloatArray
    velocity: FloatArray
    sides: FloatArray
    radius: FloatArray
    half: FloatArray
    washer: FloatArray
    socket: FloatArray
    along: FloatArray
    across: FloatArray
    ligament: FloatArray
    washer_gap: FloatArray
    socket_gap: FloatArray
    stud_gap: FloatArray

    @cached_property
    def reach(self) -> FloatArray:
        """How far each hole's true shape, or its washer, reaches from its centre at most, mm."""
        corner = np.hypot(self.sides[..., 0], self.sides[..., 1]).sum(axis=1)
        return np.asarray(corner + np.maximum.reduce([self.radius, self.half, self.washer, self.socket]))

    @cached_property
    def gap(self) -> FloatArray:
        """The greatest distance that any limit asks for between two shapes, or their centres, mm."""
        limits = np.maximum.reduce([self.along, self.across, self.ligament, self.washer_gap, self.socket_gap])
        return np.asarray(np.maximum(limits, 0.0))


def holes_of(pattern: Pattern, rows: IntArray, velocity: FloatArray) -> Holes:
    """Those of some rows of a pattern that are holes; velocity: (n, 2) of the blank position of every row."""
    return _as_measured(pattern, rows[pattern.is_hole[rows]], velocity)


def studs_of(pattern: Pattern, velocity: FloatArray) -> Holes:
    """The studs of a pattern's rails: points as far as their pairs with holes are concerned."""
    return _as_measured(pattern, stud_rows(pattern), velocity)


def _as_measured(pattern: Pattern, rows: IntArray, velocity: FloatArray) -> Holes:
    velocity = velocity[rows]
    cores, table = pattern.cores, pattern.table

    def error(rule: str, measure: str, direction: str = "") -> FloatArray:
        if not pattern.limits.holds(rule, measure):
            return np.full(len(rows), -np.inf)
        return pattern.limit(rule, measure, direction).error[rows]

    return Holes(
        table=table,
        row=rows,
        x=table.u[rows],
        y=table.v[rows],
        velocity=velocity,
        sides=generators(cores.half_length[rows], cores.half_width[rows], pattern.unmirrored_angle[rows]),
        radius=cores.radius[rows],
        half=pattern.hole_diameter[rows] / 2,
        washer=np.where(table.part[rows] == 0, pattern.washer_radius[rows], 0.0),
        socket=sockets(pattern)[rows],
        along=error("hole-spacing", "centre", "along"),
        across=error("hole-spacing", "centre", "across"),
        ligament=error("hole-spacing", "ligament"),
        washer_gap=error("washer-seat", "washer"),
        socket_gap=error("wrench-access", "radial"),
        stud_gap=error("weld-clearance", "stud-hole"),
    )


@dataclass(frozen=True)
class _Pairs:
    """Measured pairs of a hole that moves and one that stands still: indices, and the difference of their centres."""

    a: Holes
    b: Holes
    i: IntArray
    j: IntArray
    x: FloatArray
    y: FloatArray
    velocity: FloatArray

    def __len__(self) -> int:
        return len(self.i)


def hole_spans(a: Holes, b: Holes, i: IntArray, j: IntArray) -> tuple[Spans, IntArray]:
    """Where, in steps of a's station from where it is given, holes i of a are in error against holes j of b.

    Pairs are those that are measured in the blank, b stands still. Returns the intervals and for each the number of its
    pair.
    """
    pair = np.flatnonzero(measured_in_blank(a, b, i, j))
    found, number = spans_between(a, b, i[pair], j[pair], a.velocity[i[pair]])
    return found, pair[number]


def measured_in_blank(a: Holes, b: Holes, i: IntArray, j: IntArray) -> BoolArray:
    """Whether pairs are of one part, and of one panel or of two across one bend."""
    one, other = a.row[i], b.row[j]
    panels = MEASURED_IN_BLANK[a.table.panel[one], b.table.panel[other]]
    return np.asarray(panels & (a.table.part[one] == b.table.part[other]))


def spans_between(a: Holes, b: Holes, i: IntArray, j: IntArray, velocity: FloatArray) -> tuple[Spans, IntArray]:
    """Where pairs are in error in steps of their station; velocity: (pairs, 2) of a's position as seen from b.

    Returns the intervals and for each the number of its pair.
    """
    across = np.abs(a.y[i] - b.y[j])
    near = across < a.reach[i] + b.reach[j] + np.maximum(a.gap[i], b.gap[j])
    pair = np.flatnonzero(near | (velocity[:, 1] != 0.0))
    i, j = i[pair], j[pair]
    same_panel = a.table.panel[a.row[i]] == b.table.panel[b.row[j]]
    found, number = _spans(_Pairs(a, b, i, j, a.x[i] - b.x[j], a.y[i] - b.y[j], velocity[pair]), same_panel)
    return found, pair[number]


def _spans(pairs: _Pairs, same_panel: BoolArray) -> tuple[Spans, IntArray]:
    a, b, i, j = pairs.a, pairs.b, pairs.i, pairs.j
    count = len(pairs)
    every = np.arange(count)
    cores = np.concatenate([a.sides[i], b.sides[j]], axis=1)
    radii = a.radius[i] + b.radius[j]
    overlap = _near(pairs, every, cores, np.where(same_panel, radii - VALUE_TOLERANCE, 0.0))
    ligament = np.maximum(a.ligament[i], b.ligament[j])
    close = _near(pairs, every, cores, ligament - VALUE_TOLERANCE + radii)
    found = [(_LIGAMENT, every, part) for part in without(*close, *overlap)]
    for index, low, high in (*_too_near(pairs), *_washers(pairs, same_panel)):
        reason, rows = index
        found += [(reason, rows, part) for part in without(low, high, overlap[0][rows], overlap[1][rows])]
    shared, double = _coincident(pairs, same_panel)
    found += [(_CONFLICT, every, part) for part in without(*overlap, *double)]
    found.append((_DUPLICATE, every, double))
    parts, numbers = [], [np.empty(0, dtype=np.int64)]
    for reason, rows, whole in found:
        for low, high in without(*whole, shared[0][rows], shared[1][rows]):
            some = np.flatnonzero(low < high)
            if len(some):
                pair = rows[some]
                parts.append(spans(reason, low[some], high[some], a.row[i[pair]], b.row[j[pair]]))
                numbers.append(pair)
    return joined(parts), np.concatenate(numbers)


def _near(
    pairs: _Pairs, rows: IntArray, sides: FloatArray, distance: FloatArray, part: FloatArray | None = None
) -> tuple[FloatArray, FloatArray]:
    """Where the parts of some pairs are nearer than a distance; part: (n, 2) of its offset from that of the centres.

    The blank is looked at along the way that the hole moves.
    """
    velocity = pairs.velocity[rows]
    speed = np.hypot(velocity[:, 0], velocity[:, 1])
    cosine, sine = velocity[:, 0] / speed, velocity[:, 1] / speed
    x, y = pairs.x[rows], pairs.y[rows]
    if part is not None:
        x, y = x + part[:, 0], y + part[:, 1]
    turned = np.stack(
        [
            cosine[:, None] * sides[..., 0] + sine[:, None] * sides[..., 1],
            cosine[:, None] * sides[..., 1] - sine[:, None] * sides[..., 0],
        ],
        axis=-1,
    )
    low, high = near_spans(cosine * y - sine * x, turned, distance)
    along = cosine * x + sine * y
    return (low - along) / speed, (high - along) / speed


_Found = tuple[tuple[tuple[str, str], IntArray], FloatArray, FloatArray]


def _too_near(pairs: _Pairs) -> list[_Found]:
    """Centre distances: of slots from their end centres, of rectangles from half their shorter side inside the edge."""
    a, b = pairs.a, pairs.b
    shape_a, shape_b = a.table.shape[a.row[pairs.i]], b.table.shape[b.row[pairs.j]]
    is_slot = (shape_a == SLOT, shape_b == SLOT)
    rows, part = _parts(pairs, np.where(is_slot[0], 2, 1), np.where(is_slot[1], 2, 1), is_slot)
    box = ((shape_a == RECTANGLE)[rows], (shape_b == RECTANGLE)[rows])
    i, j = pairs.i[rows], pairs.j[rows]
    sides = np.concatenate([a.sides[i] * box[0][:, None, None], b.sides[j] * box[1][:, None, None]], axis=1)
    added = a.half[i] * box[0] + b.half[j] * box[1]
    inside = a.radius[i] * box[0] + b.radius[j] * box[1]
    along, across = np.maximum(a.along[i], b.along[j]), np.maximum(a.across[i], b.across[j])

    def near(limit: FloatArray) -> tuple[FloatArray, FloatArray]:
        least = limit - VALUE_TOLERANCE - added
        return _near(pairs, rows, sides, np.where(least > 0, least + inside, 0.0), part)

    lengthwise, index = near(along), (_CENTRE, rows)
    if np.array_equal(along, across):
        return [(index, *lengthwise)]
    lies_across = _lying_across(pairs, rows)
    low, high = near(across)
    inner = (index, np.maximum(low, lies_across[0]), np.minimum(high, lies_across[1]))
    return [inner, *((index, *part) for part in without(*lengthwise, *lies_across))]


def _lying_across(pairs: _Pairs, rows: IntArray) -> tuple[FloatArray, FloatArray]:
    """Where the centres of pairs lie more across the blank than along it."""
    velocity = pairs.velocity[rows]
    x, y = pairs.x[rows], pairs.y[rows]
    one = (y - x) / (velocity[:, 0] - velocity[:, 1])
    other = (-y - x) / (velocity[:, 0] + velocity[:, 1])
    return np.minimum(one, other), np.maximum(one, other)


def _washers(pairs: _Pairs, same_panel: BoolArray) -> list[_Found]:
    """Washers at every point of the cores, and the socket round one against the washer of the other."""
    a, b = pairs.a, pairs.b
    shape_a, shape_b = a.table.shape[a.row[pairs.i]], b.table.shape[b.row[pairs.j]]
    every = np.ones(len(pairs), dtype=np.bool_)
    rows, part = _parts(pairs, _PARTS[shape_a], _PARTS[shape_b], (every, every))
    i, j = pairs.i[rows], pairs.j[rows]
    seated = same_panel[rows] & (a.washer[i] > 0) & (b.washer[j] > 0)
    gap = np.maximum(a.washer_gap[i], b.washer_gap[j]) - VALUE_TOLERANCE
    distance = np.where(seated, gap + a.washer[i] + b.washer[j], 0.0)
    points = np.zeros((len(rows), 4, 2))
    found: list[_Found] = [((_WASHER, rows), *_near(pairs, rows, points, distance, part))]
    gap = np.maximum(a.socket_gap[i], b.socket_gap[j]) - VALUE_TOLERANCE
    turned = same_panel[rows] & (a.socket[i] > 0) & (b.socket[j] > 0)
    if turned.any() and np.isfinite(gap).any():
        taken = np.maximum(a.socket[i] + b.washer[j], b.socket[j] + a.washer[i])
        found.append(((_SOCKET, rows), *_near(pairs, rows, points, np.where(turned, gap + taken, 0.0), part)))
    return found


def _parts(
    pairs: _Pairs, count_a: IntArray, count_b: IntArray, apart: tuple[BoolArray, BoolArray]
) -> tuple[IntArray, FloatArray]:
    """Every pair of points of two cores: the pair's number, and the points' offset from the centres' difference.

    count: how many points each core is seen as; apart: whether they lie off its centre.
    """
    numbers = np.arange(len(_CORNERS))
    if count_a.max(initial=1) == count_b.max(initial=1) == 1:
        # Round holes all: nothing lies off its centre.
        return np.arange(len(pairs)), np.zeros((len(pairs), 2))
    rows, first, second = np.nonzero((numbers[:, None] < count_a[:, None, None]) & (numbers < count_b[:, None, None]))
    corner_a = np.einsum("nk,nkd->nd", _CORNERS[first], pairs.a.sides[pairs.i[rows]]) * apart[0][rows, None]
    corner_b = np.einsum("nk,nkd->nd", _CORNERS[second], pairs.b.sides[pairs.j[rows]]) * apart[1][rows, None]
    return rows, corner_a - corner_b


def stud_spans(a: Holes, b: Holes, i: IntArray, j: IntArray, velocity: FloatArray) -> tuple[Spans, IntArray]:
    """Where studs and holes, one of each a pair, come too near in steps of their station; arguments as spans_between.

    Returns the intervals and for each the number of its pair.
    """
    same = a.table.panel[a.row[i]] == b.table.panel[b.row[j]]
    gap = np.maximum(a.stud_gap[i], b.stud_gap[j]) - VALUE_TOLERANCE
    distance = gap + a.radius[i] + b.radius[j]
    pair = np.flatnonzero(same & (distance > 0))
    i, j = i[pair], j[pair]
    pairs = _Pairs(a, b, i, j, a.x[i] - b.x[j], a.y[i] - b.y[j], velocity[pair])
    low, high = _near(pairs, np.arange(len(pair)), np.concatenate([a.sides[i], b.sides[j]], axis=1), distance[pair])
    some = np.flatnonzero(low < high)
    return spans(_STUD, low[some], high[some], a.row[i[some]], b.row[j[some]]), pair[some]


def shared_spans(a: Holes, b: Holes, i: IntArray, j: IntArray) -> tuple[FloatArray, FloatArray, IntArray]:
    """Where, in steps of a's station, holes i of a are validly one with holes j of b: ends, and each one's pair."""
    pair = np.flatnonzero(a.table.shareable[a.row[i]] & b.table.shareable[b.row[j]] & measured_in_blank(a, b, i, j))
    i, j = i[pair], j[pair]
    pairs = _Pairs(a, b, i, j, a.x[i] - b.x[j], a.y[i] - b.y[j], a.velocity[i])
    same_panel = a.table.panel[a.row[i]] == b.table.panel[b.row[j]]
    low, high = _coincident(pairs, same_panel)[0]
    some = np.flatnonzero(low < high)
    return low[some], high[some], pair[some]


def _coincident(
    pairs: _Pairs, same_panel: BoolArray
) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]:
    """Where pairs are validly one hole, and where they are one on the other."""
    a, b = pairs.a, pairs.b
    table, first, second = a.table, a.row[pairs.i], b.row[pairs.j]
    if table is not b.table:
        table, second = stacked([a.table, b.table]), second + len(a.table)
    length = np.nan_to_num(table.length)
    alike = (
        same_panel
        & (table.shape[first] == table.shape[second])
        & (table.fastener[first] == table.fastener[second])
        & (np.abs(table.diameter[first] - table.diameter[second]) <= VALUE_TOLERANCE)
        & (np.abs(length[first] - length[second]) <= VALUE_TOLERANCE)
    )
    shared = alike & may_share(table, first, second, np.zeros(len(pairs)))
    every, points = np.arange(len(pairs)), np.zeros((len(pairs), 4, 2))
    return (
        _near(pairs, every, points, np.where(shared, SHARED_WITHIN + 1e-9, 0.0)),
        _near(pairs, every, points, np.where(alike, COINCIDENT - VALUE_TOLERANCE, 0.0)),
    )
