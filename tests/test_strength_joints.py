"""Rated joints: which bolts bear what, every mode by hand, steel around holes, and the rules joint and grip."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from strength_cases import Table, component, planned, web_holes

from railgen.data.findings import Finding
from railgen.frame.measure import YOUNG
from railgen.layout.plan import SerialPlan
from railgen.rules.pattern import Pattern, pattern_of
from railgen.rules.steel_around import steel_around
from railgen.rules.strength import Strength, grip, joint
from railgen.shop.stacks import Stacks
from railgen.strength.joints import MODES, BoltData, JointCheck, bolt_data
from railgen.strength.rated import BoltForces, rated_bolts

SQUARE = ((-50.0, 40.0), (-50.0, -40.0), (50.0, 40.0), (50.0, -40.0))
OUTSIDE = [{"thickness": 12, "surface": "outside"}]
INSIDE = [{"thickness": 12, "surface": "inside"}]
FOOT = {
    "face": "web",
    "surface": "outside",
    "datum": "middle",
    "polygon": [[-70, -60], [70, -60], [70, 60], [-70, 60]],
}


def load(force: float, direction: tuple[float, float, float], **entries: float) -> Table:
    return {"force": force, "direction": list(direction), "height": 150.0} | entries


def pin(station: float = 2000.0, **entries: Any) -> Table:
    """A part with four bolts on the web's outside face, 100 x 80 mm, its datum and its middle at mid-depth."""
    plain = {"kind": "recovery point", "groups": [web_holes(*SQUARE)], "plies": OUTSIDE}
    return component("pin", station, **(plain | entries))


def pattern(serial: SerialPlan) -> Pattern:
    return pattern_of(serial.order, serial.holes, serial.placements)


def stacks(under: Pattern) -> Stacks:
    return Strength(under).stacks


def check(serial: SerialPlan) -> JointCheck:
    return Strength(pattern(serial)).joints


def findings(serial: SerialPlan) -> list[Finding]:
    return list(joint(pattern(serial), check(serial)))


def forces(serial: SerialPlan) -> BoltForces:
    return rated_bolts(serial.order, serial.placements, serial.holes)


def data(serial: SerialPlan) -> BoltData:
    return bolt_data(forces(serial), serial.holes, serial.order.library, stacks(pattern(serial)))


def on_side(serial: SerialPlan, side: int) -> np.ndarray:
    return serial.holes.side[forces(serial).row] == side


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


def around(serial: SerialPlan, direction: tuple[float, float], feature: str, side: int = 0) -> Any:
    under = pattern(serial)
    rows = [row for row in range(len(serial.holes)) if serial.holes.hole_id(row).endswith(f".{feature}")]
    rows = [row for row in rows if serial.holes.side[row] == side]
    ways = [np.full(len(rows), part / np.hypot(*direction)) for part in direction]
    return steel_around(under, np.array(rows), *ways)


@pytest.mark.parametrize("side", [0, 1])
def test_steel_around_holes_at_the_front_end(side: int) -> None:
    # The rail begins at -1200: holes at -1160 and -1060, 80 apart in height.
    serial = planned([pin(-1110, loads=[load(40, (-1, 0, 0))])])
    forward = around(serial, (-1, 0), "a", side)
    assert forward.end == pytest.approx([40])
    assert forward.edge == pytest.approx([np.inf])
    assert (forward.pitch, forward.gauge) == (pytest.approx([100]), pytest.approx([80]))
    assert forward.clear == pytest.approx([40 - 17.5 / 2])
    rearward = around(serial, (1, 0), "a", side)
    assert rearward.end == pytest.approx([1200 + 6500 - 40])
    assert rearward.clear == pytest.approx([100 - 17.5])
    down = around(serial, (0, -1), "a", side)
    assert down.end == pytest.approx([np.inf])
    assert down.edge == pytest.approx([40])
    assert (down.pitch, down.gauge) == (pytest.approx([80]), pytest.approx([100]))
    slanted = around(serial, (-3, 4), "a", side)
    assert slanted.end == pytest.approx([40 / 0.6])
    assert slanted.edge == pytest.approx([40 / 0.8])


@pytest.mark.parametrize("face", ["top", "bottom"])
def test_steel_around_holes_in_a_flange(face: str) -> None:
    group = {
        "face": face,
        "datum": "edge",
        "fastener": "M12x1.25",
        "features": [{"id": "a", "across": -28.0}, {"id": "b", "station": 60.0, "across": -28.0}],
    }
    serial = planned([pin(groups=[group], flange_holes=True, loads=[load(10, (0, 1, 0))])])
    inboard = around(serial, (0, 1), "a")
    assert inboard.end == pytest.approx([28])
    assert (inboard.pitch, inboard.gauge) == (pytest.approx([np.inf]), pytest.approx([60]))
    assert inboard.clear == pytest.approx([28 - 13.5 / 2])
    assert around(serial, (0, -1), "a").end == pytest.approx([np.inf])
    assert around(serial, (1, 0), "a").edge == pytest.approx([28])
    # Under the flange it pulls off downward, on it upward.
    away = -1 if face == "bottom" else 1
    pulled = forces(planned([pin(groups=[group], flange_holes=True, loads=[load(10, (0, 0, away))])]))
    pressed = forces(planned([pin(groups=[group], flange_holes=True, loads=[load(10, (0, 0, -away))])]))
    assert pulled.tension.sum() > 9_999
    # What is left of the pressing load is the moment that leans on the washers' edges.
    assert pressed.tension.sum() < pulled.tension.sum()


def test_next_to_a_tapers_cut_the_nearest_edge_counts() -> None:
    taper = {"start": 5400, "end_depth": 230, "slit_depth": 70, "root_gap": 3, "trim": 15, "relief_diameter": 24}
    holes = web_holes((0.0, 35.0), (60.0, 35.0))
    serial = planned([component("pin", 5600, groups=[holes])], taper=taper)
    plain = planned([component("pin", 5600, groups=[holes])])
    assert around(plain, (0, 1), "a").end == pytest.approx([np.inf])
    nearest = around(serial, (0, 1), "a").end
    assert nearest < 45
    assert around(serial, (1, 0), "a").edge == pytest.approx(nearest)


def scaled(utilisation: float) -> SerialPlan:
    """A joint whose bolts all have this greatest utilisation."""
    once = check(planned([pin(loads=[load(40, (0, 0, -1))])])).greatest.max()
    return planned([pin(loads=[load(40 * utilisation / once, (0, 0, -1))])])


@pytest.mark.parametrize(
    ("utilisation", "severity"),
    [(1 + 1e-5, "error"), (1.0, "warning"), (1 - 1e-5, "warning"), (0.9 + 1e-5, "warning"), (0.9, None)],
)
def test_house_limits_of_joints(utilisation: float, severity: str | None) -> None:
    # House limits, common practice: utilisation 1.0, warning above 0.9; one finding a hole.
    found = findings(scaled(utilisation))
    assert len(found) == (0 if severity is None else 8)
    for finding in found:
        assert (finding.rule, finding.measure, finding.severity) == ("joint", "utilisation", severity)
        assert finding.value == pytest.approx(utilisation, abs=1e-9)
        assert finding.components == ("pin",)
        assert finding.message.endswith("slip governs")
    assert {finding.side for finding in found} == (set() if severity is None else {"LH", "RH"})


def clamped(plies: list[Table], **entries: Any) -> list[Finding]:
    under = pattern(planned([pin(plies=plies)], **entries))
    return list(grip(under, stacks(under)))


@pytest.mark.parametrize(("thickness", "count"), [(22.5 - 1e-3, 8), (22.5, 0), (22.5 + 1e-3, 0)])
def test_low_grip_is_named(thickness: float, count: int) -> None:
    # Common practice, no source: at least 2 x bolt diameter; 9.5 + 22.5 = 32 = 2 x 16.
    found = clamped([{"thickness": thickness, "surface": "outside"}])
    assert len(found) == count
    for finding in found:
        assert (finding.rule, finding.measure, finding.severity) == ("grip", "bolt-diameters", "warning")
        assert finding.value == pytest.approx((9.5 + thickness) / 16)
        assert finding.limit == 2


def test_the_stack_is_rail_liner_and_the_plies_of_all_owners() -> None:
    bracket = component("bracket", 2000, groups=[web_holes(*SQUARE)], plies=INSIDE, shared_holes=True)
    liner = {"start": 500, "end": 2500, "section": "280 x 75 x 6.5", "steel": "S500MC"}
    serial = planned([bracket, pin(shared_holes=True, plies=OUTSIDE)], liner=liner)
    under = pattern(serial)
    stack = stacks(under)
    rail = serial.holes.part == 0
    assert stack.grip[rail] == pytest.approx([9.5 + 6.5 + 12 + 12] * 8)
    assert stack.plies[rail] == pytest.approx([4] * 8)
    assert list(grip(under, stack)) == []


def test_bare_holes_and_liner_rows_have_no_grip() -> None:
    passage = {"face": "web", "datum": "middle", "features": [{"id": "p", "diameter": 30}]}
    liner = {"start": 500, "end": 2500, "section": "280 x 75 x 6.5", "steel": "S500MC"}
    under = pattern(planned([component("hose", 1500, groups=[passage])], liner=liner))
    assert list(grip(under, stacks(under))) == []
    found = clamped([], liner=liner)
    assert {finding.part for finding in found} == {"rail"}
    assert [finding.value for finding in found] == pytest.approx([16 / 16] * 8)
