"""What the press closes to a component by itself as it moves: beyond its reach, and beside its clamps."""

from __future__ import annotations

from collections.abc import Iterator
from functools import reduce

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.holes.table import PUNCH, RH, FloatArray, IntArray
from railgen.placing.slices import generators, near_spans
from railgen.placing.spans import Spans, joined, spans, union
from railgen.placing.trial import SAME_ANYWHERE
from railgen.rules.pattern import Pattern
from railgen.rules.press import blank_lies, press_limit, with_dead_zone
from railgen.shop.clamps import clamp_boxes
from railgen.shop.press_lie import PressLie

_CLAMP = ("press-limit", "clamp")


def closed_at_press(pattern: Pattern, velocity: FloatArray) -> Spans:
    """Steps from where each row stands in which its hit is in error; velocity: (n, 2) in the blank over the station.

    Force and tool are no station's fault, reach is that of the height. A clamp closes what its dead zone meets; clamps
    that may stand in several places close what none of those places leaves free.
    """
    found = []
    for broken in press_limit(pattern):
        rows, reason = broken.first[broken.is_error], (broken.rule, broken.measure)
        if reason != _CLAMP and reason not in SAME_ANYWHERE:
            endless = np.full(len(rows), np.inf)
            found.append(spans(reason, -endless, endless, rows))
    return joined([*found, *_clamped(pattern, velocity[:, 0])])


def _clamped(pattern: Pattern, speed: FloatArray) -> Iterator[Spans]:
    press, table = pattern.order.library.press, pattern.table
    if not press.clamps or not pattern.limits.holds(*_CLAMP):
        return
    error = with_dead_zone(pattern.limit(*_CLAMP), press).error - VALUE_TOLERANCE
    distance = error + pattern.cores.radius
    hit = pattern.is_hole & (table.operation == PUNCH) & np.isfinite(distance)
    deepest, core = max(clamp.depth for clamp in press.clamps), pattern.reach[1] - pattern.cores.radius
    for side, part, lie in blank_lies(pattern, press):
        near = lie.to_press(table.blank_x, table.v)[1] - core - distance < deepest
        rows = np.flatnonzero(hit & near & (table.side == side) & (table.part == part))
        if not len(rows):
            continue
        # Blank x grows forward on RH, and a blank that lies turned half round is seen from its other end.
        way = speed[rows] * (-1.0 if side == RH else 1.0) * (-1.0 if lie.turned else 1.0)
        each = [
            _at_clamps(pattern, lie, clamp_boxes(press, lie, shift), rows, distance) for shift in press.clamp_shifts
        ]
        for number, row in enumerate(rows.tolist()):
            low, high = reduce(_both, [union(*(end[number] for end in ends)) for ends in each])
            if len(low):
                ends = np.sort(np.stack([low, high]) / way[number], axis=0)
                yield spans(_CLAMP, ends[0], ends[1], np.full(len(low), row))


def _at_clamps(
    pattern: Pattern, lie: PressLie, boxes: FloatArray, rows: IntArray, distance: FloatArray
) -> tuple[list[FloatArray], list[FloatArray]]:
    """Of each row the steps along the press in which it comes too near to each clamp (k, 4): low and high ends."""
    table, cores = pattern.table, pattern.cores
    x, y = lie.to_press(table.blank_x[rows], table.v[rows])
    own = generators(cores.half_length[rows], cores.half_width[rows], np.nan_to_num(table.blank_angle[rows]))
    lows, highs = [], []
    for box in boxes:
        half = np.array([[(box[2] - box[0]) / 2, 0.0], [0.0, (box[3] - box[1]) / 2]])
        sides = np.concatenate([own, np.broadcast_to(half, own.shape)], axis=1)
        low, high = near_spans(y - (box[1] + box[3]) / 2, sides, distance[rows])
        middle = (box[0] + box[2]) / 2 - x
        lows.append(low + middle)
        highs.append(high + middle)
    count = len(rows)
    low, high = (np.array(ends).reshape(-1, count) for ends in (lows, highs))
    kept = low < high
    return (
        [low[kept[:, number], number] for number in range(count)],
        [high[kept[:, number], number] for number in range(count)],
    )


def _both(one: tuple[FloatArray, FloatArray], other: tuple[FloatArray, FloatArray]) -> tuple[FloatArray, FloatArray]:
    """What two unions of intervals have in common."""
    low, high = np.maximum(one[0][:, None], other[0]), np.minimum(one[1][:, None], other[1])
    kept = low < high
    return low[kept], high[kept]
