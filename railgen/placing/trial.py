"""Candidate stations tried under the rules themselves, where intervals cannot tell: zones of an order, a taper's tail,
flanges, mates, and what rules say of the whole pattern.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cached_property

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.holes.sharing import merge_shared
from railgen.holes.table import BoolArray, HoleTable, IntArray, stacked
from railgen.layout.features import hole_table, rail_features, with_liner
from railgen.layout.place import place_one, placements
from railgen.placing.ground import Blocked, Ground
from railgen.rules.check import every_finding, groups_in_error
from railgen.rules.limits import limit_table
from railgen.rules.pattern import Pattern


class Trial:
    """Stations of one component tried against what stands on the ground."""

    def __init__(self, component: Component, ground: Ground) -> None:
        self._component, self._ground = component, ground
        order = ground.order
        self._limits = limit_table(order.library, order.limit_set, order.order.limits.zones)

    def errors(self, station: float) -> list[Finding]:
        """Error findings about the component where it stands at a station."""
        return errors_about(self._component.id, every_finding(self._pattern(station)))

    def blocked_by(self, station: float) -> set[Blocked]:
        """What is in error at a station: rules and the other components."""
        table = self._pattern(station).table
        owners = {hole: set(table.owners_of(row)) for row, hole in enumerate(table.ids)}
        found: set[Blocked] = set()
        for finding in self.errors(station):
            own = {self._component.id}
            # A single hole names all its owners, and is no fault of those that share it with the component.
            shared = owners[finding.holes[0]] if len(finding.holes) == 1 else set()
            own |= shared if self._component.id in shared else set()
            others = [name for name in finding.components if name not in own]
            found |= {(finding.rule, other) for other in others or [""]}
        return found

    @cached_property
    def _placed(self) -> HoleTable:
        order, ground = self._ground.order, self._ground
        table = rail_features(order, ground.catalogue, placements(ground.rows))
        return with_liner(order, merge_shared(table))

    def features_in_error(self, stations: list[float]) -> BoolArray:
        """At which of some stations a rule about one or two features finds an error of the component."""
        in_error = np.zeros(len(stations), dtype=np.bool_)
        if not stations:
            return in_error
        placed = self._placed
        candidates, group = self._candidates(stations)
        both = Pattern(self._ground.order, stacked([placed, candidates]), self._limits)
        some = np.arange(len(placed), len(both.table))
        found = groups_in_error(both, some, group, np.arange(len(placed)))
        in_error[: len(found)] = found
        return in_error

    def _pattern(self, station: float) -> Pattern:
        """All that stands, with the component at a station."""
        order, ground = self._ground.order, self._ground
        rows = [*ground.rows, *place_one(self._component, station, order, ground.catalogue)]
        # In the order of the finished placements, by which the first owner of a shared hole is told.
        stands = placements(sorted(rows))
        return Pattern(order, hole_table(order, ground.catalogue, stands), self._limits, stands)

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


SAME_ANYWHERE = {("press-limit", "force"), ("press-limit", "tool"), ("press-limit", "blank")}
"""Measures that look at sizes only, so that no other station would help."""


def errors_about(name: str, findings: Iterable[Finding]) -> list[Finding]:
    """Error findings that name a component, and that another station of it might be without."""
    return [
        finding
        for finding in findings
        if finding.severity == "error"
        and name in finding.components
        and (finding.rule, finding.measure) not in SAME_ANYWHERE
    ]
