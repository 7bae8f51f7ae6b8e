"""Laying measured points on nominal ones: rigid, in the plane of a face, by least squares or for the least worst."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import FloatArray

_ROUNDS = 400
_ENOUGH = 1e-9


@dataclass(frozen=True, eq=False)
class Rigid:
    """A motion of the plane: turned by `turn` (radians) about the origin, then shifted by `shift` (2,), mm."""

    turn: float
    shift: FloatArray

    def __call__(self, points: FloatArray) -> FloatArray:
        """The points (n, 2) moved."""
        cosine, sine = np.cos(self.turn), np.sin(self.turn)
        return np.asarray(points @ np.array([[cosine, sine], [-sine, cosine]]) + self.shift)


STILL = Rigid(0.0, np.zeros(2))


def best_rigid(measured: FloatArray, nominal: FloatArray, weights: FloatArray | None = None) -> Rigid:
    """The rigid motion of measured points (n, 2) with the least sum of weighted squared distances to nominal ones.

    Kabsch's method (1976, from memory) in the plane: the turn follows from the sums of dot and cross products about
    the centroids. One point only is shifted. Raises ValueError for no point.
    """
    if not len(measured):
        raise ValueError("a fit needs at least one point")
    share = np.full(len(measured), 1.0) if weights is None else np.asarray(weights, dtype=np.float64)
    share = share / share.sum()
    centre, aim = share @ measured, share @ nominal
    a, b = measured - centre, nominal - aim
    dot = float(share @ (a * b).sum(axis=1))
    cross = float(share @ (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]))
    turn = float(np.arctan2(cross, dot)) if abs(dot) + abs(cross) > 0 else 0.0
    return Rigid(turn, aim - Rigid(turn, np.zeros(2))(centre[None])[0])


def least_worst(measured: FloatArray, nominal: FloatArray, allowed: FloatArray) -> Rigid:
    """The rigid motion with about the least worst ratio of a point's distance to what is `allowed` it (n,), mm.

    A group of holes is good when any place of its zones holds all of them, and least squares may miss that place.
    Lawson's method (1961, from memory): least squares again and again, each point's weight growing with its ratio.
    """
    weights = 1 / allowed**2
    motion = best_rigid(measured, nominal, weights)
    best, worst = motion, np.inf
    for _ in range(_ROUNDS):
        ratio = np.hypot(*(motion(measured) - nominal).T) / allowed
        greatest = float(ratio.max())
        if greatest < worst:
            best, worst = motion, greatest
        if greatest < _ENOUGH:
            break
        weights = weights * ratio / greatest
        total = weights.sum()
        if total <= 0:
            break
        weights = weights / total
        motion = best_rigid(measured, nominal, weights)
    return best


def stretch_of(measured: FloatArray, nominal: FloatArray) -> float:
    """Length of the measured points along the first axis beyond that of the nominal ones, mm a metre.

    The slope of a least-squares line of the stations' differences; 0 where there is no length to tell it from.
    """
    along = nominal[:, 0] - nominal[:, 0].mean() if len(nominal) else np.zeros(0)
    spread = float(along @ along)
    if spread < 1.0:
        return 0.0
    return float(along @ (measured[:, 0] - nominal[:, 0]) / spread) * 1000
