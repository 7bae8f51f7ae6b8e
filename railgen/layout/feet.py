"""Feet on the rail: a component's footprints where it stands."""

from __future__ import annotations

import numpy as np

from railgen.data.component import Footprint, datum_across
from railgen.frame.section import Section
from railgen.holes.table import FloatArray


def foot_corners(foot: Footprint, section: Section, station: float, direction: float) -> FloatArray:
    """Corners (n, 2) of a foot on the rail, (station, across) mm; across is measured as hole groups measure it.

    station: of the component's datum, mm; direction: -1 where the part is turned half round the vertical, else +1.
    """
    local = np.array(foot.polygon, dtype=np.float64)
    datum = datum_across(foot.datum, section.depth, section.flange)
    return np.stack([station + direction * local[:, 0], datum + local[:, 1]], axis=-1)
