"""Fasteners that move past feet and envelopes of other components, as intervals of their relative station."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.frame.panels import Face
from railgen.holes.table import NONE, RAIL, BoolArray, FloatArray, IntArray
from railgen.layout.feet import INSIDE, OUTSIDE, Feet
from railgen.placing.boxes import Boxes
from railgen.placing.feet import core_spans
from railgen.placing.slices import generators
from railgen.placing.spans import Spans, joined, spans
from railgen.rules.beside import is_stud, strangers
from railgen.rules.feet import seat_radius
from railgen.rules.pattern import Pattern
from railgen.rules.wrench import IN_THE_WAY, has_socket, seats, sockets

_WASHER, _SOCKET = ("footprint-clash", "washer"), ("wrench-access", "radial")
_NUT, _HEAD = ("wrench-access", "nut-length"), ("wrench-access", "head-length")


@dataclass(frozen=True)
class Fasteners:
    """Screws and studs of rails, n of them, as they lie in the finished part; mm.

    row: of the table; place (n, 2): station and across; cores (n, 2, 2):
    generators; half (n, 2): how far the core reaches along and across; seat: radius of washer or stud; socket (n, 2):
    radius of the socket outside and inside, 0 where none goes round; washer_gap, socket_gap: error limits, -inf where
    none; seats (n, 2): from the outside face to where washers sit outside (outboard) and inside; length (n, 2): the
    least free length outside and inside, -inf where none; head_outside: whether its head is; depth: of the rail.
    """

    row: IntArray
    face: IntArray
    place: FloatArray
    cores: FloatArray
    half: FloatArray
    radius: FloatArray
    seat: FloatArray
    socket: FloatArray
    washer_gap: FloatArray
    socket_gap: FloatArray
    seats: FloatArray
    length: FloatArray
    head_outside: BoolArray
    is_stud: BoolArray
    depth: FloatArray

    def __len__(self) -> int:
        return len(self.row)


def fasteners_of(pattern: Pattern) -> Fasteners:
    """All screws and studs of a pattern's rails."""
    table, cores = pattern.table, pattern.cores
    rows = np.flatnonzero((table.part == RAIL) & (table.fastener != NONE))
    outside = pattern.head_outside[rows]

    def error(rule: str, measure: str) -> FloatArray:
        if not pattern.limits.holds(rule, measure):
            return np.full(len(rows), -np.inf)
        return pattern.limit(rule, measure).error[rows]

    head, nut = error(*_HEAD), error(*_NUT)
    turned = (sockets(pattern) > 0)[rows]
    lengths = np.column_stack([np.where(outside, head, nut), np.where(outside, nut, head)])
    return Fasteners(
        row=rows,
        face=table.face[rows],
        place=np.column_stack([table.station[rows], table.across[rows]]),
        cores=generators(cores.half_length[rows], cores.half_width[rows], table.angle[rows]),
        half=np.column_stack([reach[rows] - cores.radius[rows] for reach in pattern.finished_reach]),
        radius=sockets(pattern)[rows],
        seat=seat_radius(pattern)[rows],
        socket=np.column_stack(
            [np.where(has_socket(pattern, s), sockets(pattern), 0.0)[rows] for s in (OUTSIDE, INSIDE)]
        ),
        washer_gap=error(*_WASHER),
        socket_gap=error(*_SOCKET),
        seats=np.column_stack(seats(pattern, rows)),
        length=np.where(turned[:, None], lengths, -np.inf),
        head_outside=outside,
        is_stud=is_stud(pattern)[rows],
        depth=pattern.rail.depth_at(table.station[rows]),
    )


def fasteners_near_feet(pattern: Pattern, a: Fasteners, feet: Feet, i: IntArray, j: IntArray) -> Spans:
    """Where, in steps of the fasteners' station, fasteners i have washer or socket too near to feet j of strangers.

    pattern: of the fasteners.     first and second are fasteners and feet.
    """
    facing = np.flatnonzero(a.face[i] == feet.face[j])
    i, j = i[facing], j[facing]
    strange = strangers(pattern, a.row[i], feet.component[j])
    i, j = i[strange], j[strange]
    surface = feet.surface[j]
    # A stud stands on one face side; a screw has a washer on either.
    seated = (a.seat[i] > 0) & (~a.is_stud[i] | (a.head_outside[i] == (surface == OUTSIDE)))
    socket = a.socket[i, surface]
    parts = []
    for reason, has, distance in (
        (_WASHER, seated, a.washer_gap[i] + a.seat[i]),
        (_SOCKET, socket > 0, a.socket_gap[i] + socket),
    ):
        least = np.where(has, distance - VALUE_TOLERANCE, 0.0)
        gap = np.maximum(feet.low[j, 1] - a.place[i, 1], a.place[i, 1] - feet.high[j, 1]) - a.half[i, 1]
        some = np.flatnonzero((least > 0) & (gap < least))
        mine, foot = i[some], j[some]
        pair, low, high = core_spans(feet, foot, a.place[mine], a.cores[mine], least[some])
        parts.append(spans(reason, low, high, mine[pair], foot[pair]))
    return joined(parts)


def lengths_before_boxes(pattern: Pattern, a: Fasteners, boxes: Boxes, i: IntArray, j: IntArray) -> Spans:
    """Where, in steps of the screws' station, envelopes j of strangers leave too little length before screws i.

    pattern: of the screws; the envelopes as their rail sees them. first and second are screws and envelopes.
    """
    solid = np.flatnonzero(np.isin(boxes.clearance[j], IN_THE_WAY))
    i, j = i[solid], j[solid]
    strange = strangers(pattern, a.row[i], boxes.component[j])
    i, j = i[strange], j[strange]
    on_web = (a.face[i] == Face.WEB)[:, None]
    low, high = boxes.low[j], boxes.high[j]
    beside_low, beside_high = (
        np.where(on_web, low[:, [2]], low[:, [1]])[:, 0],
        np.where(on_web, high[:, [2]], high[:, [1]])[:, 0],
    )
    gap = np.maximum(beside_low - a.place[i, 1], a.place[i, 1] - beside_high) - a.half[i, 1]
    radius = a.radius[i] - VALUE_TOLERANCE
    away_low, away_high = (
        np.where(on_web, low[:, [1]], low[:, [2]])[:, 0],
        np.where(on_web, high[:, [1]], high[:, [2]])[:, 0],
    )
    top = a.face[i] == Face.TOP
    near, far = np.where(top, a.depth[i] - away_high, away_low), np.where(top, a.depth[i] - away_low, away_high)
    reach = np.sqrt(np.maximum(radius**2 - np.maximum(gap, 0.0) ** 2, 0.0)) + a.half[i, 0]
    first, last = low[:, 0] - a.place[i, 0] - reach, high[:, 0] - a.place[i, 0] + reach
    parts = []
    for surface, starts, ends in ((OUTSIDE, -far, -near), (INSIDE, near, far)):
        seat = a.seats[i, surface]
        free = np.maximum(starts - seat, 0.0)
        short = (ends > seat + VALUE_TOLERANCE) & (free < a.length[i, surface] - VALUE_TOLERANCE)
        some = np.flatnonzero(short & (radius > 0) & (gap < radius))
        for reason, head in ((_HEAD, True), (_NUT, False)):
            chosen = some[(a.head_outside[i[some]] == (surface == OUTSIDE)) == head]
            parts.append(spans(reason, first[chosen], last[chosen], i[chosen], j[chosen]))
    return joined(parts)
