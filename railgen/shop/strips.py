"""Where Almen strips stand on a part's dummy: beside the holes that tell how peening reaches all of the part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import FACES, IntArray
from railgen.shop.part_work import PartWork

_WEB_PLACES = (0.0, 0.5, 1.0)
_FLANGE_PLACES = (0.5,)
"""Where along the peened length of a face, of the web and of a flange."""


@dataclass(frozen=True)
class Strip:
    """An Almen strip beside a hole: its row of the part's holes; outside: on the outside face, else inside."""

    row: int
    outside: bool


def strip_places(work: PartWork, most_critical: int | None = None) -> tuple[Strip, ...]:
    """Strips outside and inside: on the web at its first, middle and last hole, on a flange at its middle one.

    most_critical: a row of the part's holes that gets strips too. Source: common practice, no source; the peening
    supplier's own plan comes first.
    """
    chosen: list[int] = []
    for face in range(len(FACES)):
        rows = work.hole_rows[work.holes.face[work.hole_rows] == face]
        if len(rows):
            chosen += _nearest(work, rows, _WEB_PLACES if face == 0 else _FLANGE_PLACES)
    if most_critical is not None:
        chosen.append(most_critical)
    return tuple(Strip(row, outside) for row in dict.fromkeys(chosen) for outside in (True, False))


def _nearest(work: PartWork, rows: IntArray, shares: tuple[float, ...]) -> list[int]:
    """Of some rows those nearest to shares of the length between the first and the last; the foremost of equals."""
    station = work.holes.station[rows]
    wanted = station.min() + np.ptp(station) * np.array(shares)
    return [int(rows[place]) for place in np.argmin(np.abs(station - wanted[:, None]), axis=1)]
