"""The section left: its modulus against polygons integrated and against sectionproperties, at any station."""

from __future__ import annotations

import numpy as np
import pytest
from builders import SECTION, Hole, rail_shape
from hypothesis import given, settings
from hypothesis import strategies as st
from net_section_cases import FLANGES, OVERLAPPING, PASSAGE, channel, cut, left, left_by_product, made, opening

from railgen.strength.least_ratio import lower_bounds, stretches_below
from railgen.strength.ranges import Range


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


@pytest.mark.filterwarnings("error")
@given(*(st.tuples(st.floats(-9, 9), st.floats(0, 20)) for _ in range(2)), st.floats(0, 1), st.floats(0, 1))
def test_a_range_divided_by_one_that_reaches_zero_holds_every_quotient(
    dividend: tuple[float, float], divisor: tuple[float, float], first: float, second: float
) -> None:
    """Of values above zero: what a stretch of many slanted slots may leave of the steel has a range from below it."""
    low, high = (np.array([ends[0] for ends in (dividend, divisor)]), np.array([sum(e) for e in (dividend, divisor)]))
    value, by = low + (high - low) * [first, second]
    if by < 1e-9:
        return
    quotient = Range(low[:1], high[:1]).over(Range(low[1:], high[1:]))
    rounding = 1e-12 * (1 + abs(value / by))
    assert quotient.low[0] - rounding <= value / by <= quotient.high[0] + rounding
