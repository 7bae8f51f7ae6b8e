"""What a drawing shows of one serial, gathered once: numbered findings, hole chart, reach and owner of each feature."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import Finding, in_order
from railgen.holes.shapes import cores_of
from railgen.holes.table import LINER, PARTS, SIDES, FloatArray, HoleTable, IntArray
from railgen.layout.plan import SerialPlan
from railgen.papers.symbols import HoleChart, hole_chart


@dataclass(frozen=True, eq=False)
class Subject:
    """A serial as its drawing shows it.

    `findings` in the order in which they are numbered, from 1; `along` and `across`: how far each feature reaches from
    its centre along the rail and across it, mm; `rows_of`: rows of the rail's features by side, component and instance
    (names' indices); `row_of`: row by side, part and hole id.
    """

    plan: SerialPlan
    findings: tuple[Finding, ...]
    chart: HoleChart
    along: FloatArray
    across: FloatArray
    rows_of: Mapping[tuple[int, int, int], IntArray]
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


def subject_of(plan: SerialPlan) -> Subject:
    """Gather what the drawing of a planned serial needs."""
    holes = plan.holes
    thickness = np.array([plan.order.thickness_of(part) for part in PARTS])[holes.part]
    cores = cores_of(holes, thickness)
    along, across = cores.reach(np.nan_to_num(holes.angle))
    ids = [holes.hole_id(row) for row in range(len(holes))]
    places = zip(holes.side.tolist(), holes.part.tolist(), ids, strict=True)
    return Subject(
        plan=plan,
        findings=in_order(plan.findings),
        chart=hole_chart(holes, thickness, plan.order.library),
        along=along + cores.radius,
        across=across + cores.radius,
        rows_of=_rows_by_owner(plan),
        row_of={place: row for row, place in enumerate(places)},
    )


def _rows_by_owner(plan: SerialPlan) -> dict[tuple[int, int, int], IntArray]:
    """Rail rows by side, component and instance; a shared hole stands under all its owners."""
    holes, gathered = plan.holes, dict[tuple[int, int, int], list[int]]()
    for row in np.flatnonzero(holes.part != LINER).tolist():
        side, first = int(holes.side[row]), int(holes.component[row])
        gathered.setdefault((side, first, int(holes.instance[row])), []).append(row)
        for owner in holes.owners[holes.owner_start[row] : holes.owner_start[row + 1]].tolist():
            if owner != first:
                instance = _nearest_instance(plan, side, owner, float(holes.station[row]))
                gathered.setdefault((side, owner, instance), []).append(row)
    return {key: np.array(rows, dtype=np.int64) for key, rows in gathered.items()}


def _nearest_instance(plan: SerialPlan, side: int, component: int, station: float) -> int:
    """The table names the instance of a feature's first owner only; another owner's is the nearest one."""
    placed = plan.placements
    own = np.flatnonzero((placed.component == component) & (placed.side == side))
    if not len(own):
        return 1
    return int(placed.instance[own[np.argmin(np.abs(placed.station[own] - station))]])
