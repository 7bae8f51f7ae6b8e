"""Limits as published, through the limit sets as data."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from railgen.data.library import Library, load_library
from railgen.data.order import Zone
from railgen.rules.forming import welding_near_bend_allowed
from railgen.rules.limits import LimitTable, Quantities, evaluate, inherited_rows, limit_table
from railgen.rules.sizes import punch_pressure


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library(Path(__file__).parent.parent / "hole_libraries")


def quantities(**values: float) -> Quantities:
    """One feature; hole 18, bolt 16, t 8, H 270, tensile 750 unless given."""
    given = {"station": 0.0, "thickness": 8.0, "hole": 18.0, "bolt": 16.0, "depth": 270.0, "tensile": 750.0} | values
    liner = given.pop("liner_thickness", 0.0)
    columns = {name: np.array([value]) for name, value in given.items()}
    return Quantities(liner_thickness=liner, zones={"behind_last_axle": (4000.0, 6000.0)}, **columns)


def error_of(table: LimitTable, rule: str, measure: str, direction: str = "", **values: float) -> float:
    return float(evaluate(table, rule, measure, quantities(**values), direction).error[0])


def warning_of(table: LimitTable, rule: str, measure: str, **values: float) -> float:
    return float(evaluate(table, rule, measure, quantities(**values)).warning[0])


# AISC 360-16 table J3.4M, least edge distance, metric bolts, mm; above M36 1.25 d.
@pytest.mark.parametrize(
    ("bolt", "edge"),
    [
        (16, 22),
        (20, 26),
        (22, 28),
        (24, 30),
        (27, 34),
        (30, 38),
        (36, 46),
        (12, 22),
        (18, 26),
        (40, 50),
        (36.5, 45.625),
    ],
)
def test_edge_distance_after_aisc_metric(library: Library, bolt: float, edge: float) -> None:
    table = limit_table(library, "aisc-360")
    assert error_of(table, "edge-distance", "edge", bolt=bolt, hole=bolt + 2) == pytest.approx(edge, abs=1e-12)


# AISC 360-16 table J3.4, least edge distance, inch bolts; above 1-1/4 in 1.25 d.
@pytest.mark.parametrize(
    ("bolt", "edge"),
    [(0.5, 0.75), (0.625, 0.875), (0.75, 1), (0.875, 1.125), (1, 1.25), (1.125, 1.5), (1.25, 1.625), (1.5, 1.875)],
)
def test_edge_distance_after_aisc_inch(library: Library, bolt: float, edge: float) -> None:
    table = limit_table(library, "aisc-360-inch")
    assert error_of(table, "edge-distance", "edge", bolt=25.4 * bolt) == pytest.approx(25.4 * edge, abs=1e-9)


@pytest.mark.parametrize("bolt", [12.0, 16.0, 20.0])
def test_spacing_after_aisc(library: Library, bolt: float) -> None:
    """AISC 360 J3.3: 2 2/3 d, preferred 3 d, d the bolt's diameter."""
    table = limit_table(library, "aisc-360")
    assert error_of(table, "hole-spacing", "centre", bolt=bolt) == pytest.approx(8 / 3 * bolt)
    assert warning_of(table, "hole-spacing", "centre", bolt=bolt) == pytest.approx(3 * bolt)


@pytest.mark.parametrize("hole", [13.0, 18.0, 22.0])
def test_distances_after_en_1993(library: Library, hole: float) -> None:
    """EN 1993-1-8 table 3.3: e1, e2 = 1.2 d0; p1 = 2.2 d0; p2 = 2.4 d0."""
    table = limit_table(library, "en-1993-1-8")
    assert error_of(table, "edge-distance", "edge", hole=hole) == pytest.approx(1.2 * hole)
    assert error_of(table, "hole-spacing", "centre", "along", hole=hole) == pytest.approx(2.2 * hole)
    assert error_of(table, "hole-spacing", "centre", "across", hole=hole) == pytest.approx(2.4 * hole)


def test_published_body_builder_values(library: Library) -> None:
    """Body builders layout book of a pickup and chassis-cab maker, 2022: 1.5 in to the flange's inside; 1.00 in between
    holes up to 0.625 in, 1.5 x the larger diameter above; 0.5 in to a reinforcement's edge; 3 one above the other;
    0.75 in the largest. Service manual of a medium truck, 2000: 13 mm apart; no holes in flanges."""
    table = limit_table(library, "body-builder")
    assert error_of(table, "bend-clearance", "flange-inside") == pytest.approx(38.1)
    assert error_of(table, "hole-spacing", "ligament", hole=12.0) == pytest.approx(25.4)
    assert error_of(table, "hole-spacing", "ligament", hole=15.875) == pytest.approx(25.4)
    assert error_of(table, "hole-spacing", "ligament", hole=20.0) == pytest.approx(30.0)
    assert error_of(table, "liner-edge", "hole", liner_thickness=5.0) == pytest.approx(12.7)
    assert error_of(table, "liner-edge", "hole", liner_thickness=7.0) == pytest.approx(14.0)
    assert error_of(table, "holes-in-line", "count") == 3
    assert error_of(table, "hole-size", "largest") == pytest.approx(19.05)
    assert error_of(table, "flange-hole", "zone", station=5000.0) == 0


def test_house_limits(library: Library) -> None:
    """Common practice, no source."""
    table = limit_table(library, "house")
    assert error_of(table, "edge-distance", "edge") == pytest.approx(27.0)
    assert warning_of(table, "edge-distance", "edge") == pytest.approx(36.0)
    assert error_of(table, "edge-distance", "rail-end") == 30.0
    assert error_of(table, "hole-spacing", "ligament", thickness=8.0) == 16.0
    assert error_of(table, "hole-spacing", "ligament", thickness=9.5) == 19.0
    assert error_of(table, "hole-size", "least", tensile=700.0) == 8.0
    assert error_of(table, "hole-size", "least", tensile=700.1) == 10.0
    assert error_of(table, "holes-in-line", "count", depth=249.9) == 3
    assert error_of(table, "holes-in-line", "count", depth=250.0) == 4
    assert error_of(table, "net-section", "rail", station=5000.0) == 0.75
    assert error_of(table, "hole-size", "passage", depth=270.0) == pytest.approx(54.0)


def test_a_set_replaces_the_measures_it_lists_and_keeps_the_others(library: Library) -> None:
    base, derived = (inherited_rows(library.limit_sets, name) for name in ("aisc-360", "aisc-360-inch"))
    assert derived["hole-spacing", "centre"] == base["hole-spacing", "centre"]
    assert derived["edge-distance", "edge"] != base["edge-distance", "edge"]
    assert set(inherited_rows(library.limit_sets, "basics")) <= set(base)


def test_a_zone_replaces_rows_between_its_stations_with_reason_and_approver(library: Library) -> None:
    row = {"rule": "edge-distance", "measure": "edge", "error": 1.2, "of": "hole", "source": "trial"}
    zone = Zone.model_validate(
        {"from": 100.0, "to": 200.0, "reason": "tow bracket", "approver": "chassis office", "rows": [row]}
    )
    table = limit_table(library, "house", (zone,))
    assert error_of(table, "edge-distance", "edge", station=99.9) == pytest.approx(27.0)
    for station in (100.0, 200.0):
        assert error_of(table, "edge-distance", "edge", station=station) == pytest.approx(21.6)
        limits = evaluate(table, "edge-distance", "edge", quantities(station=station))
        source = limits.held[int(limits.error_source[0])].source
        assert "tow bracket" in source
        assert "chassis office" in source
    assert error_of(table, "edge-distance", "rail-end", station=150.0) == 30.0


@pytest.mark.parametrize(
    ("radius", "thickness", "allowed"),
    [
        (20, 8, True),
        (12, 8, True),
        (11.9, 8, False),
        (16, 10, False),
        (20, 10, True),
        (24, 9.5, True),
        (26, 10.5, False),
    ],
)
def test_welding_near_a_bend(radius: float, thickness: float, allowed: bool) -> None:
    """EN 1993-1-8 table 4.2, fatigue predominating: to 10 mm where r/t >= 2, to 8 mm where r/t >= 1.5."""
    assert welding_near_bend_allowed(radius, thickness) is allowed


def test_pressure_on_a_punch() -> None:
    """The force pi d t tau on the punch's end pi d2 / 4: 4 x 562.5 x 8 / 18 = 1000 MPa, by hand."""
    assert float(punch_pressure(np.array([562.5]), np.array([8.0]), np.array([18.0]))[0]) == pytest.approx(1000.0)
