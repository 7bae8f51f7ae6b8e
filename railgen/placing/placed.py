"""What a placer returns: a pattern with everything at its station, and its findings."""

from __future__ import annotations

from dataclasses import dataclass

from railgen.data.findings import Finding
from railgen.holes.table import HoleTable
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import hole_table
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.rules.check import every_finding
from railgen.rules.pattern import Pattern, pattern_of


@dataclass(frozen=True)
class Placed:
    """Everything at its station: the pattern that was checked, and all findings, with a note for each float moved."""

    pattern: Pattern
    findings: tuple[Finding, ...]

    @property
    def placements(self) -> Placements:
        return self.pattern.placements

    @property
    def holes(self) -> HoleTable:
        return self.pattern.table


def placed_at(order: ResolvedOrder, catalogue: Catalogue, standing: Placements) -> Placed:
    """An order with its components so placed, checked."""
    pattern = pattern_of(order, hole_table(order, catalogue, standing), standing)
    return Placed(pattern, tuple(every_finding(pattern)))
