"""Where one more hole would take the steel that the bolts of a rated joint bear on, or are torn through.

A neighbour counts along a force where it lies within 45 degrees of it, else across it, so that what each bolt closes to
the hole's centre is four quarters of circles: ahead, behind, and on either side.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import shapely

from railgen.data.findings import VALUE_TOLERANCE
from railgen.frame.panels import Face
from railgen.holes.table import FloatArray
from railgen.placing.free_frame import quarter
from railgen.placing.free_near import Near
from railgen.rules.strength import Strength
from railgen.strength.joints import SteelAround

_HALVINGS = 40
_WIDEST = 1e3
"""mm; no neighbour farther off than this takes anything of what a bolt bears on."""
Beside = Callable[[FloatArray], SteelAround]
"""The steel around each bolt with the hole's centre so far off (n, mm)."""


def joints_closed(near: Near, strength: Strength) -> Iterator[shapely.Geometry]:
    """Closed areas round the rated bolts of a panel, in blank axes; strength: of the serial without the hole."""
    forces, table = strength.joints.forces, near.present.table
    if not near.present.limits.holds("joint", "utilisation"):
        return
    here = (table.side[forces.row] == near.side) & (table.panel[forces.row] == near.frame.panel)
    if not here.any():
        return
    most, around = _most(near, strength), strength.around
    touching = near.radius + np.fmax(table.diameter, np.nan_to_num(table.length))[forces.row] / 2

    def behind(off: FloatArray) -> SteelAround:
        return replace(around, pitch=np.minimum(around.pitch, off))

    def ahead(off: FloatArray) -> SteelAround:
        return replace(behind(off), clear=np.minimum(around.clear, off - touching))

    def aside(off: FloatArray) -> SteelAround:
        return replace(around, gauge=np.minimum(around.gauge, off))

    reaches = [_reach(strength, most, beside) for beside in (ahead, behind, aside, aside)]
    across = -forces.across if near.frame.face == Face.BOTTOM else forces.across
    for index in np.flatnonzero(here).tolist():
        centre = np.array([table.u[forces.row[index]], table.v[forces.row[index]]])
        along = np.array([forces.along[index], across[index]])
        ways = along, -along, np.array([-along[1], along[0]]), np.array([along[1], -along[0]])
        for way, reach in zip(ways, reaches, strict=True):
            if reach[index] > 0:
                yield quarter(centre, way, float(reach[index]))


def _most(near: Near, strength: Strength) -> FloatArray:
    """Up to which utilisation of each bolt nothing new is found: its limit, or what its hole has already."""
    check, limits = strength.joints, near.present.limit("joint", "utilisation")
    row = check.forces.row
    allowed = np.minimum(limits.error, limits.warning) if near.warnings else limits.error
    worst = np.zeros(len(near.present.table))
    np.maximum.at(worst, row, check.greatest)
    return np.asarray(np.maximum(allowed[row], worst[row]) + VALUE_TOLERANCE)


def _reach(strength: Strength, most: FloatArray, beside: Beside) -> FloatArray:
    """How near (mm) to each bolt the hole's centre must not come: the nearer the more is asked of what is left."""
    low, high = np.zeros(len(most)), np.full(len(most), _WIDEST)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        broken = strength.joints_in(beside(middle)).greatest > most
        low, high = np.where(broken, middle, low), np.where(broken, high, middle)
    return low
