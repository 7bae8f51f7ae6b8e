"""Floating components settled one after the other: the preferred station, else the nearest free one of the grid.

Components go in id order, each against what is already placed; of two stations equally near the rearward one is
taken. A placer is replaceable: any function from (order, catalogue) to Placed.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import floor

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.holes.sharing import merge_shared
from railgen.holes.table import HoleTable, stacked
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import hole_table, rail_features, with_liner
from railgen.layout.place import place, place_one, placements, preferred_station
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.rules.check import PATTERN_RULES, check, groups_in_error
from railgen.rules.limits import LimitTable
from railgen.rules.pattern import Pattern, pattern_of


@dataclass(frozen=True)
class Placed:
    """Everything at its station: placements, the hole table, and all findings, with a note for each component moved."""

    placements: Placements
    holes: HoleTable
    findings: tuple[Finding, ...]


def place_greedily(order: ResolvedOrder, catalogue: Catalogue) -> Placed:
    """All components of an order at their stations, checked."""
    preferred = _checked(order, catalogue, {})
    floating = {component.id: component for component in order.components if component.floating}
    if not _in_error(preferred.findings, set(floating)):
        # Each would find its preferred station free against the earlier ones too: nothing to search.
        return preferred
    settled, notes = _settle(order, catalogue, floating, preferred.findings)
    placed = _checked(order, catalogue, settled)
    return Placed(placed.placements, placed.holes, (*placed.findings, *notes))


def _checked(order: ResolvedOrder, catalogue: Catalogue, settled: dict[str, float]) -> Placed:
    positions = place(order, catalogue, settled)
    holes = hole_table(order, catalogue, positions)
    return Placed(positions, holes, tuple(check(pattern_of(order, holes))))


def _in_error(findings: tuple[Finding, ...], components: set[str]) -> bool:
    return any(f.severity == "error" and components & set(f.components) for f in findings)


def _settle(
    order: ResolvedOrder,
    catalogue: Catalogue,
    floating: dict[str, Component],
    at_preferred: tuple[Finding, ...],
) -> tuple[dict[str, float], list[Finding]]:
    """Stations of the components that move, and a note for each, and for each that cannot."""
    rows = [
        row
        for component in order.components
        if component.id not in floating
        for row in place_one(component, preferred_station(component, order), order, catalogue)
    ]
    limits = pattern_of(order, rail_features(order, catalogue, placements([]))).limits
    settled: dict[str, float] = {}
    notes: list[Finding] = []
    placed_ids = {component.id for component in order.components if component.id not in floating}
    for component in floating.values():
        wanted = preferred_station(component, order)
        station = _nearest_free(component, wanted, order, catalogue, rows, limits)
        if station is None or station != wanted:
            blocking = _blocking(component.id, placed_ids, at_preferred)
            notes.append(_note(component, order, wanted, station, blocking))
        if station is not None:
            settled[component.id] = station
        rows += place_one(component, wanted if station is None else station, order, catalogue)
        placed_ids.add(component.id)
    return settled, notes


def grid_stations(component: Component, preferred: float) -> Iterator[float]:
    """Stations of a floating component's grid inside its window, nearest to the preferred first, ties rearward."""
    window = component.floating
    if window is None:
        return
    offset = component.position.offset
    ahead = floor((offset - window.least) / window.pitch + 1e-9)
    behind = floor((window.most - offset) / window.pitch + 1e-9)
    steps = sorted(range(-ahead, behind + 1), key=lambda step: (abs(step), -step))
    yield from (preferred + step * window.pitch for step in steps)


def _nearest_free(
    component: Component,
    wanted: float,
    order: ResolvedOrder,
    catalogue: Catalogue,
    placed_rows: list[tuple[int, int, int, float, float]],
    limits: LimitTable,
) -> float | None:
    """The first station of the grid without an error finding against what is placed; None where there is none."""
    stations = list(grid_stations(component, wanted))
    placed = with_liner(order, merge_shared(rail_features(order, catalogue, placements(placed_rows))))
    candidates, group = _candidates(component, stations, order, catalogue)
    both = Pattern(order, stacked([placed, candidates]), limits)
    some = np.arange(len(placed), len(both.table))
    in_error = groups_in_error(both, some, group, np.arange(len(placed)))
    in_error = np.concatenate([in_error, np.zeros(len(stations) - len(in_error), dtype=np.bool_)])
    for index in np.flatnonzero(~in_error).tolist():
        rows = np.concatenate([np.arange(len(placed)), some[group == index]])
        if not _breaks_whole_pattern(component, Pattern(order, both.table.rows(rows), limits)):
            return stations[index]
    return None


def _candidates(
    component: Component, stations: list[float], order: ResolvedOrder, catalogue: Catalogue
) -> tuple[HoleTable, np.ndarray]:
    """Features of the component at each station, with the liner's, and the number of each row's station."""
    per_station = [place_one(component, station, order, catalogue) for station in stations]
    features = int(catalogue.start[catalogue.index[component.id] + 1] - catalogue.start[catalogue.index[component.id]])
    counts = [len(rows) * features for rows in per_station]
    table = rail_features(order, catalogue, placements([row for rows in per_station for row in rows]))
    group = np.repeat(np.arange(len(stations)), counts)
    if order.rail.liner is None:
        return table, group
    # The station's number rides along as the instance, so that the liner's rows keep it.
    numbered = with_liner(order, table.with_columns(instance=group))
    return numbered, numbered.instance


def _breaks_whole_pattern(component: Component, pattern: Pattern) -> bool:
    """Whether a rule over whole patterns finds an error with the component."""
    on_flange = any(group.face != "web" for group in component.groups)
    if not on_flange and not component.mates:
        return False
    return any(
        finding.severity == "error" and component.id in finding.components
        for rule in PATTERN_RULES
        for finding in rule(pattern)
    )


def _blocking(name: str, placed_ids: set[str], findings: tuple[Finding, ...]) -> str:
    """What stands in the way at the preferred station."""
    allowed = placed_ids | {name}
    for finding in findings:
        if finding.severity == "error" and name in finding.components and set(finding.components) <= allowed:
            others = [other for other in finding.components if other != name]
            return f"{finding.rule} with {', '.join(others)}" if others else finding.rule
    return "what was placed before it"


def _note(component: Component, order: ResolvedOrder, wanted: float, station: float | None, blocking: str) -> Finding:
    sides = {"LH": "LH", "RH": "RH"}
    if station is None:
        message = (
            f"{component.id} finds no free station in its window and is left at its preferred {wanted:.1f} mm "
            f"({blocking})"
        )
        remedy = "Widen its window, or leave out one of the options that crowd it."
    else:
        message = f"{component.id} settled at {station:.1f} mm instead of {wanted:.1f} mm ({blocking})"
        remedy = ""
    return Finding(
        rule="placed",
        measure="station",
        severity="note",
        side=sides.get(component.side, ""),
        part="rail",
        face="",
        holes=(),
        components=(component.id,),
        station_mm=wanted if station is None else station,
        value=wanted if station is None else station,
        limit=wanted,
        unit="mm",
        source="common practice",
        message=message,
        remedy=remedy,
    )
