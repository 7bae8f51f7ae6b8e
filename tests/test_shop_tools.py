"""Tools of the crib: each feature gets the one of its own shape, size and angle, or none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from builders import Hole, rail_shape, rail_table
from hypothesis import given, settings
from hypothesis import strategies as st
from shop_plans import PRESS, with_tools

from railgen.data.plant import Press
from railgen.holes.table import HoleTable
from railgen.shop.tools import assign_tools, tool_uses

THICKNESS = 9.5


def crib(*tools: dict[str, object]) -> Press:
    """The press with these tools, each named by its place."""
    plain = PRESS.model_dump() | {"tools": [{"id": f"T{n}", **tool} for n, tool in enumerate(tools)]}
    return Press.model_validate(plain)


def tools_of(holes: list[Hole], press: Press, thickness: float = THICKNESS, side: str = "LH") -> list[int]:
    """Tool of each hole, in the order given."""
    spread = [replace(hole, station=100.0 * n, sides=(side,)) for n, hole in enumerate(holes)]
    table = rail_table(rail_shape(), spread)
    return assign_tools(table, press, np.full(len(table), thickness)).tolist()


def test_round_holes_take_their_own_size_alone() -> None:
    press = crib({"shape": "round", "diameter": 20.0}, {"shape": "round", "diameter": 17.5})
    holes = [Hole(0, 150, d) for d in (17.5, 20.0, 17.5 + 9e-7, 17.5 + 2e-6, 17.4, 21.0, 1.0)]
    assert tools_of(holes, press) == [1, 0, 1, -1, -1, -1, -1]


def test_first_of_equal_tools_is_taken() -> None:
    twin = {"shape": "round", "diameter": 17.5}
    assert tools_of([Hole(0, 150, 17.5)], crib({"shape": "round", "diameter": 30.0}, twin, twin)) == [1]


def test_only_what_is_punched_or_marked_gets_a_tool() -> None:
    press = crib({"shape": "mark"}, {"shape": "round", "diameter": 17.5})
    holes = [
        Hole(0, 150, 17.5),
        Hole(0, 150, 17.5, operation="drill"),
        Hole(0, 150, 17.5, operation="countersink"),
        Hole(0, 150, shape="mark"),
        Hole(0, 150, shape="mark", operation="stud"),
    ]
    assert tools_of(holes, press) == [1, -1, -1, 0, 0]
    assert tools_of(holes, crib({"shape": "slot", "diameter": 17.5, "length": 30.0})) == [-1] * 5


def test_angles_are_those_in_the_blank_of_each_hand() -> None:
    press = crib({"shape": "slot", "diameter": 18.0, "length": 40.0, "angles": [0.0, 30.0]})
    holes = [Hole(0, 150, 18.0, shape="slot", length=40.0, angle=angle) for angle in (0.0, 30.0, 150.0, 90.0)]
    assert tools_of(holes, press) == [0, 0, -1, -1]
    # The RH blank is the mirror image: 150 degrees of the finished rail lies at 30 there.
    assert tools_of(holes, press, side="RH") == [0, -1, 0, -1]


def test_an_angle_just_below_half_a_turn_is_none() -> None:
    press = crib({"shape": "slot", "diameter": 18.0, "length": 40.0, "angles": [0.0]})
    assert tools_of([Hole(0, 150, 18.0, shape="slot", length=40.0, angle=180 - 1e-8)], press) == [0]


def test_a_square_may_be_set_a_quarter_turn_on() -> None:
    square = {"shape": "rectangle", "diameter": 40.0, "length": 40.0, "angles": [0.0]}
    oblong = {"shape": "rectangle", "diameter": 40.0, "length": 70.0, "angles": [0.0]}
    holes = [Hole(0, 150, 40.0, shape="rectangle", length=length, angle=90.0) for length in (40.0, 70.0)]
    assert tools_of(holes, crib(square, oblong)) == [0, -1]


@pytest.mark.parametrize(
    ("thickness", "hole_radius", "tool_radius", "fits"),
    [
        (9.5, 0.0, None, True),  # both 0.5 t
        (9.5, 0.0, 4.75, True),
        (9.5, 0.0, 5.2, True),
        (9.5, 0.0, 5.3, False),
        (4.0, 0.0, 3.0, True),  # never below 3 mm
        (9.5, 8.0, None, False),
        (9.5, 8.0, 8.0, True),
        (9.5, 2.0, 4.75, True),  # a smaller radius than the steel asks for is not made
        (9.5, 0.0, 90.0, False),
    ],
)
def test_corner_radius_of_rectangles(
    thickness: float, hole_radius: float, tool_radius: float | None, fits: bool
) -> None:
    press = crib({"shape": "rectangle", "diameter": 40.0, "length": 70.0, "corner_radius": tool_radius})
    hole = Hole(0, 150, 40.0, shape="rectangle", length=70.0, corner_radius=hole_radius)
    assert tools_of([hole], press, thickness) == [0 if fits else -1]


def test_no_rows_and_no_tools_of_the_shape() -> None:
    press = crib({"shape": "mark"})
    table = rail_table(rail_shape(), [Hole(0, 150, 17.5)])
    assert assign_tools(table, press, np.full(2, THICKNESS)).tolist() == [-1, -1]
    assert len(assign_tools(table.rows(np.zeros(2, dtype=bool)), press, np.zeros(0))) == 0


def plain_tool(table: HoleTable, row: int, press: Press) -> int:
    """The oracle: the first tool of the crib that makes a row, by plain comparisons."""
    shape = ("round", "slot", "rectangle", "mark")[table.shape[row]]
    operation = ("punch", "drill", "countersink", "stud")[table.operation[row]]
    for number, tool in enumerate(press.tools):
        if tool.shape != shape:
            continue
        if shape == "mark":
            return number
        if operation != "punch" or abs(tool.diameter - table.diameter[row]) > 1e-6:
            continue
        if shape == "round":
            return number
        if abs(tool.length - table.length[row]) > 1e-6:
            continue
        if shape == "rectangle":
            half = min(table.diameter[row], table.length[row]) / 2
            hole_radius = min(max(0.5 * THICKNESS, 3.0, table.corner_radius[row]), half)
            tool_radius = min(tool.corner_radius or max(0.5 * THICKNESS, 3.0), half)
            if abs(hole_radius - tool_radius) > 0.5:
                continue
        turn = 90 if tool.diameter == tool.length else 180
        turned = [(table.blank_angle[row] - angle) % turn for angle in tool.angles]
        if not tool.angles or any(min(off, turn - off) <= 1e-6 for off in turned):
            return number
    return -1


ROUND_SIZES, LONG_SIZES, ANGLES = (10.0, 12.0, 17.5), ((12.0, 30.0), (20.0, 20.0)), (0.0, 45.0, 90.0, 135.0)


@st.composite
def random_holes(draw: st.DrawFn) -> list[Hole]:
    holes = []
    for number in range(draw(st.integers(1, 8))):
        shape = draw(st.sampled_from(("round", "slot", "rectangle", "mark")))
        operation = draw(st.sampled_from(("punch", "punch", "drill", "countersink")))
        width, length = draw(st.sampled_from(LONG_SIZES))
        long = shape in ("slot", "rectangle")
        holes.append(
            Hole(
                100.0 * number,
                150,
                width if long else draw(st.sampled_from(ROUND_SIZES)),
                shape=shape,
                length=length if long else float("nan"),
                angle=draw(st.sampled_from(ANGLES)) if long else 0.0,
                corner_radius=draw(st.sampled_from((0.0, 6.0))) if shape == "rectangle" else 0.0,
                operation="stud" if shape == "mark" else operation,
            )
        )
    return holes


@st.composite
def random_tools(draw: st.DrawFn) -> dict[str, object]:
    shape = draw(st.sampled_from(("round", "slot", "rectangle", "mark")))
    tool: dict[str, object] = {"shape": shape}
    if shape == "round":
        tool["diameter"] = draw(st.sampled_from(ROUND_SIZES))
    elif shape != "mark":
        tool["diameter"], tool["length"] = draw(st.sampled_from(LONG_SIZES))
        tool["angles"] = draw(st.lists(st.sampled_from(ANGLES), max_size=2))
        if shape == "rectangle":
            tool["corner_radius"] = draw(st.sampled_from((None, 6.0)))
    return tool


@settings(max_examples=60, deadline=None)
@given(random_holes(), st.lists(random_tools(), min_size=1, max_size=8))
def test_assignment_equals_plain_loops(holes: list[Hole], tools: list[dict[str, object]]) -> None:
    press = crib(*tools)
    table = rail_table(rail_shape(), holes)
    chosen = assign_tools(table, press, np.full(len(table), THICKNESS))
    assert chosen.tolist() == [plain_tool(table, row, press) for row in range(len(table))]


def test_uses_count_hits_by_tool_and_put_what_has_none_last() -> None:
    holes = [
        Hole(0, 100, 17.5),
        Hole(100, 100, 99.0),
        Hole(200, 100, 17.5),
        Hole(300, 100, 13.0),
        Hole(400, 100, 9.0, operation="drill"),
        Hole(500, 100, shape="mark"),
    ]
    table = with_tools(rail_table(rail_shape(), [replace(h, sides=("RH",)) for h in holes]), PRESS, THICKNESS)
    uses = tool_uses(table, PRESS, np.arange(len(table)), np.ones(len(table), dtype=np.int64))
    assert [(use.tool.id if use.tool else None, use.size.diameter, use.hits) for use in uses] == [
        ("R 13", 13.0, 1),
        ("R 17.5", 17.5, 2),
        ("Marker", 0.0, 1),
        (None, 99.0, 1),
    ]
