"""Rule ``drain``: pockets in which a part hung on its rack holds liquid on the way out of a bath, or air on the way in.

Common practice, no source; the sag follows from beam theory.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from railgen.data.findings import Finding
from railgen.frame.rail import Part, part_front
from railgen.holes.table import SIDES
from railgen.rules.along import quantities_at
from railgen.rules.breaks import breaks, each, finding_about
from railgen.rules.limits import evaluate
from railgen.rules.pattern import Pattern
from railgen.shop.hanging import hang, runs_empty
from railgen.shop.part_work import rows_of


def drain(pattern: Pattern) -> Iterator[Finding]:
    """Depth of each pocket of each part, mm: one finding a pocket, at its deepest station."""
    if not pattern.limits.holds("drain", "depth"):
        return
    parts: tuple[Part, ...] = ("rail", "liner") if pattern.rail.liner else ("rail",)
    for part in parts:
        if runs_empty(pattern.rail, part, pattern.order.library.finishing.rack):
            continue
        for side in SIDES:
            yield from _pockets(pattern, part, side)


def _pockets(pattern: Pattern, part: Part, side: str) -> Iterator[Finding]:
    rail, rack = pattern.rail, pattern.order.library.finishing.rack
    hanging = hang(rail, part, rack, rows_of(pattern.table, part, side))
    if not hanging.pockets:
        return
    front = part_front(rail, part)
    _, _, deepest, depth = np.array(hanging.pockets).T
    station = deepest + front
    limits = evaluate(pattern.limits, "drain", "depth", quantities_at(pattern, station, part))
    broken = breaks("drain", "depth", np.arange(len(depth)), depth, limits)
    for pocket, _, severity, value, limit, held in each(broken):
        yield finding_about(
            "drain",
            "depth",
            severity,
            side=side,
            part=part,
            face="web",
            station=float(station[pocket]),
            value=value,
            limit=limit,
            held=held,
            place=f"{hanging.holds} in the {side} {part}",
        )
