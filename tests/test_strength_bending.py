"""Bending: stress on the net section at lines of holes, the lowest margin, and the rule's findings."""

from __future__ import annotations

import numpy as np
import pytest
from strength_cases import component, gross_modulus, planned, web_holes, without_holes

from railgen.frame.taper import TaperShape
from railgen.holes.table import FloatArray, IntArray
from railgen.layout.plan import SerialPlan
from railgen.rules.pattern import Pattern, pattern_of
from railgen.rules.strength import axle_loads, bending
from railgen.strength.bending import RailBending, bending_of, modulus_along, net_section_stress
from railgen.strength.loads import rail_loads

BODY = {"dynamic_factor": 2.0, "body_mass": 20_000, "body_start": 1500, "body_end": 6200}
LINES = (1800.0, 2500.0, 2600.0, 3300.0)
BRACKET = component("bracket", 0, groups=[web_holes(*((x, 100.0) for x in LINES))])


def halved_at(serial: SerialPlan, *lines: float, share: float = 0.5) -> object:
    """A section modulus that holes at these stations, and nowhere else, reduce to a share."""
    modulus = gross_modulus(serial)

    def at(side: IntArray, station: FloatArray) -> FloatArray:
        hit = np.any([np.abs(station - line) < 1e-6 for line in lines], axis=0)
        return np.where(hit, share * modulus, modulus)

    return at


def checked(serial: SerialPlan, modulus_at: object, lines: tuple[FloatArray, ...] = ()) -> tuple[RailBending, ...]:
    return bending_of(serial.order, serial.placements, serial.holes, modulus_at, lines)  # type: ignore[arg-type]


def pattern(serial: SerialPlan) -> Pattern:
    return pattern_of(serial.order, serial.holes)


def test_resisting_moment_of_a_published_frame_table() -> None:
    # Truck-mounted crane service manual 600H: 15.9 in3 x 110 000 psi = 1 749 000 in-lb.
    assert net_section_stress(np.array([1_749_000.0]), np.array([15.9])) == pytest.approx([110_000], rel=1e-6)


def test_stress_resistance_and_margin_agree() -> None:
    serial = planned([BRACKET], loads=BODY)
    for rail in checked(serial, halved_at(serial, 2500.0)):
        moment = rail.loads.diagram.moment_at(rail.station)
        assert rail.stress == pytest.approx(np.abs(moment) / rail.modulus)
        assert rail.resistance == pytest.approx(rail.modulus * serial.order.rail_steel.yield_strength)
        loaded = rail.stress > 0
        expected = rail.resistance[loaded] / np.abs(moment[loaded]) - 1
        assert rail.margin[loaded] == pytest.approx(expected)


def test_the_lowest_margin_is_at_the_weakest_line() -> None:
    serial = planned([BRACKET], loads=BODY)
    for rail in checked(serial, halved_at(serial, *LINES)):
        assert set(LINES) <= set(rail.station.tolist())
        worst = max(LINES, key=lambda line: abs(rail.loads.diagram.moment_at(np.array([line]))[0]))
        assert rail.station[rail.lowest] == worst


def test_without_holes_the_lowest_margin_is_where_the_moment_is_greatest() -> None:
    serial = planned([BRACKET], loads=BODY)
    for rail in checked(serial, without_holes(serial)):
        dense = rail.loads.diagram.moment_at(np.linspace(-1200, 6500, 4001))
        assert abs(rail.moment[rail.lowest]) >= np.abs(dense).max() - 1e-6


def test_lines_between_the_holes_are_looked_at_where_given() -> None:
    serial = planned([BRACKET], loads=BODY)
    between = 2550.0
    rails = checked(serial, halved_at(serial, between, share=0.2), (np.array([between]), np.array([between])))
    assert [rail.station[rail.lowest] for rail in rails] == [between, between]


def test_no_loads_no_bending() -> None:
    serial = planned([BRACKET])
    assert checked(serial, without_holes(serial)) == ()
    assert list(bending(pattern(serial), ())) == []


def test_where_there_is_a_liner_the_weaker_steel_is_held_to() -> None:
    liner = {"start": 500, "end": 2550, "section": "280 x 75 x 6.5", "steel": "S500MC"}
    serial = planned([BRACKET], loads=BODY, liner=liner)
    rail = checked(serial, without_holes(serial))[0]
    lined = (rail.station >= 500) & (rail.station <= 2550)
    assert set(rail.yield_strength[lined]) == {serial.order.liner_steel.yield_strength}  # type: ignore[union-attr]
    assert set(rail.yield_strength[~lined]) == {serial.order.rail_steel.yield_strength}
    # Just outside its ends the rail is alone.
    assert any(500 - 0.01 < x < 500 for x in rail.station)
    assert any(2550 < x < 2550 + 0.01 for x in rail.station)


def test_a_taper_is_looked_at_along_its_whole_length() -> None:
    taper = {"end_depth": 230, "slit_depth": 70, "root_gap": 3, "trim": 15, "relief_diameter": 24}
    serial = planned([BRACKET], loads=BODY, taper={"start": 5400} | taper)
    assert isinstance(serial.order.rail.taper, TaperShape)
    station = checked(serial, without_holes(serial))[0].station
    tail = np.concatenate([station[station >= 5400], [6500]])
    assert np.diff(tail).max() <= 50 + 1e-9


class Constant:
    """A section that is the same everywhere."""

    def __init__(self, modulus: float) -> None:
        self.modulus = modulus

    def least_moduli(self, side: IntArray, station: FloatArray) -> FloatArray:
        return np.full(len(station), self.modulus)


def test_the_liner_helps_between_its_ends() -> None:
    liner = {"start": 500, "end": 2550, "section": "280 x 75 x 6.5", "steel": "S700MC"}
    rail = planned([BRACKET], loads=BODY, liner=liner).order.rail
    station = np.array([499.9, 500, 1800, 2550, 2550.1])
    both = modulus_along(rail, Constant(3e5), Constant(5e5))
    assert both(np.zeros(5, dtype=np.int64), station).tolist() == [3e5, 5e5, 5e5, 5e5, 3e5]
    alone = modulus_along(rail, Constant(3e5))
    assert alone(np.zeros(5, dtype=np.int64), station).tolist() == [3e5] * 5


def weak(serial: SerialPlan, utilisation: float, *lines: float) -> object:
    """A section modulus that brings each of these lines on the LH rail to a utilisation, and leaves the rest whole."""
    rail = rail_loads(serial.order, serial.placements, serial.holes)[0]
    moments = np.abs(rail.diagram.moment_at(np.array(lines)))
    needed = moments / (utilisation * serial.order.rail_steel.yield_strength)
    gross = 100 * gross_modulus(serial)

    def at(side: IntArray, station: FloatArray) -> FloatArray:
        modulus = np.full(len(station), gross)
        for line, value in zip(lines, needed, strict=True):
            modulus[(side == 0) & (np.abs(station - line) < 1e-6)] = value
        return modulus

    return at


@pytest.mark.parametrize(
    ("utilisation", "severity"),
    [(0.67 + 1e-5, "error"), (0.67, "warning"), (0.67 - 1e-5, "warning"), (0.60 + 1e-5, "warning"), (0.60, None)],
)
def test_house_limits_of_bending(utilisation: float, severity: str | None) -> None:
    # House limits, common practice: net-section stress over yield 0.67, warning above 0.60.
    serial = planned([BRACKET], loads=BODY)
    found = list(bending(pattern(serial), checked(serial, weak(serial, utilisation, 2600.0))))
    assert [finding.severity for finding in found] == ([] if severity is None else [severity])
    for finding in found:
        assert (finding.rule, finding.measure, finding.unit) == ("bending", "stress", "ratio")
        assert (finding.side, finding.part, finding.station_mm) == ("LH", "rail", 2600.0)
        assert finding.value == pytest.approx(utilisation, abs=1e-9)
        assert finding.limit == (0.67 if severity == "error" else 0.60)
        assert finding.holes == ("bracket.1.c",)
        assert finding.components == ("bracket",)


def test_neighbouring_lines_that_break_give_one_finding_with_the_worst_value() -> None:
    serial = planned([BRACKET], loads=BODY)
    rails = checked(serial, weak(serial, 0.8, 1800.0, 2500.0))
    assert [finding.station_mm for finding in bending(pattern(serial), rails)] == [1800.0]
    apart = checked(serial, weak(serial, 0.8, 1800.0, 3300.0))
    assert [finding.station_mm for finding in bending(pattern(serial), apart)] == [1800.0, 3300.0]


def test_a_zone_of_the_order_replaces_the_limit_there() -> None:
    row = {"rule": "bending", "measure": "stress", "error": 0.9, "unit": "ratio", "source": "common practice"}
    zone = {"from": 2400, "to": 2700, "reason": "short stroke", "approver": "J. Doe", "rows": [row]}
    serial = planned([BRACKET], loads=BODY, limits={"set": "house", "zones": [zone]})
    at = pattern(serial)
    assert list(bending(at, checked(serial, weak(serial, 0.85, 2600.0)))) == []
    (finding,) = bending(at, checked(serial, weak(serial, 0.95, 2600.0)))
    assert finding.limit == 0.9
    assert "short stroke" in finding.source
    assert "J. Doe" in finding.source
    (outside,) = bending(at, checked(serial, weak(serial, 0.7, 3300.0)))
    assert outside.limit == 0.67


def test_axle_loads_are_notes() -> None:
    serial = planned([BRACKET], loads=BODY | {"front_axle_load": 60.0, "rear_axle_load": 150.0})
    rails = rail_loads(serial.order, serial.placements, serial.holes)
    front, rear = axle_loads(pattern(serial), rails)
    assert {front.severity, rear.severity} == {"note"}
    assert front.value == pytest.approx((rails[0].front + rails[1].front) / 1e3)
    assert (rear.limit, rear.unit, rear.station_mm) == (150.0, "kN", 5000.0)
