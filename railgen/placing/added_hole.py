"""One more hole in a planned serial: its rows in the hole table, and what every rule says of it there."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.holes.table import FloatArray, HoleTable, IntArray, Names, in_file_order, stacked
from railgen.layout.catalogue import Catalogue, compile_catalogue
from railgen.layout.features import rail_features, with_liner
from railgen.layout.place import placements
from railgen.layout.plan import ResolvedOrder, SerialPlan
from railgen.rules.check import every_finding
from railgen.rules.limits import LimitTable, limit_table
from railgen.rules.pattern import Pattern
from railgen.rules.strength import strength_findings
from railgen.shop.strings import with_string_tools

NAME = "added-hole"
"""Component and hole are named so; it may have flange holes, which leaves flanges to the zones of the limit set."""
Operation = Literal["punch", "drill"]


@dataclass(frozen=True)
class AddedHole:
    """A round hole that is to be added: diameter (mm), how it is made, the fastener that goes through it, if any."""

    diameter: float
    operation: Operation = "punch"
    fastener: str = ""


class Adding:
    """A planned serial to which a hole is added; name: of the component that the hole is taken for."""

    def __init__(self, plan: SerialPlan, hole: AddedHole, name: str = NAME) -> None:
        self.plan, self.hole, self.name = plan, hole, name
        library = plan.order.library
        component = self._component()
        more = replace(library, components={**library.components, name: component})
        self.order: ResolvedOrder = replace(plan.order, library=more)
        self.limits: LimitTable = limit_table(library, plan.order.limit_set, plan.order.order.limits.zones)

    def _component(self) -> Component:
        """The hole as the only feature of a component; its place is filled in later."""
        group = {
            "face": "web",
            "datum": "bottom",
            "diameter": self.hole.diameter,
            "operation": self.hole.operation,
            "features": [{"id": "hole"}],
        }
        entry = {
            "id": self.name,
            "name": self.name,
            "options": ["ADD01"],
            "kind": "bracket",
            "side": "both",
            "position": {"anchor": "front_axle", "offset": 0.0},
            "flange_holes": True,
            "groups": [group | ({"fastener": self.hole.fastener} if self.hole.fastener else {})],
        }
        return Component.model_validate(entry)

    @cached_property
    def _names(self) -> Names:
        names = self.plan.holes.names
        return replace(names, components=(*names.components, self.name), features=(*names.features, "hole"))

    @cached_property
    def present(self) -> Pattern:
        """The pattern without the hole."""
        return Pattern(self.order, self.plan.holes.with_columns(names=self._names), self.limits, self.plan.placements)

    def rows(self, side: int, face: IntArray, station: FloatArray, across: FloatArray) -> HoleTable:
        """Rows of the hole at n places of a side: n of the rail in order, then those of the liner it goes through."""
        count = len(station)
        columns: dict[str, Any] = {name: np.repeat(getattr(self._one, name), count) for name in _COLUMNS}
        columns |= {"face": face.astype(np.int64), "station": station, "across": across}
        many = replace(self._one, start=np.array([0, count]), **columns)
        rows = with_liner(self.order, rail_features(self.order, many, placements([(0, side, 1, 0.0, 1.0)])))
        own = len(self._names.components) - 1
        number = np.full(len(rows), own)
        feature = np.full(len(rows), len(self._names.features) - 1)
        rows = rows.with_columns(names=self._names, component=number, owners=number, feature=feature)
        tools = with_string_tools(rows, self.order.library.press, self.order.thicknesses_of(rows))
        return rows.with_columns(tool=tools)

    @cached_property
    def _one(self) -> Catalogue:
        """The hole alone, compiled."""
        component = self._component()
        return compile_catalogue(replace(self.plan.order.library, components={self.name: component}))

    def alone(self, side: int, face: int, station: FloatArray, across: FloatArray) -> Pattern:
        """The hole at n places of a face, each as if it were the only one; rows as ``rows`` gives them."""
        rows = self.rows(side, np.full(len(station), face), station, across)
        return Pattern(self.order, rows, self.limits, self.plan.placements)

    def pattern(self, side: int, face: int, station: float, across: float) -> Pattern:
        """The pattern with the hole at a place."""
        rows = self.rows(side, np.array([face]), np.array([station]), np.array([across]))
        table = stacked([self.present.table, rows])
        return Pattern(self.order, table, self.limits, self.plan.placements)

    def built_in(self, side: int, face: int, station: float, across: float) -> SerialPlan:
        """The serial with the hole at a place, as if it had been planned so; its findings stay what they were."""
        table = in_file_order(self.pattern(side, face, station, across).table)
        return replace(self.plan, order=self.order, holes=table)

    def findings(self, side: int, face: int, station: float, across: float) -> tuple[Finding, ...]:
        """Errors and warnings that there are with the hole and are not there without it."""
        made = [*every_finding(pattern := self.pattern(side, face, station, across)), *strength_findings(pattern)]
        return tuple(f for f in made if f.severity != "note" and _key(f) not in self._before)

    @cached_property
    def _before(self) -> set[tuple[object, ...]]:
        return {_key(f) for f in [*every_finding(self.present), *strength_findings(self.present)]}


_COLUMNS = (
    "face",
    "station",
    "across",
    "of_depth",
    "of_flange",
    "shape",
    "diameter",
    "length",
    "angle",
    "corner_radius",
    "fastener",
    "operation",
    "locating",
    "feature",
    "strings",
    "shareable",
)
"""Columns of a catalogue, a row a feature."""


def _key(finding: Finding) -> tuple[object, ...]:
    """What two findings that are the same agree in; value and station to 1e-6."""
    figures = [None if number is None else round(number, 6) for number in (finding.station_mm, finding.value)]
    names = finding.side, finding.part, finding.face, finding.holes, finding.components
    return (finding.rule, finding.measure, finding.severity, *names, *figures)
