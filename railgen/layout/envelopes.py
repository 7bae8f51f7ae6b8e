"""Envelopes of placed components: boxes in one set of axes for both rails, so that parts of either side can meet."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import get_args

import numpy as np

from railgen.data.library import Library, LibraryKey
from railgen.data.local import Clearance, datum_across
from railgen.frame.rail import RailShape
from railgen.holes.neighbours import runs
from railgen.holes.table import RH, BoolArray, FloatArray, IntArray
from railgen.layout.plan import Placements

CLEARANCES: tuple[Clearance, ...] = get_args(Clearance)
"""Clearance classes, in the order in which the first of equal needs names a pair."""


@dataclass(frozen=True)
class Envelopes:
    """Envelopes of one serial, n of them; lengths mm.

    component: index into the library's components; placement: row of the Placements; side indexes SIDES, clearance
    CLEARANCES. low and high (n, 3): station, across the truck (0 at the outside face of the LH web, positive toward
    the RH rail), height z.
    """

    component: IntArray
    placement: IntArray
    side: IntArray
    clearance: IntArray
    shielded: BoolArray
    low: FloatArray
    high: FloatArray

    def __len__(self) -> int:
        return len(self.component)

    @property
    def station(self) -> FloatArray:
        """Middle of each envelope along the rail, mm."""
        return np.asarray((self.low[:, 0] + self.high[:, 0]) / 2)


@dataclass(frozen=True)
class _Boxes:
    """Envelopes of all components of a library; component i has those from ``start[i]`` to ``start[i + 1]``.

    low and high (n, 3): station, across from the web's outside face, height from the datum.
    """

    start: IntArray
    clearance: IntArray
    shielded: BoolArray
    of_depth: FloatArray
    low: FloatArray
    high: FloatArray


@lru_cache(maxsize=8)
def _boxes(key: LibraryKey) -> _Boxes:
    components = list(key.library.components.values())
    boxes = [box for component in components for box in component.envelopes]
    ends = np.array([(box.station, box.across, box.height) for box in boxes], dtype=np.float64).reshape(-1, 3, 2)
    return _Boxes(
        start=np.cumsum([0, *(len(component.envelopes) for component in components)]),
        clearance=np.array([CLEARANCES.index(box.clearance) for box in boxes], dtype=np.int64),
        shielded=np.array([box.shielded for box in boxes], dtype=np.bool_),
        of_depth=np.array([datum_across(box.datum, 1.0, 0.0) for box in boxes], dtype=np.float64),
        low=ends[:, :, 0],
        high=ends[:, :, 1],
    )


def envelopes_of(rail: RailShape, library: Library, placements: Placements, frame_width: float) -> Envelopes:
    """The envelopes of all placements; frame_width (mm) is between the outside faces of both webs."""
    boxes = _boxes(LibraryKey(library))
    count = np.diff(boxes.start)[placements.component]
    placement = np.repeat(np.arange(len(count)), count)
    box = runs(boxes.start[placements.component], count)
    low, high = boxes.low[box], boxes.high[box]
    # A part turned half round the vertical, and the RH side seen from the LH rail, swap the ends of a box.
    turned, mirrored = placements.direction[placement] < 0, placements.side[placement] == RH
    station = placements.station[placement]
    datum = rail.section.depth * boxes.of_depth[box]
    return Envelopes(
        component=placements.component[placement],
        placement=placement,
        side=placements.side[placement],
        clearance=boxes.clearance[box],
        shielded=boxes.shielded[box],
        low=np.column_stack(
            [
                station + np.where(turned, -high[:, 0], low[:, 0]),
                np.where(mirrored, frame_width - high[:, 1], low[:, 1]),
                low[:, 2] + datum,
            ]
        ),
        high=np.column_stack(
            [
                station + np.where(turned, -low[:, 0], high[:, 0]),
                np.where(mirrored, frame_width - low[:, 1], high[:, 1]),
                high[:, 2] + datum,
            ]
        ),
    )
