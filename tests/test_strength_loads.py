"""Loads of a rail: masses on their own side, half a body each, the bogie brought in at its hangers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strength_cases import component, planned, web_holes

from railgen.frame.measure import GRAVITY, part_measures
from railgen.holes.shapes import areas
from railgen.layout.plan import SerialPlan
from railgen.strength.loads import RailLoads, bogie_forces, compare_axle_loads, rail_loads

LOADS = {"dynamic_factor": 1.0}
WHEELBASE = 5000.0


def loaded(serial: SerialPlan) -> tuple[RailLoads, ...]:
    return rail_loads(serial.order, serial.placements, serial.holes)


def test_no_loads_in_the_order_means_no_check() -> None:
    assert loaded(planned([component("tank", 2000, mass=80)])) == ()


def test_a_rail_alone_carries_its_own_mass() -> None:
    serial = planned([component("bracket", 2000, groups=[web_holes((0, 40), (0, -40))])], loads=LOADS)
    for rail in loaded(serial):
        own = serial.holes.rows((serial.holes.side == rail.side) & (serial.holes.part == 0))
        opened = float(areas(own, np.full(len(own), 9.5)).sum())
        mass = part_measures(serial.order.rail, "rail", opened, 0.0).mass
        assert rail.loads.total == pytest.approx(mass * GRAVITY)
        assert rail.front + rail.rear == pytest.approx(mass * GRAVITY)
        # Its middle is 1200 mm ahead of the front axle and 1500 mm behind the rear one: lever rule.
        assert rail.rear == pytest.approx(mass * GRAVITY * (6500 - 1200) / 2 / WHEELBASE)


def test_a_sides_components_load_that_sides_rail() -> None:
    parts = [
        component("tank", 2000, side="LH", mass=100),
        component("box", 1000, side="RH", mass=40),
        component("member", 3000, mass=10),
    ]
    bare = loaded(planned([component("bracket", 0)], loads=LOADS))
    left, right = loaded(planned(parts, loads=LOADS))
    assert left.loads.total - bare[0].loads.total == pytest.approx((100 + 10) * GRAVITY)
    assert right.loads.total - bare[1].loads.total == pytest.approx((40 + 10) * GRAVITY)
    assert left.rear - bare[0].rear == pytest.approx((100 * 2000 + 10 * 3000) * GRAVITY / WHEELBASE)


def test_each_rail_bears_half_a_body() -> None:
    body = LOADS | {"body_mass": 8000, "body_start": 1500, "body_end": 6300}
    bare = loaded(planned([component("bracket", 0)], loads=LOADS))
    for rail, alone in zip(loaded(planned([component("bracket", 0)], loads=body)), bare, strict=True):
        assert rail.loads.total - alone.loads.total == pytest.approx(4000 * GRAVITY)
        assert rail.rear - alone.rear == pytest.approx(4000 * GRAVITY * 3900 / WHEELBASE)


def test_the_dynamic_factor_multiplies_the_diagram_and_no_reaction_at_rest() -> None:
    parts = [component("tank", 2000, mass=100)]
    rest, dynamic = (loaded(planned(parts, loads={"dynamic_factor": factor}))[0] for factor in (1.0, 2.5))
    stations = np.linspace(-1000, 6000, 40)
    assert dynamic.diagram.moment_at(stations) == pytest.approx(2.5 * rest.diagram.moment_at(stations))
    assert (dynamic.front, dynamic.rear) == pytest.approx((rest.front, rest.rear))


@pytest.mark.parametrize("taper", [False, True])
def test_liner_and_taper_keep_their_mass(taper: bool) -> None:
    entries: dict[str, object] = {"loads": LOADS}
    if taper:
        entries["taper"] = {
            "start": 5400,
            "end_depth": 230,
            "slit_depth": 70,
            "root_gap": 3,
            "trim": 15,
            "relief_diameter": 24,
        }
    else:
        entries["liner"] = {"start": 500, "end": 2500, "section": "280 x 75 x 6.5", "steel": "S700MC"}
    serial = planned([component("bracket", 0)], **entries)
    parts = ("rail",) if taper else ("rail", "liner")
    mass = sum(part_measures(serial.order.rail, part, 0.0, 0.0).mass for part in parts)
    assert loaded(serial)[0].loads.total == pytest.approx(mass * GRAVITY)


def hangers(*stations: float) -> list[dict[str, object]]:
    return [component(f"hanger-{n}", x, kind="hanger") for n, x in enumerate(stations)]


@pytest.mark.parametrize(
    ("spread", "stations", "shares"),
    [
        # No hanger, or front spring hangers only: the centre of the bogie.
        (1370.0, (), {5000: 1}),
        (1370.0, (-600, 700), {5000: 1}),
        # A trunnion: everything at its one hanger.
        (1370.0, (-600, 5000), {5000: 1}),
        # One spring on one axle, its hangers 700 ahead and 800 behind: lever rule.
        (0.0, (4300, 5800), {4300: 8 / 15, 5800: 7 / 15}),
        # Two springs with an equaliser between: a quarter, a half, a quarter.
        (1400.0, (3600, 5000, 6400), {3600: 0.25, 5000: 0.5, 6400: 0.25}),
        # Two springs, each with two hangers of its own, the axles 700 and 690 from them: lever rule.
        (
            1400.0,
            (3600, 4990, 5010, 6400),
            {3600: 345 / 1390, 4990: 350 / 1390, 5010: 350 / 1390, 6400: 345 / 1390},
        ),
        # Trailing arms: no hanger behind the last axle, so from the centre to its two neighbours.
        (1370.0, (3835, 5205), {3835: 205 / 1370, 5205: 1165 / 1370}),
        # All hangers ahead of the bogie's centre bear nothing of it.
        (1370.0, (3400, 4400), {5000: 1}),
    ],
)
def test_the_rear_reaction_enters_at_the_hangers(
    spread: float, stations: tuple[float, ...], shares: dict[float, float]
) -> None:
    serial = planned(hangers(*stations) or [component("none", 0)], axle_spread=spread, loads=LOADS)
    rail = loaded(serial)[0]
    forces = rail.supports.force[rail.supports.station > 0] / rail.rear
    found = dict(zip(rail.supports.station[rail.supports.station > 0].tolist(), forces.tolist(), strict=True))
    assert found == pytest.approx({float(x): share for x, share in shares.items()})


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(3000, 7000), max_size=6),
    st.sampled_from([0.0, 1310.0, 1450.0]),
    st.floats(1000, 90_000),
)
def test_the_resultant_stays_at_the_bogies_centre(stations: list[int], spread: float, reaction: float) -> None:
    axles = np.unique([5000 - spread / 2, 5000 + spread / 2])
    forces = bogie_forces(axles, 5000.0, np.array(stations, dtype=float), reaction)
    assert forces.force.sum() == pytest.approx(reaction)
    assert (forces.force * forces.station).sum() == pytest.approx(reaction * 5000)
    assert forces.force.min() >= -1e-9


def test_given_axle_loads_are_compared_and_change_nothing() -> None:
    parts = [component("tank", 2000, mass=500)]
    plain = loaded(planned(parts, loads=LOADS))
    serial = planned(parts, loads=LOADS | {"front_axle_load": 60.0, "rear_axle_load": 90.0})
    rails = loaded(serial)
    assert rails[0].diagram.moment == pytest.approx(plain[0].diagram.moment)
    front, rear = compare_axle_loads(serial.order, rails)
    assert (front.given, rear.given) == (60.0, 90.0)
    assert front.computed + rear.computed == pytest.approx(sum(rail.loads.total for rail in rails) / 1e3)
    assert rear.difference == pytest.approx(90 - (rails[0].rear + rails[1].rear) / 1e3)
