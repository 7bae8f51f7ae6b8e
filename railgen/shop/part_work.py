"""One part of a serial with all that the shop needs to know of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import Finding
from railgen.data.plant import Finishing, Press
from railgen.data.stock import SteelBand
from railgen.frame.blank import blank_polygon
from railgen.frame.measure import STEEL_DENSITY, PartMeasures, part_measures
from railgen.frame.rail import Part, RailShape, part_length, part_section
from railgen.frame.section import Section
from railgen.holes.shapes import areas, is_hole, perimeters
from railgen.holes.table import PARTS, SIDES, FloatArray, HoleTable, IntArray
from railgen.layout.plan import SerialPlan
from railgen.shop.card_line import CardLine, line
from railgen.shop.punching import highest_shear_strength, hit_forces, punching_force
from railgen.shop.strings import HitString, hit_strings, tool_perimeter


@dataclass(frozen=True)
class PartWork:
    """A part as it goes through the shop.

    ``holes``: its rows of the hole table; ``forces`` (n,): of the hits that make them, N; ``strings``: of rows that are
    cut by overlapping hits of a smaller tool;
    ``measures``: of the finished part less its holes; countersinks count as plain holes.
    """

    plan: SerialPlan
    side: str
    part: Part
    holes: HoleTable
    section: Section
    section_name: str
    steel: SteelBand
    steel_name: str
    measures: PartMeasures
    forces: FloatArray
    strings: Mapping[int, HitString]

    @property
    def name(self) -> CardLine:
        """The part in words, for example LH rail."""
        return line(f"part.{self.part}", side=self.side)

    @property
    def rail(self) -> RailShape:
        """The rail that the part is, or is nested in."""
        return self.plan.order.rail

    @property
    def press(self) -> Press:
        """The press that punches the blank."""
        return self.plan.order.library.press

    @property
    def finishing(self) -> Finishing:
        """Peening, coating, racks, times and the order of work."""
        return self.plan.order.library.finishing

    @property
    def thickness(self) -> float:
        """Of the part, mm."""
        return self.section.thickness

    @property
    def steel_standard(self) -> str:
        """The standard that the steel is ordered by."""
        return self.plan.order.library.steels[self.steel_name].standard

    @property
    def blank_length(self) -> float:
        """Of the blank, mm."""
        return part_length(self.rail, self.part)

    @property
    def blank_width(self) -> float:
        """Of the blank, mm."""
        return self.section.developed_width

    @property
    def finished_length(self) -> float:
        """Of the finished part, mm."""
        return self.rail.length if self.part == "rail" else self.blank_length

    @property
    def blank_mass(self) -> float:
        """Of the blank before punching, kg; a wedge cut in the blank is gone already."""
        return float(blank_polygon(self.rail, self.part).area) * self.thickness * STEEL_DENSITY

    @property
    def strokes(self) -> IntArray:
        """Hits that make each row, (n,): one, or those of its string."""
        count = np.ones(len(self.holes), dtype=np.int64)
        for row, string in self.strings.items():
            count[row] = len(string.places)
        return count

    @property
    def hole_rows(self) -> IntArray:
        """Rows that are openings."""
        return np.flatnonzero(is_hole(self.holes))

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Errors and warnings of this part, and those that name no part."""
        return tuple(
            finding
            for finding in self.plan.findings
            if finding.severity != "note" and finding.side in ("", self.side) and finding.part in ("", self.part)
        )


def part_work(plan: SerialPlan, part: Part, side: str) -> PartWork:
    """The work on a part. Raises ValueError when a liner is asked for and there is none."""
    order = plan.order
    section = part_section(order.rail, part)
    holes = rows_of(plan.holes, part, side)
    thickness = np.full(len(holes), section.thickness)
    liner = order.order.liner if part == "liner" else None
    steel, press = order.steel_of(part), order.library.press
    strings, forces = hit_strings(holes, press, thickness), hit_forces(holes, thickness, steel)
    for row, string in strings.items():
        edge = tool_perimeter(press.tools[string.tool], section.thickness)
        forces[row] = punching_force(edge, section.thickness, highest_shear_strength(steel))
    return PartWork(
        plan=plan,
        side=side,
        part=part,
        holes=holes,
        section=section,
        section_name=liner.section if liner else order.section,
        steel=steel,
        steel_name=liner.steel if liner else order.steel,
        measures=measures_of(order.rail, part, holes),
        forces=forces,
        strings=strings,
    )


def rows_of(table: HoleTable, part: Part, side: str) -> HoleTable:
    """The features of one part of one side."""
    return table.rows((table.side == SIDES.index(side)) & (table.part == PARTS.index(part)))


def measures_of(rail: RailShape, part: Part, holes: HoleTable) -> PartMeasures:
    """Measures of a part less its holes; holes: its rows. Raises ValueError for a liner that is not there."""
    thickness = np.full(len(holes), part_section(rail, part).thickness)
    return part_measures(rail, part, float(areas(holes, thickness).sum()), float(perimeters(holes, thickness).sum()))


def parts_of(plan: SerialPlan) -> Iterator[tuple[Part, str]]:
    """Every part of a serial by name and side: both rails, then both liners where there are any."""
    parts: tuple[Part, ...] = ("rail", "liner") if plan.order.rail.liner else ("rail",)
    for part in parts:
        for side in SIDES:
            yield part, side
