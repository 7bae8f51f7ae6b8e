"""Rated joints: which bolts bear what, and every mode by hand."""

from __future__ import annotations

import numpy as np
import pytest
from joint_cases import (
    FOOT,
    INSIDE,
    OUTSIDE,
    SQUARE,
    check,
    data,
    findings,
    forces,
    load,
    on_side,
    pattern,
    pin,
    stacks,
)
from strength_cases import Table, component, planned, web_holes

from railgen.frame.measure import YOUNG
from railgen.strength.joints import MODES


def test_every_mode_by_hand() -> None:
    """A downward pull through the middle of the four bolts, in the plane of the web: 10 kN a bolt in shear."""
    result = check(planned([pin(loads=[load(40, (0, 0, -1))])]))
    assert result.forces.shear == pytest.approx([10_000] * 8)
    assert result.forces.tension == pytest.approx([0] * 8)
    # The screw: 9.5 + 12 clamped + 8 of washers + 13 of nut + 3 beyond it needs 45.5, comes in 50, and has no shank
    # before 50 - 38 - 7.5 = 4.5 mm: the plane, 4 of washer and 12 of ply away, meets thread.
    shear = 10_000 / (0.5 * 1.2 * 830 * 167 / 1.25)
    # Neighbours at 100 along x and 80 along z, 12 of 128 between diagonals is beyond 45 degrees; no edge is near.
    along = min(80 / (3 * 17.5) - 0.25, 1.2 * 830 / 750, 1.0)
    across = min(1.4 * 100 / 17.5 - 1.7, 2.5)
    bearing = 10_000 / (across * along * 750 * 16 * 9.5 / 1.25)
    torn = 10_000 / (0.75 * 1.2 * (80 - 17.5) * 9.5 * 750)
    free = 10_000 / (0.75 * 1.2 * 1e12)
    # Two plies have four coated faces, each settling by a tenth of 35 um.
    lost = 4 * 0.0035 * YOUNG * np.pi / 4 * 16**2 / (21.5 + 8 + 16)
    slip = 10_000 * 1.1 / 0.15 / (97_000 - lost)
    upper = result.forces.row[result.utilisation[MODES.index("tear-out")] > 1e-3]
    assert len(upper) == 4  # the upper ones tear toward the lower ones; nothing is below these
    for index in range(8):
        tears = torn if result.forces.row[index] in upper else free
        expected = [shear, 0, shear, bearing, tears, slip]
        assert result.utilisation[:, index] == pytest.approx(expected, rel=1e-6, abs=1e-6)
    assert [MODES[mode] for mode in result.governing] == ["slip"] * 8
    assert result.margin == pytest.approx([1 / slip - 1] * 8)


@pytest.mark.parametrize(
    ("plies", "direction", "tension"),
    [
        (OUTSIDE, (0, -1, 0), 10_000),  # pulled off
        (OUTSIDE, (0, 1, 0), 0),  # pressed on
        (INSIDE, (0, 1, 0), 10_000),
        (INSIDE, (0, -1, 0), 0),
        (OUTSIDE + INSIDE, (0, 1, 0), 10_000),  # embraces the web: pulled off on one side
        (OUTSIDE + INSIDE, (0, -1, 0), 10_000),
    ],
)
def test_only_what_pulls_a_part_off_pulls_its_bolts(
    plies: list[Table], direction: tuple[float, float, float], tension: float
) -> None:
    bolts = forces(planned([pin(plies=plies, loads=[load(40, direction)])]))
    assert bolts.tension == pytest.approx([tension] * 8)
    assert bolts.shear == pytest.approx([0] * 8, abs=1e-6)


def test_direction_has_any_length() -> None:
    one, three = (forces(planned([pin(loads=[load(40, (-k, -k, 0))])])) for k in (1, 3))
    assert one.shear == pytest.approx(three.shear)
    # 40 kN at 45 degrees, forward and outboard; height at mid-depth, but it acts on the web's outside face.
    assert one.shear == pytest.approx([10_000 / np.sqrt(2)] * 8)
    assert one.tension == pytest.approx([10_000 / np.sqrt(2)] * 8)


def test_a_pull_beside_the_group_turns_it() -> None:
    # 20 kN down, 300 mm behind the middle: by M c / sum(d2), sum(d2) = 4 (50^2 + 40^2).
    serial = planned([pin(loads=[load(20, (0, 0, -1), station=300.0)])])
    bolts = forces(serial)
    moment, inertia = 20_000 * 300.0, 4 * (50**2 + 40**2)
    near = np.hypot(moment * 40 / inertia, 5000 + moment * 50 / inertia)
    far = np.hypot(moment * 40 / inertia, 5000 - moment * 50 / inertia)
    behind = serial.holes.station[bolts.row] > 2000
    assert bolts.shear[behind] == pytest.approx([near] * 4)
    assert bolts.shear[~behind] == pytest.approx([far] * 4)


def test_a_pull_out_of_the_plane_pulls_one_row() -> None:
    # 20 kN down, 150 mm outboard of the web: the upper row is pulled, the lower one pressed.
    serial = planned([pin(loads=[load(20, (0, 0, -1), across=-150.0)])])
    bolts = forces(serial)
    upper = serial.holes.across[bolts.row] > 150
    assert bolts.tension[upper] == pytest.approx([20_000 * 150 * 40 / (4 * 40**2)] * 4)
    assert bolts.tension[~upper] == pytest.approx([0] * 4)


def test_both_hands_bear_alike() -> None:
    serial = planned([pin(loads=[load(30, (-1, -1, 0.5), station=-80, across=-60, height=120)])])
    result = check(serial)
    left, right = on_side(serial, 0), on_side(serial, 1)
    assert result.utilisation[:, left] == pytest.approx(result.utilisation[:, right])


def test_the_point_of_attack_turns_with_a_turned_part_and_the_direction_does_not() -> None:
    rated = [load(20, (0, 0, -1), station=300.0)]
    serial = planned([pin(side="turned", loads=rated)])
    bolts = forces(serial)
    heavy = bolts.shear > bolts.shear.mean()
    left, behind = on_side(serial, 0), serial.holes.station[bolts.row] > 2000
    assert np.array_equal(heavy, left == behind)
    # Down is down on either side.
    sums = [np.sum((bolts.shear * bolts.across)[on_side(serial, side)]) for side in (0, 1)]
    assert sums == pytest.approx([-20_000, -20_000])


def test_shared_holes_are_bolts_of_each_owner() -> None:
    """The bracket is named first at the shared holes; the pin's joint has them all the same."""
    bracket = component("bracket", 2000, groups=[web_holes(*SQUARE)], plies=INSIDE, shared_holes=True)
    serial = planned([bracket, pin(shared_holes=True, loads=[load(40, (0, 0, -1))])])
    assert len(serial.holes) == 8
    bolts = forces(serial)
    assert sorted(bolts.row.tolist()) == list(range(8))
    assert set(bolts.component.tolist()) == {serial.holes.names.components.index("pin")}
    assert bolts.shear == pytest.approx([10_000] * 8)


def test_each_instance_has_its_own_bolts() -> None:
    serial = planned([pin(repeat={"pitch": 400, "count": 3}, loads=[load(40, (0, 0, -1))])])
    bolts = forces(serial)
    assert len(bolts) == 24
    assert bolts.shear == pytest.approx([10_000] * 24)


def test_shared_holes_go_to_the_instance_that_stands_there() -> None:
    brackets = component(
        "bracket", 2000, groups=[web_holes(*SQUARE)], shared_holes=True, repeat={"pitch": 400, "count": 3}
    )
    rated = pin(2400, shared_holes=True, loads=[load(40, (0, 0, -1))])
    serial = planned([brackets, rated])
    bolts = forces(serial)
    assert len(bolts) == 8
    assert np.abs(serial.holes.station[bolts.row] - 2400).max() == pytest.approx(50)


def test_a_shared_hole_of_the_next_instance_on_another_face_is_not_its_bolt() -> None:
    # The first instance's hole in the flange stands above the second one's holes in the web, which share the bracket's.
    top = {"face": "top", "datum": "web", "across": 50.0, "fastener": "M16x1.5"}
    groups = [web_holes((0.0, 40.0), (0.0, -40.0)), top | {"features": [{"id": "t", "station": 100.0}]}]
    bracket = component("bracket", 2100, groups=[web_holes((0.0, 40.0), (0.0, -40.0))], shared_holes=True)
    repeat = {"pitch": 100, "count": 2}
    rated = pin(groups=groups, flange_holes=True, shared_holes=True, repeat=repeat, loads=[load(40, (0, 0, -1))])
    serial = planned([bracket, rated])
    stations = serial.holes.station[forces(serial).row[on_side(serial, 0)]]
    assert sorted(stations.tolist()) == pytest.approx([2000, 2000, 2100, 2100, 2100, 2200])


def test_marks_and_bare_holes_bear_nothing() -> None:
    passage = {
        "face": "web",
        "datum": "middle",
        "features": [{"id": "p", "diameter": 30}, {"id": "m", "shape": "mark", "station": 90}],
    }
    serial = planned([pin(groups=[web_holes(*SQUARE), passage], loads=[load(40, (0, 0, -1))])])
    assert len(forces(serial)) == 8


def test_without_rated_loads_there_is_no_joint() -> None:
    serial = planned([pin()])
    assert len(forces(serial)) == 0
    assert findings(serial) == []


def test_each_load_is_a_case_of_its_own() -> None:
    cases = [load(40, (0, 0, -1)), load(8, (1, 0, 0))]
    serial = planned([pin(loads=cases)])
    result = check(serial)
    assert len(result.forces) == 16
    rows, worst = result.by_hole()
    assert rows.tolist() == sorted(set(result.forces.row.tolist()))
    assert set(result.forces.load[worst].tolist()) == {0}
    assert result.greatest[worst].tolist() == [max(result.greatest[result.forces.row == row]) for row in rows.tolist()]


def test_bolts_on_one_line_lean_on_the_edge_of_the_foot() -> None:
    # Three bolts along the rail, 20 kN down at 90 mm outboard: no arms, so the moment presses on the foot's edge, 60 mm
    # from the line; each bolt gets M / (3 x 60).
    line = web_holes((-50.0, 0.0), (0.0, 0.0), (50.0, 0.0))
    rated = [load(20, (0, 0, -1), across=-90.0)]
    bolts = forces(planned([pin(groups=[line], footprints=[FOOT], loads=rated)]))
    assert bolts.tension == pytest.approx([20_000 * 90 / (3 * 60)] * 6)
    # Without a foot, on the washer's edge.
    bare = forces(planned([pin(groups=[line], loads=rated)]))
    assert bare.tension == pytest.approx([20_000 * 90 / (3 * 15)] * 6)


def test_each_bolt_of_a_line_leans_on_its_own_washer() -> None:
    features = [
        {"id": "a", "station": -50.0, "fastener": "M16x1.5"},
        {"id": "b", "station": 50.0, "fastener": "M12x1.25"},
    ]
    line = {"face": "web", "datum": "middle", "features": features}
    bolts = forces(planned([pin(groups=[line], loads=[load(20, (0, 0, -1), across=-90.0)])]))
    moment = 20_000 * 90
    assert sorted(bolts.tension) == pytest.approx([moment / (2 * 15)] * 2 + [moment / (2 * 12)] * 2)


def test_one_bolt_twists_in_its_washer() -> None:
    rated = [load(5, (0, 0, -1), station=100.0)]
    bolts = forces(planned([pin(groups=[web_holes((0.0, 0.0))], loads=rated)]))
    # The washer's middle radius is (15 + 8) / 2.
    assert bolts.shear == pytest.approx([5000 + 5000 * 100 / 11.5] * 2)


def test_a_bolt_through_plies_on_both_faces_is_sheared_twice() -> None:
    single = check(planned([pin(loads=[load(40, (0, 0, -1))])]))
    double = check(planned([pin(plies=OUTSIDE + INSIDE, loads=[load(40, (0, 0, -1))])]))
    shear, slip = MODES.index("shear"), MODES.index("slip")
    assert double.utilisation[shear] == pytest.approx(single.utilisation[shear] / 2)
    assert (double.utilisation[slip] < 0.6 * single.utilisation[slip]).all()


@pytest.mark.parametrize(
    ("outside", "inside", "head", "thread"),
    [
        (30.0, 0.0, "outside", True),  # the plane lies under the head's own plies: 4 + 30
        (0.0, 30.0, "outside", False),  # beyond the web: 4 + 9.5
        (0.0, 30.0, "inside", True),  # the same part, the head on its side: 4 + 30
        (5.0, 25.0, "outside", False),  # embraces the web, the far plane counts: 4 + 5 + 9.5
        (7.0, 23.0, "outside", True),  # 4 + 7 + 9.5
    ],
)
def test_where_the_thread_begins(outside: float, inside: float, head: str, thread: bool) -> None:
    # 39.5 clamped + 8 of washers + 13 of nut + 3 beyond it: a screw of 65, its shank 65 - 38 - 7.5 = 19.5 mm long.
    plies = [{"thickness": outside, "surface": "outside"}] if outside else []
    plies += [{"thickness": inside, "surface": "inside"}] if inside else []
    serial = planned([pin(plies=plies, head=head, loads=[load(40, (0, 0, -1))])])
    assert stacks(pattern(serial)).grip == pytest.approx([39.5] * 8)
    bolts = data(serial)
    assert set(bolts.thread_in_plane.tolist()) == {thread}
    assert bolts.sheared_area == pytest.approx([167 if thread else np.pi / 4 * 16**2] * 8)


def test_the_first_owner_of_a_shared_hole_says_where_its_head_is() -> None:
    # As above with 30 mm inside: thread is sheared where the head lies there, too.
    bracket = component("bracket", 2000, groups=[web_holes(*SQUARE)], head="inside", shared_holes=True)
    plies = [{"thickness": 30.0, "surface": "inside"}]
    rated = pin(plies=plies, head="outside", shared_holes=True, loads=[load(40, (0, 0, -1))])
    assert set(data(planned([rated])).thread_in_plane.tolist()) == {False}
    assert set(data(planned([bracket, rated])).thread_in_plane.tolist()) == {True}


def test_a_screw_of_no_known_length_is_taken_as_thread() -> None:
    plies = [{"thickness": 60.0, "surface": "inside"}]
    bolts = data(planned([pin(plies=plies, loads=[load(40, (0, 0, -1))])]))
    assert bolts.thread_in_plane.all()
    assert bolts.sheared_area == pytest.approx([167] * 8)


def test_flush_screws_are_weaker_in_tension() -> None:
    group = web_holes(*SQUARE, fastener="M16 flush", operation="countersink")
    serial = planned([pin(groups=[group], loads=[load(40, (0, -1, 0))])])
    result, bolts = check(serial), data(serial)
    assert bolts.countersunk.all()
    assert result.utilisation[1] == pytest.approx([10_000 / (0.63 * 1.2 * 600 * 167 / 1.25)] * 8)
