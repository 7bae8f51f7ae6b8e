"""True shapes of features: a convex core inflated by a radius.

A round hole's core is its centre; a slot's the segment between its end-radius centres; a rectangle's the rectangle
shrunk by its corner radius. Every distance between features, edges and bends follows from the cores.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import shapely

from railgen.holes.table import MARK, RECTANGLE, SLOT, BoolArray, FloatArray, HoleTable, IntArray

LEAST_CORNER_RADIUS = 3.0
"""mm; rectangles have a corner radius of max(0.5 t, 3 mm) unless a larger one is given. Common practice, no source."""


@dataclass(frozen=True)
class Cores:
    """Cores of n features at their own centres: half sizes along and across the long axis, and the radius, mm."""

    half_length: FloatArray
    half_width: FloatArray
    radius: FloatArray

    def reach(self, angle: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How far each core reaches from its centre along x and y when its long axis lies at angle (degrees)."""
        direction = np.radians(angle)
        cosine, sine = np.abs(np.cos(direction)), np.abs(np.sin(direction))
        along = self.half_length * cosine + self.half_width * sine
        return along, self.half_length * sine + self.half_width * cosine


def cores_of(table: HoleTable, thickness: FloatArray) -> Cores:
    """Cores of all features; thickness (mm, a row each) sets the corners of rectangles."""
    width = np.where(table.shape == MARK, 0.0, table.diameter)
    corner = corner_radii(table, thickness)
    radius = np.where(table.shape == RECTANGLE, corner, width / 2)
    long_shape = (table.shape == SLOT) | (table.shape == RECTANGLE)
    half_length = np.where(long_shape, np.fmax(table.length, 0.0) / 2 - radius, 0.0)
    return Cores(half_length, np.maximum(width / 2 - radius, 0.0), radius)


def corner_radii(table: HoleTable, thickness: FloatArray) -> FloatArray:
    """Corner radius of each row taken as a rectangle, mm: never more than half its shorter side."""
    least = np.maximum(0.5 * thickness, LEAST_CORNER_RADIUS)
    half_short = np.fmin(table.diameter, table.length) / 2
    return np.fmin(np.maximum(table.corner_radius, least), half_short)


def core_geometries(
    x: FloatArray, y: FloatArray, angle: FloatArray, shape: IntArray, half_length: FloatArray, half_width: FloatArray
) -> np.ndarray:
    """Shapely geometries of cores (points, lines, polygons), all arguments of length n; angle in degrees."""
    geometries = np.empty(len(x), dtype=object)
    slot, box = shape == SLOT, shape == RECTANGLE
    flat = ~(slot | box)
    centre = np.empty((len(x), 2))
    centre[:, 0], centre[:, 1] = x, y
    geometries[flat] = shapely.points(centre[flat])
    if flat.all():
        return geometries
    direction = np.radians(angle)
    along = np.stack([np.cos(direction), np.sin(direction)], axis=-1)
    if slot.any():
        step = along[slot] * half_length[slot, None]
        geometries[slot] = shapely.linestrings(np.stack([centre[slot] - step, centre[slot] + step], axis=1))
    if box.any():
        step = along[box] * half_length[box, None]
        side = np.stack([-along[box][:, 1], along[box][:, 0]], axis=-1) * half_width[box, None]
        corners = [centre[box] + sx * step + sy * side for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
        geometries[box] = shapely.polygons(np.stack(corners, axis=1))
    return geometries


class MadeOnce:
    """Geometries of n things, each made when it is first asked for."""

    def __init__(self, count: int) -> None:
        self._geometries = np.full(count, None, dtype=object)
        self._known = np.zeros(count, dtype=np.bool_)

    def at(self, index: IntArray, make: Callable[[IntArray], np.ndarray]) -> np.ndarray:
        """The geometries of an index, as an array of its length; make: those that an index has not yet.

        Not kept: whoever has this would hold itself, and outlive its use.
        """
        asked = np.zeros(len(self._known), dtype=np.bool_)
        asked[index] = True
        missing = np.flatnonzero(asked & ~self._known)
        if len(missing):
            self._geometries[missing] = make(missing)
            self._known[missing] = True
        return self._geometries[index]


def areas(table: HoleTable, thickness: FloatArray) -> FloatArray:
    """Area of each feature's opening, mm2; marks have none."""
    cores = cores_of(table, thickness)
    core = 4 * cores.half_length * cores.half_width
    ring = 4 * (cores.half_length + cores.half_width) * cores.radius
    return np.where(table.shape == MARK, 0.0, core + ring + np.pi * cores.radius**2)


def perimeters(table: HoleTable, thickness: FloatArray) -> FloatArray:
    """Length of each feature's edge, mm; marks have none."""
    return perimeters_of(table, cores_of(table, thickness))


def perimeters_of(table: HoleTable, cores: Cores) -> FloatArray:
    """The same, where the features' cores are known."""
    straight = 4 * (cores.half_length + cores.half_width)
    return np.where(table.shape == MARK, 0.0, straight + 2 * np.pi * cores.radius)


def is_hole(table: HoleTable) -> BoolArray:
    """Rows that are openings: all but marks and studs."""
    return np.asarray(table.shape != MARK)
