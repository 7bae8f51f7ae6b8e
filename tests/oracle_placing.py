"""The greedy placer once more without intervals: every station of every grid is tried under the rules themselves."""

from __future__ import annotations

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.holes.sharing import merge_shared
from railgen.holes.table import HoleTable, stacked
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import hole_table, rail_features, with_liner
from railgen.layout.place import place_one, placements, preferred_station
from railgen.layout.plan import ResolvedOrder
from railgen.placing.floats import grid_stations
from railgen.placing.trial import errors_about
from railgen.rules.check import every_finding, groups_in_error
from railgen.rules.limits import LimitTable, limit_table
from railgen.rules.pattern import Pattern

Rows = list[tuple[int, int, int, float, float]]
Blocked = set[tuple[str, str]]


def settle_slowly(order: ResolvedOrder, catalogue: Catalogue) -> dict[str, tuple[float | None, Blocked]]:
    """Station of each floating component (None where there is none free), and what closes its preferred one."""
    limits = limit_table(order.library, order.limit_set, order.order.limits.zones)
    rows: Rows = []
    for component in order.components:
        if not component.floating:
            rows += place_one(component, preferred_station(component, order), order, catalogue)
    settled: dict[str, tuple[float | None, Blocked]] = {}
    for component in order.components:
        if not component.floating:
            continue
        wanted = preferred_station(component, order)
        tried = _Tried(component, list(grid_stations(component, wanted)), order, catalogue, rows, limits)
        station = tried.first_free()
        settled[component.id] = station, set() if station == wanted else tried.blocked(wanted)
        rows += place_one(component, wanted if station is None else station, order, catalogue)
    return settled


class _Tried:
    """All stations of a component's grid against what is placed."""

    def __init__(
        self,
        component: Component,
        stations: list[float],
        order: ResolvedOrder,
        catalogue: Catalogue,
        rows: Rows,
        limits: LimitTable,
    ) -> None:
        self.component, self.stations, self.order, self.catalogue = component, stations, order, catalogue
        self.limits, self.rows = limits, list(rows)
        self.placed = with_liner(order, merge_shared(rail_features(order, catalogue, placements(rows))))

    def first_free(self) -> float | None:
        tables = [self._candidate(station) for station in self.stations]
        group = np.repeat(np.arange(len(tables)), [len(table) for table in tables])
        both = Pattern(self.order, stacked([self.placed, *tables]), self.limits)
        placed, some = np.arange(len(self.placed)), np.arange(len(self.placed), len(both.table))
        in_error = np.zeros(len(tables), dtype=np.bool_)
        found = groups_in_error(both, some, group, placed)
        in_error[: len(found)] = found
        stations = (self.stations[index] for index in np.flatnonzero(~in_error).tolist())
        return next((station for station in stations if not self.errors(station)), None)

    def blocked(self, station: float) -> Blocked:
        name = self.component.id
        found: Blocked = set()
        for finding in self.errors(station):
            others = set(finding.components) - {name}
            found |= {(finding.rule, other) for other in others or {""}}
        return found

    def errors(self, station: float) -> list[Finding]:
        """Errors about the component, of all rules over all that stands."""
        stands = placements(sorted([*self.rows, *place_one(self.component, station, self.order, self.catalogue)]))
        table = hole_table(self.order, self.catalogue, stands)
        return errors_about(self.component.id, every_finding(Pattern(self.order, table, self.limits, stands)))

    def _candidate(self, station: float) -> HoleTable:
        rows = place_one(self.component, station, self.order, self.catalogue)
        return with_liner(self.order, rail_features(self.order, self.catalogue, placements(rows)))
