"""Candidate stations tried under the rules themselves, where intervals cannot tell: zones of an order, a taper's tail,
flanges, mates.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.holes.sharing import merge_shared
from railgen.holes.table import BoolArray, HoleTable, IntArray, stacked
from railgen.layout.features import rail_features, with_liner
from railgen.layout.place import place_one, placements
from railgen.placing.ground import Blocked, Ground
from railgen.rules.check import PATTERN_RULES, check, groups_in_error
from railgen.rules.limits import limit_table
from railgen.rules.pattern import Pattern


class Trial:
    """Stations of one component tried against what stands on the ground."""

    def __init__(self, component: Component, ground: Ground) -> None:
        self._component, self._ground = component, ground
        order = ground.order
        self._limits = limit_table(order.library, order.limit_set, order.order.limits.zones)

    @cached_property
    def _placed(self) -> HoleTable:
        order, ground = self._ground.order, self._ground
        table = rail_features(order, ground.catalogue, placements(ground.rows))
        return with_liner(order, merge_shared(table))

    def in_error(self, stations: list[float]) -> BoolArray:
        """At which of some stations a rule finds an error of the component."""
        in_error = np.zeros(len(stations), dtype=np.bool_)
        if not stations:
            return in_error
        order, placed = self._ground.order, self._placed
        candidates, group = self._candidates(stations)
        both = Pattern(order, stacked([placed, candidates]), self._limits)
        some = np.arange(len(placed), len(both.table))
        found = groups_in_error(both, some, group, np.arange(len(placed)))
        in_error[: len(found)] = found
        if needs_whole_pattern(self._component):
            for index in np.flatnonzero(~in_error).tolist():
                rows = np.concatenate([np.arange(len(placed)), some[group == index]])
                in_error[index] = self._breaks_whole_pattern(Pattern(order, both.table.rows(rows), self._limits))
        return in_error

    def blocked_by(self, station: float) -> set[Blocked]:
        """What is in error at a station: rules and the other components."""
        order, placed = self._ground.order, self._placed
        candidate, _ = self._candidates([station])
        name = self._component.id
        return {
            (finding.rule, other)
            for finding in check(Pattern(order, stacked([placed, candidate]), self._limits))
            if finding.severity == "error" and name in finding.components
            for other in _others(finding, name)
        }

    def _candidates(self, stations: list[float]) -> tuple[HoleTable, IntArray]:
        """Features at each station, with the liner's, and the number of each row's station."""
        order, catalogue = self._ground.order, self._ground.catalogue
        per_station = [place_one(self._component, station, order, catalogue) for station in stations]
        index = catalogue.index[self._component.id]
        features = int(catalogue.start[index + 1] - catalogue.start[index])
        group = np.repeat(np.arange(len(stations)), [len(rows) * features for rows in per_station])
        table = rail_features(order, catalogue, placements([row for rows in per_station for row in rows]))
        if order.rail.liner is None:
            return table, group
        # The station's number rides along as the instance, so that the liner's rows keep it.
        numbered = with_liner(order, table.with_columns(instance=group))
        return numbered, numbered.instance

    def _breaks_whole_pattern(self, pattern: Pattern) -> bool:
        """Whether a rule over whole patterns finds an error with the component."""
        return any(
            finding.severity == "error" and self._component.id in finding.components
            for rule in PATTERN_RULES
            for finding in rule(pattern)
        )


def needs_whole_pattern(component: Component) -> bool:
    """Whether rules over whole patterns look at the component."""
    return bool(component.mates) or any(group.face != "web" for group in component.groups)


def _others(finding: Finding, name: str) -> list[str]:
    others = [other for other in finding.components if other != name]
    return others if len(finding.holes) > 1 and others else [""]
