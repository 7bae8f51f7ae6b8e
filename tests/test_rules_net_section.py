"""Rule net-section: its findings at the lines of holes, at its limits, along zones, liners and straight ends."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from builders import LINER_SECTION, SECTION, Hole, rail_shape, rail_table
from clearance_cases import Placed, component, found, pattern, row, screws
from net_section_cases import left, left_by_product

from railgen.frame.liner import LinerShape
from railgen.holes.shapes import cores_of
from railgen.strength.net_section import net_section


def column(*heights: float, diameter: float = 40.0, station: float = 0.0) -> dict[str, object]:
    features = [{"id": f"h{i}", "station": station, "across": z} for i, z in enumerate(heights)]
    return {"face": "web", "datum": "bottom", "diameter": diameter, "features": features}


def test_one_finding_a_run_at_the_line_of_the_holes() -> None:
    holes = component(groups=[column(60, 150, 240)])
    apart = pattern([Placed(holes, 1000.0), Placed(holes, 2000.0)])
    findings = found(apart, "net-section", "rail")
    assert [f.station_mm for f in findings] == pytest.approx([1000.0, 2000.0], abs=1e-6)
    net, gross = left(rail_shape(), [Hole(1000, z, 40) for z in (60, 150, 240)], 1000.0)
    assert [f.value for f in findings] == pytest.approx([net / gross] * 2, rel=1e-3)
    assert 0.85 < net / gross < 0.9
    assert [(f.severity, f.limit) for f in findings] == [("warning", 0.9)] * 2
    assert findings[0].holes == ("bracket.1.h0", "bracket.1.h1", "bracket.1.h2")


@pytest.mark.parametrize("off", [90.0, 70.0])
def test_offset_holes_have_their_least_where_polygons_have_it(off: float) -> None:
    """Two equal holes as far below as above mid-depth, 14 mm apart along the rail: alike from both ends, two leasts.

    Within the kern the second hole moves the axis back and spares the far fibre, so that the least is where it is not
    cut yet; further out it lies between the centres, at neither of them. The foremost of the two is named.
    """
    other = {"id": "other", "station": 14.0, "across": 150.0 + off}
    holes = component(groups=[column(150.0 - off), column() | {"features": [other]}])
    rows = [row("net-section", "rail", 0.99, unit="ratio")]
    (finding,) = found(pattern([Placed(holes, 1000.0)], rows=rows), "net-section", "rail")
    plain = [Hole(1000.0, 150.0 - off, 40.0), Hole(1014.0, 150.0 + off, 40.0)]
    places = np.arange(990.0, 1007.0, 0.05)
    ratios = [np.divide(*left(rail_shape(), plain, x)) for x in places]
    least = int(np.argmin(ratios))
    assert finding.station_mm == pytest.approx(places[least], abs=0.1)
    assert finding.value == pytest.approx(ratios[least], rel=1e-4)


def test_an_inner_least_is_where_the_ratio_neither_grows_nor_falls() -> None:
    other = {"id": "other", "station": 14.0, "across": 240.0}
    holes = component(groups=[column(60.0), column() | {"features": [other]}])
    rows = [row("net-section", "rail", 0.99, unit="ratio")]
    (finding,) = found(pattern([Placed(holes, 1000.0)], rows=rows), "net-section", "rail")
    plain = [Hole(1000.0, 60.0, 40.0), Hole(1014.0, 240.0, 40.0)]
    station = finding.station_mm
    assert station is not None
    assert 1000.5 < station < 1013.5
    before, after = (left_by_product(rail_shape(), plain, station + step) for step in (-1e-2, 1e-2))
    here = left_by_product(rail_shape(), plain, station)
    assert here < min(before, after)
    # Off by a micrometre, the two would differ by the curvature's share of it.
    assert abs(after - before) < 4e-4 * (before + after - 2 * here)


def test_a_slot_is_named_at_the_front_of_its_straight_part() -> None:
    slot = {"id": "s", "shape": "slot", "diameter": 40.0, "length": 100.0, "across": 60.0}
    holes = component(groups=[{"face": "web", "datum": "bottom", "features": [slot]}])
    rows = [row("net-section", "rail", 0.99, unit="ratio")]
    (finding,) = found(pattern([Placed(holes, 1000.0)], rows=rows), "net-section", "rail")
    assert finding.station_mm == pytest.approx(1000.0 - 30.0, abs=1e-6)


def test_a_slanted_slot_is_named_where_both_its_sides_are_straight() -> None:
    """From there on its width stays what it is: half the straight part ahead, and the end's radius turned by the angle.

    What rounding makes of a kept width differs from station to station.
    """
    rng = np.random.default_rng(6)
    rows = [row("net-section", "rail", 0.999, unit="ratio")]
    for station, angle in zip(rng.uniform(0.0, 3900.0, 12).round(3).tolist(), rng.uniform(5, 40, 12), strict=True):
        slot = {"id": "s", "shape": "slot", "diameter": 16.7, "length": 33.94, "across": 63.0, "angle": angle}
        part = component(groups=[{"face": "top", "datum": "web", "features": [slot]}])
        (finding,) = found(pattern([Placed(part, station)], rows=rows), "net-section", "rail")
        turned = np.radians(angle)
        ahead = 8.62 * np.cos(turned) - 8.35 * np.sin(turned)
        assert finding.station_mm == pytest.approx(station - ahead, abs=1e-6)


@pytest.mark.parametrize(("shift", "severities"), [(0.0, []), (-1e-5, []), (1e-5, ["error"])])
def test_at_just_inside_and_just_outside_the_limit(shift: float, severities: list[str]) -> None:
    holes = component(groups=[column(60, 150, 240)])
    low = [row("net-section", "rail", 0.999, unit="ratio")]
    value = found(pattern([Placed(holes, 1000.0)], rows=low), "net-section", "rail")[0].value
    assert value is not None
    rows = [row("net-section", "rail", value + shift, unit="ratio")]
    findings = found(pattern([Placed(holes, 1000.0)], rows=rows), "net-section", "rail")
    assert [f.severity for f in findings] == severities


def test_behind_the_last_axle_less_is_asked_and_at_it_more() -> None:
    holes = component(groups=[column(60, 240, diameter=48.0)])
    at = {x: found(pattern([Placed(holes, x)]), "net-section", "rail") for x in (3000.0, 4000.0, 4500.0)}
    value = at[3000.0][0].value
    assert value is not None
    assert 0.75 < value < 0.85
    assert [f.limit for f in at[3000.0]] == [0.85]
    # The line at the axle belongs to both zones: ahead of it the run ends at the axle, behind it less is asked.
    assert 0.85 in [f.limit for f in at[4000.0]]
    assert all(f.limit == 0.8 and f.severity == "warning" for f in at[4500.0])


def test_a_liner_is_counted_between_its_ends_only() -> None:
    holes = component(groups=[column(60, 150, 240)])
    lined = pattern([Placed(holes, 300.0), Placed(holes, 1000.0)], rail_shape(liner=True))
    assert len(found(lined, "net-section", "rail")) == 2
    (finding,) = found(lined, "net-section", "with-liner")
    assert finding.station_mm == pytest.approx(1000.0, abs=1e-6)
    net, gross = left(rail_shape(liner=True), [Hole(1000, z, 40) for z in (60, 150, 240)], 1000.0, with_liner=True)
    assert finding.value == pytest.approx(net / gross, rel=1e-3)


def test_marks_take_no_steel() -> None:
    studs = {"face": "web", "datum": "bottom", "fastener": "M8 stud", "operation": "stud"}
    marks = component(groups=[studs | {"features": [{"id": "m", "shape": "mark", "across": 150.0}]}])
    rows = [row("net-section", "rail", 0.9999, unit="ratio")]
    assert found(pattern([Placed(marks, 1000.0)], rows=rows), "net-section", "rail") == []


def test_screws_fill_nothing() -> None:
    with_screw = component(groups=[screws((0.0, 60.0))])
    rows = [row("net-section", "rail", 0.9999, unit="ratio")]
    (finding,) = found(pattern([Placed(with_screw, 1000.0)], rows=rows), "net-section", "rail")
    net, gross = left(rail_shape(), [Hole(1000, 60, 17.5)], 1000.0)
    assert finding.value == pytest.approx(net / gross, rel=1e-3)


def test_a_hole_wider_than_a_flange_is_named_where_all_its_flat_steel_is_first_cut() -> None:
    """Flat from r + t = 33.5 to 90, so within 28.25 of 61.75: a circle of radius 35 spans that 20.66 off its centre."""
    hole = {"face": "bottom", "datum": "web", "diameter": 70.0, "features": [{"id": "h", "across": 61.75}]}
    rows = [row("net-section", "rail", 0.99, unit="ratio")]
    (finding,) = found(pattern([Placed(component(groups=[hole]), 1000.0)], rows=rows), "net-section", "rail")
    assert finding.station_mm == pytest.approx(1000.0 - np.sqrt(35.0**2 - 28.25**2), abs=1e-9)


def test_the_least_just_behind_a_rectangle_s_end_names_what_is_cut_there() -> None:
    """Cutting the rectangle too moves the axis and spares the far fibre: the least is where it is cut no more."""
    rectangle = {"id": "r", "shape": "rectangle", "diameter": 40.0, "length": 60.0, "across": 185.0}
    holes = component(groups=[column(60.0, station=30.0), column() | {"features": [rectangle]}])
    rows = [row("net-section", "rail", 0.99, unit="ratio")]
    (finding,) = found(pattern([Placed(holes, 1000.0)], rows=rows), "net-section", "rail")
    assert finding.station_mm == pytest.approx(1030.0, abs=1e-9)
    assert finding.holes == ("bracket.1.h0",)
    net, gross = left(rail_shape(), [Hole(1030.0, 60.0, 40.0)], 1030.0)
    assert finding.value == pytest.approx(net / gross, rel=1e-4)


def test_pieces_meet_each_opening_along_the_whole_of_it() -> None:
    rng = np.random.default_rng(3)
    rail = rail_shape(liner=True)
    holes = [Hole(round(float(x), 3), 60.0, round(float(d), 2)) for x, d in rng.uniform([510, 6], [2490, 40], (300, 2))]
    table = rail_table(rail, holes)
    cores = cores_of(table, np.where(table.part == 1, LINER_SECTION.thickness, SECTION.thickness))
    for with_liner in (False, True):
        net = net_section(rail, table, cores, with_liner)
        length = np.bincount(net.pieces.opening, (net.pieces.end - net.pieces.start)[net.pieces.piece])
        assert length == pytest.approx(net.openings.end - net.openings.start, abs=1e-9)


def test_a_slot_across_the_rail_takes_its_straight_side_at_once_and_no_more() -> None:
    """Its straight side stands on one station: whatever digits say there, the line at its middle takes the most."""
    slot = {"id": "s", "shape": "slot", "diameter": 26.97, "length": 50.0, "across": 62.0, "angle": 90.0}
    part = component(groups=[{"face": "bottom", "datum": "web", "features": [slot]}])
    rows = [row("net-section", "rail", 0.999, unit="ratio")]
    stations = np.random.default_rng(4).uniform(-900.0, 4900.0, 15).round(9).tolist()
    net, gross = left(rail_shape(), [Hole(1000.0, 62.0, 26.97, "bottom", "slot", 50.0, 90.0)], 1000.0)
    for station in stations:
        for finding in found(pattern([Placed(part, station, sides=("LH", "RH"))], rows=rows), "net-section", "rail"):
            assert finding.station_mm == pytest.approx(station, abs=1e-6)
            assert finding.value == pytest.approx(net / gross, rel=1e-4)


def test_behind_a_liner_no_hole_of_a_top_flange_counts_with_it() -> None:
    """Least ratios of rail and liner on a tapered rail are those without the holes behind the liner's end."""
    rows = [row("net-section", "with-liner", 0.999, unit="ratio")]
    line = component("line", groups=[column(60, 150, 240)])
    behind = component("behind", groups=[column(60.0, diameter=17.0) | {"face": "top", "datum": "web"}])
    rail = replace(rail_shape("after-forming"), liner=LinerShape(500.0, 1200.0, LINER_SECTION, SECTION))
    stations = [1300.0 + 20.0 * number for number in range(100)]
    alone = found(pattern([Placed(line, 1000.0, ("RH",))], rail, rows), "net-section", "with-liner")
    placed = [Placed(line, 1000.0, ("RH",)), *(Placed(behind, x, ("LH", "RH")) for x in stations)]
    together = found(pattern(placed, rail, rows), "net-section", "with-liner")
    assert [(f.station_mm, f.value) for f in together] == [(f.station_mm, f.value) for f in alone]


def test_a_line_at_the_very_end_of_a_liner_counts() -> None:
    """Whatever digits the liner's ends have: the lines of both sides run to them."""
    for number in np.random.default_rng(8).uniform(600.0, 2900.0, 40).round(1).tolist():
        rail = replace(rail_shape(), liner=LinerShape(500.3, number, LINER_SECTION, SECTION))
        table = rail_table(rail, [Hole(number, 150.0, 40.0)])
        cores = cores_of(table, np.where(table.part == 1, LINER_SECTION.thickness, SECTION.thickness))
        pieces = net_section(rail, table, cores, with_liner=True).pieces
        assert [pieces.end[pieces.side == side].max() for side in (0, 1)] == pytest.approx([number] * 2, abs=1e-9)
        assert (pieces.end[pieces.piece] > number - 20.1).sum() == 2
