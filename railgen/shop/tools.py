"""A tool of the press's crib for each punched feature, and the list of tools that a part needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from railgen.data.plant import Press, Tool
from railgen.holes.shapes import LEAST_CORNER_RADIUS, corner_radii
from railgen.holes.table import (
    MARK,
    NONE,
    PUNCH,
    RECTANGLE,
    ROUND,
    SHAPES,
    SLOT,
    BoolArray,
    FloatArray,
    HoleTable,
    IntArray,
)
from railgen.shop.sizes import SizeGroup, group_by_size

SIZE_TOLERANCE = 1e-6
"""mm between a feature's size and its tool's: a tool makes its own size and no other."""
CORNER_TOLERANCE = 0.5
"""mm between a rectangle's corner radius and its tool's. Common practice, no source."""
ANGLE_TOLERANCE = 1e-6
"""degrees between a long axis in the blank and the angles a tool can be set to."""


def assign_tools(table: HoleTable, press: Press, thickness: FloatArray) -> IntArray:
    """Index into ``press.tools`` of each row's tool, (n,); NONE where the crib has none or none is needed.

    ``thickness`` (n,) of each row's part, mm: it sets the corners of rectangles. A punched feature needs a
    tool of its own shape and size, a slot or rectangle one that may be set to its angle in the blank; marks
    and the centre marks of studs need the marking tool; drilled and countersunk features need none. Of
    several tools the first in the crib is taken. ``table.names.tools`` must be the ids of ``press.tools``, in
    order, for the result to stand in the table.
    """
    chosen = np.full(len(table), NONE, dtype=np.int64)
    crib = [[number for number, tool in enumerate(press.tools) if tool.shape == shape] for shape in SHAPES]
    if crib[MARK]:
        chosen[table.shape == MARK] = crib[MARK][0]
    punched = table.operation == PUNCH
    for shape in (ROUND, SLOT, RECTANGLE):
        rows = np.flatnonzero(punched & (table.shape == shape))
        if not len(rows) or not crib[shape]:
            continue
        if shape == ROUND:
            found = _round_tool(table.diameter[rows], [press.tools[number] for number in crib[shape]])
        else:
            found = _long_tool(table, rows, [press.tools[number] for number in crib[shape]], thickness)
        chosen[rows] = np.where(found == NONE, NONE, np.array(crib[shape])[found])
    return chosen


def _round_tool(wanted: FloatArray, tools: Sequence[Tool]) -> IntArray:
    """Index into ``tools``, all round, of the one for each diameter (mm), or NONE."""
    sizes = np.array([tool.diameter for tool in tools], dtype=np.float64)
    order = np.argsort(sizes, kind="stable")
    place = np.searchsorted(sizes[order], wanted - SIZE_TOLERANCE)
    tool = order[np.minimum(place, len(order) - 1)]
    return np.where(np.abs(sizes[tool] - wanted) <= SIZE_TOLERANCE, tool, NONE)


def _long_tool(table: HoleTable, rows: IntArray, tools: Sequence[Tool], thickness: FloatArray) -> IntArray:
    """Index into ``tools``, all of the rows' one shape, of the one for each row, or NONE."""
    width, length, angle = table.diameter[rows], table.length[rows], table.blank_angle[rows]
    fits = np.abs(width[:, None] - _sizes(tools, "diameter")) <= SIZE_TOLERANCE
    fits &= np.abs(length[:, None] - _sizes(tools, "length")) <= SIZE_TOLERANCE
    if table.shape[rows[0]] == RECTANGLE:
        corner = corner_radii(table, thickness)[rows]
        half_short = np.minimum(width, length) / 2
        off = np.abs(corner[:, None] - _tool_corners(tools, thickness[rows], half_short))
        fits &= off <= CORNER_TOLERANCE
    # A square looks the same after a quarter turn, all others after half a turn.
    turn = np.where(np.abs(width - length) <= SIZE_TOLERANCE, 90.0, 180.0)
    for column, tool in enumerate(tools):
        if tool.angles:
            fits[:, column] &= _may_be_set(angle, turn, np.array(tool.angles, dtype=np.float64))
    return np.where(fits.any(axis=1), fits.argmax(axis=1), NONE)


def _sizes(tools: Sequence[Tool], name: str) -> FloatArray:
    return np.array([getattr(tool, name) for tool in tools], dtype=np.float64)


def _tool_corners(tools: Sequence[Tool], thickness: FloatArray, half_short: FloatArray) -> FloatArray:
    """Corner radius of each tool (columns) for each row, mm; where left out, what the steel asks for."""
    given = _sizes(tools, "corner_radius")
    asked = np.maximum(0.5 * thickness, LEAST_CORNER_RADIUS)[:, None]
    return np.minimum(np.where(np.isnan(given), asked, given), half_short[:, None])


def _may_be_set(angle: FloatArray, turn: FloatArray, allowed: FloatArray) -> BoolArray:
    """Whether each angle (degrees) is one of those allowed, give or take whole turns of ``turn`` degrees."""
    off = np.mod(angle[:, None] - allowed, turn[:, None])
    return np.asarray((np.minimum(off, turn[:, None] - off) <= ANGLE_TOLERANCE).any(axis=1))


def tool_core(tool: Tool, thickness: float) -> tuple[float, float, float]:
    """Half length, half width and radius (mm) of a tool's core as in ``holes.shapes``; thickness of the steel, mm."""
    width = tool.diameter or 0.0
    length = tool.length or width
    corner = width / 2
    if tool.shape == "rectangle":
        least = max(0.5 * thickness, LEAST_CORNER_RADIUS)
        corner = min(tool.corner_radius or least, width / 2, length / 2)
    return length / 2 - corner, width / 2 - corner, corner


@dataclass(frozen=True)
class ToolUse:
    """What a tool makes of a part, in how many hits; ``tool`` is None for a punched size that the crib has none for."""

    tool: Tool | None
    size: SizeGroup
    hits: int


def tool_uses(table: HoleTable, press: Press, rows: IntArray, strokes: IntArray) -> tuple[ToolUse, ...]:
    """The tools that rows of a table need, in the crib's order, then the sizes that no tool makes.

    ``strokes`` (n,): hits that make each row of the table.
    """
    rows = rows[needs_tool(table)[rows]]
    uses = []
    for number in np.unique(table.tool[rows]).tolist():
        groups = group_by_size(table, rows[table.tool[rows] == number])
        tool = None if number == NONE else press.tools[number]
        uses += [ToolUse(tool, group, int(strokes[group.rows].sum())) for group in groups]
    return tuple(sorted(uses, key=lambda use: use.tool is None))


def needs_tool(table: HoleTable) -> BoolArray:
    """Rows that the press makes, (n,): punched features, and marks for whatever is welded there later."""
    return np.asarray((table.operation == PUNCH) | (table.shape == MARK))
