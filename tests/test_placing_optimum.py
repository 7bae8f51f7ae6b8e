"""Floats of whole orders settled together, held to the rules and to every cheaper combination of stations."""

from __future__ import annotations

from itertools import product

import pytest
from oracle_placing import settle_slowly
from placing_world import catalogue_of, some_orders

from railgen.data.findings import Finding
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import hole_table
from railgen.layout.place import place
from railgen.layout.plan import ResolvedOrder
from railgen.placing.floats import grid_stations
from railgen.placing.optimum import Settling, settle
from railgen.rules.check import every_finding
from railgen.rules.pattern import pattern_of

MOST_TRIED = 15
"""Cheaper combinations of a cluster that are tried one by one."""


def floats_of(order: ResolvedOrder) -> dict[str, float]:
    """Weights of an order's floats."""
    return {c.id: c.floating.weight for c in order.components if c.floating}


def errors_with(order: ResolvedOrder, catalogue: Catalogue, stations: dict[str, float]) -> list[Finding]:
    """Error findings about the floats where they stand."""
    positions = place(order, catalogue, stations)
    pattern = pattern_of(order, hole_table(order, catalogue, positions), positions)
    floats = floats_of(order)
    return [f for f in every_finding(pattern) if f.severity == "error" and not floats.keys().isdisjoint(f.components)]


def cost_of(order: ResolvedOrder, settling: Settling, stations: dict[str, float]) -> float:
    return sum(weight * abs(stations[name] - settling.wanted[name]) for name, weight in floats_of(order).items())


@pytest.mark.parametrize("seed", [3, 4])
def test_floats_stand_on_their_grids_without_an_error_and_are_told(seed: int) -> None:
    catalogue, moved = catalogue_of(), 0
    for order in some_orders(catalogue, 6, seed):
        settling = settle(order, catalogue)
        for component in order.components:
            if component.floating:
                wanted, station = settling.wanted[component.id], settling.stations[component.id]
                assert station in list(grid_stations(component, wanted))
        notes = {f.components[0]: f for f in settling.placed.findings if f.rule == "placed"}
        differ = {name for name, x in settling.stations.items() if x != settling.wanted[name]}
        assert set(notes) == differ | set(settling.unsettled)
        assert all(notes[name].value == settling.stations[name] for name in differ)
        moved += len(differ)
        if not settling.unsettled and settling.rounds < 12:
            assert not errors_with(order, catalogue, settling.stations)
    assert moved > 5


def cheaper(order: ResolvedOrder, settling: Settling, names: tuple[str, ...]) -> list[dict[str, float]]:
    """Combinations of some floats' stations that cost less than where they stand."""
    weights, components = floats_of(order), {c.id: c for c in order.components}
    cost = sum(weights[n] * abs(settling.stations[n] - settling.wanted[n]) for n in names)
    grids = []
    for name in names:
        wanted = settling.wanted[name]
        grids.append([x for x in grid_stations(components[name], wanted) if weights[name] * abs(x - wanted) < cost])
    found = []
    for stations in product(*grids):
        if sum(weights[n] * abs(x - settling.wanted[n]) for n, x in zip(names, stations, strict=True)) < cost - 1e-6:
            found.append(dict(zip(names, stations, strict=True)))
    return found


def test_no_cheaper_combination_stands() -> None:
    """Where a cluster is proved, every cheaper combination of its floats is in error with the others as they stand.

    Others that would have to make room might be the reason; then their cost is what the search has weighed.
    """
    catalogue, tried, clusters = catalogue_of(), 0, 0
    for order in some_orders(catalogue, 12, 8):
        settling = settle(order, catalogue)
        if settling.unsettled or not settling.is_proved:
            continue
        for cluster in settling.clusters:
            combinations = cheaper(order, settling, cluster.floats) if len(cluster.floats) <= 2 else []
            if 0 < len(combinations) <= MOST_TRIED:
                clusters += 1
                for stations in combinations:
                    tried += 1
                    at = settling.stations | stations
                    wrong = {name for f in errors_with(order, catalogue, at) for name in f.components}
                    assert not wrong.isdisjoint(cluster.floats), (order.serial, stations)
    assert clusters >= 2
    assert tried >= 10


@pytest.mark.parametrize("seed", [1, 2])
def test_never_dearer_than_one_after_the_other(seed: int) -> None:
    catalogue, compared = catalogue_of(), 0
    for order in some_orders(catalogue, 6, seed):
        slowly = {name: station for name, (station, _) in settle_slowly(order, catalogue).items()}
        in_turn = {name: station for name, station in slowly.items() if station is not None}
        settling = settle(order, catalogue)
        if len(in_turn) < len(slowly) or errors_with(order, catalogue, in_turn):
            continue
        compared += 1
        assert not settling.unsettled
        assert cost_of(order, settling, settling.stations) <= cost_of(order, settling, in_turn) + 1e-6
        assert settling.bound <= cost_of(order, settling, in_turn) + 1e-6
    assert compared >= 3


def test_what_leaves_a_float_no_station_is_named() -> None:
    """Without any one of the components named, those that are left can stand; with them none can."""
    catalogue, seen = catalogue_of(), 0
    for order in some_orders(catalogue, 20, 0):
        if order.serial not in ("T-900012", "P-900011"):
            continue
        settling = settle(order, catalogue)
        for name, conflict in settling.unsettled.items():
            assert conflict is not None
            notes = [f.message for f in settling.placed.findings if f.rule == "placed" and f.components == (name,)]
            assert "finds no free station in its window" in notes[0]
            if len(conflict.components) > 1:
                seen += 1
                assert all(other in notes[0] for other in conflict.components)
    assert seen


def test_the_same_order_settles_the_same_way_whatever_came_before() -> None:
    catalogue = catalogue_of()
    orders = some_orders(catalogue, 6, 9)
    first = [settle(order, catalogue) for order in orders]
    again = [settle(order, catalogue) for order in reversed(orders)][::-1]
    assert [s.stations for s in first] == [s.stations for s in again]
    assert [s.placed.findings for s in first] == [s.placed.findings for s in again]
