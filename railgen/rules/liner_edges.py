"""Rule ``liner-edge``: holes and washers of the rail keep off the lines where a liner ends."""

from __future__ import annotations

import numpy as np

from railgen.holes.table import RAIL
from railgen.rules.breaks import Breaks, breaks_if_held
from railgen.rules.pattern import Pattern


def liner_edge(pattern: Pattern) -> list[Breaks]:
    """Hole edge and washer edge of rail features to the nearer end of the liner, mm, whichever side of it they are on.

    Flange features count where they meet the liner's flange. Common practice; body-builder and service values.
    """
    liner, table = pattern.rail.liner, pattern.table
    if liner is None:
        return []
    along, across = pattern.finished_reach
    meets = pattern.on_web | (table.across - across < liner.flange_edge)
    holes = np.flatnonzero(pattern.is_hole & (table.part == RAIL) & meets)
    distance = np.minimum(np.abs(table.station - liner.start), np.abs(table.station - liner.end))
    seated = holes[pattern.washer_radius[holes] > 0]
    washer = distance - pattern.finished_core_reach[0] - pattern.washer_radius
    return [
        *breaks_if_held(pattern, "liner-edge", "hole", holes, (distance - along)[holes]),
        *breaks_if_held(pattern, "liner-edge", "washer", seated, washer[seated]),
    ]
