"""Where components stand on the web: boxes round their feet, for what must keep clear of them."""

from __future__ import annotations

import numpy as np

from railgen.formats.names import Side
from railgen.holes.table import SIDES, FloatArray
from railgen.layout.feet import foot_corners
from railgen.layout.plan import Placements, ResolvedOrder


def web_feet(order: ResolvedOrder, placements: Placements, side: Side) -> FloatArray:
    """Boxes (n, 4) round the feet on either surface of one side's web: least station, least z, greatest ones, mm."""
    components = tuple(order.library.components.values())
    boxes = []
    for row in np.flatnonzero(placements.side == SIDES.index(side)).tolist():
        station, direction = float(placements.station[row]), float(placements.direction[row])
        for foot in components[placements.component[row]].footprints:
            if foot.face == "web":
                corners = foot_corners(foot, order.rail.section, station, direction)
                boxes.append((*corners.min(axis=0), *corners.max(axis=0)))
    return np.array(boxes, dtype=np.float64).reshape(-1, 4)
