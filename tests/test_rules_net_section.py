"""Rule net-section against other ways to reckon it: shapely integration, sectionproperties, dense stations."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from builders import LINER_SECTION, SECTION, Hole, rail_shape, rail_table
from clearance_cases import Placed, component, found, pattern, row, screws
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import affinity

from railgen.frame.liner import LinerShape
from railgen.frame.rail import RailShape
from railgen.frame.section import Section
from railgen.holes.shapes import cores_of
from railgen.strength.least_ratio import lower_bounds, stretches_below
from railgen.strength.net_section import NetSection, net_section

ARC = 64  # segments of a quarter circle


def channel(section: Section, depth: float, y: float = 0.0, z: float = 0.0) -> shapely.Polygon:
    """A channel in (across, height), its web's outside face at y and its underside at z; bends as quarter rings."""
    t, corner, big = section.thickness, section.tangent, 10 * section.flange
    outer = shapely.box(corner, corner, big, depth - corner).buffer(corner, quad_segs=ARC)
    inside = section.inside_radius
    inner = shapely.box(t + inside, t + inside, big, depth - t - inside).buffer(inside, quad_segs=ARC)
    whole = outer.difference(inner).intersection(shapely.box(0, 0, section.flange, depth))
    return affinity.translate(whole, y, z)


def integrated(area: shapely.Geometry) -> np.ndarray:
    """Area, first and second moment about height 0, by integration along a polygon's edges."""
    total = np.zeros(3)
    for polygon in shapely.get_parts(area):
        polygon = shapely.geometry.polygon.orient(polygon)  # holes then run the other way and count as less
        for ring in (polygon.exterior, *polygon.interiors):
            y, z = np.array(ring.coords).T
            cross = y[:-1] * z[1:] - y[1:] * z[:-1]
            powers = 1 / 2, (z[:-1] + z[1:]) / 6, (z[:-1] ** 2 + z[:-1] * z[1:] + z[1:] ** 2) / 12
            total += [(cross * power).sum() for power in powers]
    return total


def modulus(parts: list[shapely.Geometry]) -> float:
    """Section modulus of parts side by side about the axis through their common centroid, for the lesser fibre.

    The plain sum: where a liner's corner digs into the rail's bend (which is a finding of its own) both count.
    """
    size, first, second = np.sum([integrated(part) for part in parts], axis=0)
    axis = first / size
    low, high = min(part.bounds[1] for part in parts), max(part.bounds[3] for part in parts)
    return float((second - first**2 / size) / max(high - axis, axis - low))


def cut(hole: Hole, station: float) -> tuple[float, float] | None:
    """What the line at a station cuts out of a hole's true shape, across."""
    if hole.shape == "round":
        core = shapely.Point(hole.station, hole.across)
        shape = core.buffer(hole.diameter / 2, quad_segs=512)
    else:
        half = hole.length / 2
        inner = hole.diameter / 2 if hole.shape == "slot" else max(SECTION.thickness / 2, 3.0)
        box = shapely.box(-half + inner, -hole.diameter / 2 + inner, half - inner, hole.diameter / 2 - inner)
        core = shapely.LineString([(-half + inner, 0), (half - inner, 0)]) if hole.shape == "slot" else box
        shape = affinity.translate(
            affinity.rotate(core.buffer(inner, quad_segs=512), hole.angle, origin=(0, 0)), hole.station, hole.across
        )
    line = shape.intersection(shapely.LineString([(station, -999), (station, 999)]))
    return None if line.is_empty else (line.bounds[1], line.bounds[3])


def left(rail: RailShape, holes: list[Hole], station: float, with_liner: bool = False) -> tuple[float, float]:
    """Net and gross modulus at a station, by polygons."""
    depth = float(rail.depth_at(station))
    parts = [channel(SECTION, depth)]
    if with_liner and rail.liner:
        parts.append(channel(LINER_SECTION, LINER_SECTION.depth, rail.liner.offset_y, rail.liner.offset_z))
    taken = [opening(hole, *ends, depth) for hole in holes if (ends := cut(hole, station))]
    return modulus([part.difference(shapely.union_all(taken)) for part in parts]), modulus(parts)


def opening(hole: Hole, low: float, high: float, depth: float) -> shapely.Polygon:
    """What is gone of the cross-section where a hole is cut from low to high."""
    if hole.face == "web":
        return shapely.box(-1, low, SECTION.thickness + LINER_SECTION.thickness + 1, high)
    return (
        shapely.box(low, -1, high, depth / 2) if hole.face == "bottom" else shapely.box(low, depth / 2, high, depth + 1)
    )


def made(rail: RailShape, holes: list[Hole], with_liner: bool = False) -> NetSection:
    """The product's net section of some holes on the LH side."""
    table = rail_table(rail, [Hole(**(vars(hole) | {"sides": ("LH",)})) for hole in holes])
    thickness = np.where(table.part == 1, LINER_SECTION.thickness, SECTION.thickness)
    return net_section(rail, table, cores_of(table, thickness), with_liner)


def left_by_product(rail: RailShape, holes: list[Hole], station: float, with_liner: bool = False) -> float:
    return float(made(rail, holes, with_liner).least_moduli(np.array([0]), np.array([station]))[0])


OVERLAPPING = [
    Hole(1000.0, 90.0, 40.0),
    Hole(1014.0, 104.0, 30.0),  # overlaps the first one: the steel they share is taken once
    Hole(1009.0, 205.0, 26.0),
    Hole(1016.0, 150.0, 22.0, shape="slot", length=60.0, angle=30.0),
    Hole(1003.0, 240.0, 17.0),
]
FLANGES = [Hole(1000.0, 60.0, 17.0, face="top"), Hole(1006.0, 55.0, 13.0, face="bottom"), Hole(1004.0, 70.0, 40.0)]
PASSAGE = [Hole(1000.0, 150.0, 50.0, shape="rectangle", length=90.0, angle=20.0), Hole(1030.0, 220.0, 21.0)]


@pytest.mark.parametrize("holes", [OVERLAPPING, FLANGES, PASSAGE], ids=["overlapping", "flanges", "passage"])
@pytest.mark.parametrize("with_liner", [False, True], ids=["rail", "with liner"])
@pytest.mark.parametrize("station", [992.0, 1000.0, 1005.3, 1008.0, 1013.0, 1021.0])
def test_modulus_left_is_that_of_integrated_polygons(holes: list[Hole], with_liner: bool, station: float) -> None:
    rail = rail_shape(liner=with_liner)
    net, _ = left(rail, holes, station, with_liner)
    assert left_by_product(rail, holes, station, with_liner) == pytest.approx(net, rel=1e-3)


@pytest.mark.parametrize("holes", [OVERLAPPING, FLANGES], ids=["overlapping", "flanges"])
@pytest.mark.parametrize("station", [1000.0, 1008.0])
def test_modulus_left_is_that_of_sectionproperties(holes: list[Hole], station: float) -> None:
    """Finite elements over the cross-section with the holes cut out: the general library, to 0.1 %."""
    from sectionproperties.analysis import Section as Analysis
    from sectionproperties.pre import Geometry

    steel = channel(SECTION, SECTION.depth)
    for hole in holes:
        if ends := cut(hole, station):
            steel = steel.difference(opening(hole, *ends, SECTION.depth))
    # Pieces that a hole through a flange parts still bend as one section, as the rail between the holes makes them.
    pieces = [Geometry(piece) for piece in getattr(steel, "geoms", [steel])]
    compound = pieces[0]
    for piece in pieces[1:]:
        compound = compound + piece
    compound.create_mesh(mesh_sizes=[20.0])
    analysis = Analysis(compound)
    analysis.calculate_geometric_properties()
    upper, lower, *_ = analysis.get_z()
    assert left_by_product(rail_shape(), holes, station) == pytest.approx(min(upper, lower), rel=1e-3)


@pytest.mark.parametrize("station", [3790.0, 3805.0, 4200.0, 4206.0, 4800.0])
def test_along_a_taper_the_gross_value_is_that_of_the_depth_there(station: float) -> None:
    rail = rail_shape("after-forming")
    holes = [Hole(4200.0, 100.0, 30.0), Hole(4210.0, 60.0, 17.0, face="bottom")]
    taper = rail.taper
    assert taper is not None
    relief = Hole(*taper.apex, diameter=2 * taper.relief_radius)
    net, gross = left(rail, [*holes, relief], station)
    assert left_by_product(rail, holes, station) == pytest.approx(net, rel=1e-3)
    assert float(made(rail, holes).gross.modulus(rail.depth_at(np.array(station)))) == pytest.approx(gross, rel=1e-3)


def holes_near() -> st.SearchStrategy[list[Hole]]:
    """Up to seven holes close together, so that their extents overlap along the rail and sometimes they themselves."""
    station, across = st.floats(950, 1050), st.floats(45, 255)
    plain = st.builds(Hole, station, across, st.sampled_from([11.0, 17.0, 21.0, 40.0]))
    slot = st.builds(
        lambda x, z, length, angle: Hole(x, z, 13.0, shape="slot", length=length, angle=angle),
        station,
        across,
        st.floats(20, 60),
        st.sampled_from([0.0, 90.0, 33.0, 140.0]),
    )
    box = st.builds(
        lambda x, z, length, angle: Hole(x, z, 30.0, shape="rectangle", length=length, angle=angle),
        station,
        across,
        st.floats(35, 80),
        st.sampled_from([0.0, 90.0, 17.0, 120.0]),
    )
    flange = st.builds(
        lambda x, y, face: Hole(x, y, 17.0, face=face), station, st.floats(45, 78), st.sampled_from(["top", "bottom"])
    )
    return st.lists(st.one_of(plain, plain, slot, box, flange), min_size=2, max_size=7)


@settings(max_examples=25, deadline=None)
@given(holes_near())
def test_no_station_lies_below_what_is_found(holes: list[Hole]) -> None:
    """Dense stations never find less than the ends of the settled stretches, and bounds hold in every piece."""
    net = made(rail_shape(), holes)
    asked = np.full(len(net.pieces), 0.97)
    bounds, stretches = lower_bounds(net), stretches_below(net, asked)
    piece = np.repeat(np.arange(len(net.pieces)), 101)
    share = np.tile(np.linspace(0, 1, 101), len(net.pieces))
    station = net.pieces.start[piece] * (1 - share) + net.pieces.end[piece] * share
    dense = net.ratios(net.met_by(piece), station).min(axis=0).reshape(-1, 101).min(axis=1)
    assert (dense >= bounds - 1e-9).all()
    settled = np.full(len(net.pieces), np.inf)
    ends = np.minimum(stretches.at_start.min(axis=0), stretches.at_end.min(axis=0))
    np.minimum.at(settled, stretches.piece, ends)
    low = dense < 0.97
    assert (dense[low] >= settled[low] - 2e-9).all()


@settings(max_examples=6, deadline=None)
@given(holes_near(), st.floats(960, 1040))
def test_overlapping_holes_of_any_shape_agree_with_polygons(holes: list[Hole], station: float) -> None:
    # Polygons know nothing of flats: only where the holes keep to them are both ways the same.
    for hole in holes:
        ends = cut(hole, station)
        t = SECTION.tangent
        high = SECTION.depth - t if hole.face == "web" else SECTION.flange
        if ends is not None and (ends[0] < t or ends[1] > high):
            return
    net, _ = left(rail_shape(), holes, station)
    assert left_by_product(rail_shape(), holes, station) == pytest.approx(net, rel=1e-3)


@pytest.mark.parametrize("count", [1, 2, 20])
def test_what_many_openings_share_is_taken_once_however_often_they_have_it(count: int) -> None:
    """Twenty passages of 50 on one place: each taken for itself, they would leave less than no steel."""
    passage, hole = Hole(1000.0, 150.0, 50.0, shape="rectangle", length=90.0), Hole(1044.0, 190.0, 30.0)
    net = made(rail_shape(), [*[passage] * count, hole])
    least = min(np.divide(*left(rail_shape(), [passage, hole], x)) for x in np.arange(1036.0, 1048.0, 0.25))
    stretches = stretches_below(net, np.full(len(net.pieces), 0.999))
    assert min(stretches.at_start.min(), stretches.at_end.min()) == pytest.approx(least, rel=1e-4)


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("off", [0.0, 1e-13, 1e-9])
def test_holes_about_one_centre_take_what_the_largest_takes(off: float) -> None:
    """Circles about one centre, and corners of a rectangle about the ends of a slot, which nowhere cross."""
    holes = [Hole(1000.0 + off * number, 150.0, width) for number, width in enumerate((17.0, 40.0, 23.0))]
    holes.append(Hole(1000.0, 150.0, 13.0, shape="slot", length=33.0))
    net, _ = left(rail_shape(), [holes[1]], 1000.0)
    assert left_by_product(rail_shape(), holes, 1000.0) == pytest.approx(net, rel=1e-4)


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
