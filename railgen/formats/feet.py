"""Where components stand on the web: boxes round their feet, for what must keep clear of them."""

from __future__ import annotations

import numpy as np

from railgen.formats.names import Side
from railgen.holes.table import SIDES, FloatArray
from railgen.layout.plan import Placements, ResolvedOrder

_SHARE_OF_DEPTH = {"bottom": 0.0, "middle": 0.5, "top": 1.0}


def web_feet(order: ResolvedOrder, placements: Placements, side: Side) -> FloatArray:
    """Boxes (n, 4) round the feet on either surface of one side's web: least station, least z, greatest ones, mm."""
    components = tuple(order.library.components.values())
    depth = order.rail.section.depth
    boxes = []
    for row in np.flatnonzero(placements.side == SIDES.index(side)).tolist():
        station, direction = float(placements.station[row]), float(placements.direction[row])
        for foot in components[placements.component[row]].footprints:
            if foot.face != "web":
                continue
            stations = [station + direction * along for along, _ in foot.polygon]
            heights = [_SHARE_OF_DEPTH[foot.datum] * depth + across for _, across in foot.polygon]
            boxes.append((min(stations), min(heights), max(stations), max(heights)))
    return np.array(boxes, dtype=np.float64).reshape(-1, 4)
