"""Floats settle where trying every station of their grids would settle them, and notes say truly why they moved."""

from __future__ import annotations

from pathlib import Path

import pytest
from greedy import place_greedily, settle
from oracle_placing import settle_slowly
from placing_world import catalogue_of, some_orders

from railgen.data.limit_sets import LimitRow
from railgen.data.order import Zone
from railgen.data.order_files import read_orders
from railgen.layout.catalogue import Catalogue
from railgen.layout.place import preferred_station
from railgen.layout.resolve import resolve
from railgen.placing.trial import errors_about

SAMPLES = Path(__file__).parent.parent / "samples"
BATCH = 4
DEMO_BATCHES, ODD_BATCHES = 3, 1


def disagreements(catalogue: Catalogue, seed: int) -> tuple[list[str], int, int]:
    """What the placers do not agree about, and how many floats kept their station, or moved, or found none."""
    lines, kept, moved = [], 0, 0
    for order in some_orders(catalogue, BATCH, seed):
        settled, notes = settle(order, catalogue)
        messages = {note.components[0]: note.message for note in notes}
        slowly = settle_slowly(order, catalogue)
        if any(station is None for station, _ in slowly.values()):
            continue  # what could not be placed may be relieved by moving what stood before it
        for component in order.components:
            if not component.floating:
                continue
            wanted = preferred_station(component, order)
            station, blocked = slowly[component.id]
            if settled[component.id] != station:
                lines.append(f"{order.serial} {component.id}: {settled[component.id]} instead of {station}")
                break  # what comes after it is placed against something else
            if station == wanted:
                kept += 1
                if component.id in messages:
                    lines.append(f"{order.serial}: {messages[component.id]}, but its station is free")
            else:
                moved += 1
                reasons = [f"({rule} with {other})" if other else f"({rule})" for rule, other in sorted(blocked)]
                if not any(reason in messages.get(component.id, "") for reason in reasons):
                    lines.append(f"{order.serial}: {messages.get(component.id)}, but {reasons}")
    return lines, kept, moved


@pytest.mark.parametrize("seed", range(DEMO_BATCHES))
def test_demo_orders_settle_as_if_every_station_were_tried(seed: int) -> None:
    lines, kept, moved = disagreements(catalogue_of(), seed)
    assert not lines, "\n".join(lines)
    assert kept > 10
    assert moved > 0


@pytest.mark.parametrize("odd", range(ODD_BATCHES))
def test_odd_components_settle_as_if_every_station_were_tried(odd: int) -> None:
    lines, _, _ = disagreements(catalogue_of(odd), odd)
    assert not lines, "\n".join(lines)


def test_findings_are_those_of_the_settled_pattern() -> None:
    """A float that found a free station is in no error with what was placed before it."""
    catalogue = catalogue_of()
    order = next(order for order in some_orders(catalogue, 10, 3) if settle(order, catalogue)[1])
    placed = place_greedily(order, catalogue)
    again = place_greedily(order, catalogue)
    assert placed.findings == again.findings
    moved = {note.components[0]: note.value for note in placed.findings if note.rule == "placed"}
    names = catalogue.names.components
    for name, station in moved.items():
        rows = placed.placements.component == names.index(name)
        assert station in placed.placements.station[rows]


def test_a_float_leaves_a_stretch_where_its_holes_take_too_much_of_the_section() -> None:
    """Net section is told of by no interval: the float is in error where it settles first, and tried again."""
    catalogue = catalogue_of()
    given = next(read.order for read in read_orders([SAMPLES / "P-1001.toml"]) if read.order)
    plain = resolve(given, catalogue.library)
    name, at = next(iter(settle(plain, catalogue)[0].items()))
    row = LimitRow.model_validate({"rule": "net-section", "measure": "rail", "error": 0.999, "source": "test"})
    zone = Zone(start=at - 90.0, end=at + 90.0, reason="test", approver="test", rows=(row,))
    strict = given.model_copy(update={"limits": given.limits.model_copy(update={"zones": (zone,)})})
    order = resolve(strict, catalogue.library)
    settled, notes = settle(order, catalogue)
    assert settled[name] != at
    assert any("net-section" in note.message for note in notes if name in note.components)
    placed = place_greedily(order, catalogue)
    assert not errors_about(name, placed.findings)


def test_no_float_of_the_bank_is_in_an_error() -> None:
    """Every ninth serial, and one whose urea tank finds room only where another float makes it."""
    catalogue = catalogue_of()
    for number, read in enumerate(read_orders([SAMPLES / "bank-200.csv"])):
        if read.order is None or (number % 9 and read.order.serial != "P-1187"):
            continue
        order = resolve(read.order, catalogue.library)
        placed = place_greedily(order, catalogue)
        for component in order.components:
            if component.floating:
                assert not errors_about(component.id, placed.findings), (order.serial, component.id)
