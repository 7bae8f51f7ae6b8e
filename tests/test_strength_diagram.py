"""Shear and moment: closed forms of beam theory, and a general-purpose frame library as the oracle."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from Pynite import FEModel3D

from railgen.strength.diagram import BeamLoads, Diagram, PointForces, diagram_of, drawn, reactions

Uniform = tuple[float, float, float]


def beam(points: list[tuple[float, float]], uniforms: list[Uniform]) -> BeamLoads:
    """Downward loads: (station, force) and (start, end, force per length)."""
    station, force = np.array(points, dtype=float).reshape(-1, 2).T
    start, end, per_length = np.array(uniforms, dtype=float).reshape(-1, 3).T
    return BeamLoads(station, force, start, end, per_length)


def solved(loads: BeamLoads, ahead: float, behind: float) -> Diagram:
    front, rear = reactions(loads, ahead, behind)
    return diagram_of(loads, PointForces(np.array([ahead, behind]), np.array([front, rear])))


def at(diagram: Diagram, *stations: float) -> list[float]:
    return diagram.moment_at(np.array(stations)).tolist()


def test_point_load_between_the_supports() -> None:
    # Closed form: M = P a b / L under the load, P b / L and P a / L at the supports.
    diagram = solved(beam([(1500, 12_000)], []), 0, 5000)
    assert at(diagram, 1500) == pytest.approx([12_000 * 1500 * 3500 / 5000])
    assert at(diagram, 750) == pytest.approx([12_000 * 3500 / 5000 * 750])
    assert diagram.shear_at(np.array([100.0, 4000.0])) == pytest.approx([8400, -3600])


def test_uniform_load_over_the_whole_span() -> None:
    # Closed form: w L2 / 8 at mid-span, w x (L - x) / 2 elsewhere.
    diagram = solved(beam([], [(0, 4000, 2.5)]), 0, 4000)
    assert diagram.turning_stations == pytest.approx([2000])
    assert at(diagram, 2000) == pytest.approx([2.5 * 4000**2 / 8])
    assert at(diagram, 900) == pytest.approx([2.5 * 900 * 3100 / 2])


def test_uniform_load_over_part_of_the_span() -> None:
    # Closed form: with w from 0 to a, R = w a (2 L - a) / (2 L), greatest moment R2 / (2 w) at x = R / w.
    span, loaded, force = 6000.0, 2400.0, 3.0
    first = force * loaded * (2 * span - loaded) / (2 * span)
    diagram = solved(beam([], [(0, loaded, force)]), 0, span)
    assert diagram.turning_stations == pytest.approx([first / force])
    assert at(diagram, first / force) == pytest.approx([first**2 / (2 * force)])


def test_overhangs_on_both_ends() -> None:
    # Closed form: w c2 / 2 over each support (hogging), w (L2 - 4 c2) / 8 at mid-span for equal overhangs c.
    span, over, force = 4000.0, 1200.0, 1.8
    diagram = solved(beam([], [(-over, span + over, force)]), 0, span)
    assert at(diagram, 0, span) == pytest.approx([-force * over**2 / 2] * 2)
    assert at(diagram, span / 2) == pytest.approx([force * (span**2 - 4 * over**2) / 8])


def test_point_load_on_an_overhang_lifts_the_far_support() -> None:
    # Closed form: reaction - P c / L at the far support, - P c over the near one.
    loads = beam([(5800, 9000)], [])
    assert reactions(loads, 0, 5000) == pytest.approx((-9000 * 800 / 5000, 9000 * 5800 / 5000))
    assert at(solved(loads, 0, 5000), 5000, 2500, 5800) == pytest.approx([-9000 * 800, -9000 * 400, 0], abs=1e-6)


def test_nothing_is_left_beyond_the_ends() -> None:
    diagram = solved(beam([(100, 5), (5200, 7)], [(-300, 900, 0.4)]), 0, 5000)
    assert at(diagram, -301, 5201, -300, 5200) == pytest.approx([0, 0, 0, 0], abs=1e-9)
    assert diagram.shear[-1] == pytest.approx(0, abs=1e-9)


def test_supports_must_be_in_order() -> None:
    with pytest.raises(ValueError, match="must lie behind"):
        reactions(beam([(1, 1)], []), 500, 500)


LOADS = st.tuples(
    st.lists(st.tuples(st.integers(-1500, 6500), st.integers(1, 20_000)), max_size=12),
    st.lists(st.tuples(st.integers(-1500, 3000), st.integers(100, 3500), st.floats(0.1, 5)), min_size=1, max_size=4),
)


@settings(max_examples=40, deadline=None)
@given(LOADS)
def test_moment_is_the_plain_sum_of_all_loads_ahead(
    case: tuple[list[tuple[int, int]], list[tuple[int, int, float]]],
) -> None:
    points, uniforms = case
    spread = [(start, start + length, force) for start, length, force in uniforms]
    loads = beam(points, spread)
    front, rear = reactions(loads, 0, 4800)
    diagram = solved(loads, 0, 4800)
    for station in (-400.0, 333.0, 2400.0, 4799.0, 5600.0):
        moment = sum(force * max(station - x, 0) for x, force in ((0, front), (4800, rear)))
        moment -= sum(force * max(station - x, 0) for x, force in points)
        for start, end, force in spread:
            reach = max(min(station, end) - start, 0)
            moment -= force * reach * (station - start - reach / 2)
        assert at(diagram, station)[0] == pytest.approx(moment, rel=1e-9, abs=1.0)


@settings(max_examples=30, deadline=None)
@given(LOADS)
def test_no_station_is_worse_than_those_named_as_extreme(
    case: tuple[list[tuple[int, int]], list[tuple[int, int, float]]],
) -> None:
    points, uniforms = case
    diagram = solved(beam(points, [(x, x + length, force) for x, length, force in uniforms]), 0, 4800)
    between = diagram.moment_at(np.linspace(diagram.station[0], diagram.station[-1], 501))
    extreme = diagram.moment_at(diagram.stations)
    slack = 1e-6 * (1 + np.abs(extreme).max())
    assert between.max() <= extreme.max() + slack
    assert between.min() >= extreme.min() - slack


def test_against_a_frame_library() -> None:
    """A rail as it comes: overhangs, twelve point loads, three uniform ones. PyNiteFEA to 0.1 % of the greatest."""
    rng = np.random.default_rng(7)
    points = [
        (float(x), float(f)) for x, f in zip(rng.uniform(-1000, 6200, 12), rng.uniform(50, 4000, 12), strict=True)
    ]
    uniforms = [(-1200.0, 6500.0, 0.33), (1600.0, 6300.0, 9.7), (500.0, 2500.0, 0.2)]
    diagram = solved(beam(points, uniforms), 0, 4800)
    member = _frame_member(points, uniforms, [0.0, 4800.0], (-1200.0, 6500.0))
    stations = np.linspace(-1150, 6450, 153)
    moment = np.array([-member.moment("Mz", float(x) + 1200) for x in stations])
    shear = np.array([member.shear("Fy", float(x) + 1200) for x in stations])
    assert diagram.moment_at(stations) == pytest.approx(moment, abs=1e-3 * np.abs(moment).max())
    assert diagram.shear_at(stations) == pytest.approx(shear, abs=1e-3 * np.abs(shear).max())
    # Its own extremes, found by its own search.
    assert diagram.moment_at(diagram.stations).max() == pytest.approx(-member.min_moment("Mz"), rel=1e-3)
    assert diagram.moment_at(diagram.stations).min() == pytest.approx(-member.max_moment("Mz"), rel=1e-3)


def _frame_member(
    points: list[tuple[float, float]], uniforms: list[Uniform], supports: list[float], span: tuple[float, float]
) -> object:
    start, end = span
    model = FEModel3D()
    for name, station in [("start", start), ("end", end), *((f"s{n}", x) for n, x in enumerate(supports))]:
        model.add_node(name, station - start, 0, 0)
    model.add_material("steel", 210_000, 81_000, 0.3, 0)
    model.add_section("channel", 4000, 1e6, 5e7, 1e6)
    model.add_member("rail", "start", "end", "steel", "channel")
    model.def_support("s0", True, True, True, True, False, False)
    model.def_support("s1", False, True, True, False, False, False)
    for low, high, force in uniforms:
        model.add_member_dist_load("rail", "FY", -force, -force, low - start, high - start)
    for station, force in points:
        model.add_member_pt_load("rail", "FY", -force, station - start)
    model.analyze()
    return model.members["rail"]


def test_the_drawn_line_has_every_jump_and_every_extreme() -> None:
    diagram = solved(beam([(1500, 12_000), (3100, 400)], [(-800, 6000, 1.2)]), 0, 5000)
    line = drawn(diagram, step=100)
    assert np.all(np.diff(line.station) >= 0)
    assert set(diagram.stations) <= set(line.station.tolist())
    jump = line.shear[line.station == 1500]
    assert jump[0] - jump[1] == pytest.approx(12_000)
    assert line.moment.max() == pytest.approx(diagram.moment_at(diagram.stations).max())
    # Area under the shear up to a station is the moment there.
    area = np.concatenate([[0], np.cumsum(np.diff(line.station) * (line.shear[1:] + line.shear[:-1]) / 2)])
    assert area == pytest.approx(line.moment, abs=1e-3)
