"""What a drawing shows of one serial, gathered once: numbered findings, hole chart, reach and owner of each feature."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import Finding, in_order
from railgen.holes.shapes import cores_of
from railgen.holes.table import PARTS, SIDES, FloatArray, HoleTable, IntArray
from railgen.layout.owners import rows_by_owner
from railgen.layout.plan import SerialPlan
from railgen.papers.style import PLAIN, DrawingStyle
from railgen.papers.symbols import HoleChart, hole_chart


@dataclass(frozen=True, eq=False)
class Subject:
    """A serial as its drawing shows it.

    `findings` in the order in which they are numbered, from 1; `along` and `across`: how far each feature reaches from
    its centre along the rail and across it, mm; `rows_of`: for each of PARTS, rows of its features by side, component
    and instance (names' indices); `row_of`: row by side, part and hole id.
    """

    plan: SerialPlan
    style: DrawingStyle
    findings: tuple[Finding, ...]
    chart: HoleChart
    along: FloatArray
    across: FloatArray
    rows_of: tuple[Mapping[tuple[int, int, int], IntArray], ...]
    row_of: Mapping[tuple[int, int, str], int]

    @property
    def holes(self) -> HoleTable:
        """The serial's hole table."""
        return self.plan.holes

    def rows_named(self, finding: Finding) -> list[int]:
        """Rows of a finding's holes: on its own side, or on the other one where only that has the hole."""
        if finding.side not in SIDES or finding.part not in PARTS:
            return []
        side, part = SIDES.index(finding.side), PARTS.index(finding.part)
        found = [self.row_of.get((s, part, hole)) for hole in finding.holes for s in (side, 1 - side)]
        pairs = zip(found[::2], found[1::2], strict=True)
        return [row for own, other in pairs if (row := other if own is None else own) is not None]


def subject_of(plan: SerialPlan, style: DrawingStyle = PLAIN) -> Subject:
    """Gather what the drawing of a planned serial needs."""
    holes = plan.holes
    thickness = plan.order.thicknesses_of(holes)
    cores = cores_of(holes, thickness)
    along, across = cores.reach(np.nan_to_num(holes.angle))
    places = zip(holes.side.tolist(), holes.part.tolist(), holes.ids, strict=True)
    return Subject(
        plan=plan,
        style=style,
        findings=in_order(plan.findings),
        chart=hole_chart(holes, thickness, plan.order.library),
        along=along + cores.radius,
        across=across + cores.radius,
        rows_of=tuple(rows_by_owner(plan, part) for part in range(len(PARTS))),
        row_of={place: row for row, place in enumerate(places)},
    )
