"""The flow, in one screen: order and library -> resolve -> place -> hole table -> check -> plan."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from railgen.data.findings import in_order
from railgen.data.order import Order
from railgen.holes.table import PARTS, in_file_order
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import SerialPlan
from railgen.layout.resolve import resolve
from railgen.placing.greedy import Placed, place_greedily
from railgen.shop.tools import assign_tools

Placer = Callable[..., Placed]


def plan(order: Order, catalogue: Catalogue, file: str = "order", placer: Placer = place_greedily) -> SerialPlan:
    """One serial planned and checked; ``file`` names the order in messages.

    Raises InputError where the order cannot be used.
    """
    resolved = resolve(order, catalogue.library, file)
    placed = placer(resolved, catalogue)
    thickness = np.array([resolved.thickness_of(part) for part in PARTS])[placed.holes.part]
    tools = assign_tools(placed.holes, catalogue.library.press, thickness)
    holes = in_file_order(placed.holes.with_columns(tool=tools))
    findings = in_order([*resolved.findings, *placed.findings])
    return SerialPlan(resolved, placed.placements, holes, findings)
