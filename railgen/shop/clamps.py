"""Clamps on the gauge edge: which hits lie in their dead zones, for every place that the clamps may stand."""

from __future__ import annotations

import numpy as np
import shapely

from railgen.data.plant import Press
from railgen.holes.shapes import core_geometries, cores_of
from railgen.holes.table import BoolArray, FloatArray, HoleTable
from railgen.shop.press_lie import PressLie

_TOUCHING = 1e-6  # mm


def clamp_boxes(press: Press, lie: PressLie, shift: float) -> FloatArray:
    """Least x, least y, greatest x, greatest y (mm, press axes) of the clamps that grip the blank: (k, 4).

    ``shift`` (mm) is how far they stand from their stations, away from the gauged end. A clamp beyond the
    blank's end grips nothing and is left out.
    """
    boxes = []
    for clamp in press.clamps:
        ends = sorted(lie.at_station(clamp.station + shift + side * clamp.width / 2) for side in (-1, 1))
        if ends[1] > 0.0 and ends[0] < lie.length:
            boxes.append((ends[0], 0.0, ends[1], clamp.depth))
    return np.array(boxes, dtype=np.float64).reshape(-1, 4)


def clear_of_clamps(table: HoleTable, press: Press, lie: PressLie) -> BoolArray:
    """Whether each row of one blank can be hit with the clamps at each of their shifts: (n, shifts).

    A hit is clear where no part of its opening comes nearer to a clamp than the press's dead zone.
    """
    x, y = lie.to_press(table.blank_x, table.v)
    cores = cores_of(table, np.full(len(table), lie.thickness))
    angle = np.nan_to_num(table.blank_angle)
    shapes = core_geometries(x, y, angle, table.shape, cores.half_length, cores.half_width)
    return clear_at_shifts(shapes, cores.radius, press, lie)


def clear_at_shifts(shapes: np.ndarray, radius: FloatArray, press: Press, lie: PressLie) -> BoolArray:
    """As ``clear_of_clamps``, for cores (n,) in press axes, each inflated by its radius (mm)."""
    clear = np.ones((len(shapes), len(press.clamp_shifts)), dtype=np.bool_)
    for column, shift in enumerate(press.clamp_shifts):
        boxes = clamp_boxes(press, lie, shift)
        if len(boxes):
            clamps = np.array(shapely.box(*boxes.T))
            distance = shapely.distance(shapes[:, None], clamps).min(axis=1)
            clear[:, column] = distance - radius >= press.clamp_dead_zone - _TOUCHING
    return clear
