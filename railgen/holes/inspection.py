"""Measured holes against nominal ones as columns: what an inspection found, for reports and charts alike."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from railgen.data.inspection import Tolerances
from railgen.holes.table import BoolArray, FloatArray

Fit = Literal["datums", "best", "none"]
Fault = Literal["missing", "station", "group", "size"]
FAULTS: tuple[Fault, ...] = ("missing", "station", "group", "size")


@dataclass(frozen=True)
class FaceFit:
    """How the measured holes of one face were laid on the nominal ones: turned about the origin, then shifted.

    turn in degrees from +station toward +across; shift (2,) in mm; holes: number of holes that it rests on.
    """

    face: str
    turn: float
    shift: tuple[float, float]
    holes: int


@dataclass(frozen=True, eq=False)
class PartInspection:
    """One part: n nominal features of its measured faces, each with what was measured, and k extra measured holes.

    Lengths mm. measured and extra are (n, 2) and (k, 2): station and across after correction for temperature and after
    the fit, NaN where a hole is missing. position is 2 sqrt(dx2 + dy2); group_position the same after the hole's group
    alone was laid on its nominal holes, NaN where the group has fewer than two; diameters are NaN where there is none.
    station_tolerance and group_tolerance contain the bonus. fault (n, 4) says which of FAULTS holds.
    stretch is the part's length beyond nominal, mm a metre, after correction for temperature.
    """

    side: str
    part: str
    wrong_hand: str
    alike: bool
    fits: tuple[FaceFit, ...]
    stretch: float
    hole: tuple[str, ...]
    face: tuple[str, ...]
    tool: tuple[str, ...]
    fastener: tuple[str, ...]
    locating: BoolArray
    nominal: FloatArray
    measured: FloatArray
    diameter: FloatArray
    measured_diameter: FloatArray
    group_position: FloatArray
    station_tolerance: FloatArray
    group_tolerance: FloatArray
    bonus: FloatArray
    fault: BoolArray
    extra_face: tuple[str, ...]
    extra: FloatArray
    extra_diameter: FloatArray

    @property
    def name(self) -> str:
        """LH-rail, RH-liner ..."""
        return f"{self.side}-{self.part}"

    @property
    def deviation(self) -> FloatArray:
        """Measured less nominal (n, 2), mm; NaN where a hole is missing."""
        return np.asarray(self.measured - self.nominal)

    @property
    def position(self) -> FloatArray:
        """Position deviation (n,) as ASME Y14.5 defines it: 2 sqrt(dx2 + dy2), mm."""
        return np.asarray(2 * np.hypot(*self.deviation.T))

    @property
    def out(self) -> BoolArray:
        """Which features have any fault, (n,)."""
        return np.asarray(self.fault.any(axis=1))

    @property
    def good(self) -> bool:
        """Whether nothing is wrong with the part."""
        return not (self.wrong_hand or self.out.any() or len(self.extra))

    def faults_of(self, row: int) -> tuple[Fault, ...]:
        """The faults of one feature."""
        return tuple(name for name, there in zip(FAULTS, self.fault[row].tolist(), strict=True) if there)


@dataclass(frozen=True)
class Inspection:
    """One measurement of a serial: its parts, what it was measured with, and faces on which nothing was measured.

    temperature of the steel in degC; measured: name and sha256 of the file; on: date, empty where none was given.
    """

    serial: str
    revision: str
    fit: Fit
    temperature: float
    measured: tuple[str, str]
    on: str
    source: str
    parts: tuple[PartInspection, ...]
    not_measured: tuple[str, ...]

    @property
    def good(self) -> bool:
        """Whether nothing is wrong with any part."""
        return all(part.good for part in self.parts)


def position_tolerances(
    components: Sequence[str], diameter: FloatArray, bolts: FloatArray, locating: BoolArray, given: Tolerances
) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Position tolerance (diameter, mm) of n holes at their station and within their group, and which get a bonus.

    components: first owners; diameter and bolts: of the holes and what goes through them, NaN for none. Within its
    group a hole with a bolt may deviate by hole less bolt. Source: ASME Y14.5, floating fastener, from memory.
    """
    clearance = diameter - bolts
    group = np.where(clearance > 0, clearance, given.no_fastener)
    station = np.full(len(components), given.station)
    bonus = np.full(len(components), given.bonus)
    group[locating] = station[locating] = given.locating
    for row, component in enumerate(components):
        own = given.component.get(component)
        if own is None:
            continue
        station[row] = station[row] if own.station is None else own.station
        group[row] = group[row] if own.group is None else own.group
        bonus[row] = bonus[row] if own.bonus is None else own.bonus
    return station, group, bonus
