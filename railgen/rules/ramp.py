"""Rule ``ramp-flush``: nothing stands proud of the ramp, over which a semi-trailer slides, or lies deep in it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE, Finding
from railgen.data.stock import Fastener
from railgen.frame.panels import Face, Panel
from railgen.holes.table import FACES, NONE, RAIL, SIDES, FloatArray, IntArray
from railgen.layout.feet import OUTSIDE
from railgen.rules.along import quantities_at
from railgen.rules.breaks import Breaks, breaks, breaks_if_held, each, finding_about
from railgen.rules.limits import evaluate
from railgen.rules.pattern import Pattern

_KEY = ("ramp-flush", "proud")


def head_proud(fastener: Fastener) -> float:
    """How far a screw's head stands above the face it sits on, mm; below zero where it lies deep.

    A flush head is a cone from the screw's diameter up, so its countersink holds (D - d) / (2 tan(angle / 2)) of its
    height; any other head stands on its washer. Source: geometry.
    """
    height = fastener.head_height or 0.0
    seat = fastener.countersink
    if seat is None:
        return height + (fastener.washer_thickness or 0.0)
    return height - (seat.diameter - fastener.diameter) / (2 * float(np.tan(np.radians(seat.angle) / 2)))


def nut_proud(fastener: Fastener) -> float:
    """How far a nut on its washer stands above the face, mm; the thread beyond it is not counted."""
    return (fastener.nut_height or 0.0) + (fastener.washer_thickness or 0.0)


def ramp_flush(pattern: Pattern) -> list[Breaks]:
    """Fasteners in the ramp: how far they stand proud of its top face, and flush heads how deep they lie, mm."""
    table, library = pattern.table, pattern.order.library
    rows = np.flatnonzero((table.panel == Panel.TAIL_TOP) & (table.part == RAIL) & pattern.is_hole)
    rows = rows[table.fastener[rows] != NONE]
    if not len(rows):
        return []
    fasteners = list(library.fasteners.values())
    proud = np.array([(head_proud(f), nut_proud(f)) for f in fasteners])
    head_above = pattern.head_outside[rows]
    height = np.where(head_above, *proud[table.fastener[rows]].T) + pattern.stacks.outside[rows]
    flush = np.array([f.countersink is not None for f in fasteners])[table.fastener[rows]] & head_above
    return [
        *breaks_if_held(pattern, *_KEY, rows, height),
        *breaks_if_held(pattern, "ramp-flush", "recess", rows[flush], -height[flush]),
    ]


def ramp_feet(pattern: Pattern) -> Iterator[Finding]:
    """Feet on the ramp's top face: their plies stand proud of it, mm."""
    taper, feet = pattern.rail.taper, pattern.feet
    if taper is None or not pattern.limits.holds(*_KEY):
        return
    components = list(pattern.order.library.components)
    on_top = (feet.face == Face.TOP) & (feet.surface == OUTSIDE)
    index = np.flatnonzero(on_top & (feet.high[:, 0] > taper.start + VALUE_TOLERANCE))
    value = plies_outside(pattern, feet.component[index])
    limits = evaluate(pattern.limits, *_KEY, quantities_at(pattern, feet.station[index]))
    for foot, _, severity, proud, limit, held in each(breaks(*_KEY, index, value, limits)):
        yield finding_about(
            *_KEY,
            severity,
            side=SIDES[feet.side[foot]],
            face=FACES[Face.TOP],
            station=float(feet.station[foot]),
            value=proud,
            limit=limit,
            held=held,
            components=(components[feet.component[foot]],),
        )


def plies_outside(pattern: Pattern, component: IntArray) -> FloatArray:
    """Thickness of all plies that components (indices of the library's) put on outside faces, mm."""
    components = list(pattern.order.library.components.values())
    plies = [[ply.thickness for ply in components[c].plies if ply.surface == "outside"] for c in component.tolist()]
    return np.array([sum(thicknesses) for thicknesses in plies], dtype=np.float64)
