"""The measuring plan of a part: which of its holes are measured before peening, and how closely they must lie."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.data.inspection import STEEL_EXPANSION
from railgen.holes.inspection import position_tolerances
from railgen.holes.table import NONE, FloatArray, IntArray
from railgen.shop.part_work import PartWork


@dataclass(frozen=True, eq=False)
class MeasuringPlan:
    """Holes to measure, in the order of the hole table, and their position tolerances as diameters, mm; (n,) each.

    row: of the part's holes; station: along the part; group: within the hole group.
    """

    row: IntArray
    station: FloatArray
    group: FloatArray

    def __len__(self) -> int:
        return len(self.row)


def measuring_plan(work: PartWork) -> MeasuringPlan:
    """All locating holes, and of each hole group with screws the two holes that lie furthest apart.

    A hole group are the features of one instance of one component on one face; two holes tell where it lies and how it
    is turned. Source: common practice, no source.
    """
    holes = work.holes
    bolts = _bolts(work)
    screwed = np.flatnonzero(np.isfinite(bolts))
    keys = np.stack([holes.component[screwed], holes.instance[screwed], holes.face[screwed]], axis=-1)
    _, group = np.unique(keys, axis=0, return_inverse=True)
    pairs = [_furthest(work, screwed[group.ravel() == number]) for number in range(int(group.max(initial=-1)) + 1)]
    rows = np.unique(np.concatenate([np.flatnonzero(holes.locating & (holes.diameter > 0)), *pairs])).astype(np.int64)
    owners = [holes.names.components[index] for index in holes.component[rows].tolist()]
    given = work.finishing.tolerances
    station, within, _ = position_tolerances(owners, holes.diameter[rows], bolts[rows], holes.locating[rows], given)
    return MeasuringPlan(rows, station, within)


def _bolts(work: PartWork) -> FloatArray:
    """Diameter (mm) of the screw through each hole, NaN where there is none."""
    library = work.plan.order.library.fasteners
    named = [library.get(name) for name in work.holes.names.fasteners]
    diameters = np.array([*(f.diameter if f and f.kind != "stud" else np.nan for f in named), np.nan])
    return np.asarray(diameters[np.where(work.holes.fastener == NONE, -1, work.holes.fastener)])


def _furthest(work: PartWork, rows: IntArray) -> IntArray:
    """The foremost of some holes, the lowest of equals, and the one furthest from it."""
    place = np.stack([work.holes.station[rows], work.holes.across[rows]], axis=-1)
    first = int(np.lexsort(place.T[::-1])[0])
    last = int(np.argmax(np.linalg.norm(place - place[first], axis=1)))
    return np.unique(rows[[first, last]])


def warm_stretch(length: float) -> float:
    """How much a length of steel (mm) grows with each degree, mm. Source: common handbook value, from memory."""
    return STEEL_EXPANSION * length
