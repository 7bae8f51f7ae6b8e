"""Steel around the holes of rated joints, and the rules joint and grip."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from joint_cases import INSIDE, OUTSIDE, SQUARE, check, findings, forces, load, pattern, pin, stacks
from strength_cases import Table, component, planned, web_holes

from railgen.data.findings import Finding
from railgen.layout.plan import SerialPlan
from railgen.rules.steel_around import steel_around
from railgen.rules.strength import grip

TAPER = {"start": 5400, "end_depth": 230, "slit_depth": 70, "root_gap": 3, "trim": 15, "relief_diameter": 24}


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


@pytest.mark.parametrize("tail", [{}, {"taper": TAPER}])
def test_steel_around_slots_is_measured_from_their_end_radii(tail: Table) -> None:
    # Slots 17.5 wide and 37.5 long along the rail: their end radii lie 10 mm from their middles, 40 from the end.
    slots = web_holes((-50.0, 0.0), (50.0, 0.0))
    slots["features"] = [feature | {"shape": "slot", "length": 37.5} for feature in slots["features"]]
    serial = planned([pin(-1110, groups=[slots], loads=[load(40, (-1, 0, 0))])], **tail)
    forward = around(serial, (-1, 0), "a")
    assert forward.end == pytest.approx([40 - 10])
    assert forward.clear == pytest.approx([40 - 10 - 17.5 / 2])
    assert forward.edge == pytest.approx([np.inf])
    assert around(serial, (0, 1), "a").edge == pytest.approx([40 - 10])
    assert around(serial, (-3, 4), "a").end == pytest.approx([(40 - 10) / 0.6])
    assert around(serial, (1, 0), "a").clear == pytest.approx([100 - 37.5])


def test_one_hole_twice_takes_no_steel_of_its_own() -> None:
    again = component("again", 2000, groups=[web_holes(*SQUARE)])
    serial = planned([again, pin(loads=[load(40, (-1, 0, 0))])])
    assert len(serial.holes) == 16
    assert around(serial, (-1, 0), "a").pitch == pytest.approx([100] * 2)


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
    holes = web_holes((0.0, 35.0), (60.0, 35.0))
    serial = planned([component("pin", 5600, groups=[holes])], taper=TAPER)
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
