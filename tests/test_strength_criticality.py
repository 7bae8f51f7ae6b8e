"""Hole criticality: the published stress-concentration factor, nominal stress at the edge, and the ranking."""

from __future__ import annotations

import numpy as np
import pytest
from strength_cases import Table, component, gross_modulus, planned, web_holes, without_holes

from railgen.layout.plan import SerialPlan
from railgen.strength.bending import RailBending, bending_of
from railgen.strength.criticality import Criticality, rank_holes, sharpness, stress_concentration

BODY = {"dynamic_factor": 2.0, "body_mass": 20_000, "body_start": 1500, "body_end": 6200}


@pytest.mark.parametrize(
    ("share", "factor"),
    # Peterson by the reference values: Kt = 3 - 3.13 q + 3.66 q2 - 1.53 q3.
    [(0.0, 3.0), (0.1, 2.72207), (0.25, 2.42234), (0.5, 2.15875), (1.0, 2.0)],
)
def test_published_stress_concentration(share: float, factor: float) -> None:
    assert stress_concentration(np.array([share * 80]), np.array([80.0])) == pytest.approx([factor], abs=1e-5)


def test_a_round_hole_in_a_wide_plate_has_three_and_a_sharp_corner_more() -> None:
    # Inglis 1913, from memory: 1 + 2 sqrt(a / rho); 3 for a circle, 5 for a slot across the stress of rho = a / 4.
    assert sharpness(np.array([8.0, 20.0]), np.array([8.0, 5.0])) * 3 == pytest.approx([3, 5])


def ranked(parts: list[Table], **entries: object) -> tuple[SerialPlan, tuple[RailBending, ...], Criticality]:
    serial = planned(parts, loads=BODY, **entries)
    rails = bending_of(serial.order, serial.placements, serial.holes, without_holes(serial))
    return serial, rails, rank_holes(serial.order, serial.holes, rails)


def test_nominal_stress_at_a_holes_edge_by_hand() -> None:
    serial, rails, found = ranked([component("bracket", 2500, groups=[web_holes((0.0, 60.0))])])
    moment = abs(rails[0].loads.diagram.moment_at(np.array([2500.0]))[0])
    index = found.row.tolist().index(int(np.flatnonzero(serial.holes.side == 0)[0]))
    nominal = moment / gross_modulus(serial) * (60 + 8.75) / 150
    assert found.nominal[index] == pytest.approx(nominal)
    assert found.factor[index] == pytest.approx(
        3 - 3.13 * 17.5 / 300 + 3.66 * (17.5 / 300) ** 2 - 1.53 * (17.5 / 300) ** 3
    )
    assert found.peak[index] == pytest.approx(found.nominal[index] * found.factor[index])


def test_a_flange_hole_has_the_stress_of_the_outermost_fibre() -> None:
    group = {
        "face": "bottom",
        "datum": "edge",
        "fastener": "M12x1.25",
        "features": [{"id": "a", "across": -28.0}],
    }
    serial, rails, found = ranked([component("clamp", 2500, groups=[group], flange_holes=True)])
    moment = abs(rails[0].loads.diagram.moment_at(np.array([2500.0]))[0])
    assert found.nominal.max() == pytest.approx(moment / gross_modulus(serial), rel=0.02)
    q = 13.5 / 90
    assert found.factor == pytest.approx([3 - 3.13 * q + 3.66 * q**2 - 1.53 * q**3] * 2)


def test_further_from_mid_depth_ranks_before_nearer() -> None:
    heights = (90.0, 0.0, -60.0, 30.0)
    group = web_holes(*((0.0, height) for height in heights))
    serial, _, found = ranked([component("bracket", 2500, side="LH", groups=[group])])
    order = [serial.holes.across[row] - 150 for row in found.row.tolist()]
    assert order == pytest.approx([90, -60, 30, 0])
    assert found.rank.tolist() == [1, 2, 3, 4]
    assert (np.diff(found.peak) < 0).all()


def test_holes_of_equal_stress_share_a_rank() -> None:
    group = web_holes((0.0, 80.0), (0.0, -80.0), (0.0, 20.0))
    _, _, found = ranked([component("bracket", 2500, side="LH", groups=[group])])
    assert found.rank.tolist() == [1, 1, 3]


def test_a_sharp_opening_across_the_rail_ranks_before_a_round_one() -> None:
    features = [
        {"id": "r", "shape": "rectangle", "diameter": 30, "length": 60, "angle": 90},
        {"id": "s", "shape": "slot", "diameter": 30, "length": 60, "angle": 90, "station": 200},
        {"id": "h", "diameter": 60, "station": 400},
    ]
    group = {"face": "web", "datum": "middle", "across": 60, "features": features}
    serial, _, found = ranked([component("passage", 2400, side="LH", groups=[group])])
    assert [serial.holes.hole_id(row)[-1] for row in found.row.tolist()] == ["r", "s", "h"]
    assert found.factor[0] / found.factor[2] == pytest.approx((1 + 2 * np.sqrt(30 / 4.75)) / 3)
    assert found.factor[1] / found.factor[2] == pytest.approx((1 + 2 * np.sqrt(30 / 15)) / 3)


def test_liner_holes_are_ranked_and_marks_are_not() -> None:
    liner = {"start": 500, "end": 3500, "section": "280 x 75 x 6.5", "steel": "S500MC"}
    marks = {"face": "web", "datum": "middle", "features": [{"id": "m", "shape": "mark", "station": 300}]}
    serial, _, found = ranked([component("bracket", 2500, groups=[web_holes((0.0, 60.0)), marks])], liner=liner)
    assert len(found) == 4
    assert set(serial.holes.part[found.row].tolist()) == {0, 1}
    # The hole is the same and its edge stands at the same height; the liner's web is narrower.
    assert found.nominal == pytest.approx([found.nominal[0]] * 4, rel=0.02)


def test_without_loads_nothing_is_ranked() -> None:
    serial = planned([component("bracket", 2500, groups=[web_holes((0.0, 60.0))])])
    assert len(rank_holes(serial.order, serial.holes, ())) == 0
