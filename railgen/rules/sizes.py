"""Rule ``hole-size``: the least hole that can be punched, the pressure on its punch, and the largest holes."""

from __future__ import annotations

import numpy as np

from railgen.holes.table import NONE, PARTS, PUNCH, FloatArray
from railgen.rules.breaks import Breaks, breaks_if_held
from railgen.rules.pattern import Pattern


def punch_pressure(shear_strength: FloatArray, thickness: FloatArray, diameter: FloatArray) -> FloatArray:
    """Compressive stress in a round punch, MPa: 4 tau t / d, the force pi d t tau over the area pi d2 / 4.

    shear_strength MPa, thickness and diameter mm, all of one shape.
    """
    return np.asarray(4 * shear_strength * thickness / diameter)


def hole_size(pattern: Pattern) -> list[Breaks]:
    """Diameters of punched holes against thickness and punch, of fastener holes and of passages, mm and MPa.

    Common practice; body-builder values give the largest fastener hole.
    """
    table, diameter = pattern.table, pattern.hole_diameter
    punched = np.flatnonzero(pattern.is_hole & (table.operation == PUNCH))
    shear = np.array([_shear_strength(pattern, part) for part in PARTS])[table.part[punched]]
    pressure = punch_pressure(shear, pattern.thickness[punched], diameter[punched])
    fastened = table.fastener != NONE
    fastener_holes = np.flatnonzero(pattern.is_hole & fastened)
    passages = np.flatnonzero(pattern.is_hole & ~fastened & pattern.on_web)
    return [
        *breaks_if_held(pattern, "hole-size", "least", punched, diameter[punched]),
        *breaks_if_held(pattern, "hole-size", "punch-stress", punched, pressure),
        *breaks_if_held(pattern, "hole-size", "largest", fastener_holes, diameter[fastener_holes]),
        *breaks_if_held(pattern, "hole-size", "passage", passages, 2 * pattern.reach[1][passages]),
    ]


def _shear_strength(pattern: Pattern, part: str) -> float:
    steel = pattern.order.steel_of(part)
    return steel.shear_strength if steel.shear_strength is not None else 0.75 * steel.tensile_least
