"""Hole criticality: the peak stress at each hole's edge, ranked, so that peening and inspection know which matter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.shapes import cores_of, is_hole
from railgen.holes.table import LINER, FloatArray, HoleTable, IntArray
from railgen.layout.plan import ResolvedOrder
from railgen.strength.bending import RailBending


@dataclass(frozen=True)
class Criticality:
    """Holes of rails and liners, the most stressed first; all arrays of length n.

    row: of the hole table; rank: from 1, equal for equal stress; nominal: bending stress of the net section at the
    hole's edge, MPa; factor: of stress concentration; peak: their product, MPa; station: mm.
    """

    row: IntArray
    rank: IntArray
    nominal: FloatArray
    factor: FloatArray
    peak: FloatArray
    station: FloatArray

    def __len__(self) -> int:
        return len(self.row)


def stress_concentration(diameter: FloatArray, width: FloatArray) -> FloatArray:
    """Kt of a round hole in a strip of finite width under tension, on the net section, of one shape.

    Kt = 3 - 3.13 q + 3.66 q2 - 1.53 q3 with q = d / W; 3 in a wide plate. diameter and width in one unit.
    Source: Peterson's Stress Concentration Factors (Pilkey).
    """
    q = np.minimum(diameter / width, 1.0)
    return np.asarray(3 - q * (3.13 - q * (3.66 - q * 1.53)))


def sharpness(half_across: FloatArray, radius: FloatArray) -> FloatArray:
    """How much sharper than a round hole an opening is, 1 or more: (1 + 2 sqrt(a / rho)) / 3.

    half_across: a, half the opening across the stress; rho: the radius of its ends or corners. Lying along the stress
    it counts as round, which is safe. Source: Inglis 1913, elliptical hole in a wide plate, from memory.
    """
    return np.asarray(np.maximum((1 + 2 * np.sqrt(half_across / radius)) / 3, 1.0))


def rank_holes(order: ResolvedOrder, holes: HoleTable, bending: Sequence[RailBending]) -> Criticality:
    """All holes by the peak stress at their edges, nothing without bending.

    The nominal stress is M / S of the net section on the hole's line, times the distance of the hole's far edge from
    mid-depth over half the depth; for the strip's width stand the part's local depth (web) and flange width. Marks and
    studs leave the steel whole and have no rank.
    """
    rows = np.flatnonzero(is_hole(holes)) if bending else np.zeros(0, dtype=np.int64)
    some = holes.rows(rows)
    thickness = order.thicknesses_of(some)
    cores = cores_of(some, thickness)
    half_across = cores.reach(some.angle)[1] + cores.radius
    outer, lever, width = _fibres(order, some, half_across)
    nominal = _extreme_stress(some, bending) * lever / outer
    factor = stress_concentration(2 * half_across, width) * sharpness(half_across, cores.radius)
    peak = nominal * factor
    first = np.argsort(-peak, kind="stable")
    rank = np.searchsorted(-peak[first], -peak[first], side="left") + 1
    return Criticality(rows[first], rank, nominal[first], factor[first], peak[first], some.station[first])


def _extreme_stress(holes: HoleTable, bending: Sequence[RailBending]) -> FloatArray:
    """Stress of the outermost fibre on each hole's line, MPa; of the nearest line looked at for those off the rail."""
    stress = np.zeros(len(holes))
    for rail in bending:
        here = holes.side == rail.loads.side
        behind = np.clip(np.searchsorted(rail.station, holes.station[here]), 0, len(rail.station) - 1)
        ahead = np.maximum(behind - 1, 0)
        nearer = holes.station[here] - rail.station[ahead] < rail.station[behind] - holes.station[here]
        stress[here] = rail.stress[np.where(nearer, ahead, behind)]
    return stress


def _fibres(
    order: ResolvedOrder, holes: HoleTable, half_across: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distance from mid-depth of the rail's outermost fibre and of the hole's far edge, and the strip's width, mm."""
    rail, liner = order.rail, order.rail.liner
    depth = rail.depth_at(holes.station)
    outer = depth / 2
    web_width, flange_width = depth, np.full(len(holes), rail.section.flange)
    flange_lever = outer
    if liner:
        lined = holes.part == LINER
        web_width = np.where(lined, liner.section.depth, web_width)
        flange_width = np.where(lined, liner.section.flange, flange_width)
        flange_lever = np.where(lined, liner.section.depth / 2, outer)
    on_web = holes.face == Face.WEB
    lever = np.where(on_web, np.abs(holes.across - outer) + half_across, flange_lever)
    return outer, np.minimum(lever, outer), np.where(on_web, web_width, flange_width)
