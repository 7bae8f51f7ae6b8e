"""The most stressed holes of a serial, for the papers of peening and inspection."""

from __future__ import annotations

import numpy as np

from railgen.holes.shapes import cores_of
from railgen.holes.table import PARTS
from railgen.layout.plan import SerialPlan
from railgen.strength.bending import bending_of, modulus_along
from railgen.strength.criticality import Criticality, rank_holes
from railgen.strength.net_section import net_section


def criticality_of(plan: SerialPlan) -> Criticality:
    """All holes of a serial by the peak stress at their edges; none where the order has no [loads]."""
    order, holes = plan.order, plan.holes
    if order.order.loads is None:
        return rank_holes(order, holes, ())
    thickness = np.array([order.thickness_of(part) for part in PARTS])[holes.part]
    cores = cores_of(holes, thickness)
    alone = net_section(order.rail, holes, cores)
    lined = net_section(order.rail, holes, cores, with_liner=True) if order.rail.liner else None
    return rank_holes(order, holes, bending_of(order, plan.placements, holes, modulus_along(order.rail, alone, lined)))
