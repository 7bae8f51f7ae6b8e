"""What stands beside fasteners: feet of other components on the same face, and who owns what."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from railgen.holes.neighbours import runs, within
from railgen.holes.table import MARK, NONE, RAIL, BoolArray, FloatArray, IntArray
from railgen.layout.feet import declared_stacks
from railgen.rules.pattern import Pattern


@dataclass(frozen=True)
class Beside:
    """Fasteners of rails with feet near them on the same face, n pairs: row of the table, foot, and distance, mm.

    The distance is that of the fastener's core to the foot, 0 where they meet. Feet of the fastener's first owner are
    left out; whether another owner's may be near is for ``strangers`` to tell.
    """

    pattern: Pattern
    row: IntArray
    foot: IntArray
    distance: FloatArray


def beside_feet(pattern: Pattern, reach: float) -> Beside:
    """All pairs with a foot nearer than reach (mm) to the fastener's core, on either surface of its face."""
    table, feet = pattern.table, pattern.feet
    fasteners = np.flatnonzero((table.part == RAIL) & (table.fastener != NONE))
    along, across = pattern.finished_core_reach
    faces = 3
    longest = float(np.max(along[fasteners], initial=0.0))
    foot, index = within(
        table.station[fasteners],
        (table.side * faces + table.face)[fasteners],
        feet.low[:, 0],
        feet.high[:, 0],
        feet.side * faces + feet.face,
        reach + longest,
    )
    row = fasteners[index]
    gap = np.maximum(feet.low[foot, 1] - table.across[row], table.across[row] - feet.high[foot, 1]) - across[row]
    near = (gap < reach) & (pattern.library_index[table.component[row]] != feet.component[foot])
    row, foot = row[near], foot[near]
    cores = pattern.geometries(row, finished=True)
    return Beside(pattern, row, foot, np.asarray(shapely.distance(cores, feet.polygons(foot))))


def strangers(pattern: Pattern, rows: IntArray, component: IntArray) -> BoolArray:
    """Which of some components (library indices) neither own the row beside them nor stack with an owner of it."""
    table = pattern.table
    count = np.diff(table.owner_start)[rows]
    owner = pattern.library_index[table.owners[runs(table.owner_start[rows], count)]]
    pair = np.repeat(np.arange(len(rows)), count)
    related = (owner == component[pair]) | declared_stacks(pattern.order.library)[owner, component[pair]]
    return np.asarray(np.bincount(pair, related, len(rows)) == 0)


def is_stud(pattern: Pattern) -> BoolArray:
    """Rows that are studs: marks with a fastener."""
    return np.asarray((pattern.table.shape == MARK) & (pattern.table.fastener != NONE))
