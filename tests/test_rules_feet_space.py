"""Rules footprint-clash and space-clash against plain loops over sampled points, and at their limits."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pytest
from builders import FRONT, REAR, TAPER_START, rail_shape
from clearance_cases import FRAME_WIDTH, Placed, box, component, foot, found, pattern, row, sampled, screws
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.rules.space import distances

MICROMETRE = 1e-3
SQUARE = ((-50.0, 60.0), (50.0, 60.0), (50.0, 160.0), (-50.0, 160.0))
NOTCHED = (
    (-50.0, 60.0),
    (50.0, 60.0),
    (50.0, 160.0),
    (20.0, 160.0),
    (20.0, 90.0),
    (-20.0, 90.0),
    (-20.0, 160.0),
    (-50.0, 160.0),
)


def shifted(corners: tuple[tuple[float, float], ...], x: float, z: float = 0.0) -> list[tuple[float, float]]:
    return [(a + x, b + z) for a, b in corners]


def inside(point: tuple[float, float], corners: list[tuple[float, float]]) -> bool:
    """Whether a point lies in a polygon, by counting crossings of a ray."""
    x, y = point
    crossings = 0
    for (x0, y0), (x1, y1) in zip(corners, corners[1:] + corners[:1], strict=True):
        if (y0 > y) != (y1 > y) and x < x0 + (y - y0) / (y1 - y0) * (x1 - x0):
            crossings += 1
    return crossings % 2 == 1


def apart(first: list[tuple[float, float]], second: list[tuple[float, float]]) -> float:
    """Distance of two polygons by points on their edges, 0 where one has a point in the other."""
    if any(inside(p, second) for p in first) or any(inside(p, first) for p in second):
        return 0.0
    some, others = sampled(first), sampled(second)
    return float(np.sqrt(((some[:, None] - others[None]) ** 2).sum(axis=-1)).min())


def two_feet(gap: float, **second: Any) -> list[Placed]:
    """Two square feet with a gap between them along the rail."""
    one = component("one", footprints=[foot(*SQUARE)])
    other = component("other", footprints=[foot(*SQUARE)], **second)
    return [Placed(one, 1000.0), Placed(other, 1100.0 + gap)]


@pytest.mark.parametrize(
    ("gap", "severities"),
    [
        (1.0, ["warning"]),
        (1.0 - MICROMETRE, ["error"]),
        (1.0 + MICROMETRE, ["warning"]),
        (3.0, []),
        (3.0 - MICROMETRE, ["warning"]),
        (3.0 + MICROMETRE, []),
        (-20.0, ["error"]),
    ],
)
def test_feet_at_just_inside_and_just_outside_the_limit(gap: float, severities: list[str]) -> None:
    findings = found(pattern(two_feet(gap)), "footprint-clash", "feet")
    assert [f.severity for f in findings] == severities
    for finding in findings:
        assert finding.value == pytest.approx(max(gap, 0.0), abs=1e-9)
        assert finding.components == ("one", "other")
        assert (finding.side, finding.face) == ("LH", "web")
        assert finding.station_mm == pytest.approx(1000.0)


def test_declared_stacks_may_lie_on_each_other_and_either_may_say_so() -> None:
    assert found(pattern(two_feet(-20.0, stacks_onto=["one"])), "footprint-clash", "feet") == []
    lower = component("one", footprints=[foot(*SQUARE)], stacks_onto=["other"])
    upper = component("other", footprints=[foot(*SQUARE)])
    assert found(pattern([Placed(lower, 0.0), Placed(upper, 20.0)]), "footprint-clash", "feet") == []


def test_other_surfaces_faces_and_sides_do_not_meet() -> None:
    one = component("one", footprints=[foot(*SQUARE)])
    inner = component("inner", footprints=[foot(*SQUARE, surface="inside")])
    flange = component("flange", footprints=[foot((-50, 40), (50, 40), (50, 80), (-50, 80), face="top")])
    right = component("right", footprints=[foot(*SQUARE)])
    placed = [Placed(one), Placed(inner), Placed(flange), Placed(right, sides=("RH",))]
    assert found(pattern(placed), "footprint-clash", "feet") == []


def test_a_foot_may_stand_in_the_notch_of_another() -> None:
    """True polygons, not the boxes round them."""
    notched = component("notched", footprints=[foot(*NOTCHED)])
    small = component("small", footprints=[foot((-15, 95), (15, 95), (15, 150), (-15, 150))])
    assert found(pattern([Placed(notched), Placed(small)]), "footprint-clash", "feet") == []
    (touching,) = found(pattern([Placed(notched), Placed(small, 4.5)]), "footprint-clash", "feet")
    assert touching.value == pytest.approx(0.5)


def test_a_turned_part_turns_its_foot() -> None:
    """Turned half round the vertical its station offsets change sign; as a mirror image they do not."""
    long = component("long", footprints=[foot((0, 60), (200, 60), (200, 160), (0, 160))])
    plain = component("plain", footprints=[foot(*SQUARE)])
    ahead = Placed(plain, -100.0)
    assert found(pattern([Placed(long), ahead]), "footprint-clash", "feet") == []
    assert len(found(pattern([Placed(long, direction=-1.0), ahead]), "footprint-clash", "feet")) == 1


polygons = st.lists(st.tuples(st.floats(20, 60), st.floats(0.3, 1.0)), min_size=3, max_size=7).map(
    lambda spokes: [
        (r * np.cos(a), 150 + r * np.sin(a))
        for (r, _), a in zip(
            spokes, np.cumsum([w for _, w in spokes]) / sum(w for _, w in spokes) * 2 * np.pi, strict=True
        )
    ]
)


@settings(max_examples=20, deadline=None)
@given(st.lists(st.tuples(polygons, st.floats(0, 400)), min_size=2, max_size=5))
def test_feet_of_any_shape_against_sampled_points(placed: list[tuple[list[tuple[float, float]], float]]) -> None:
    """Star-shaped polygons, convex or not; each pair's distance by points on the edges."""
    parts = [component(f"part{i}", footprints=[foot(*corners)]) for i, (corners, _) in enumerate(placed)]
    made = pattern([Placed(part, x) for part, (_, x) in zip(parts, placed, strict=True)])
    findings = {f.components: f.value for f in found(made, "footprint-clash", "feet")}
    for (i, (one, x)), (j, (other, y)) in combinations(enumerate(placed), 2):
        distance = apart(shifted(tuple(one), x), shifted(tuple(other), y))
        names = (f"part{i}", f"part{j}")
        if distance < 2.9:
            assert findings.pop(names) == pytest.approx(distance, abs=0.02)
        elif distance > 3.1:
            assert names not in findings


@pytest.mark.parametrize(
    ("low", "severities"),
    [(33.5, ["warning"]), (33.5 - MICROMETRE, ["error"]), (34.5, []), (34.5 - MICROMETRE, ["warning"])],
)
def test_a_foot_keeps_off_the_tangent(low: float, severities: list[str]) -> None:
    """The web is flat from r + t = 33.5 mm up."""
    part = component(footprints=[foot((0, low), (80, low), (80, 160), (0, 160))])
    findings = found(pattern([Placed(part)]), "footprint-clash", "tangent")
    assert [f.severity for f in findings] == severities
    assert all(f.value == pytest.approx(low - 33.5) for f in findings)


def test_inside_a_liner_its_tangents_count() -> None:
    part = component(footprints=[foot((0, 31), (80, 31), (80, 160), (0, 160), surface="inside")])
    (finding,) = found(pattern([Placed(part, 1000.0)], rail_shape(liner=True)), "footprint-clash", "tangent")
    # Both channels: the rail's tangent at 33.5; the liner's at t + gap / 2 + 22 = 32.
    assert finding.value == pytest.approx(31 - 33.5)
    flange = component(footprints=[foot((0, 34), (80, 34), (80, 80), (0, 80), face="bottom", surface="inside")])
    lined = pattern([Placed(flange, 1000.0)], rail_shape(liner=True))
    # On the flange the rail's is at 33.5, the liner's at 9.5 + 22 = 31.5.
    assert [f.value for f in found(lined, "footprint-clash", "tangent")] == pytest.approx([0.5])


def test_a_foot_over_the_fold_of_a_ramp_lies_on_a_bend() -> None:
    part = component(footprints=[foot((-40, 40), (40, 40), (40, 80), (-40, 80), face="top")])
    folded = pattern([Placed(part, TAPER_START)], rail_shape("after-forming"))
    (finding,) = found(folded, "footprint-clash", "tangent")
    taper = rail_shape("after-forming").taper
    assert taper is not None
    half = taper.fold_half_width
    assert finding.value == pytest.approx(max(-40 - half, -40 - half * np.cos(taper.slope)))


def test_below_a_ramp_the_web_is_shallower() -> None:
    part = component(footprints=[foot((0, 150), (40, 150), (40, 250), (0, 250))])
    rail = rail_shape("after-forming")
    taper = rail.taper
    assert taper is not None
    assert found(pattern([Placed(part, 2000.0)], rail), "footprint-clash", "tangent") == []
    (finding,) = found(pattern([Placed(part, 4700.0)], rail), "footprint-clash", "tangent")
    # Distance of the foot's upper rear corner to the turned tangent, by the line through two of its points.
    first, second = taper.turn_down(np.array([(4000.0, 300 - 33.5), (5000.0, 300 - 33.5)]))
    along = (second - first) / np.hypot(*(second - first))
    corner = np.array([4740.0, 250.0]) - first
    assert finding.value == pytest.approx(corner[1] * along[0] * -1 + corner[0] * along[1], abs=1e-9)


@pytest.mark.parametrize(
    ("station", "value"),
    [(FRONT + 50, None), (FRONT + 49, -1.0), (FRONT + 50 - MICROMETRE, -MICROMETRE), (REAR - 20, -30.0)],
)
def test_a_foot_ends_where_the_rail_does(station: float, value: float | None) -> None:
    findings = found(pattern([Placed(component(footprints=[foot(*SQUARE)]), station)]), "footprint-clash", "end")
    assert [f.value for f in findings] == ([] if value is None else [pytest.approx(value, abs=1e-9)])


def test_a_foot_inside_lies_on_the_liner_or_beside_it() -> None:
    inner = component(footprints=[foot(*SQUARE, surface="inside")])
    outer = component(footprints=[foot(*SQUARE)])
    for station, value in (
        (500.0, -50.0),
        (460.0, -10.0),
        (450.0, None),
        (550.0, None),
        (1000.0, None),
        (2490.0, -40.0),
    ):
        findings = found(pattern([Placed(inner, station)], rail_shape(liner=True)), "footprint-clash", "end")
        assert [f.value for f in findings] == ([] if value is None else [pytest.approx(value)])
        assert found(pattern([Placed(outer, station)], rail_shape(liner=True)), "footprint-clash", "end") == []


@pytest.mark.parametrize(
    ("gap", "count"), [(3.0, 0), (3.0 - MICROMETRE, 1), (3.0 + MICROMETRE, 0), (-5.0, 1), (-200.0, 1)]
)
def test_a_washer_keeps_off_a_foreign_foot(gap: float, count: int) -> None:
    """The washer of an M16 is 30 mm wide; below its foot a screw's washer reaches 15 mm in."""
    screw = component("screw", groups=[screws((0.0, 110.0))])
    plate = component("plate", footprints=[foot((0, 60), (400, 60), (400, 160), (0, 160))])
    made = pattern([Placed(screw, 1000.0), Placed(plate, 1015.0 + gap)])
    findings = found(made, "footprint-clash", "washer")
    assert len(findings) == count
    for finding in findings:
        assert finding.value == pytest.approx(max(gap, -15.0))
        assert finding.holes == ("screw.1.f0",)
        assert finding.components == ("plate", "screw")


def test_owners_and_stacks_may_have_their_feet_over_a_screw() -> None:
    own = component("own", groups=[screws((0.0, 110.0))], footprints=[foot(*SQUARE)])
    assert found(pattern([Placed(own)]), "footprint-clash", "washer") == []
    shared = {"shared_holes": True, "groups": [screws((0.0, 110.0))]}
    first = component("first", **shared)
    second = component("second", footprints=[foot(*SQUARE)], **shared)
    assert found(pattern([Placed(first), Placed(second)]), "footprint-clash", "washer") == []
    plate = component("plate", footprints=[foot(*SQUARE)], stacks_onto=["first"])
    assert found(pattern([Placed(first), Placed(plate)]), "footprint-clash", "washer") == []


def test_a_stud_stands_on_one_face_side_only() -> None:
    group = {"face": "web", "datum": "bottom", "fastener": "M8 stud", "operation": "stud"}
    stud = component("stud", groups=[group | {"features": [{"id": "s", "shape": "mark", "across": 110.0}]}])
    for surface, count in (("outside", 1), ("inside", 0)):
        plate = component("plate", footprints=[foot(*SQUARE, surface=surface)])
        assert len(found(pattern([Placed(stud), Placed(plate)]), "footprint-clash", "washer")) == count


# Spaces.


def boxes(gap: float, first: dict[str, Any] | None = None, second: dict[str, Any] | None = None) -> list[Placed]:
    """Two boxes with a gap between them along the rail."""
    plain = {"across": (100.0, 200.0), "height": (0.0, 100.0)}
    one = component("one", envelopes=[box(0, 100, **plain, **(first or {}))])
    other = component("other", envelopes=[box(0, 100, **plain, **(second or {}))])
    return [Placed(one, 0.0), Placed(other, 100.0 + gap)]


@pytest.mark.parametrize(
    ("first", "second", "measure", "need"),
    [
        ("static", "static", "static", 10.0),
        ("static", "service", "service", 30.0),
        ("service", "motion", "service", 30.0),
        ("motion", "static", "motion", 30.0),
        ("tyre", "service", "tyre", 40.0),
        ("heat", "tyre", "heat", 100.0),
    ],
)
def test_the_larger_need_of_two_envelopes_holds(first: str, second: str, measure: str, need: float) -> None:
    classes = {"clearance": first}, {"clearance": second}
    for gap, count in ((need, 0), (need + MICROMETRE, 0), (need - MICROMETRE, 1)):
        findings = found(pattern(boxes(gap, *classes)), "space-clash", measure)
        assert len(findings) == count
        assert all(f.limit == need and f.value == pytest.approx(gap) for f in findings)


def test_a_shield_halves_the_need_of_heat() -> None:
    hot = {"clearance": "heat"}
    assert found(pattern(boxes(60.0, hot)), "space-clash", "heat")[0].limit == 100.0
    assert found(pattern(boxes(60.0, hot | {"shielded": True})), "space-clash", "heat") == []
    assert found(pattern(boxes(40.0, hot | {"shielded": True})), "space-clash", "heat")[0].limit == 50.0


def test_overlapping_boxes_lack_the_least_shift_that_parts_them() -> None:
    (finding,) = found(pattern(boxes(-30.0)), "space-clash", "static")
    assert finding.value == pytest.approx(-30.0)
    assert finding.components == ("one", "other")
    assert finding.station_mm == pytest.approx(50.0)


def test_boxes_of_one_component_or_of_a_stack_do_not_clash() -> None:
    twice = component("twice", envelopes=[box(0, 100, (0, 50), (0, 50)), box(50, 150, (0, 50), (0, 50))])
    assert found(pattern([Placed(twice), Placed(twice, 50.0)]), "space-clash", "static") == []
    one, other = boxes(-30.0)
    stacked = component("other", envelopes=[box(0, 100, (100, 200), (0, 100))], stacks_onto=["one"])
    assert found(pattern([one, Placed(stacked, other.station)]), "space-clash", "static") == []


def test_parts_of_both_sides_meet_across_the_frame() -> None:
    """From LH up to 5 mm beyond the middle, from RH up to 3 mm short of it: they overlap by 2 mm."""
    half = FRAME_WIDTH / 2
    left = component("left", envelopes=[box(0, 100, (0, half + 5), (0, 100))])
    right = component("right", envelopes=[box(0, 100, (0, half - 3), (0, 100))])
    (finding,) = found(pattern([Placed(left), Placed(right, sides=("RH",))]), "space-clash", "static")
    assert finding.value == pytest.approx(-2.0)
    assert finding.side == "LH"


def test_one_finding_for_two_components_however_many_boxes() -> None:
    one = component("one", envelopes=[box(0, 50, (0, 50), (0, 50)), box(50, 100, (0, 50), (0, 50))])
    other = component("other", envelopes=[box(0, 50, (55, 99), (0, 50)), box(50, 100, (57, 99), (0, 50))])
    (finding,) = found(pattern([Placed(one), Placed(other)]), "space-clash", "static")
    assert finding.value == pytest.approx(5.0)


ends = st.tuples(st.floats(-60, 60), st.floats(5, 60)).map(lambda pair: (pair[0], pair[0] + pair[1]))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(ends, ends, ends), min_size=2, max_size=2))
def test_distance_of_boxes_against_sampled_points(two: list[Any]) -> None:
    low, high = np.array(two)[:, :, 0], np.array(two)[:, :, 1]
    value = float(distances(low[:1], high[:1], low[1:], high[1:])[0])
    grids = []
    for index in (0, 1):
        lines = [np.linspace(low[index, axis], high[index, axis], 9) for axis in range(3)]
        grids.append(np.stack(np.meshgrid(*lines), axis=-1).reshape(-1, 3))
    sampled_distance = np.sqrt(((grids[0][:, None] - grids[1][None]) ** 2).sum(axis=-1)).min()
    if value >= 0:
        assert value <= sampled_distance + 1e-9
        nearest = np.clip((low[0] + high[0]) / 2, low[1], high[1])
        for _ in range(50):  # nearest points by turns
            other = np.clip(nearest, low[0], high[0])
            nearest = np.clip(other, low[1], high[1])
        assert value == pytest.approx(float(np.sqrt(((nearest - other) ** 2).sum())), abs=1e-9)
    else:
        shifts = []
        for axis in range(3):
            shifts += [high[0, axis] - low[1, axis], high[1, axis] - low[0, axis]]
        assert value == pytest.approx(-min(shifts))


def test_limits_may_be_replaced_by_a_zone() -> None:
    rows = [row("space-clash", "static", 80.0)]
    (finding,) = found(pattern(boxes(70.0), rows=rows), "space-clash", "static")
    assert finding.limit == 80.0
    assert finding.source.startswith("zone ")
