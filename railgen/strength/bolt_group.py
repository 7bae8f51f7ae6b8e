"""Elastic method: how a load is shared by the bolts of a joint, in the joint's plane and out of it.

The part is taken as rigid and every bolt as the same spring in all directions. In the plane this is r = P/n + M c /
sum(d2) with vectors added (AISC Manual part 7, from memory). Out of it the tension is P/n + M c / sum(d2) with the
neutral axis through the group's centroid (same part, case II): bolts beyond it are pulled, and on this side of it the
part presses harder on the rail, steel on steel, which a clamped joint can since its faces stay in contact until the
clamp is used up. The edge of the foot as the axis would give longer arms and smaller tensions; the centroid is safe.
Prying of thin parts is not included.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import FloatArray

_SINGULAR = 1e-9  # of the largest inertia: about such an axis the bolts have no arms


@dataclass(frozen=True)
class SharedLoad:
    """A load shared by n bolts: force (n, 3) N of the part on each; left: moment (3,) N mm that they have no arms for.

    With bolts on one line, ``left`` is the moment about that line; with one bolt, all of it.
    """

    force: FloatArray
    left: FloatArray


def share_load(position: FloatArray, force: FloatArray, point: FloatArray) -> SharedLoad:
    """A force (3,) N acting at a point (3,) mm shared by bolts at positions (n, 3) mm; n is one or more."""
    centroid = position.sum(axis=0) / len(position)
    arms = position - centroid
    moment = _cross(point - centroid, force)
    inertia = np.eye(3) * (arms**2).sum() - arms.T @ arms
    size, axes = np.linalg.eigh(inertia)
    about = axes.T @ moment
    held = size > _SINGULAR * max(float(size[-1]), 1.0)
    turn = axes @ np.where(held, about / np.where(held, size, 1.0), 0.0)
    left = axes @ np.where(held, 0.0, about)
    return SharedLoad(force / len(position) + _cross(turn, arms), left)


def _cross(first: FloatArray, second: FloatArray) -> FloatArray:
    """Vector product over the last axis; for so few vectors many times as fast as numpy's own."""
    x, y, z = first.T
    u, v, w = second.T
    return np.asarray(np.stack([y * w - z * v, z * u - x * w, x * v - y * u], axis=-1))
