"""What each tool station does on a blank: what the setter mounts, and what is measured on the first blank."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.data.plant import Tool
from railgen.holes.table import NONE
from railgen.shop.hit_order import HitOrder
from railgen.shop.hits import ToolStation


@dataclass(frozen=True)
class StationUse:
    """A tool station's work: hits; greatest force (N); die clearance (mm, None where the crib gives none).

    ``first`` is the hit (index) to measure, the first that it makes (stamped text only where it makes nothing else);
    ``at`` that hit's number in the order, from 1.
    """

    station: ToolStation
    hits: int
    force: float
    clearance: float | None
    first: int
    at: int

    @property
    def hits_after(self) -> int:
        """Hits since the tool's regrind once the blank is done."""
        return self.station.tool.hits_since_regrind + self.hits

    @property
    def due(self) -> bool:
        """Whether the tool's limit is passed before the blank is done."""
        return self.hits_after > self.station.tool.regrind_limit


def station_uses(found: HitOrder) -> tuple[StationUse, ...]:
    """The work of every station, by mounting and number."""
    hits = found.hits
    in_order = hits.station[found.order]
    uses = []
    for index, station in enumerate(hits.stations):
        own = np.flatnonzero(in_order == index)
        first = int(next((at for at in own if hits.row[found.order[at]] != NONE), own[0]))
        uses.append(
            StationUse(
                station=station,
                hits=len(own),
                force=float(hits.force[hits.station == index].max()),
                clearance=die_clearance(station.tool, hits.lie.thickness),
                first=int(found.order[first]),
                at=first + 1,
            )
        )
    return tuple(uses)


def die_clearance(tool: Tool, thickness: float) -> float | None:
    """Clearance (mm, measured as the crib's shares are) for a thickness (mm), None where the crib gives none for it."""
    for entry in sorted(tool.die_clearance, key=lambda entry: entry.thickness_to):
        if thickness <= entry.thickness_to + 1e-9:
            return entry.share * thickness
    return None
