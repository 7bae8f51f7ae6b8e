"""What is known of one serial at each step of the flow: the resolved order, its placements, and the whole plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from railgen.data.component import Component, Family
from railgen.data.findings import Finding
from railgen.data.library import Library
from railgen.data.order import Order
from railgen.data.stock import SteelBand
from railgen.frame.rail import RailShape
from railgen.holes.table import PARTS, FloatArray, HoleTable, IntArray


@dataclass(frozen=True)
class ResolvedOrder:
    """An order with every default filled in and every name looked up. Lengths mm.

    dimensions: order dimensions by name, options' own as "CODE.parameter"; anchors and zones: stations by name;
    components: those that the options bring for this serial, by id order; bringing: the options that bring each.
    """

    order: Order
    library: Library
    family: Family
    drive: str
    section: str
    steel: str
    rail_steel: SteelBand
    liner_steel: SteelBand | None
    dimensions: Mapping[str, float]
    anchors: Mapping[str, float]
    zones: Mapping[str, tuple[float, float]]
    limit_set: str
    rail: RailShape
    components: tuple[Component, ...]
    bringing: Mapping[str, tuple[str, ...]]
    findings: tuple[Finding, ...]

    @property
    def serial(self) -> str:
        return self.order.serial

    def thickness_of(self, part: str) -> float:
        """Thickness of the rail or the liner, mm."""
        liner = self.rail.liner
        return liner.section.thickness if part == "liner" and liner else self.rail.section.thickness

    def thicknesses_of(self, holes: HoleTable) -> FloatArray:
        """Thickness of each row's part, mm."""
        return np.array([self.thickness_of(part) for part in PARTS])[holes.part]

    def steel_of(self, part: str) -> SteelBand:
        """Strengths of the rail's or the liner's steel."""
        return self.liner_steel if part == "liner" and self.liner_steel else self.rail_steel


@dataclass(frozen=True)
class Placements:
    """Components at stations, one row an instance on a side, all arrays of length n.

    component: index into the catalogue's components; side: 0 LH, 1 RH; instance: from 1 along the rail; station: of
    the datum, mm; direction: +1, or -1 where the part is turned half round the vertical.
    """

    component: IntArray
    side: IntArray
    instance: IntArray
    station: FloatArray
    direction: FloatArray


@dataclass(frozen=True)
class SerialPlan:
    """One serial, planned and checked: everything that the files and papers are written from."""

    order: ResolvedOrder
    placements: Placements
    holes: HoleTable
    findings: tuple[Finding, ...]

    @property
    def serial(self) -> str:
        return self.order.order.serial
