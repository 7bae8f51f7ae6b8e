"""The fastener kit: published values, stacks by hand, screw lengths over the bank, sums and tightening order."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from demo_serials import bank_serials, catalogue, sample

from railgen.data.findings import has_errors
from railgen.data.library import Library
from railgen.data.limit_sets import LimitRow
from railgen.data.order import OrderLimits, Zone
from railgen.data.stock import Fastener
from railgen.holes.table import MARK, NONE, RAIL, SIDES
from railgen.layout.catalogue import compile_catalogue
from railgen.layout.plan import SerialPlan
from railgen.papers.kit_tables import low_grips
from railgen.pipeline import plan
from railgen.shop.kit import CAP_SCREW, FLUSH_SCREW, NUT, WASHER, Kit, kit_lines, kit_of, stack_findings, summed
from railgen.shop.screws import needed_length, screw_length, shank_length, thread_length
from railgen.shop.tightening import joint_types, joints_of, stations_by_side, tightening_order

INCH2, POUND_FORCE, POUND_FOOT = 645.16, 4.4482216, 1.3558179


def library() -> Library:
    return catalogue().library


def kit(serial: str) -> Kit:
    return kit_of(sample(serial))


@pytest.mark.parametrize(
    ("name", "area", "clamp", "torque"),
    # Areas in2 ASME B1.1, read; clamp lbf at 75 % of proof and dry torque lbf ft (K 0.20): a fastener distributor's
    # chart after the IFI handbook, read.
    [
        ("1/2-20", 0.1600, 14_400, 120),
        ("5/8-18", 0.2560, 23_025, 240),
        ("3/4-16", 0.3730, 33_600, 420),
    ],
)
def test_inch_screws_are_those_of_the_published_chart(name: str, area: float, clamp: float, torque: float) -> None:
    fastener = library().fasteners[name]
    assert fastener.stress_area == pytest.approx(area * INCH2, rel=1e-3)
    assert fastener.clamp * 1e3 == pytest.approx(clamp * POUND_FORCE, rel=2e-3)
    assert fastener.torque == pytest.approx(torque * POUND_FOOT, rel=2e-3)
    assert fastener.friction == 0.20


@pytest.mark.parametrize(
    ("name", "area"),
    # ISO 898-1, from memory, mm2.
    [("M12x1.25", 92.1), ("M14x1.5", 125), ("M16x1.5", 167), ("M18x1.5", 216), ("M20x1.5", 272)],
)
def test_metric_fine_screws_have_the_stress_areas_of_the_standard(name: str, area: float) -> None:
    assert library().fasteners[name].stress_area == pytest.approx(area)


def test_clamp_is_three_quarters_of_proof_and_torque_follows_from_the_stated_friction() -> None:
    screws = {name: f for name, f in library().fasteners.items() if f.kind != "stud"}
    assert len(screws) >= 10
    for name, fastener in screws.items():
        assert fastener.clamp * 1e3 == pytest.approx(0.75 * fastener.proof_stress * fastener.stress_area, rel=3e-3), (
            name
        )
        torque = fastener.friction * fastener.clamp * fastener.diameter
        assert fastener.torque == pytest.approx(torque, rel=5e-3), name


@pytest.mark.parametrize(
    ("serial", "hole", "grip", "needed", "length"),
    # By hand: plies of all owners + rail + liner; then two washers (a flush screw one), the nut and two pitches more.
    [
        ("P-1001", "front-closing-cross-member.1.a3", 16 + 9.5 + 16 + 12, 53.5 + 2 * 6 + 18 + 2 * 1.5, 90),
        ("P-1001", "gearbox-cross-member.1.a3", 9.5 + 7 + 12 + 12, 40.5 + 2 * 6 + 16 + 2 * 1.5, 80),
        ("P-1001", "plough-plate-heavy.1.a3", 18 + 15 + 9.5, 42.5 + 2 * 6 + 20 + 2 * 1.5, 80),
        # Exactly as long as it needs to be.
        ("P-1001", "plough-plate-heavy.1.f1", 18 + 15 + 9.5, 42.5 + 2 * 4 + 12 + 2 * 1.25, 65),
        ("P-1001", "bogie-trunnion-cross-member.1.a2", 18 + 10 + 9.5 + 16, 53.5 + 2 * 6 + 18 + 2 * 1.5, 90),
        ("P-1001", "isolator-switch-bracket.1.a2", 5 + 16 + 9.5 + 7, 37.5 + 2 * 5 + 14 + 2 * 1.5, 65),
        ("T-2001", "ramp-stiffener.1.a1", 8 + 16, 24 + 4 + 12 + 2 * 1.25, 45),
        ("T-2001", "isolator-switch-bracket.1.a2", 5 + 16 + 8, 29 + 2 * 5 + 14 + 2 * 1.5, 60),
        (
            "S-3001",
            "sweeper-front-closing-cross-member.1.a3",
            25.4 * (0.5 + 0.3125 + 0.5 + 0.4375),
            44.45 + 2 * 6 + 13.9 + 2 * 25.4 / 18,
            3 * 25.4,
        ),
        (
            "S-3001",
            "hopper-plate.1.a1",
            25.4 * (0.3125 + 0.375 + 0.3125),
            25.4 + 2 * 5 + 11.1 + 2 * 25.4 / 20,
            2 * 25.4,
        ),
    ],
)
def test_stacks_of_ten_joints_by_hand(serial: str, hole: str, grip: float, needed: float, length: float) -> None:
    found = kit(serial)
    places = [place for place, row in enumerate(found.screws.row.tolist()) if found.holes.hole_id(row) == hole]
    assert len(places) in (1, 2)
    for place in places:
        assert found.screws.grip[place] == pytest.approx(grip)
        assert found.screws.needed[place] == pytest.approx(needed, abs=1e-5)
        assert found.screws.length[place] == pytest.approx(length)


def stack_by_hand(planned: SerialPlan, row: int, lined: set[tuple[int, str]]) -> float:
    """Grip of one hole in plain steps; lined: side and id of all holes that the liner has."""
    holes, order = planned.holes, planned.order
    grip = order.rail.section.thickness
    if order.rail.liner and (int(holes.side[row]), holes.hole_id(row)) in lined:
        grip += order.rail.liner.section.thickness
    for name in holes.owners_of(row):
        for ply in order.library.components[name].plies:
            grip += ply.thickness
    return grip


def test_no_screw_is_short_over_the_bank_and_none_is_longer_than_it_need_be() -> None:
    serials = screws = 0
    for planned in bank_serials():
        found, holes = kit_of(planned), planned.holes
        liner = np.flatnonzero(holes.part != RAIL).tolist()
        lined = {(int(holes.side[row]), holes.hole_id(row)) for row in liner}
        for place, row in enumerate(found.screws.row.tolist()):
            fastener = planned.order.library.fasteners[holes.fastener_of(row)]
            washers = 1 if fastener.kind == "flush screw" else 2
            assert fastener.washer_thickness is not None
            assert fastener.nut_height is not None
            clamped = stack_by_hand(planned, row, lined) + washers * fastener.washer_thickness
            needed = clamped + fastener.nut_height + 2 * fastener.pitch
            length = found.length_at(place)
            assert length is not None, holes.hole_id(row)
            assert length >= needed - 1e-6, holes.hole_id(row)
            shorter = [other for other in fastener.lengths if needed - 1e-6 <= other < length]
            asked = any(planned.order.library.components[name].shank_in_shear for name in holes.owners_of(row))
            assert asked or not shorter, holes.hole_id(row)
            screws += 1
        serials += 1
    assert serials > 190
    assert screws > 50_000


def made(**changes: object) -> Fastener:
    return library().fasteners["M18x1.5"].model_copy(update=changes)


def test_a_screw_is_longer_where_its_thread_would_lie_in_a_shear_plane() -> None:
    # M18, grip 54.5: 54.5 + 12 + 18 + 3 = 87.5, so 90, with at least 90 - 42 - 7.5 = 40.5 of shank. A plane
    # 34.6 deep below the washer of 6 lies beyond that: 100 has 50.5.
    fastener = made()
    assert screw_length(fastener, 54.5) == 90
    assert screw_length(fastener, 54.5, plane=34.5) == 90
    assert screw_length(fastener, 54.5, plane=34.6) == 100


def test_no_screw_whose_nut_would_meet_the_shank() -> None:
    # Lengths of 30 and 120 only: 120 - 42 of shank is more than the 20 + 12 clamped.
    assert screw_length(made(lengths=(30.0, 120.0)), 20.0) is None
    assert screw_length(made(lengths=(30.0, 70.0)), 20.0) == 70


def test_a_flush_screw_has_no_washer_under_its_head_and_no_bare_shank() -> None:
    flush = library().fasteners["Flush M12x1.25"]
    assert needed_length(flush, 24.0) == pytest.approx(24 + 4 + 12 + 2.5)
    assert screw_length(flush, 24.0) == 45
    assert screw_length(flush, 24.0, plane=8.0) is None


def test_thread_and_shank_of_screws() -> None:
    # ISO 4014, from memory: 2 d + 6 to 125 mm, 2 d + 12 to 200, 2 d + 25 above.
    assert thread_length(np.array([80.0, 150.0, 220.0]), 16.0).tolist() == [38.0, 44.0, 57.0]
    assert float(shank_length(40.0, 16.0, 1.5)) == 0.0


def test_thread_and_shank_of_inch_screws() -> None:
    # ASME B18.2.1, from memory: 2 d + 1/4 in to 6 in, 2 d + 1/2 in above; five pitches run out.
    inches = thread_length(np.array([3.0, 6.0, 7.0]) * 25.4, 15.875, True) / 25.4
    assert inches.tolist() == pytest.approx([1.5, 1.5, 1.75])
    assert float(shank_length(76.2, 15.875, 25.4 / 18, True)) == pytest.approx(25.4 * (3 - 1.5 - 5 / 18))
    # 5/8-18, grip 1.2 in: 3 in have 1.5 in of shank and run-out, more than 1.2 in and two washers of 6 mm only if
    # thread were longer than metric screws have it.
    inch = library().fasteners["5/8-18"].model_copy(update={"lengths": (76.2,)})
    clamped = 76.2 - 1.5 * 25.4
    assert screw_length(inch, clamped - 12.0) == 76.2
    assert screw_length(inch.model_copy(update={"thread": "metric"}), clamped - 12.0) is None
    assert all(f.thread == ("unified" if "/" in name else "metric") for name, f in library().fasteners.items())


def with_lengths(planned: SerialPlan, name: str, lengths: tuple[float, ...]) -> SerialPlan:
    fasteners = planned.order.library.fasteners
    changed = fasteners | {name: fasteners[name].model_copy(update={"lengths": lengths})}
    return replace(planned, order=replace(planned.order, library=replace(planned.order.library, fasteners=changed)))


def test_a_stack_that_no_length_covers_is_an_error_naming_component_and_hole() -> None:
    planned = with_lengths(sample("P-1001"), "M18x1.5", (60.0, 80.0))
    found = stack_findings(planned.order, planned.holes)
    assert has_errors(found)
    assert len(found) == 20  # the screws of 90 mm
    first = found[0]
    assert (first.rule, first.measure, first.severity) == ("grip", "screw-length", "error")
    assert first.components == ("front-closing-cross-member", "recovery-pin-bracket")
    assert first.holes == ("front-closing-cross-member.1.a3",)
    assert first.holes[0] in first.message
    assert first.value == pytest.approx(86.5)
    assert first.limit == 80
    assert "80 mm" in first.message
    without = [line for line in kit_lines(kit_of(planned)) if line.length is None and line.item == CAP_SCREW]
    assert {line.components for line in without} == {finding.components for finding in found}


def test_a_fastener_without_listed_lengths_is_no_error() -> None:
    planned = with_lengths(sample("P-1001"), "M18x1.5", ())
    assert stack_findings(planned.order, planned.holes) == ()


def test_the_demo_serials_have_a_screw_for_every_stack() -> None:
    for serial in ("P-1001", "P-1002", "P-1003", "T-2001", "T-2002", "S-3001", "S-3002"):
        assert not [f for f in sample(serial).findings if f.measure == "screw-length"]


@pytest.mark.parametrize("serial", ["P-1001", "T-2001", "S-3001"])
def test_every_hole_with_a_screw_gets_its_pieces_once(serial: str) -> None:
    found = kit(serial)
    holes, lines = found.holes, kit_lines(found)
    fastened = [
        row
        for row in range(len(holes))
        if holes.part[row] == RAIL and holes.fastener[row] != NONE and holes.shape[row] != MARK
    ]
    assert sorted(found.screws.row.tolist()) == fastened
    flush = sum(holes.fastener_of(row).startswith("Flush") for row in fastened)
    count = Counter[str]()
    for line in lines:
        count[line.item] += line.count
    assert count[CAP_SCREW] + count[FLUSH_SCREW] == count[NUT] == len(fastened)
    assert count[FLUSH_SCREW] == flush
    assert count[WASHER] == 2 * len(fastened) - flush
    by_owner = Counter[tuple[str, ...]](holes.owners_of(row) for row in fastened)
    assert by_owner == Counter({owners: _screws(lines, owners) for owners in by_owner})


def _screws(lines: tuple, owners: tuple[str, ...]) -> int:
    return sum(line.count for line in lines if line.components == owners and line.item in (CAP_SCREW, FLUSH_SCREW))


def test_summed_lines_stand_once_and_add_up() -> None:
    found = kit("T-2001")
    lines = kit_lines(found)
    sums = summed(found, lines)
    assert len({(line.item, line.size, line.length) for line in sums}) == len(sums)
    assert sum(line.count for line in sums) == sum(line.count for line in lines)
    # A flush screw's washer and nut are those of the cap screw of its thread.
    assert not any(line.size.startswith("Flush") for line in sums if line.item in (WASHER, NUT))


def test_low_grip_is_named_by_the_limit_sets_rows() -> None:
    assert low_grips(kit("P-1001")) == []
    bracket = library().components["isolator-switch-bracket"]
    bare = bracket.model_copy(update={"plies": bracket.plies[:1]})
    order = sample("P-1001").order.order
    found = kit_of(
        plan(order, compile_catalogue(replace(library(), components={**library().components, bare.id: bare})))
    )
    named = {(found.holes.owners_of(int(found.screws.row[place])), least) for place, least in low_grips(found)}
    assert named == {(("isolator-switch-bracket",), 2.0)}
    # Under a set whose rows ask for three diameters many more are named, and none under one that says nothing.
    row = {"rule": "grip", "measure": "bolt-diameters", "error": 3.0, "unit": "ratio", "source": "test"}
    zone = Zone(start=-9000, end=9000, reason="test", approver="test", rows=(LimitRow.model_validate(row),))
    strict = order.model_copy(update={"limits": OrderLimits(set="house", zones=(zone,))})
    held = kit_of(replace(sample("P-1001"), order=replace(sample("P-1001").order, order=strict)))
    grips = {place: held.screws.grip[place] / held.fastener_at(place).diameter for place in range(len(held.screws.row))}
    assert dict(low_grips(held)) == {place: 3.0 for place, ratio in grips.items() if ratio < 3.0}
    silent = replace(sample("P-1001").order, limit_set="aisc-360")
    assert low_grips(kit_of(replace(sample("P-1001"), order=silent))) == []


@pytest.mark.parametrize("serial", ["P-1001", "S-3002", "T-2002"])
def test_joints_hold_every_screw_once_and_are_tightened_from_the_centre_outward(serial: str) -> None:
    found = kit(serial)
    joints = joints_of(found)
    assert sorted(place for joint in joints for place in joint.screws.tolist()) == list(range(len(found.screws.row)))
    for joint in joints:
        rows = found.screws.row[joint.screws]
        assert set(found.holes.side[rows].tolist()) == {joint.side}
        assert set(found.holes.face[rows].tolist()) == {joint.face}
        points = np.column_stack([found.holes.station[rows], found.holes.across[rows]])
        away = np.linalg.norm(points - points.mean(axis=0), axis=1)
        assert (np.diff(away) > -0.1).all()


def test_components_that_share_holes_are_one_joint() -> None:
    found = kit("P-1001")
    (front,) = (j for j in joints_of(found) if j.side == 0 and "recovery-pin-bracket" in j.components)
    assert front.components == ("front-closing-cross-member", "recovery-pin-bracket")
    assert len(front.screws) == 6


def test_crosswise_within_a_ring_by_hand() -> None:
    # Two rows of three: the middle pair first, then a corner, the opposite one, and the other two.
    points = np.array([(0, 0), (0, 70), (0, 140), (70, 0), (70, 70), (70, 140)], dtype=np.float64)
    order = tightening_order(points).tolist()
    assert order[:2] == [1, 4]
    assert order[2:] == [2, 3, 5, 0]
    assert tightening_order(points[:1]).tolist() == [0]


def test_joint_types_cover_all_joints() -> None:
    found = kit("P-1001")
    types = joint_types(found)
    assert sum(kind.count for kind in types) == len(joints_of(found))
    assert sum(kind.count * len(kind.screws) for kind in types) == len(found.screws.row)
    plate = next(kind for kind in types if kind.components == ("gritter-body-plate",))
    assert {side: len(stations) for side, stations in stations_by_side(plate).items()} == dict.fromkeys(SIDES, 4)
