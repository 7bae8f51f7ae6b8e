"""What the assembly jig is set to: by hand for one serial, and by its own geometry over all families."""

from __future__ import annotations

from dataclasses import replace
from math import hypot, sqrt

import numpy as np
import pytest
from demo_serials import bank_serials, sample

from railgen.holes.table import LH, RH
from railgen.layout.plan import SerialPlan
from railgen.shop.jig import LEAST_BAY, Diagonals, cross_members, diagonals, inside_face, jig_setting, locating_holes


def test_frame_width_pins_and_diagonals_by_hand() -> None:
    setting = jig_setting(sample("P-1001"))
    assert setting.frame_width == 800
    front, rear = setting.locating
    assert front.station == (-407.5, -407.5)  # steering at -440, and 32.5
    assert front.height == (150, 150)  # half of 300
    assert rear.station == (4800, 4800)  # the centre of the bogie
    assert rear.height == (103, 103)  # 47 below it
    assert setting.by_pins is not None
    by_hand = sqrt(5207.5**2 + 800**2 + 47**2)
    assert setting.by_pins.lh_to_rh == pytest.approx(by_hand)
    assert setting.by_pins.rh_to_lh == pytest.approx(by_hand)
    # Rail 1500 + 4800 + 1700 long, corners at the webs' outside faces.
    assert setting.by_ends.lh_to_rh == pytest.approx(hypot(8000, 800))


def test_a_bay_by_hand() -> None:
    # From the front cross member (datum -1405, foot to 58 behind it, on the rail's web) to the gearbox's (1150, foot
    # from 51.5 ahead of it, on the liner: 9.5 and 7 thick); webs 800 apart over their outside faces.
    setting = jig_setting(sample("P-1001"))
    bay = setting.bays[0]
    clear = (1150 - 51.5) - (-1405 + 58)
    assert bay.clear == pytest.approx(clear)
    across = 800 - 9.5 - (9.5 + 7)
    assert bay.diagonals.lh_to_rh == pytest.approx(hypot(clear, across))
    assert bay.diagonals.rh_to_lh == pytest.approx(hypot(clear, across))


def test_cross_members_stand_where_they_are_placed_with_feet_and_bolts() -> None:
    members = {member.component: member for member in cross_members(sample("P-1001"))}
    gearbox = members["gearbox-cross-member"]
    for end in gearbox.ends:
        assert end is not None
        assert (end.station, end.front, end.rear, end.bolts) == (1150, 1098.5, 1201.5, 6)
        assert (end.low, end.high) == (80, 220)
    trunnion = members["bogie-trunnion-cross-member"].ends[LH]
    assert trunnion is not None
    assert trunnion.bolts == 4  # those that it shares with the hangers


def test_the_face_under_a_foot_is_the_liners_where_it_reaches_over_one() -> None:
    rail = sample("P-1001").order.rail
    assert rail.liner is not None
    start, end = rail.liner.start, rail.liner.end
    assert inside_face(rail, start - 100, start) == 9.5
    assert inside_face(rail, start - 100, start + 1) == 9.5 + 7
    assert inside_face(rail, end - 1, end + 100) == 9.5 + 7
    assert inside_face(rail, end, end + 100) == 9.5


def test_diagonals_tell_a_ladder_out_of_square() -> None:
    # RH 10 further back: LH to RH longer, RH to LH shorter.
    square = diagonals(((0, 0), (0, 800)), ((600, 0), (600, 800)))
    assert square == Diagonals(((0, 0), (0, 800)), ((600, 0), (600, 800)), 1000.0, 1000.0)
    skewed = diagonals(((0, 0), (10, 800)), ((600, 0), (610, 800)))
    assert skewed.lh_to_rh == pytest.approx(hypot(610, 800))
    assert skewed.rh_to_lh == pytest.approx(hypot(590, 800))
    assert diagonals(((0, 0), (0, 800)), ((600, 0), (600, 800)), (50, 0)).lh_to_rh == pytest.approx(hypot(1000, 50))


def test_settings_over_the_bank() -> None:
    seen = 0
    for planned in bank_serials(most=60, step=3):
        setting = jig_setting(planned)
        rail = planned.order.rail
        assert len(setting.locating) >= 2
        assert setting.by_pins is not None
        assert len(setting.bays) >= 4
        for bay in setting.bays:
            assert bay.clear >= LEAST_BAY
            across = [point[1] for pair in (bay.diagonals.front, bay.diagonals.rear) for point in pair]
            assert 0 < min(across) < max(across) < setting.frame_width
        for member in setting.members:
            assert rail.front <= member.front < member.rear <= rail.rear
        assert [m.front for m in setting.members] == sorted(m.front for m in setting.members)
        seen += 1
    assert seen > 50


def without_pins(planned: SerialPlan, side: int) -> SerialPlan:
    holes = planned.holes
    return replace(planned, holes=holes.rows(~((holes.side == side) & holes.locating)))


def test_without_pins_on_one_rail_there_is_no_check_by_them() -> None:
    planned = without_pins(sample("P-1001"), RH)
    pins = locating_holes(planned)
    assert [np.isnan(pin.station[RH]) for pin in pins] == [True, True]
    assert jig_setting(planned).by_pins is None
