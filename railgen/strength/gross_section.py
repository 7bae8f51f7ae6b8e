"""The gross section of a rail, alone or with its liner, at any local depth, and the flat steel in it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.polynomial import polynomial

from railgen.frame.rail import RailShape
from railgen.frame.section import Section, properties
from railgen.holes.table import BoolArray, FloatArray

Moments = tuple[FloatArray, FloatArray, FloatArray]
"""Area (mm2), first (mm3) and second moment (mm4) about an outermost fibre."""


@dataclass(frozen=True)
class Plates:
    """The flat steel that openings are in: web, top and bottom flange of the rail, then of the liner; mm.

    low and high + high_depth x depth: across (z or y) between which it is flat; level + level_depth x depth: height of
    a flange's middle.
    """

    is_web: BoolArray
    thickness: FloatArray
    low: FloatArray
    high: FloatArray
    high_depth: FloatArray
    level: FloatArray
    level_depth: FloatArray


@dataclass(frozen=True)
class Gross:
    """Area (mm2) and second moment about mid-depth (mm4) of the gross section, as polynomials of depth (mm)."""

    area: FloatArray
    inertia: FloatArray

    def moments(self, depth: FloatArray) -> Moments:
        """Moments about either outermost fibre: they are alike, the section is symmetric."""
        area = self._at(self.area, depth)
        return area, area * depth / 2, self._at(self.inertia, depth) + area * depth**2 / 4

    def moment_slopes(self, depth: FloatArray) -> Moments:
        """What each of the moments gains for a mm of depth."""
        area, gain = self._at(self.area, depth), self._gain(self.area, depth)
        inertia = self._gain(self.inertia, depth) + gain * depth**2 / 4 + area * depth / 2
        return gain, (gain * depth + area) / 2, inertia

    def modulus(self, depth: FloatArray) -> FloatArray:
        """Section modulus, mm3."""
        return 2 * self._at(self.inertia, depth) / depth

    def modulus_slope(self, depth: FloatArray) -> FloatArray:
        """What the modulus gains for a mm of depth, mm2."""
        return (2 * self._gain(self.inertia, depth) - self.modulus(depth)) / depth

    @staticmethod
    def _at(coefficients: FloatArray, depth: FloatArray) -> FloatArray:
        return np.asarray(polynomial.polyval(depth, coefficients), dtype=np.float64)

    def _gain(self, coefficients: FloatArray, depth: FloatArray) -> FloatArray:
        return self._at(np.asarray(polynomial.polyder(coefficients), dtype=np.float64), depth)


@lru_cache(maxsize=256)
def gross_section(rail: RailShape, with_liner: bool = False) -> Gross:
    """Gross section of the rail at any depth, or with its liner at the full one (a liner lies ahead of a taper)."""
    section = rail.section
    area = np.array([properties(section).area - section.thickness * section.depth, section.thickness])
    inertia = np.array(_inertia_of_depth(section))
    if with_liner and rail.liner:
        # The gap is split equally, so the liner's mid-depth is the rail's and the plain sum needs no other term.
        inner = properties(rail.liner.section)
        area[0] += inner.area
        inertia[0] += inner.ixx
    return Gross(area, inertia)


@lru_cache(maxsize=256)
def _inertia_of_depth(section: Section) -> tuple[float, ...]:
    """Second moment about mid-depth as a cubic of depth: the closed form at four depths tells all of it."""
    tangent = section.tangent
    depths = np.linspace(2.2 * tangent, max(section.depth, 3 * tangent), 4)
    values = [properties(replace(section, depth=float(depth))).ixx for depth in depths]
    scaled = np.linalg.solve(np.vander(depths / section.depth, 4, increasing=True), np.array(values))
    return tuple((scaled / section.depth ** np.arange(4)).tolist())


@lru_cache(maxsize=256)
def plates_of(rail: RailShape) -> Plates:
    """The plates of a rail and its liner; without a liner the rail's stand twice."""
    section, liner = rail.section, rail.liner
    t, tangent = section.thickness, section.tangent
    columns = [
        (True, t, tangent, -tangent, 1.0, 0.0, 0.0),
        (False, t, tangent, section.flange, 0.0, -t / 2, 1.0),
        (False, t, tangent, section.flange, 0.0, t / 2, 0.0),
    ]
    if liner:
        t, offset = liner.section.thickness, liner.offset_z
        edges = (liner.flange_tangent, liner.flange_edge, 0.0)
        columns += [
            (True, t, liner.web_lower_tangent, liner.web_upper_tangent, 0.0, 0.0, 0.0),
            (False, t, *edges, offset + liner.section.depth - t / 2, 0.0),
            (False, t, *edges, offset + t / 2, 0.0),
        ]
    is_web, *figures = zip(*columns, strict=True)
    return Plates(np.array(is_web), *(np.array(figure, dtype=np.float64) for figure in figures))
