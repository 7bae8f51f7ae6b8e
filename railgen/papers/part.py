"""Rail or liner as a part to be drawn: its ends, its section, and where its faces lie in the rail's axes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.frame.panels import Face
from railgen.frame.rail import RailShape
from railgen.frame.section import Section
from railgen.holes.table import LINER, PARTS, RAIL, FloatArray


@dataclass(frozen=True)
class DrawnPart:
    """Rail or liner, the same on both sides. Stations, heights and across are the rail's, mm.

    `part` indexes PARTS; `zero_z` and `zero_y`: where its own heights and across begin.
    """

    part: int
    rail: RailShape
    section: Section
    front: float
    rear: float
    zero_z: float = 0.0
    zero_y: float = 0.0

    @property
    def name(self) -> str:
        """As the hole table names it."""
        return PARTS[self.part]

    @property
    def length(self) -> float:
        """Length (mm) of the finished part."""
        return self.rear - self.front

    def zero(self, face: Face) -> float:
        """Where the part's own z or y begins on a face, mm."""
        return self.zero_z if face == Face.WEB else self.zero_y

    def breadth(self, face: Face) -> float:
        """How far the part reaches across a face, mm."""
        return self.section.depth if face == Face.WEB else self.section.flange

    def middle(self, stations: FloatArray | float) -> FloatArray:
        """Height z (mm) half-way up the web at stations, any shape."""
        if self.part == RAIL:
            return self.rail.depth_at(stations) / 2
        return np.full(np.shape(stations), self.zero_z + self.section.depth / 2)


def drawn_rail(rail: RailShape) -> DrawnPart:
    """The rail itself."""
    return DrawnPart(RAIL, rail, rail.section, rail.front, rail.rear)


def drawn_liner(rail: RailShape) -> DrawnPart | None:
    """The rail's liner, None where it has none."""
    liner = rail.liner
    if liner is None:
        return None
    return DrawnPart(LINER, rail, liner.section, liner.start, liner.end, liner.offset_z, liner.offset_y)
