"""What one bolt, and the steel around it, can bear. Forces N, lengths mm, areas mm2, stresses MPa throughout.

Every function takes arrays of one shape or scalars. The tables and clauses of EN 1993-1-8 named here are from memory;
the values of the tests are from published tables and worked examples.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from railgen.frame.measure import YOUNG
from railgen.holes.table import FloatArray

SAFETY = 1.25
"""Partial factor gamma M2 on bolts and on steel in bearing. Source: EN 1993-1-8 table 2.1."""
SLIP_SAFETY = 1.1
"""Partial factor gamma M3,ser: no slip under a working load (category B). Source: EN 1993-1-8 table 2.1."""
TEAR_OUT_FACTOR = 0.75
"""Resistance factor phi on tear-out. Source: AISC 360-16 J3.10."""
TENSILE_OVER_PROOF = 1.2
"""Tensile strength over proof stress where no tensile strength is given: no class of ISO 898-1 or SAE J429 has less.

Both from memory; class 10.9 has 1040 over 830, Grade 8 has 150 over 120.
"""
_LEAST = 1e-3  # of a length or a factor: where nothing is left, resistance is as good as none, but no division by zero


def stress_area(diameter: ArrayLike, pitch: ArrayLike, thread: Literal["metric", "unified"] = "metric") -> FloatArray:
    """Tensile stress area of a thread, mm2 (or in2 from inches).

    Source: ISO 898-1, pi/4 (d - 0.9382 P)2; for unified threads ASME B1.1, 0.7854 (D - 0.9743 / n)2, P = 1 / n.
    """
    lost = 0.9382 if thread == "metric" else 0.9743
    return np.asarray(np.pi / 4 * (np.asarray(diameter) - lost * np.asarray(pitch)) ** 2)


def shear_resistance(
    area: ArrayLike, tensile: ArrayLike, factor: ArrayLike, planes: ArrayLike = 1, safety: float = SAFETY
) -> FloatArray:
    """Shear resistance of a bolt: planes x factor x tensile strength x area / safety, N.

    area: of the thread where it lies in the shear plane, else of the shank; factor: see ``shear_factor``.
    Source: EN 1993-1-8 table 3.4; AISC 360 J3.6 is the same form with its own stress and safety.
    """
    product = np.asarray(planes) * np.asarray(factor) * np.asarray(tensile) * np.asarray(area)
    return np.asarray(product / safety)


def shear_factor(thread_in_plane: ArrayLike) -> FloatArray:
    """alpha v: 0.6 through the shank, 0.5 through the thread (0.6 for some classes; 0.5 is safe for all).

    Source: EN 1993-1-8 table 3.4.
    """
    return np.where(np.asarray(thread_in_plane), 0.5, 0.6)


def tension_resistance(
    area: ArrayLike, tensile: ArrayLike, countersunk: ArrayLike = False, safety: float = SAFETY
) -> FloatArray:
    """Tension resistance of a bolt: k2 x tensile strength x stress area / safety, N; k2 0.9, countersunk 0.63.

    Source: EN 1993-1-8 table 3.4.
    """
    factor = np.where(np.asarray(countersunk), 0.63, 0.9)
    return np.asarray(factor * np.asarray(tensile) * np.asarray(area) / safety)


def combined_utilisation(shear: ArrayLike, tension: ArrayLike) -> FloatArray:
    """Utilisation in shear and tension together, from the utilisation in each: shear + tension / 1.4.

    Source: EN 1993-1-8 table 3.4.
    """
    return np.asarray(np.asarray(shear) + np.asarray(tension) / 1.4)


def bearing_resistance(
    *,
    bolt: ArrayLike,
    hole: ArrayLike,
    thickness: ArrayLike,
    tensile: ArrayLike,
    bolt_tensile: ArrayLike,
    end: ArrayLike,
    edge: ArrayLike,
    pitch: ArrayLike,
    gauge: ArrayLike,
    safety: float = SAFETY,
) -> FloatArray:
    """Bearing resistance of the steel at a hole: k1 x alpha b x tensile x bolt x thickness / safety, N.

    bolt and hole: diameters; end, edge: centre to the free edge along and across the force (e1, e2); pitch, gauge: to
    the next hole along and across it (p1, p2); infinite where there is none. The stricter of end bolt and inner bolt,
    and of edge bolt and inner bolt, is taken throughout. Source: EN 1993-1-8 table 3.4.
    """
    d0 = np.asarray(hole)
    along = np.minimum(np.asarray(end) / (3 * d0), np.asarray(pitch) / (3 * d0) - 0.25)
    along = np.minimum(np.minimum(along, np.asarray(bolt_tensile) / np.asarray(tensile)), 1.0)
    across = np.minimum(2.8 * np.asarray(edge) / d0 - 1.7, 1.4 * np.asarray(gauge) / d0 - 1.7)
    across = np.minimum(across, 2.5)
    factor = np.maximum(along, _LEAST) * np.maximum(across, _LEAST)
    return np.asarray(factor * np.asarray(tensile) * np.asarray(bolt) * np.asarray(thickness) / safety)


def tear_out_resistance(
    clear: ArrayLike, thickness: ArrayLike, tensile: ArrayLike, factor: float = TEAR_OUT_FACTOR
) -> FloatArray:
    """Resistance of the steel between a hole's edge and the next edge along the force: factor x 1.2 lc t Fu, N.

    clear: lc, from the hole's edge to the next hole's edge or to the free edge. Source: AISC 360-16 J3.10.
    """
    left = np.maximum(np.asarray(clear), _LEAST)
    return np.asarray(factor * 1.2 * left * np.asarray(thickness) * np.asarray(tensile))


def slip_resistance(
    clamp: ArrayLike,
    friction: ArrayLike,
    planes: ArrayLike = 1,
    tension: ArrayLike = 0.0,
    on_clamp: float = 1.0,
    safety: float = SLIP_SAFETY,
) -> FloatArray:
    """Slip resistance of a clamped bolt: planes x friction x (on_clamp x clamp - 0.8 tension) / safety, N.

    clamp: what is left of it; on_clamp: the factor on pretension that AISC 360 J3.8 has (1.13).
    Source: EN 1993-1-8 3.9.1 and 3.9.2 (ks = 1, holes of normal clearance).
    """
    left = on_clamp * np.asarray(clamp) - 0.8 * np.asarray(tension)
    return np.asarray(np.asarray(planes) * np.asarray(friction) * left / safety)


def slip_utilisation(
    shear: ArrayLike, tension: ArrayLike, clamp: ArrayLike, friction: float, planes: ArrayLike = 1
) -> FloatArray:
    """Share of the clamp (what is left of it) that shear and tension use up: 1 where ``slip_resistance`` equals shear.

    Linear in the loads, and finite where the tension alone uses up the clamp.
    """
    needed = np.asarray(shear) * SLIP_SAFETY / (friction * np.asarray(planes)) + 0.8 * np.asarray(tension)
    return np.asarray(needed / np.maximum(np.asarray(clamp), 1.0))


def clamp_lost(settled: ArrayLike, diameter: ArrayLike, clamped: ArrayLike) -> FloatArray:
    """Clamp lost when the plies settle: settled x Young's modulus x shank area / (clamped + diameter), N.

    settled: by how much; clamped: thickness between head and nut, washers included; the diameter stands for the
    stretch within head and nut. The plies themselves are taken as rigid, and thread as shank: both make it more.
    Source: VDI 2230 part 1, preload lost by embedding = embedding / (resilience of bolt and plies), from memory.
    """
    bolt = np.asarray(diameter)
    stiffness = YOUNG * np.pi / 4 * bolt**2 / (np.asarray(clamped) + bolt)
    return np.asarray(np.asarray(settled) * stiffness)
