"""Rules wrench-access, weld-clearance, liner-edge, holes-in-line, ramp-flush and press-limit, at and around limits."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from at_limit_shapes import pressed
from builders import LINER_SECTION, SECTION, TAPER_START, rail_shape
from clearance_cases import FRAME_WIDTH, Placed, box, component, demo, foot, found, pattern, row, screws

from railgen.data.plant import Tool
from railgen.holes.sharing import merge_shared
from railgen.rules.clearances import clearance_findings
from railgen.rules.pattern import Pattern
from railgen.rules.ramp import head_proud, nut_proud
from railgen.shop.strings import may_be_strung

MICROMETRE = 1e-3
STUD = {"face": "web", "datum": "bottom", "fastener": "M8 stud", "operation": "stud"}
SOCKET = 38.0 / 2  # M16
WASHER = 30.0 / 2  # M16


def hole(station: float, across: float, diameter: float = 17.0, face: str = "web", **keys: Any) -> dict[str, Any]:
    """A hole group of one plain hole."""
    datum = "bottom" if face == "web" else "web"
    feature = {"id": "h", "station": station, "across": across, "diameter": diameter} | keys
    return {"face": face, "datum": datum, "features": [feature]}


def stud(station: float, across: float, face: str = "web") -> dict[str, Any]:
    datum = "bottom" if face == "web" else "web"
    feature = {"id": "s", "shape": "mark", "station": station, "across": across}
    return STUD | {"face": face, "datum": datum, "features": [feature]}


def severities(made: Pattern, rule: str, measure: str) -> list[str]:
    return [f.severity for f in found(made, rule, measure)]


# Wrenches.


@pytest.mark.parametrize(
    ("clear", "expected"),
    [
        (5.0, []),
        (5.0 - MICROMETRE, ["warning"]),
        (2.0, ["warning"]),
        (2.0 - MICROMETRE, ["error"]),
        (2.0 + MICROMETRE, ["warning"]),
    ],
)
def test_a_socket_keeps_off_the_flange(clear: float, expected: list[str]) -> None:
    """Inside the channel the bottom flange's inside face is at z = t."""
    part = component(groups=[screws((0.0, SECTION.thickness + SOCKET + clear))])
    findings = found(pattern([Placed(part)]), "wrench-access", "radial")
    assert [f.severity for f in findings] == expected
    assert all(f.value == pytest.approx(clear) for f in findings)


def test_in_a_liner_its_flanges_are_nearer_and_for_a_flange_screw_the_web_is() -> None:
    rail = rail_shape(liner=True)
    inside = 9.5 + 0.5 + LINER_SECTION.thickness  # t, half the gap, the liner's t
    part = component(groups=[screws((0.0, inside + SOCKET + 1.0))])
    assert [f.value for f in found(pattern([Placed(part, 1000.0)], rail), "wrench-access", "radial")] == pytest.approx(
        [1.0]
    )
    assert severities(pattern([Placed(part, 3000.0)], rail), "wrench-access", "radial") == []
    flange = component(groups=[screws((0.0, SECTION.thickness + SOCKET + 1.0), face="top")])
    (finding,) = found(pattern([Placed(flange, 3000.0)], rail), "wrench-access", "radial")
    assert finding.value == pytest.approx(1.0)


def test_under_a_ramp_the_flange_comes_down() -> None:
    rail = rail_shape("after-forming")
    taper = rail.taper
    assert taper is not None
    part = component(groups=[screws((0.0, 195.0))])
    (finding,) = found(pattern([Placed(part, 4900.0)], rail), "wrench-access", "radial")
    # The inside face lies t / 2 below the line of mid-thickness through the hinge, square to the slope.
    fall = (4900.0 - taper.start) * np.tan(taper.slope)
    below = (300 - 9.5 / 2 - fall - 195.0) * np.cos(taper.slope) - 9.5 / 2
    assert finding.value == pytest.approx(below - SOCKET)


@pytest.mark.parametrize(("clear", "expected"), [(2.0, ["warning"]), (2.0 - MICROMETRE, ["error"]), (5.0, [])])
def test_a_socket_keeps_off_the_next_washer(clear: float, expected: list[str]) -> None:
    part = component(groups=[screws((0.0, 150.0), (SOCKET + WASHER + clear, 150.0))])
    assert severities(pattern([Placed(part)]), "wrench-access", "radial") == expected


def test_of_two_sizes_the_nearer_way_counts() -> None:
    small = screws((0.0, 150.0)) | {"fastener": "M12x1.25"}
    large = screws((34.0, 150.0)) | {"features": [{"id": "other", "station": 34.0, "across": 150.0}]}
    (finding,) = found(pattern([Placed(component(groups=[small, large]))]), "wrench-access", "radial")
    # M12: socket 28, washer 24; M16: socket 38, washer 30.
    assert finding.value == pytest.approx(34 - max(14 + 15, 19 + 12))


@pytest.mark.parametrize(("clear", "count"), [(5.0, 0), (4.0, 1), (1.0, 1)])
@pytest.mark.parametrize("surface", ["outside", "inside"])
def test_a_socket_keeps_off_foreign_feet_on_both_face_sides(surface: str, clear: float, count: int) -> None:
    part = component("screw", groups=[screws((0.0, 150.0))])
    plate = component("plate", footprints=[foot((0, 60), (100, 60), (100, 240), (0, 240), surface=surface)])
    made = pattern([Placed(part), Placed(plate, SOCKET + clear)])
    findings = found(made, "wrench-access", "radial")
    assert len(findings) == count
    assert all(f.components == ("plate", "screw") and f.value == pytest.approx(clear) for f in findings)


def test_a_flush_head_needs_no_socket_round_it() -> None:
    group = screws((0.0, 150.0)) | {"fastener": "Flush M12x1.25", "operation": "countersink"}
    part = component("screw", groups=[group])
    for surface, count in (("outside", 0), ("inside", 1)):
        plate = component("plate", footprints=[foot((0, 60), (100, 60), (100, 240), (0, 240), surface=surface)])
        assert len(found(pattern([Placed(part), Placed(plate, 15.0)]), "wrench-access", "radial")) == count


def test_nut_and_head_sides_follow_the_component() -> None:
    """A box 50 mm before the web outside: too near for a head (60) or a nut (80) alike; inside 70 mm only for a nut."""
    obstacle = component("obstacle", envelopes=[box(-50, 50, (-90, -50), (100, 200))])
    beyond = component("obstacle", envelopes=[box(-50, 50, (9.5 + 70, 200), (100, 200))])
    for head, outside, inside in (("outside", "head-length", "nut-length"), ("inside", "nut-length", "head-length")):
        part = component("screw", groups=[screws((0.0, 150.0))], head=head)
        (finding,) = found(pattern([Placed(part), Placed(obstacle)]), "wrench-access", outside)
        assert finding.value == pytest.approx(50.0)
        assert finding.components == ("obstacle", "screw")
        assert len(found(pattern([Placed(part), Placed(beyond)]), "wrench-access", inside)) == (inside == "nut-length")


@pytest.mark.parametrize(("length", "count"), [(80.0, 0), (80.0 - MICROMETRE, 1), (80.0 + MICROMETRE, 0)])
def test_own_plies_come_off_the_free_length(length: float, count: int) -> None:
    plies = [{"thickness": 12.0, "surface": "inside"}, {"thickness": 8.0, "surface": "outside"}]
    part = component("screw", groups=[screws((0.0, 150.0))], plies=plies)
    start = SECTION.thickness + 12.0 + length
    obstacle = component("obstacle", envelopes=[box(-50, 50, (start, start + 50), (100, 200))])
    findings = found(pattern([Placed(part), Placed(obstacle)]), "wrench-access", "nut-length")
    assert [f.value for f in findings] == ([pytest.approx(length)] if count else [])


@pytest.mark.parametrize(
    ("clearance", "count"), [("static", 1), ("service", 1), ("heat", 1), ("motion", 0), ("tyre", 0)]
)
def test_only_what_is_solid_stands_in_the_way(clearance: str, count: int) -> None:
    part = component("screw", groups=[screws((0.0, 150.0))])
    obstacle = component("obstacle", envelopes=[box(-50, 50, (20, 60), (100, 200), clearance=clearance)])
    assert len(found(pattern([Placed(part), Placed(obstacle)]), "wrench-access", "nut-length")) == count


def test_a_box_beside_the_sockets_circle_is_not_before_it() -> None:
    part = component("screw", groups=[screws((0.0, 150.0))])
    for start, count in ((SOCKET, 0), (SOCKET - MICROMETRE, 1)):
        obstacle = component("obstacle", envelopes=[box(start, start + 50, (20, 60), (100, 200))])
        assert len(found(pattern([Placed(part), Placed(obstacle)]), "wrench-access", "nut-length")) == count


def test_what_reaches_over_from_the_other_side_is_seen_and_own_envelopes_are_not() -> None:
    part = component("screw", groups=[screws((0.0, 150.0))], envelopes=[box(-50, 50, (9.5, 60), (100, 200))])
    assert found(pattern([Placed(part)]), "wrench-access", "nut-length") == []
    over = component("over", envelopes=[box(-50, 50, (400, FRAME_WIDTH - 60), (100, 200))])
    (finding,) = found(pattern([Placed(part), Placed(over, sides=("RH",))]), "wrench-access", "nut-length")
    assert finding.side == "LH"
    assert finding.value == pytest.approx(60 - 9.5)


def test_a_flange_screw_has_the_other_flange_opposite() -> None:
    rows = [row("wrench-access", "nut-length", 300.0)]
    part = component(
        groups=[
            screws((0.0, 55.0), face="top"),
            screws((0.0, 55.0), face="bottom") | {"features": [{"id": "b", "across": 55.0}]},
        ]
    )
    values = [f.value for f in found(pattern([Placed(part, 3000.0)], rows=rows), "wrench-access", "nut-length")]
    assert values == pytest.approx([300 - 2 * 9.5] * 2)
    lined = pattern([Placed(part, 1000.0)], rail_shape(liner=True), rows)
    assert [f.value for f in found(lined, "wrench-access", "nut-length")] == pytest.approx([280 - 2 * 6.0] * 2)
    over = component("over", envelopes=[box(-50, 50, (30, 80), (320, 400))])
    (finding,) = found(pattern([Placed(part, 3000.0), Placed(over, 3000.0)]), "wrench-access", "head-length")
    assert finding.face == "top"
    assert finding.value == pytest.approx(20.0)


# Welds and liners.


@pytest.mark.parametrize(
    ("gap", "expected"),
    [(28.5, []), (28.5 - MICROMETRE, ["warning"]), (20.0, ["warning"]), (20.0 - MICROMETRE, ["error"])],
)
def test_a_hole_keeps_off_the_seam(gap: float, expected: list[str]) -> None:
    """max(2 t, 20 mm), warning 3 t, from the hole's edge to the lower cut edge."""
    rail = rail_shape("after-forming")
    taper = rail.taper
    assert taper is not None
    station = 4500.0
    # Square to the edge from a point on it, so that the distance is the gap whatever the slope.
    on_edge = np.array([station, float(taper.lower_cut_z(station))])
    centre = on_edge - (8.5 + gap) * np.array([np.sin(taper.slope), np.cos(taper.slope)])
    made = pattern([Placed(component(groups=[hole(float(centre[0]), float(centre[1]))]))], rail)
    findings = found(made, "weld-clearance", "hole")
    assert [f.severity for f in findings] == expected
    assert all(f.value == pytest.approx(gap) for f in findings)


@pytest.mark.parametrize(("gap", "expected"), [(30.0, []), (25.0, ["warning"]), (25.0 - MICROMETRE, ["error"])])
@pytest.mark.parametrize("shape", [{}, {"shape": "slot", "length": 57.0}])
def test_a_stud_keeps_off_holes(shape: dict[str, Any], gap: float, expected: list[str]) -> None:
    half = 28.5 if shape else 8.5
    part = component(groups=[stud(0.0, 150.0), hole(half + gap, 150.0, **shape)])
    assert severities(pattern([Placed(part)]), "weld-clearance", "stud-hole") == expected


def test_a_stud_keeps_off_tangents_and_flanges() -> None:
    tangent = SECTION.tangent
    for off, expected in ((23.75, []), (19.0, ["warning"]), (19.0 - MICROMETRE, ["error"])):
        part = component(groups=[stud(0.0, tangent + off)])
        assert severities(pattern([Placed(part)]), "weld-clearance", "stud-tangent") == expected
    part = component(groups=[stud(0.0, 60.0, face="bottom")])
    assert severities(pattern([Placed(part)]), "weld-clearance", "flange") == ["error"]


@pytest.mark.parametrize("side", [-1, 1])
@pytest.mark.parametrize(
    ("gap", "expected"),
    [(20.0, []), (20.0 - MICROMETRE, ["warning"]), (13.0, ["warning"]), (13.0 - MICROMETRE, ["error"])],
)
def test_holes_keep_off_a_liners_ends_ahead_and_behind(side: int, gap: float, expected: list[str]) -> None:
    """max(2 t of the liner, 13 mm) = 13 mm; warning at 20 mm; the liner ends at 2500."""
    part = component(groups=[hole(0.0, 150.0)])
    made = pattern([Placed(part, 2500.0 + side * (8.5 + gap))], rail_shape(liner=True))
    assert severities(made, "liner-edge", "hole") == expected


@pytest.mark.parametrize(("gap", "count"), [(2.0, 0), (2.0 - MICROMETRE, 1), (-4.0, 1)])
def test_washers_keep_off_a_liners_ends(gap: float, count: int) -> None:
    part = component(groups=[screws((0.0, 150.0))])
    made = pattern([Placed(part, 2500.0 + WASHER + gap)], rail_shape(liner=True))
    assert [f.value for f in found(made, "liner-edge", "washer")] == ([pytest.approx(gap)] if count else [])


def test_a_flange_hole_beyond_the_liners_flange_is_not_near_it() -> None:
    inner = component(groups=[hole(0.0, 60.0, face="top")])
    outer = component(groups=[hole(0.0, 88.0, diameter=4.0, face="top")])  # the liner's flange ends at 85.5
    rail = rail_shape(liner=True)
    assert severities(pattern([Placed(inner, 2510.0)], rail), "liner-edge", "hole") == ["error"]
    assert severities(pattern([Placed(outer, 2510.0)], rail), "liner-edge", "hole") == []


# Lines of holes.


def in_line(count: int, step: float) -> list[Placed]:
    features = [{"id": f"h{i}", "station": i * step, "across": 50.0 + 40.0 * i, "diameter": 17.0} for i in range(count)]
    return [Placed(component(groups=[{"face": "web", "datum": "bottom", "features": features}]), 1000.0)]


def test_house_counts_extents_and_published_sets_centres() -> None:
    assert severities(pattern(in_line(4, 1.0)), "holes-in-line", "count") == []
    (finding,) = found(pattern(in_line(5, 4.0)), "holes-in-line", "count")
    assert (finding.value, finding.limit) == (5.0, 4.0)
    assert len(finding.holes) == 5
    assert finding.station_mm == pytest.approx(1000.0)
    # 17 mm holes: extents of five meet up to a step of 4.25 mm.
    assert severities(pattern(in_line(5, 4.25 - MICROMETRE)), "holes-in-line", "count") == ["error"]
    assert severities(pattern(in_line(5, 4.25)), "holes-in-line", "count") == []
    # Published: at most 3; four have their centres within one radius, 8.5 mm, up to a step of 8.5 / 3 mm.
    for step, expected in ((8.5 / 3 - MICROMETRE, ["error"]), (8.5 / 3 + MICROMETRE, [])):
        assert severities(pattern(in_line(4, step), limit_set="body-builder"), "holes-in-line", "count") == expected


def test_a_shallow_tail_allows_one_hole_less() -> None:
    rail = rail_shape("after-forming")  # 300 deep at 3800, 220 at 5000: 250 at 4550
    features = [{"id": f"h{i}", "across": 45.0 + 28.0 * i, "diameter": 11.0} for i in range(4)]
    part = component(groups=[{"face": "web", "datum": "bottom", "features": features}])
    assert severities(pattern([Placed(part, 4540.0)], rail), "holes-in-line", "count") == []
    assert severities(pattern([Placed(part, 4560.0)], rail), "holes-in-line", "count") == ["error"]


# The ramp.


def ramp(**keys: Any) -> list[Placed]:
    group = screws((0.0, 60.0), face="top", **keys)
    return [Placed(component(groups=[group], flange_holes=True), TAPER_START + 600.0)]


def test_a_screw_on_the_ramp_stands_proud_by_head_and_washer() -> None:
    fastener = demo().fasteners["M16x1.5"]
    assert fastener.head_height is not None
    assert fastener.washer_thickness is not None
    (finding,) = found(pattern(ramp(), rail_shape("after-forming")), "ramp-flush", "proud")
    assert finding.value == pytest.approx(fastener.head_height + fastener.washer_thickness)
    assert severities(pattern(ramp()), "ramp-flush", "proud") == []


def test_a_flush_head_is_proud_or_deep_by_its_cone() -> None:
    """90 degrees: the head's cone grows by as much as it rises, so the countersink holds (D - d) / 2 of it."""
    flush = demo().fasteners["Flush M12x1.25"]
    assert flush.countersink is not None
    assert flush.head_height is not None
    assert flush.countersink.angle == 90
    held = (flush.countersink.diameter - flush.diameter) / 2
    assert head_proud(flush) == pytest.approx(flush.head_height - held)
    assert nut_proud(flush) == pytest.approx((flush.nut_height or 0) + (flush.washer_thickness or 0))
    for proud in (0.0, MICROMETRE, -1.0, -1.0 - MICROMETRE):
        made = pattern(ramp(fastener="Flush M12x1.25", operation="countersink"), rail_shape("after-forming"))
        changed = flush.model_copy(update={"head_height": held + proud})
        library = replace(made.order.library, fasteners={**made.order.library.fasteners, "Flush M12x1.25": changed})
        made = replace(made, order=replace(made.order, library=library), _evaluated={}, _computed={})
        ramp_findings = [f for f in clearance_findings(made) if f.rule == "ramp-flush"]
        expected = {MICROMETRE: [("proud", "error")], -1.0 - MICROMETRE: [("recess", "warning")]}.get(proud, [])
        assert [(f.measure, f.severity) for f in ramp_findings] == expected


def test_a_plate_on_the_ramp_stands_proud_by_its_plies() -> None:
    plies = [{"thickness": 8.0, "surface": "outside"}]
    plate = component("plate", footprints=[foot((0, 40), (50, 40), (50, 80), (0, 80), face="top")], plies=plies)
    rail = rail_shape("after-forming")
    (finding,) = found(pattern([Placed(plate, 4500.0)], rail), "ramp-flush", "proud")
    assert finding.value == pytest.approx(8.0)
    assert finding.components == ("plate",)
    assert found(pattern([Placed(plate, 3000.0)], rail), "ramp-flush", "proud") == []


# The press.


def test_force_is_perimeter_times_thickness_times_shear() -> None:
    """S700MC of the builders: 950 MPa most, so 0.75 x 950; the demo's press takes what it says."""
    press = demo().press
    share = np.pi * 200.0 * SECTION.thickness * 0.75 * 950 / (press.force * 1000)
    part = component(groups=[hole(0.0, 150.0, diameter=200.0)])
    for limit, expected in ((share, []), (share - 1e-5, ["error"]), (share + 1e-5, [])):
        rows = [row("press-limit", "force", limit, unit="ratio")]
        findings = found(pattern([Placed(part)], rows=rows), "press-limit", "force")
        assert [f.severity for f in findings] == expected
        assert all(f.value == pytest.approx(share) for f in findings)


def test_a_size_without_a_tool_is_named_unless_it_is_drilled() -> None:
    odd = component(groups=[hole(0.0, 150.0, diameter=17.123)])
    assert [f.holes for f in found(pattern([Placed(odd)]), "press-limit", "tool")] == [("bracket.1.h",)]
    drilled = component(groups=[hole(0.0, 150.0, diameter=17.123, operation="drill")])
    assert found(pattern([Placed(drilled)]), "press-limit", "tool") == []


def slotted(name: str, of_group: dict[str, Any], **of_feature: Any) -> Placed:
    """A component with a web slot of 20 x 65 that may be shared."""
    group = hole(0.0, 150.0, 20.0, shape="slot", length=65.0, **of_feature)
    return Placed(component(name, groups=[group | of_group], shared_holes=True))


def test_a_string_cuts_an_opening_only_where_its_component_lets_it() -> None:
    tool = Tool(id="R 20", shape="round", diameter=20.0, strings=True)
    cases = (
        ({}, {}, 0),
        ({"strings": False}, {}, 1),
        ({"strings": False}, {"strings": True}, 0),
        ({}, {"strings": False}, 1),
    )
    for of_group, of_feature, expected in cases:
        made = pressed(pattern([slotted("bracket", of_group, **of_feature)]), tools=(tool,))
        assert len(found(made, "press-limit", "tool")) == expected


def test_a_shared_opening_is_cut_by_a_string_only_where_every_owner_lets_it() -> None:
    for of_second in (True, False):
        made = pattern([slotted("first", {}), slotted("second", {"strings": of_second})])
        shared = merge_shared(made.table)
        assert set(map(shared.owners_of, range(len(shared)))) == {("first", "second")}
        assert set(may_be_strung(shared).tolist()) == {of_second}


def test_a_hole_by_a_clamp_is_an_error_only_where_the_clamps_cannot_stand_elsewhere() -> None:
    press = demo().press
    clamp = press.clamps[0]
    # From the bottom flange's edge: y = B - blank_y; a hole over the clamp's depth plus the dead zone is clear.
    across = SECTION.flange - (clamp.depth + 25.0 + 5.5)
    at_clamp = -1000.0 + clamp.station
    for shifts, up, expected in (
        ((0.0,), 0.0, []),
        ((0.0,), MICROMETRE, ["error"]),
        ((0.0, 300.0), MICROMETRE, []),
    ):
        part = component(groups=[hole(0.0, across + up, diameter=11.0, face="bottom")])
        made = pattern([Placed(part, at_clamp)])
        changed = press.model_copy(update={"clamp_shifts": shifts, "gauge_edge": "bottom", "gauge_end": "front"})
        library = replace(made.order.library, presses={press.id: changed})
        made = replace(made, order=replace(made.order, library=library), _evaluated={}, _computed={})
        assert severities(made, "press-limit", "clamp") == expected


def test_reach_and_blank_are_the_presses_own() -> None:
    part = component(groups=[hole(0.0, 60.0, face="top")])
    made = pattern([Placed(part)])
    press = made.order.library.press
    v = float(made.table.v[0])
    for reach, count in ((v, 0), (v - MICROMETRE, 1)):
        changed = press.model_copy(update={"reach": reach, "longest_blank": 5999.0, "widest_blank": 100.0})
        library = replace(made.order.library, presses={press.id: changed})
        other = replace(made, order=replace(made.order, library=library), _evaluated={}, _computed={})
        assert len(found(other, "press-limit", "reach")) == count
        blank = found(other, "press-limit", "blank")
        assert [(f.side, f.part, f.value) for f in blank] == [("LH", "rail", 2.0), ("RH", "rail", 2.0)]
    assert found(made, "press-limit", "blank") == []
