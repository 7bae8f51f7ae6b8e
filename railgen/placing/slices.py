"""Where along a line two true shapes come nearer than allowed: slices of a Minkowski sum, exact, many at once.

A feature's core is a point, a segment or a rectangle: symmetric about its centre, hence spanned by two generators
(half sizes as vectors). Two cores are within a distance exactly where the difference of their centres lies within it
of the sum of both cores, an octagon at most. Sliding one feature along x cuts one interval out of that inflated
octagon. Lozano-Perez, Spatial planning: a configuration space approach, 1983.
"""

from __future__ import annotations

import numpy as np

from railgen.holes.table import FloatArray


def generators(half_length: FloatArray, half_width: FloatArray, angle: FloatArray) -> FloatArray:
    """(n, 2, 2) generators of n cores: half sizes (mm) along and across a long axis at an angle (degrees)."""
    direction = np.radians(angle)
    cosine, sine = np.cos(direction), np.sin(direction)
    along = np.stack([half_length * cosine, half_length * sine], axis=-1)
    across = np.stack([-half_width * sine, half_width * cosine], axis=-1)
    return np.stack([along, across], axis=1)


def near_spans(height: FloatArray, sides: FloatArray, distance: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Ends of the open interval of x in which a point (x, height) is nearer than distance to a zonotope about 0.

    height (n) and distance (n), mm; sides (n, 4, 2) its generators. Where there is none, the ends are inf and -inf.
    """
    low, high = np.full(len(height), np.inf), np.full(len(height), -np.inf)
    extended = sides.any(axis=2).sum(axis=1)
    near = (distance > 0) & (np.abs(height) < np.abs(sides[..., 1]).sum(axis=1) + distance)
    _points(np.flatnonzero((extended == 0) & near), height, distance, low, high)
    _segments(np.flatnonzero((extended == 1) & near), height, sides, distance, low, high)
    _polygons(np.flatnonzero((extended > 1) & near), height, sides, distance, low, high)
    return low, high


def _points(rows: np.ndarray, height: FloatArray, distance: FloatArray, low: FloatArray, high: FloatArray) -> None:
    square = distance[rows] ** 2 - height[rows] ** 2
    rows, square = rows[square > 0], square[square > 0]
    high[rows] = np.sqrt(square)
    low[rows] = -high[rows]


def _segments(
    rows: np.ndarray,
    height: FloatArray,
    sides: FloatArray,
    distance: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> None:
    """An inflated segment ends in two discs, with a straight edge along either side."""
    if not len(rows):
        return
    half, y, radius = sides[rows].sum(axis=1), height[rows], distance[rows]
    # One row for either end and for either side.
    way = np.array([[-1.0], [1.0]])
    square = radius**2 - (y - way * half[:, 1]) ** 2
    root, disc = np.sqrt(np.maximum(square, 0.0)), way * half[:, 0]
    offset = way * radius / np.hypot(half[:, 0], half[:, 1])
    share = np.divide(y - offset * half[:, 0], half[:, 1], out=np.full(offset.shape, np.inf), where=half[:, 1] != 0)
    on_edge = np.abs(share) <= 1
    edge = np.where(on_edge, share, 0.0) * half[:, 0] - offset * half[:, 1]
    starts = np.where(square > 0, disc - root, np.inf), np.where(on_edge, edge, np.inf)
    ends = np.where(square > 0, disc + root, -np.inf), np.where(on_edge, edge, -np.inf)
    low[rows] = np.minimum(*starts).min(axis=0)
    high[rows] = np.maximum(*ends).max(axis=0)


def _polygons(
    rows: np.ndarray,
    height: FloatArray,
    sides: FloatArray,
    distance: FloatArray,
    low: FloatArray,
    high: FloatArray,
) -> None:
    """The outline of an inflated polygon is offset edges and arcs; a line enters and leaves it through one of them."""
    if not len(rows):
        return
    y, radius = height[rows, None], distance[rows, None]
    corner = _outline(sides[rows])
    square = radius**2 - (y - corner[..., 1]) ** 2
    root = np.sqrt(np.maximum(square, 0.0))
    in_arc = square > 0
    edge = np.roll(corner, -1, axis=1) - corner
    length = np.hypot(edge[..., 0], edge[..., 1])
    rises = np.abs(edge[..., 1]) > 1e-12 * np.maximum(length, 1.0)
    rise = np.where(rises, edge[..., 1], 1.0)
    unit = radius / np.where(length > 0, length, 1.0)
    share = (y - corner[..., 1] + edge[..., 0] * unit) / rise
    on_edge = rises & (share >= 0) & (share <= 1)
    at_edge = corner[..., 0] + edge[..., 1] * unit + share * edge[..., 0]
    low[rows] = np.minimum(
        np.where(in_arc, corner[..., 0] - root, np.inf).min(axis=1), np.where(on_edge, at_edge, np.inf).min(axis=1)
    )
    high[rows] = np.maximum(
        np.where(in_arc, corner[..., 0] + root, -np.inf).max(axis=1), np.where(on_edge, at_edge, -np.inf).max(axis=1)
    )


def _outline(sides: FloatArray) -> FloatArray:
    """(n, 8, 2) corners of zonotopes about 0, counterclockwise; corners of vanished sides fall together."""
    flipped = (sides[..., 1] < 0) | ((sides[..., 1] == 0) & (sides[..., 0] < 0))
    upward = np.where(flipped[..., None], -sides, sides)
    order = np.argsort(np.arctan2(upward[..., 1], upward[..., 0]), axis=1, kind="stable")
    steps = 2 * np.take_along_axis(upward, order[..., None], axis=1)
    up = np.cumsum(steps, axis=1)
    first = -up[:, -1:] / 2
    return np.concatenate([first, first + up[:, :-1], -first, -first - up[:, :-1]], axis=1)
