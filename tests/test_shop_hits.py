"""The hits of a blank: where they lie on the press, what clamps hold, which strings cut openings without a tool."""

from __future__ import annotations

from math import hypot

import numpy as np
import pytest
import shapely
from builders import Hole
from hypothesis import given, settings
from hypothesis import strategies as st
from press_blanks import axis_time, dense_holes, hits_on, press_with, work_of

from railgen.data.messages import InputError
from railgen.data.plant import Axis, Press
from railgen.holes.table import NONE
from railgen.shop.clamps import clamp_boxes, clear_of_clamps
from railgen.shop.hits import Stamp, hits_of
from railgen.shop.motion import move_matrix, step_times, travel_time
from railgen.shop.press_lie import press_lie
from railgen.shop.strings import SCALLOP_LIMIT, hit_strings, ring_step, straight_pitch, with_string_tools
from railgen.shop.tools import assign_tools

AXIS = Axis(speed=1000.0, acceleration=4000.0)


# Motion


def test_travel_time_by_hand() -> None:
    # 250 mm is the shortest way on which 1 m/s is reached: 0.25 s up, 0.25 s down.
    assert travel_time([0.0, 250.0, -1250.0, 62.5], AXIS).tolist() == pytest.approx([0.0, 0.5, 1.5, 0.25])


@given(st.floats(-9000, 9000), st.floats(50, 3000), st.floats(500, 20000))
@settings(max_examples=60)
def test_travel_time_agrees_with_the_speeds_along_the_way(way: float, speed: float, acceleration: float) -> None:
    axis = Axis(speed=speed, acceleration=acceleration)
    assert float(travel_time(way, axis)) == pytest.approx(axis_time(way, axis), rel=1e-12, abs=1e-12)


@given(st.floats(1, 3000))
@settings(max_examples=20)
def test_travel_time_agrees_with_a_drive_in_small_steps(way: float) -> None:
    step, time, place, speed = 2e-4, 0.0, 0.0, 0.0
    while place < way:
        braking = speed**2 / (2 * AXIS.acceleration)
        faster = way - place > braking + speed * step
        speed = min(speed + AXIS.acceleration * step, AXIS.speed) if faster else speed - AXIS.acceleration * step
        if speed <= 0.0:
            break
        place, time = place + speed * step, time + step
    assert time == pytest.approx(float(travel_time(way, AXIS)), abs=1e-2)


def test_the_later_axis_counts_and_a_change_hides_behind_a_move() -> None:
    press = press_with()
    moves = move_matrix(np.array([0.0, 100.0, 3000.0]), np.array([0.0, 300.0, 300.0]), press)
    assert moves[0, 1] == axis_time(300.0, press.across) > axis_time(100.0, press.along)
    assert moves[1, 2] == axis_time(2900.0, press.along)
    assert (moves == moves.T).all()
    assert not moves.diagonal().any()
    steps = step_times(moves, np.array([[False, True, True]] * 3), press)
    assert steps[0].tolist() == [0.0, press.change_time, moves[0, 2]]
    still = press_with(change_while_moving=False)
    assert step_times(moves[0, 1], np.array(True), still) == moves[0, 1] + still.change_time


# How the blank lies


@pytest.mark.parametrize(
    ("side", "edge", "end", "turned", "stop"),
    [
        ("LH", "bottom", "front", False, 0.0),
        ("LH", "bottom", "rear", False, 6000.0),
        ("RH", "bottom", "front", False, 6000.0),
        ("RH", "bottom", "rear", False, 0.0),
        ("LH", "top", "front", True, 6000.0),
        ("RH", "top", "front", True, 0.0),
        ("RH", "top", "rear", True, 6000.0),
    ],
)
def test_the_blank_is_turned_round_but_never_over(side: str, edge: str, end: str, turned: bool, stop: float) -> None:
    lie = press_lie(press_with(gauge_edge=edge, gauge_end=end), side, 6000.0, 430.0, 9.5)
    assert (lie.turned, lie.stop_x) == (turned, stop)
    x, y = lie.to_press(np.array([100.0, 400.0]), np.array([30.0, 200.0]))
    # No mirroring: a quarter turn to the left stays one.
    assert (x[1] - x[0]) * (lie.to_press(np.array([100.0]), np.array([31.0]))[1][0] - y[0]) > 0.0
    back = lie.to_press(x, y)
    assert back[0].tolist() == [100.0, 400.0]
    assert back[1].tolist() == [30.0, 200.0]


def test_the_gauged_end_of_the_part_meets_the_stop() -> None:
    # A hole at the front lies near the stop of a press that gauges the front, on both hands and either edge.
    for side in ("LH", "RH"):
        for edge in ("bottom", "top"):
            hits = hits_on([Hole(-950.0, 150.0)], press_with(gauge_edge=edge), side)
            assert hits.lie.from_stop(hits.x)[0] == pytest.approx(50.0)
            near_edge = hits_on([Hole(-950.0, 60.0, face=edge)], press_with(gauge_edge=edge), side)
            assert near_edge.y[0] == pytest.approx(90.0 - 60.0)


# Hits


def test_every_punched_hole_and_mark_is_hit_once() -> None:
    work = work_of([*dense_holes(3, 60), Hole(1000.0, 150.0, 9.0, operation="drill")])
    hits = hits_of(work)
    assert sorted(hits.row.tolist()) == [r for r in range(len(work.holes)) if work.holes.operation[r] != 1]
    x, y = hits.lie.to_press(work.holes.blank_x, work.holes.v)
    assert (x[hits.row] == hits.x).all()
    assert (y[hits.row] == hits.y).all()
    tools = assign_tools(work.holes, work.press, np.full(len(work.holes), 9.5))
    assert [hits.stations[s].tool for s in hits.station.tolist()] == [work.press.tools[t] for t in tools[hits.row]]
    assert hits.locating.sum() == 2


def test_a_tool_at_two_angles_takes_two_stations() -> None:
    slots = [Hole(100.0 * n, 150.0, 18.0, shape="slot", length=40.0, angle=angle) for n, angle in enumerate((0, 90, 0))]
    hits = hits_on(slots)
    assert [(s.number, s.tool.id, s.angle) for s in hits.stations] == [(1, "S 18x40", 0.0), (2, "S 18x40", 90.0)]
    square = press_with(tools=[{"id": "Q", "shape": "rectangle", "diameter": 40.0, "length": 40.0}])
    squares = [
        Hole(100.0 * n, 150.0, 40.0, shape="rectangle", length=40.0, angle=angle) for n, angle in enumerate((0, 90))
    ]
    assert len(hits_on(squares, square).stations) == 1


def test_tools_beyond_those_mounted_wait_for_the_next_mounting() -> None:
    holes = [Hole(100.0 * n, 150.0, d) for n, d in enumerate((11.0, 13.0, 15.5, 17.5))]
    hits = hits_on([*holes, Hole(600.0, 150.0, 25.0, feature="loc")], press_with(mounted_tools=2))
    assert [(s.number, s.tool.id, s.mounting) for s in hits.stations] == [
        (1, "R 25", 1),
        (2, "R 11", 1),
        (1, "R 13", 2),
        (2, "R 15.5", 2),
        (1, "R 17.5", 3),
    ]


def test_force_of_a_hit_is_that_of_its_whole_edge() -> None:
    hits = hits_on([Hole(0.0, 150.0, 17.0)])
    # Perimeter x thickness x 0.75 of the highest tensile (950 MPa).
    assert hits.force[0] == pytest.approx(np.pi * 17.0 * 9.5 * 0.75 * 950.0)


def test_the_stamp_is_one_more_hit_of_the_marking_tool() -> None:
    work = work_of([Hole(0.0, 150.0)])
    stamp = Stamp(300.0, 200.0, 10.0, "P-1001 LH RAIL")
    hits = hits_of(work, stamps=[stamp])
    assert hits.hole_id(1) == "stamp"
    assert (hits.stamp_at(0), hits.stamp_at(1)) == (None, stamp)
    assert (hits.x[1], hits.y[1], hits.stations[hits.station[1]].tool.id) == (300.0, 200.0, "Marker")
    unmarked = press_with(tools=[{"id": "R 17", "shape": "round", "diameter": 17.0}])
    assert hits_of(work, unmarked, [stamp]).stamps == ()


# What a press refuses


def refusal(holes: list[Hole], press: Press) -> str:
    with pytest.raises(InputError) as error:
        hits_on(holes, press)
    return str(error.value)


def test_all_that_a_press_cannot_make_is_named_at_once() -> None:
    press = press_with(longest_blank=5000.0, reach=300.0)
    text = refusal([Hole(0.0, 150.0, 12.5), Hole(0.0, 60.0, face="top"), Hole(50.0, 150.0)], press)
    lines = text.splitlines()
    assert len(lines) == 3
    assert "P-1001 LH rail: blank length: found 6000.000 mm; allowed: at most 5000 mm" in text
    assert "bracket.1.f0: found no tool for a round 12.5; allowed: a size with a tool in the crib" in text
    assert "bracket.1.f1: found" in text
    assert "at most the press's reach, 300 mm" in text


def test_a_hit_beyond_the_press_s_force_is_refused() -> None:
    # pi x 25 x 9.5 x 0.75 of the highest tensile, 950 MPa: 531.6 kN; a string is held to its tool's own edge.
    text = refusal([Hole(0.0, 150.0, 25.0), Hole(200.0, 150.0, 17.0)], press_with(force=500.0))
    assert text.splitlines() == [
        "P-1001 LH rail: bracket.1.f0: found 532 kN a hit; allowed: at most the press's force, 500 kN. "
        "Take another press, or drill the hole."
    ]
    assert len(hits_on([SLOT], string_press(ROUND_20).model_copy(update={"force": 500.0}))) > 5


# Clamps

CLAMPED = {"clamps": [{"station": 1000.0, "width": 120.0, "depth": 40.0}], "clamp_dead_zone": 25.0}


def test_a_clamp_stands_where_its_station_says_on_both_hands() -> None:
    press = press_with(**CLAMPED)
    for side, box in (("LH", (940.0, 0.0, 1060.0, 40.0)), ("RH", (4940.0, 0.0, 5060.0, 40.0))):
        lie = press_lie(press, side, 6000.0, 430.0, 9.5)
        assert clamp_boxes(press, lie, 0.0).tolist() == [list(box)]
    lie = press_lie(press, "RH", 6000.0, 430.0, 9.5)
    assert clamp_boxes(press, lie, 200.0).tolist() == [[4740.0, 0.0, 4860.0, 40.0]]
    assert len(clamp_boxes(press, press_lie(press, "LH", 900.0, 430.0, 9.5), 0.0)) == 0


def test_the_dead_zone_is_measured_from_the_hole_s_edge() -> None:
    press = press_with(**CLAMPED)
    # The clamp ends at 1060 mm from the front end; a 17 mm hole needs 8.5 + 25 mm more.
    for station, clear in ((93.49, False), (93.5, True), (0.0, False), (-93.49, False), (-93.5, True)):
        table = work_of([Hole(station, 60.0, face="bottom")], press).holes
        lie = press_lie(press, "LH", 6000.0, 430.0, 9.5)
        assert clear_of_clamps(table, press, lie).tolist() == [[clear, True]], station


@given(st.integers(0, 10_000))
@settings(max_examples=15, deadline=None)
def test_clear_of_clamps_against_plain_distances(seed: int) -> None:
    clamps = [{"station": s, "width": 130.0, "depth": 60.0} for s in (400.0, 2400.0, 5900.0)]
    press = press_with(clamps=clamps, clamp_shifts=[0.0, -150.0, 190.0])
    holes = [h for h in dense_holes(seed, 60) if h.shape == "round"]
    hits = hits_on(holes, press, ("LH", "RH")[seed % 2])
    for hit in range(len(hits)):
        radius = hits.work.holes.diameter[hits.row[hit]] / 2
        way = float(hits.lie.from_stop(hits.x[hit : hit + 1])[0])
        for column, shift in enumerate(press.clamp_shifts):
            gaps = []
            for clamp in press.clamps:
                beside = max(abs(way - clamp.station - shift) - clamp.width / 2, 0.0)
                gaps.append(hypot(beside, max(hits.y[hit] - clamp.depth, 0.0)) - radius)
            assert hits.clear[hit, column] == (min(gaps) >= press.clamp_dead_zone - 1e-6)


def test_a_hole_under_a_clamp_everywhere_is_refused() -> None:
    press = press_with(**CLAMPED, clamp_shifts=[0.0, 50.0])
    text = refusal([Hole(0.0, 60.0, face="bottom"), Hole(200.0, 60.0, face="bottom")], press)
    assert "bracket.1.f0: found a hole under a clamp wherever the clamps stand" in text
    assert "f1" not in text


# Strings


def string_press(*tools: dict[str, object]) -> Press:
    crib = [{"id": f"T{n}", "strings": True, **tool} for n, tool in enumerate(tools)]
    return press_with(tools=[*crib, {"id": "R 17", "shape": "round", "diameter": 17.0}])


ROUND_20 = {"shape": "round", "diameter": 20.0}
SLOT = Hole(0.0, 150.0, 20.0, shape="slot", length=65.0, angle=30.0)
PASSAGES = [
    SLOT,
    Hole(0.0, 150.0, 30.0, shape="slot", length=90.0, angle=90.0),
    Hole(0.0, 150.0, 55.0),
    Hole(0.0, 150.0, 60.0, shape="rectangle", length=100.0, corner_radius=10.0),
    Hole(0.0, 150.0, 60.0, shape="rectangle", length=100.0, corner_radius=18.0, angle=15.0),
]


def test_scallop_formulas_by_hand() -> None:
    # r = 10, p = 4: 10 - sqrt(100 - 4) = 0.2020 mm; and the pitch for 0.2 mm is 2 sqrt(0.2 x 19.8).
    assert straight_pitch(10.0, 10.0 - 96.0**0.5) == pytest.approx(4.0)
    assert straight_pitch(10.0) == pytest.approx(3.97995, abs=1e-5)
    # On a path of very large radius an arc is a straight edge.
    assert ring_step(10.0, 1e6) * 1e6 == pytest.approx(straight_pitch(10.0), rel=1e-3)


@pytest.mark.parametrize("hole", PASSAGES, ids=lambda h: f"{h.shape} {h.diameter:g}")
def test_a_string_leaves_no_more_than_its_scallop_and_cuts_nothing_else(hole: Hole) -> None:
    work = work_of([hole], string_press(ROUND_20))
    hits = hits_of(work)
    row = int(hits.row[0])
    assert set(hits.row.tolist()) == {row}
    opening = _opening(work, row)
    cut = shapely.union_all([shapely.Point(x, y).buffer(10.0, 512) for x, y in zip(hits.x, hits.y, strict=True)])
    assert cut.difference(opening.buffer(1e-3)).area < 1e-6
    left = opening.difference(cut)
    edge = shapely.segmentize(opening.exterior, 0.2)
    reached = [shapely.distance(shapely.Point(p), cut) for p in edge.coords]
    # What is left at the edge: as high as stated, no higher than allowed.
    assert max(reached) <= SCALLOP_LIMIT
    ring = [p for p in getattr(left, "geoms", [left]) if p.area > 1e-9 and p.distance(opening.exterior) < 0.05]
    height = max(_depth(p, opening) for p in ring)
    assert height == pytest.approx(hits.scallops[row], abs=6e-3)
    assert hits.scallops[row] <= SCALLOP_LIMIT


def _opening(work: object, row: int) -> shapely.Polygon:
    from railgen.holes.shapes import core_geometries, cores_of

    table = work.holes  # type: ignore[attr-defined]
    cores = cores_of(table, np.full(len(table), 9.5))
    core = core_geometries(
        table.blank_x, table.v, np.nan_to_num(table.blank_angle), table.shape, cores.half_length, cores.half_width
    )[row]
    return core.buffer(cores.radius[row], 512)


def _depth(piece: shapely.Polygon, opening: shapely.Polygon) -> float:
    return max(opening.exterior.distance(shapely.Point(p)) for p in piece.exterior.coords)


def test_strings_are_for_plain_openings_in_the_web_without_a_tool() -> None:
    press = string_press(ROUND_20)
    refused = [
        Hole(0.0, 150.0, 20.0, shape="slot", length=65.0, fastener="M16x1.5"),
        Hole(0.0, 60.0, 20.0, shape="slot", length=45.0, face="top"),
        Hole(0.0, 150.0, 55.0, feature="loc"),
        Hole(0.0, 150.0, 22.0),
        Hole(0.0, 150.0, 19.0, shape="slot", length=65.0),
    ]
    for hole in refused:
        assert "no tool for a" in refusal([hole], press), hole
    unwilling = press_with(tools=[{"id": "T", **ROUND_20}])
    assert "no tool for a slot 20 x 65" in refusal([SLOT], unwilling)
    own = string_press(ROUND_20, {"shape": "slot", "diameter": 20.0, "length": 65.0})
    assert len(hits_on([SLOT], own)) == 1
    assert hits_on([SLOT], own).string.tolist() == [NONE]


def test_a_shorter_slot_tool_of_the_same_width_leaves_no_scallop() -> None:
    press = string_press({"shape": "slot", "diameter": 20.0, "length": 30.0}, ROUND_20)
    hits = hits_on([SLOT], press)
    # 65 - 30 = 35 mm to go in steps of at most 10 mm, the straight part of the tool.
    assert len(hits) == 5
    assert hits.scallops == {0: 0.0}
    assert [s.tool.id for s in hits.stations] == ["T0"]
    assert np.hypot(np.diff(hits.x), np.diff(hits.y)).tolist() == pytest.approx([8.75] * 4)


def test_a_smaller_rectangle_goes_round_the_edge_of_a_larger_one() -> None:
    press = string_press({"shape": "rectangle", "diameter": 30.0, "length": 40.0})
    hits = hits_on([Hole(0.0, 150.0, 80.0, shape="rectangle", length=130.0)], press)
    x, y = hits.x - hits.x.mean(), hits.y - hits.y.mean()
    assert np.abs(x).max() == pytest.approx(45.0)
    assert np.abs(y).max() == pytest.approx(25.0)
    assert set(np.round(np.maximum(np.abs(x) / 45.0, np.abs(y) / 25.0), 9)) == {1.0}
    steps = np.column_stack([np.abs(np.diff(x, append=x[0])), np.abs(np.diff(y, append=y[0]))])
    # Straight parts of the tool's edges: 40 - 9.5 and 30 - 9.5 mm (corner radius 0.5 t).
    assert (steps <= [30.5 + 1e-9, 20.5 + 1e-9]).all()
    assert hits.scallops == {0: 0.0}


def test_tools_of_strings_stand_in_the_table_beside_the_others() -> None:
    work = work_of([SLOT, Hole(300.0, 150.0, 17.0)], string_press(ROUND_20))
    thickness = np.full(len(work.holes), 9.5)
    assert with_string_tools(work.holes, work.press, thickness).tolist() == [0, 1]
    assert list(hit_strings(work.holes, work.press, thickness)) == [0]
