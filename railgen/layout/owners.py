"""Which features each placed component owns: a shared hole stands under all its owners."""

from __future__ import annotations

import numpy as np

from railgen.holes.table import RAIL, IntArray
from railgen.layout.plan import SerialPlan


def rows_by_owner(plan: SerialPlan, part: int = RAIL) -> dict[tuple[int, int, int], IntArray]:
    """Rows of the rails' features, or of the liners', by side, component (index into the table's names) and instance.

    `part` indexes PARTS.
    """
    holes, gathered = plan.holes, dict[tuple[int, int, int], list[int]]()
    for row in np.flatnonzero(holes.part == part).tolist():
        side, first = int(holes.side[row]), int(holes.component[row])
        gathered.setdefault((side, first, int(holes.instance[row])), []).append(row)
        for owner in holes.owners[holes.owner_start[row] : holes.owner_start[row + 1]].tolist():
            if owner != first:
                instance = _nearest_instance(plan, side, owner, float(holes.station[row]))
                gathered.setdefault((side, owner, instance), []).append(row)
    return {key: np.array(rows, dtype=np.int64) for key, rows in gathered.items()}


def _nearest_instance(plan: SerialPlan, side: int, component: int, station: float) -> int:
    """The table names the instance of a feature's first owner only; another owner's is the nearest one."""
    placed = plan.placements
    own = np.flatnonzero((placed.component == component) & (placed.side == side))
    if not len(own):
        return 1
    return int(placed.instance[own[np.argmin(np.abs(placed.station[own] - station))]])
