"""Punching force."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from railgen.data.stock import SteelBand
from railgen.holes.shapes import perimeters
from railgen.holes.table import PUNCH, FloatArray, HoleTable

SHEAR_OF_TENSILE = 0.75
"""Shear strength over tensile strength where a steel gives none. Common practice, no source."""


def punching_force(perimeter: ArrayLike, thickness: ArrayLike, shear_strength: ArrayLike) -> FloatArray:
    """Force (N) of one hit: perimeter (mm) x thickness (mm) x shear strength (MPa); shapes broadcast.

    Source: Machinery's Handbook (from memory); a hand-tool maker's tonnage chart and a punch maker's
    catalogue agree.
    """
    return np.asarray(np.multiply(np.multiply(perimeter, thickness), shear_strength), dtype=np.float64)


def highest_shear_strength(steel: SteelBand) -> float:
    """Shear strength (MPa) that a press must overcome: as given, else 0.75 of the highest tensile."""
    return steel.shear_strength or SHEAR_OF_TENSILE * steel.tensile_most


def hit_forces(table: HoleTable, thickness: FloatArray, steel: SteelBand) -> FloatArray:
    """Force (N) of the hit that makes each row, (n,); 0 for rows that are not punched, and for marks.

    ``thickness`` (n,) mm.
    """
    forces = punching_force(perimeters(table, thickness), thickness, highest_shear_strength(steel))
    return np.where(table.operation == PUNCH, forces, 0.0)
