"""Rule ``weld-clearance``: holes keep off the taper's seam, studs off holes and bends, and flanges free of welds."""

from __future__ import annotations

import numpy as np
import shapely

from railgen.holes.neighbours import close_to
from railgen.holes.table import RAIL, ROUND, STUD, IntArray
from railgen.rules.bends import tangent_clearance
from railgen.rules.breaks import Breaks, breaks_if_held
from railgen.rules.edges import seam_clearance
from railgen.rules.pattern import Pattern


def weld_clearance(pattern: Pattern) -> list[Breaks]:
    """Hole edge to the taper's seam, stud to a bend's tangent, mm; studs on flanges.

    Common practice; body-builder and service values allow no weld on a flange.
    """
    table, studs = pattern.table, stud_rows(pattern)
    holes = np.flatnonzero(pattern.is_hole & (table.part == RAIL))
    holes = holes if pattern.rail.taper else holes[:0]
    on_flange = studs[~pattern.on_web[studs]]
    return [
        *breaks_if_held(pattern, "weld-clearance", "hole", holes, pattern.once(seam_clearance)[holes]),
        *breaks_if_held(pattern, "weld-clearance", "stud-tangent", studs, pattern.once(tangent_clearance)[studs]),
        *breaks_if_held(pattern, "weld-clearance", "flange", on_flange, np.ones(len(on_flange))),
    ]


def stud_rows(pattern: Pattern) -> IntArray:
    """Rows of studs welded to the rails."""
    return np.flatnonzero((pattern.table.operation == STUD) & (pattern.table.part == RAIL))


def studs_apart(pattern: Pattern) -> list[Breaks]:
    """Stud to hole edge on one panel, mm, in the blank. Common practice."""
    table, studs = pattern.table, stud_rows(pattern)
    if not len(studs) or not pattern.limits.holds("weld-clearance", "stud-hole"):
        return []
    holes = np.flatnonzero(pattern.is_hole & (table.part == RAIL))
    reach = pattern.most_asked("weld-clearance", "stud-hole") + float(np.max(pattern.reach[0][holes], initial=0.0))
    first, second = close_to(table.u[studs], table.side[studs], table.u[holes], table.side[holes], reach)
    first, second = studs[first], holes[second]
    same = table.panel[first] == table.panel[second]
    first, second = first[same], second[same]
    distance = np.hypot(table.u[first] - table.u[second], table.v[first] - table.v[second])
    long = np.flatnonzero(table.shape[second] != ROUND)
    if len(long):
        distance[long] = shapely.distance(pattern.geometries(first[long]), pattern.geometries(second[long]))
    value = distance - pattern.cores.radius[second]
    return breaks_if_held(pattern, "weld-clearance", "stud-hole", first, value, second)
