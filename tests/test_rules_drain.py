"""Rule drain: what a part hung on its rack holds, against beams by hand, a frame library, and plain loops."""

from __future__ import annotations

from dataclasses import replace
from math import cos, radians, sin

import numpy as np
import pytest
from builders import FRONT, LINER_SECTION, SECTION, Hole, rail_shape, rail_table
from clearance_cases import demo, pattern
from hypothesis import given, settings
from hypothesis import strategies as st
from Pynite import FEModel3D

from railgen.data.plant import Finishing, Rack
from railgen.frame.measure import part_measures
from railgen.frame.rail import Part, RailShape
from railgen.frame.section import properties
from railgen.rules.drain import drain
from railgen.shop.hanging import Hanging, hang, held_level, runs_empty, sag
from railgen.shop.part_work import measures_of, rows_of

LENGTH = 6000.0
PLAIN = {"longest_part": 12000.0, "highest_mass": 2000.0, "tank_length": 12500.0, "oven_length": 13000.0}


def rack(open_side: str, slope: float = 0.0, *hooks: float) -> Rack:
    return Rack.model_validate(PLAIN | {"open_side": open_side, "slope": slope, "hook_stations": hooks})


def hung(on: Rack, *holes: Hole, part: Part = "rail", rail: RailShape | None = None) -> Hanging:
    rail = rail or rail_shape(liner=part == "liner")
    return hang(rail, part, on, rows_of(rail_table(rail, holes), part, "LH"))


def load(part: Part = "rail", slope: float = 0.0) -> float:
    """Weight over stiffness of the plain rail or its liner, N/mm over N mm2; E 210 000 MPa (EN 1993-1-1, memory)."""
    rail = rail_shape(liner=part == "liner")
    section, length = (SECTION, LENGTH) if part == "rail" else (LINER_SECTION, rail.liner.length if rail.liner else 0)
    weight = part_measures(rail, part, 0.0, 0.0).mass * 9.80665 * cos(radians(slope)) / length
    return weight / (210_000 * properties(section).iyy)


def only_depth(hanging: Hanging) -> float:
    assert len(hanging.pockets) == 1
    return hanging.pockets[0][3]


# By hand, after the beam formulas of any handbook


def test_open_side_up_level_holds_its_sag() -> None:
    # Hooks at both ends: 5 w L4 / (384 E I), out over the ends, which stay where they are.
    assert only_depth(hung(rack("up", 0, 0, LENGTH))) == pytest.approx(5 * load() * LENGTH**4 / 384, rel=1e-9)


def test_open_side_up_level_with_overhangs_that_rise() -> None:
    # Overhangs of a fifth of the span rise: w a L3 (6 k2 + 3 k3 - 1) / (24 E I), k = a / L; mid-span sinks by
    # w L4 (5 - 24 k2) / (384 E I).
    span, over = LENGTH / 1.4, LENGTH / 7
    sinks = load() * span**4 * (5 - 24 * 0.04) / 384
    rises = -load() * over * span**3 * (6 * 0.04 + 3 * 0.008 - 1) / 24
    hanging = hung(rack("up", 0, over, -over))
    assert rises > 0
    assert only_depth(hanging) == pytest.approx(sinks + rises, rel=1e-6)
    assert hanging.pockets[0][:3] == pytest.approx((0.0, LENGTH, LENGTH / 2))


def test_open_side_up_level_drains_where_the_middle_stands_highest() -> None:
    # Hooks at the quarters: the ends sink, the middle rises, all runs out over the ends.
    assert hung(rack("up", 0, LENGTH / 4, -LENGTH / 4)).pockets == ()


def test_open_side_down_level_holds_air_where_the_middle_stands_highest() -> None:
    # The same beam, upside down: mid-span rises by w L4 (24 k2 - 5) / (384 E I), k = 1/2, the ends sink.
    span, over = LENGTH / 2, LENGTH / 4
    rises = load() * span**4 * (24 * 0.25 - 5) / 384
    sinks = load() * over * span**3 * (6 * 0.25 + 3 * 0.125 - 1) / 24
    hanging = hung(rack("down", 0, over, -over))
    assert hanging.holds == "air"
    assert only_depth(hanging) == pytest.approx(rises + sinks, rel=1e-6)


def test_open_side_down_level_between_end_hooks_holds_nothing() -> None:
    assert hung(rack("down", 0, 0, LENGTH)).pockets == ()


@pytest.mark.parametrize("slope", [3.0, -3.0, 45.0])
@pytest.mark.parametrize("side", ["up", "down"])
def test_sloped_enough_it_drains_whichever_end_is_lower(side: str, slope: float) -> None:
    # At the hooks the part turns by w L3 / (24 E I): less than its slope, all runs out at the lower end.
    assert load() * LENGTH**3 / 24 < radians(3.0)
    assert hung(rack(side, slope, 0, LENGTH)).pockets == ()


def test_sloped_too_little_it_holds_less_than_level() -> None:
    turn = load() * LENGTH**3 / 24
    slope = np.degrees(turn) / 4
    depth = only_depth(hung(rack("up", slope, 0, LENGTH)))
    x = np.linspace(0, LENGTH, 200_001)
    bent = load(slope=slope) * x * (LENGTH**3 - 2 * LENGTH * x**2 + x**3) / 24
    height = -x * sin(radians(slope)) - bent * cos(radians(slope))
    assert depth == pytest.approx(height[-1] - height.min(), rel=1e-3)
    assert 0 < depth < 5 * load() * LENGTH**4 / 384


def test_web_upright_drains_over_its_flanges_edges() -> None:
    hanging = hung(rack("side", 0, 0, LENGTH))
    assert (hanging.holds, hanging.pockets) == ("", ())


def test_a_hole_at_the_lowest_place_drains_it_and_one_beside_lowers_it() -> None:
    on = rack("up", 0, 0, LENGTH)
    middle = FRONT + LENGTH / 2
    assert hung(on, Hole(middle, 150)).pockets == ()
    assert only_depth(hung(on, Hole(middle, 60, face="top"))) == pytest.approx(only_depth(hung(on)), rel=1e-3)
    assert only_depth(hung(on, Hole(middle, 150, shape="mark", operation="stud"))) == only_depth(hung(on))
    # Out at the hole a quarter along, which has sunk by 57 w L4 / (6144 E I).
    holed = hung(on, Hole(FRONT + LENGTH / 4, 150))
    left = 5 * load() * LENGTH**4 / 384 - 57 * load() * LENGTH**4 / 6144
    assert only_depth(holed) == pytest.approx(left, rel=1e-3)


def test_what_is_no_deeper_than_a_film_is_no_pocket() -> None:
    holes = [Hole(FRONT + x, 150) for x in range(150, 6000, 100)]
    hanging = hung(rack("up", 0, 0, LENGTH), *holes)
    assert 0 < hanging.depth.max() < 0.1
    assert hanging.pockets == ()


def test_the_tapers_relief_hole_is_a_way_out() -> None:
    rail = rail_shape("after-forming")
    assert rail.taper
    hanging = hung(rack("up", 0, 0, LENGTH), rail=rail)
    at = int(np.argmin(np.abs(hanging.x - (rail.taper.apex[0] - FRONT))))
    assert hanging.way_out[at]
    assert hanging.depth[at] == 0


def test_a_liner_hangs_alone_and_has_its_own_pocket() -> None:
    rail = rail_shape(liner=True)
    assert rail.liner
    length = rail.liner.length
    hanging = hung(rack("up", 0, 0, length), part="liner", rail=rail)
    assert only_depth(hanging) == pytest.approx(5 * load("liner") * length**4 / 384, rel=1e-6)


@pytest.mark.parametrize("hooks", [(), (3000.0,), (0.0, 1000.0), (7000.0, 8000.0), (-9000.0, -8000.0)])
def test_hooks_that_cannot_hold_it_level_leave_it_rigid(hooks: tuple[float, ...]) -> None:
    hanging = hung(rack("up", 0, *hooks))
    assert len(hanging.sag.hooks) == 0
    assert hanging.pockets == ()


# Against a frame library and plain loops


def test_four_hooks_against_a_frame_library() -> None:
    hooks = [400.0, 2600.0, 5100.0, 7600.0]
    length, weight, inertia = 8000.0, 0.35, 3.0e6
    found = sag(length, weight, 210_000 * inertia, hooks)
    stations = np.linspace(0, length, 41)
    model = FEModel3D()
    for name, station in [("start", 0.0), ("end", length), *((f"s{n}", x) for n, x in enumerate(hooks))]:
        model.add_node(name, station, 0, 0)
    model.add_material("steel", 210_000, 81_000, 0.3, 0)
    model.add_section("channel", 4000, 1e6, inertia, 1e6)
    model.add_member("rail", "start", "end", "steel", "channel")
    for number in range(len(hooks)):
        model.def_support(f"s{number}", number == 0, True, True, number == 0, False, False)
    model.add_member_dist_load("rail", "FY", -weight, -weight, 0, length)
    model.analyze()
    member = model.members["rail"]
    expected = np.array([member.deflection("dy", float(x)) for x in stations])
    reactions = [model.nodes[f"s{n}"].RxnFY["Combo 1"] for n in range(len(hooks))]
    assert found.reactions == pytest.approx(reactions, rel=1e-6)
    assert found.at(stations) == pytest.approx(expected, abs=1e-3 * np.abs(expected).max())


def test_a_hook_that_would_pull_down_lets_go() -> None:
    # With hooks at 0, 100 and 6000 the first would pull; without it the end rises.
    found = sag(LENGTH, 0.35, 210_000 * 3e6, [0, 100, LENGTH])
    assert found.hooks.tolist() == [100, LENGTH]
    assert (found.reactions > 0).all()
    assert found.at(np.array([0.0]))[0] > 0
    assert found.reactions.sum() == pytest.approx(0.35 * LENGTH)


def drained(height: list[float], way_out: list[bool]) -> list[float]:
    """Levels by letting water down step by step until nothing moves: no use of running greatest heights."""
    level = [h if out else 1e9 for h, out in zip(height, way_out, strict=True)]
    moved = True
    while moved:
        moved = False
        for place in range(len(height)):
            for beside in (place - 1, place + 1):
                if 0 <= beside < len(height) and max(level[beside], height[place]) < level[place]:
                    level[place], moved = max(level[beside], height[place]), True
    return level


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.integers(-5, 5), st.booleans()), min_size=3, max_size=20))
def test_levels_are_those_of_water_let_down_step_by_step(points: list[tuple[int, bool]]) -> None:
    height = [float(h) for h, _ in points]
    way_out = [out for _, out in points]
    way_out[0] = way_out[-1] = True
    assert held_level(np.array(height), np.array(way_out)).tolist() == drained(height, way_out)


# As findings


def with_rack(on: Rack, liner: bool = False):  # type: ignore[no-untyped-def]
    found = pattern([], rail=rail_shape(liner=liner))
    library = demo()
    finishing = Finishing.model_validate(library.finishing.model_dump() | {"rack": on.model_dump()})
    return replace(found, order=replace(found.order, library=replace(library, finishing=finishing)))


def test_findings_name_side_part_station_and_depth() -> None:
    found = list(drain(with_rack(rack("up", 0, 0, LENGTH))))
    assert [(f.side, f.part, f.severity, f.measure) for f in found] == [
        ("LH", "rail", "warning", "depth"),
        ("RH", "rail", "warning", "depth"),
    ]
    assert found[0].station_mm == pytest.approx(FRONT + LENGTH / 2)
    assert found[0].value == pytest.approx(5 * load() * LENGTH**4 / 384)
    assert "liquid in the LH rail stands" in found[0].message
    assert list(drain(with_rack(rack("up", 3, 0, LENGTH)))) == []


def test_a_liner_that_holds_air_is_found_beside_its_rail(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("railgen.shop.hanging.LEAST_POCKET", 1e-6)
    rail = rail_shape(liner=True)
    assert rail.liner
    over = rail.liner.length / 4
    found = [f for f in drain(with_rack(rack("down", 0, over, -over), liner=True)) if f.part == "liner"]
    assert [f.side for f in found] == ["LH", "RH"]
    assert found[0].station_mm == pytest.approx(rail.liner.start + rail.liner.length / 2)
    assert "air in the LH liner" in found[0].message


def test_the_weight_is_that_of_the_part_less_its_holes() -> None:
    rail = rail_shape()
    holes = [Hole(x, 60.0, 30.0, face="top") for x in range(0, 4000, 50)]
    rows = rows_of(rail_table(rail, holes), "rail", "LH")
    lighter = measures_of(rail, "rail", rows).mass / part_measures(rail, "rail", 0.0, 0.0).mass
    full, holed = (only_depth(hung(rack("up", 0, 0, LENGTH), *some)) for some in ((), holes))
    assert holed / full == pytest.approx(lighter)


@settings(max_examples=60, deadline=None)
@given(
    hooks=st.lists(st.floats(0.05, 0.95), min_size=2, max_size=4),
    slope=st.floats(0.0, 0.4),
    open_side=st.sampled_from(["up", "down"]),
)
def test_what_runs_empty_without_holes_holds_nothing_with_them(
    hooks: list[float], slope: float, open_side: str
) -> None:
    on = rack(open_side, slope, *(share * LENGTH for share in hooks))
    empty = runs_empty(rail_shape(), "rail", on)
    assert not (empty and hung(on).pockets)
    if empty:
        assert (np.diff(hung(on).height) <= 1e-9).all()


def test_the_steepest_place_of_a_sag_is_that_of_its_points() -> None:
    found = sag(LENGTH, 0.5, 3e11, [700.0, 2500.0, 5600.0])
    x = np.linspace(0, LENGTH, 400_001)
    by_points = np.abs(np.diff(found.at(x))).max() / (x[1] - x[0])
    assert max(found.steepest(span) for span in range(len(found.nodes) - 1)) == pytest.approx(by_points, rel=1e-6)
