"""Contours of slots and rectangles as closed polylines with arcs, and back to shape, size and angle."""

from __future__ import annotations

from collections.abc import Iterator
from math import atan2, degrees, hypot, pi, tan
from typing import Any, NamedTuple

import numpy as np

from railgen.formats.cut_entities import BULGE_DECIMALS, Path, rounded
from railgen.holes.shapes import Cores
from railgen.holes.table import SLOT, FloatArray, IntArray

HALF_TURN_BULGE = 1.0
QUARTER_TURN_BULGE = round(tan(pi / 8), BULGE_DECIMALS)
_SAME_POINT = 1e-9  # mm
_BULGE_TOLERANCE = 1e-6

# Counter-clockwise from the lower left: signs of (half length, half width) of the core's corner and of the direction
# in which the radius is added, then the bulge of what leaves the vertex.
_SLOT = np.array([(-1, 0, 0, -1), (1, 0, 0, -1), (1, 0, 0, 1), (-1, 0, 0, 1)], dtype=np.float64)
_SLOT_BULGES = (0.0, HALF_TURN_BULGE, 0.0, HALF_TURN_BULGE)
_RECTANGLE = np.array(
    [
        (-1, -1, 0, -1),
        (1, -1, 0, -1),
        (1, -1, 1, 0),
        (1, 1, 1, 0),
        (1, 1, 0, 1),
        (-1, 1, 0, 1),
        (-1, 1, -1, 0),
        (-1, -1, -1, 0),
    ],
    dtype=np.float64,
)
_RECTANGLE_BULGES = (0.0, QUARTER_TURN_BULGE) * 4


class Opening(NamedTuple):
    """A slot or rectangle as read: centre, width, overall length and corner radius in mm, angle of its long axis."""

    shape: str
    x: float
    y: float
    width: float
    length: float
    angle: float
    corner_radius: float


def opening_paths(
    layers: list[str], x: FloatArray, y: FloatArray, angle: FloatArray, shape: IntArray, cores: Cores
) -> Iterator[Path]:
    """A closed path for each of n slots and rectangles: centres (mm) and angles (degrees) as drawn, n layers."""
    direction = np.radians(angle)
    along = np.stack([np.cos(direction), np.sin(direction)], axis=-1)
    side = np.stack([-along[:, 1], along[:, 0]], axis=-1)
    centre = np.stack([x, y], axis=-1)
    for pick, corners, bulges in (
        (np.flatnonzero(shape == SLOT), _SLOT, _SLOT_BULGES),
        (np.flatnonzero(shape != SLOT), _RECTANGLE, _RECTANGLE_BULGES),
    ):
        radius = cores.radius[pick, None]
        far = cores.half_length[pick, None] * corners[:, 0] + radius * corners[:, 2]
        wide = cores.half_width[pick, None] * corners[:, 1] + radius * corners[:, 3]
        vertices = centre[pick, None] + far[..., None] * along[pick, None] + wide[..., None] * side[pick, None]
        for row, points in zip(pick.tolist(), rounded(vertices), strict=True):
            yield Path(layers[row], _without_empty_lines(points, bulges), closed=True)


def _without_empty_lines(points: Any, bulges: tuple[float, ...]) -> tuple[tuple[float, float, float], ...]:
    """Vertices without straight pieces of no length (a rectangle whose corners meet)."""
    following = points[1:] + points[:1]
    return tuple(
        (x, y, bulge)
        for (x, y), (next_x, next_y), bulge in zip(points, following, bulges, strict=True)
        if bulge or hypot(next_x - x, next_y - y) > _SAME_POINT
    )


def recognised(path: Path) -> Opening | None:
    """The slot or rectangle that a closed path draws, None where it is neither."""
    points = [complex(x, y) for x, y, _ in path.vertices]
    bulges = [bulge for _, _, bulge in path.vertices]
    arcs = [index for index, bulge in enumerate(bulges) if bulge]
    ends = [(points[index], points[(index + 1) % len(points)]) for index in arcs]
    if not path.closed:
        return None
    if len(arcs) == 2 and all(abs(abs(bulges[index]) - HALF_TURN_BULGE) < _BULGE_TOLERANCE for index in arcs):
        return _slot(ends)
    if len(arcs) == 4 and all(abs(abs(bulges[index]) - QUARTER_TURN_BULGE) < _BULGE_TOLERANCE for index in arcs):
        return _rectangle([_quarter_arc_centre(*pair, bulges[arcs[0]] > 0) for pair in ends], _radius(ends))
    if not arcs and len(points) == 4:
        return _rectangle(points, 0.0)
    return None


def _slot(ends: list[tuple[complex, complex]]) -> Opening:
    first, second = ((a + b) / 2 for a, b in ends)
    width = sum(abs(b - a) for a, b in ends) / 2
    centre, axis = (first + second) / 2, second - first
    return Opening("slot", centre.real, centre.imag, width, abs(axis) + width, _half_turn(axis), 0.0)


def _radius(ends: list[tuple[complex, complex]]) -> float:
    return sum(abs(b - a) for a, b in ends) / len(ends) / 2**0.5


def _quarter_arc_centre(first: complex, second: complex, left: bool) -> complex:
    return (first + second) / 2 + (second - first) / 2 * (1j if left else -1j)


def _rectangle(corners: list[complex], radius: float) -> Opening | None:
    """A rectangle from the four corners of its core, None where they are no rectangle's."""
    first, second = corners[1] - corners[0], corners[3] - corners[0]
    if abs(corners[2] - corners[1] - second) > _RECTANGLE_TOLERANCE:
        return None
    if abs((first * second.conjugate()).real) > _RECTANGLE_TOLERANCE * max(abs(first), abs(second)):
        return None
    long_side, short_side = (first, second) if abs(first) >= abs(second) else (second, first)
    centre = sum(corners) / 4
    width, length = abs(short_side) + 2 * radius, abs(long_side) + 2 * radius
    return Opening("rectangle", centre.real, centre.imag, width, length, _half_turn(long_side), radius)


_RECTANGLE_TOLERANCE = 1e-4
"""mm: what files with few decimals may be out of square."""


def _half_turn(axis: complex) -> float:
    angle = degrees(atan2(axis.imag, axis.real)) % 180.0
    return 0.0 if angle >= 180.0 else angle
