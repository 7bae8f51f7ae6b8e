"""STEP files read back and held to the hole table: right ones pass, each change of a hole is named."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from builders import Hole, no_placements, rail_shape, rail_table, resolved_order

from railgen.data.messages import InputError
from railgen.formats.names import step_name
from railgen.formats.step import step_file, step_files, step_parts
from railgen.formats.step_read import read_step
from railgen.layout.plan import SerialPlan
from railgen.records.check_step import read_back

pytest.importorskip("OCP", reason="the optional extra step (an Open CASCADE binding) is not installed")
RAILS = {
    "liner": rail_shape(liner=True),
    "cut later": rail_shape("after-forming"),
    "cut in blank": rail_shape("in-blank"),
}
HOLES = [
    Hole(-600, 150, diameter=17),
    Hole(200, 120, diameter=18, shape="slot", length=40, angle=25),
    Hole(800, 160, diameter=40, shape="rectangle", length=70, corner_radius=8, angle=90),
    Hole(1600, 55, diameter=13, face="top", operation="drill"),
    Hole(2400, 60, diameter=14, face="bottom"),
    Hole(4300, 60, diameter=13, face="top"),
    Hole(4500, 62, diameter=11, face="top", shape="slot", length=24, angle=30),
    Hole(4400, 238, diameter=9),
    Hole(1000, 150, shape="mark"),
    Hole(1200, 180.03, diameter=17.5, operation="countersink", fastener="M16x1.5 flush"),
]


def planned(name: str = "cut later", holes: list[Hole] = HOLES, **dimensions: float) -> SerialPlan:
    order = resolved_order(RAILS[name])
    order = replace(order, dimensions={**order.dimensions, "frame_width": 800.0, **dimensions})
    return SerialPlan(order, no_placements(), rail_table(RAILS[name], holes), ())


@pytest.mark.parametrize("name", RAILS)
def test_files_of_a_plan_are_as_planned(name: str) -> None:
    plan = planned(name)
    assert read_back(plan, step_files(plan)) == int((plan.holes.shape != 3).sum()) > 15


def changed(number: int, **changes: Any) -> list[Hole]:
    return [Hole(**{**vars(hole), **changes}) if n == number else hole for n, hole in enumerate(HOLES)]


CHANGES: dict[str, tuple[SerialPlan, list[str]]] = {
    "moved along": (planned(holes=changed(0, station=-600 + 5e-6)), ["round face"]),
    "moved across": (planned(holes=changed(3, across=55.00001)), ["round face"]),
    "moved on the ramp": (planned(holes=changed(5, station=4300.00001)), ["round face"]),
    "a slot turned": (planned(holes=changed(6, angle=30.0001)), ["round face"]),
    "another size": (planned(holes=changed(7, diameter=9.00001)), ["round face"]),
    "another corner": (planned(holes=changed(2, corner_radius=8.00001)), ["round face"]),
    "lost": (planned(holes=HOLES[1:]), ["no round face"]),
    "one more": (planned(holes=[*HOLES, Hole(2000, 150, diameter=13)]), ["found a round face of radius 6.5 mm about"]),
    "a countersunk one moved": (planned(holes=changed(9, across=180.03001)), ["round face"]),
    "another frame": (planned(frame_width=800.001), ["round face"]),
    "another rail": (planned("liner", HOLES[:5]), ["round face", "as computed"]),
}


@pytest.mark.parametrize("case", CHANGES)
def test_what_is_not_as_planned_is_named(case: str) -> None:
    made, words = CHANGES[case]
    plan, files = planned(), {}
    for side, part in step_parts(plan):
        files[step_name("P-1001", side, part)] = step_file(made if side == "RH" else plan, side, part)
    with pytest.raises(InputError) as caught:
        read_back(plan, files)
    assert {problem.file for problem in caught.value.problems} == {"P-1001-RH-rail.step"}
    for word in words:
        assert word in str(caught.value)


def test_a_wrong_hand_is_named() -> None:
    plan = planned()
    files = step_files(plan)
    swapped = dict(zip(files, reversed(files.values()), strict=True))
    with pytest.raises(InputError, match=r"P-1001-LH-rail\.step"):
        read_back(plan, swapped)


def test_what_is_no_step_file_of_one_solid_in_millimetres_is_refused() -> None:
    content = step_file(planned(), "LH", "rail")
    for damaged, words in (
        (content.replace(b".MILLI.", b"$"), "a STEP file in millimetres"),
        (content[:200] + b"SI_UNIT(.MILLI.,.METRE.)", "a STEP file"),
        (content.replace(b"MANIFOLD_SOLID_BREP", b"MANIFOLD_SOLID_BREQ"), "one solid"),
    ):
        with pytest.raises(InputError, match=words):
            read_step(damaged, "part.step")
