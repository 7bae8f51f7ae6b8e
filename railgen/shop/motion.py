"""Motion of a press: how long its axes take from one hit to the next, and what a change of tool adds."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from railgen.data.plant import Axis, Press
from railgen.holes.table import FloatArray


def travel_time(distance: ArrayLike, axis: Axis) -> FloatArray:
    """Time (s) to travel a distance (mm, any shape, either sign) from rest to rest.

    Trapezoidal speed: constant acceleration up to the axis's speed, then the same deceleration. A distance too
    short to reach that speed makes a triangle. Follows from the definitions of speed and acceleration.
    """
    way = np.abs(np.asarray(distance, dtype=np.float64))
    speeding = axis.speed / axis.acceleration
    short = 2.0 * np.sqrt(way / axis.acceleration)
    return np.where(way < axis.speed * speeding, short, way / axis.speed + speeding)


def move_times(along: ArrayLike, across: ArrayLike, press: Press) -> FloatArray:
    """Time (s) of moves by distances along and across the blank (mm, shapes broadcast).

    The axes start together and the press waits for the later one.
    """
    return np.maximum(travel_time(along, press.along), travel_time(across, press.across))


def move_matrix(x: FloatArray, y: FloatArray, press: Press) -> FloatArray:
    """Time (s) of the move between each two of n places (mm): (n, n), symmetric, 0 on the diagonal."""
    return move_times(x[:, None] - x, y[:, None] - y, press)


def step_times(moves: FloatArray, changed: np.ndarray, press: Press) -> FloatArray:
    """Time (s) from one hit to the next: the move, and a change of tool where ``changed``; shapes broadcast.

    On most punching presses the ram takes the next tool while the axes move, so that the longer of the two
    counts; a press whose axes stand still for it takes their sum (common practice, no source).
    """
    if press.change_while_moving:
        return np.where(changed, np.maximum(moves, press.change_time), moves)
    return np.where(changed, moves + press.change_time, moves)
