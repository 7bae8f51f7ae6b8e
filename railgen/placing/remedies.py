"""What would put a finding between components right: a shift, a wider window, another diameter, or plainly nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.data.library import Library
from railgen.holes.table import DRILL, NONE, ROUND, HoleTable
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import hole_table
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.placing.same_findings import new_error, what_remains
from railgen.placing.shifts import Checks, Mover, Shift

MOST = 200
"""Findings between components, in their order, that remedies are searched for: with more the whole order is wrong."""
_LATER = f"put right the first {MOST} findings between components: what helps here is searched for then"
Size = tuple[float, int]
"""A diameter, mm, and an operation."""


def is_between(finding: Finding) -> bool:
    """Whether a finding is one between components that a remedy is searched for."""
    return finding.severity != "note" and len(finding.components) > 1


def with_remedies(
    order: ResolvedOrder, catalogue: Catalogue, standing: Placements, findings: Iterable[Finding], checks: Checks
) -> tuple[Finding, ...]:
    """The findings; those between components with what would put them right added to their remedies."""
    known = tuple(findings)
    search = Search(order, catalogue, standing, known, checks)
    between = [finding for finding in known if is_between(finding)]
    told = {id(finding): _with_remedy(finding, search) for finding in between[:MOST]}
    told |= {id(finding): _told(finding, _LATER) for finding in between[MOST:]}
    return tuple(told.get(id(finding), finding) for finding in known)


def _with_remedy(finding: Finding, search: Search) -> Finding:
    shifts = search.shifts(finding)
    if shifts:
        words = ", or ".join(shift.told() for shift in shifts)
    else:
        words = search.resized(finding) or _nothing(finding, search)
    return _told(finding, words)


def _told(finding: Finding, words: str) -> Finding:
    return replace(finding, remedy=f"{finding.remedy} {words[0].upper()}{words[1:]}.".strip())


def _nothing(finding: Finding, search: Search) -> str:
    """The plain words that nothing serves, and which components were not moved."""
    movable = [component.id for component in search.movable(finding)]
    tied = [name for name in finding.components if name not in movable]
    moved = f"no other station of {' or '.join(movable)} and no other size clears it" if movable else ""
    kept = f"{' and '.join(tied)} cannot be moved as one, since the instances run up to a station" if tied else ""
    return "; ".join(words for words in (moved or "no other size clears it", kept) if words)


@dataclass(frozen=True)
class Search:
    """An order with its components placed, and what is found in it so far."""

    order: ResolvedOrder
    catalogue: Catalogue
    standing: Placements
    findings: tuple[Finding, ...]
    checks: Checks
    _movers: dict[str, Mover] = field(default_factory=dict, repr=False)
    _resized: dict[tuple[int, Size], list[Finding]] = field(default_factory=dict, repr=False)

    def shifts(self, finding: Finding) -> list[Shift]:
        """The least shift of each component of a finding that clears it and brings no new error, the least first."""
        found = [shift for component in self.movable(finding) if (shift := self._mover(component).shift(finding))]
        return sorted(found, key=lambda shift: (shift.widens, abs(shift.by), shift.component))

    def movable(self, finding: Finding) -> list[Component]:
        """The components of a finding that move as one: not those that repeat up to a station."""
        return [
            component
            for component in self.order.components
            if component.id in finding.components and not (component.repeat and component.repeat.to)
        ]

    def _mover(self, component: Component) -> Mover:
        if component.id not in self._movers:
            self._movers[component.id] = Mover(
                component, self.order, self.catalogue, self.standing, self.findings, self.checks
            )
        return self._movers[component.id]

    def resized(self, finding: Finding) -> str:
        """The nearest legal diameter of one of the finding's holes that clears it, drilled where it must be."""
        table = self._table
        for hole in finding.holes:
            rows = [r for r in np.flatnonzero(table.shape == ROUND).tolist() if table.hole_id(r) == hole]
            for size in _sizes(self.order.library, table, rows):
                found = self._with_size(rows, size)
                if new_error(self.findings, found, "") is None and not what_remains(finding, self.findings, found, ""):
                    return _told_size(hole, *size, table, rows)
        return ""

    @cached_property
    def _table(self) -> HoleTable:
        return hole_table(self.order, self.catalogue, self.standing)

    def _with_size(self, rows: list[int], size: Size) -> list[Finding]:
        """What is found with a hole (its rows in the table) of another size."""
        key = (rows[0], size)
        if key not in self._resized:
            here = np.isin(np.arange(len(self._table)), rows)
            diameters = np.where(here, size[0], self._table.diameter)
            operations = np.where(here, size[1], self._table.operation)
            table = self._table.with_columns(diameter=diameters, operation=operations)
            found = list(self.checks.shapes(self.standing, table))
            if new_error(self.findings, found, "") is None:
                found += self.checks.strength(self.standing, table)
            self._resized[key] = found
        return self._resized[key]


def _told_size(hole: str, diameter: float, operation: int, table: HoleTable, rows: list[int]) -> str:
    kept = abs(diameter - float(table.diameter[rows[0]])) < 1e-9
    if kept:
        return f"drill {hole} instead of punching it"
    drilled = operation == DRILL and operation != int(table.operation[rows[0]])
    return f"make {hole} {diameter:.1f} mm{' and drill it' if drilled else ''}"


def _sizes(library: Library, table: HoleTable, rows: list[int]) -> Iterator[Size]:
    """Other diameters and operations of a hole, the nearest diameter first: its own drilled before any other."""
    if not rows:
        return
    own, operation = float(table.diameter[rows[0]]), int(table.operation[rows[0]])
    for diameter in (own, *_other_diameters(library, table, rows[0])):
        for made in dict.fromkeys((operation, DRILL)):
            if (diameter, made) != (own, operation):
                yield diameter, made


def _other_diameters(library: Library, table: HoleTable, row: int) -> list[float]:
    """Legal diameters besides a hole's own, the nearest first: fits of its screw, or else those that the crib has."""
    own = float(table.diameter[row])
    if table.fastener[row] == NONE:
        found = {tool.diameter for tool in library.press.tools if tool.shape == "round" and tool.diameter is not None}
    else:
        holes = library.fasteners[table.fastener_of(row)].holes
        found = {holes.fine, holes.medium, holes.coarse} if holes else set()
    others = (diameter for diameter in found if abs(diameter - own) > 1e-9)
    return sorted(others, key=lambda diameter: (abs(diameter - own), diameter))
