"""Strings: openings without a tool of their own size, cut by overlapping hits of a smaller tool.

Only slots and passages in the web that take no fastener may be cut so, where their components let them, and only by
tools that the crib allows it: the edge is left scalloped and must be dressed, which no bearing face and no flange may
be.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import acos, ceil, hypot, pi, sqrt

import numpy as np

from railgen.data.plant import Press, Tool
from railgen.holes.shapes import cores_of
from railgen.holes.table import (
    FACES,
    MARK,
    NONE,
    PUNCH,
    RECTANGLE,
    ROUND,
    SLOT,
    BoolArray,
    FloatArray,
    HoleTable,
    IntArray,
)
from railgen.shop.tools import ANGLE_TOLERANCE, CORNER_TOLERANCE, SIZE_TOLERANCE, assign_tools, tool_core

SCALLOP_LIMIT = 0.2
"""mm that the steel between two hits of a string may stand proud of the nominal edge. Common practice, no source."""
LARGEST_FASTENER_HOLE = 22.0
"""mm; a larger round hole without a fastener is a passage. Common practice, no source."""
_CORNER_WAYS = ((1, 1), (-1, 1), (-1, -1), (1, -1))


def straight_pitch(radius: float, scallop: float = SCALLOP_LIMIT) -> float:
    """Greatest pitch (mm) of hits of a round tool along a straight edge.

    Two circles of radius r with centres p apart meet at sqrt(r^2 - p^2 / 4) from the line of centres; the edge lies
    at r, so the scallop is h = r - sqrt(r^2 - p^2 / 4), and p = 2 sqrt(h (2 r - h)).
    """
    height = min(scallop, radius)
    return 2.0 * sqrt(height * (2.0 * radius - height))


def ring_step(radius: float, path_radius: float, scallop: float = SCALLOP_LIMIT) -> float:
    """Greatest angle (radians) between hits of a round tool whose centres lie on a circle, along its outer edge.

    With r the tool's radius, q the path's and e = q + r - h the distance from the middle to where two circles meet,
    the law of cosines gives the cosine of half the angle: (q^2 + e^2 - r^2) / (2 q e).
    """
    if path_radius <= SIZE_TOLERANCE:
        return 2.0 * pi
    meeting = path_radius + radius - scallop
    cosine = (path_radius**2 + meeting**2 - radius**2) / (2.0 * path_radius * meeting)
    return 2.0 * acos(max(-1.0, min(1.0, cosine)))


def may_be_strung(table: HoleTable) -> BoolArray:
    """Rows that a string may cut, (n,): allowed to, punched, in the web, no mark, no locating hole, for no fastener.

    A round hole that may be a fastener's, though none is named, is left out.
    """
    plain = table.strings & (table.fastener == NONE) & (table.operation == PUNCH) & ~table.locating
    plain &= (table.shape != ROUND) | (table.diameter > LARGEST_FASTENER_HOLE)
    return np.asarray(plain & (table.face == FACES.index("web")) & (table.shape != MARK))


@dataclass(frozen=True, eq=False)
class HitString:
    """The hits of one string: ``tool`` an index into the press's crib, ``places`` (k, 2) mm from the opening's centre.

    The places follow the edge in the axes of the blank; ``scallop`` is the greatest height (mm) left between hits;
    ``closed`` where they run all round the opening: what is left inside falls free with the last hit.
    """

    tool: int
    places: FloatArray
    scallop: float
    closed: bool


@dataclass(frozen=True)
class Opening:
    """A web opening about its centre: half sizes of its core, the radius around it (mm), angle in the blank, kind."""

    half_length: float
    half_width: float
    radius: float
    angle: float
    shape: int


def hit_strings(
    table: HoleTable, press: Press, thickness: FloatArray, own_tools: IntArray | None = None
) -> dict[int, HitString]:
    """The string for each row that may be strung and has no tool of its own size, by row; fewest hits first.

    ``thickness`` (n,) mm of each row's part; ``own_tools`` (n,) as ``assign_tools`` gives them, where known. Rows that
    no tool of the crib may cut so are left out.
    """
    own = assign_tools(table, press, thickness) if own_tools is None else own_tools
    rows = np.flatnonzero(may_be_strung(table) & (own == NONE))
    if not len(rows):
        return {}
    cores, found = cores_of(table, thickness), dict[int, HitString]()
    for row in rows.tolist():
        opening = Opening(
            float(cores.half_length[row]),
            float(cores.half_width[row]),
            float(cores.radius[row]),
            float(np.nan_to_num(table.blank_angle[row])),
            int(table.shape[row]),
        )
        strings = [s for number, tool in enumerate(press.tools) if (s := string_by(opening, number, tool))]
        if strings:
            found[row] = min(strings, key=lambda string: len(string.places))
    return found


def tool_perimeter(tool: Tool, thickness: float) -> float:
    """Length (mm) of a tool's cutting edge; 0 for the marking tool. ``thickness`` of the steel, mm."""
    half_length, half_width, radius = tool_core(tool, thickness)
    return 4.0 * (half_length + half_width) + 2.0 * pi * radius


def with_string_tools(
    table: HoleTable, press: Press, thickness: FloatArray, own_tools: IntArray | None = None
) -> IntArray:
    """Index into the crib of each row's tool, (n,), as ``assign_tools`` gives it, and of the strings' tools."""
    chosen = assign_tools(table, press, thickness) if own_tools is None else own_tools.copy()
    for row, string in hit_strings(table, press, thickness, chosen).items():
        chosen[row] = string.tool
    return chosen


def string_by(opening: Opening, number: int, tool: Tool) -> HitString | None:
    """The string that one tool cuts an opening with, None where it cannot; ``number``: of the tool in its crib."""
    if not tool.strings or tool.diameter is None:
        return None
    if tool.shape == "round":
        path = _round_path(opening, tool.diameter / 2)
    else:
        path = _long_path(opening, tool, tool.diameter)
    if path is None or len(path.places) < 2:
        return None
    turn = np.radians(opening.angle)
    cosine, sine = np.cos(turn), np.sin(turn)
    turned = path.places @ np.array([[cosine, sine], [-sine, cosine]])
    return HitString(number, turned, path.scallop, path.closed)


@dataclass(frozen=True, eq=False)
class _Path:
    places: FloatArray
    scallop: float
    closed: bool


def _round_path(opening: Opening, radius: float) -> _Path | None:
    """Centres of a round tool's hits along the opening's edge: its core, inflated by what the tool lacks."""
    lacking = opening.radius - radius
    if lacking < -SIZE_TOLERANCE:
        return None
    lacking = lacking if lacking > SIZE_TOLERANCE else 0.0
    pitch, step = straight_pitch(radius), ring_step(radius, lacking)
    scallop = _scallop_of(opening, radius, lacking, pitch, step)
    half_length, half_width = opening.half_length, opening.half_width
    if lacking == 0.0 and half_width == 0.0:
        return _Path(_along_line(half_length, pitch), scallop, False)
    return _Path(np.array(list(_around(half_length, half_width, lacking, pitch, step))), scallop, True)


def _scallop_of(opening: Opening, radius: float, lacking: float, pitch: float, step: float) -> float:
    """Greatest scallop (mm) that equal steps of at most ``pitch`` (mm) and ``step`` (radians) leave."""
    heights = [0.0]
    for side in (2 * opening.half_length, 2 * opening.half_width):
        if side > SIZE_TOLERANCE:
            heights.append(radius - sqrt(radius**2 - (side / ceil(side / pitch - 1e-9) / 2) ** 2))
    if lacking > 0.0:
        half = pi / 2 / ceil(pi / 2 / step - 1e-9) / 2
        meeting = lacking * np.cos(half) + sqrt(radius**2 - (lacking * np.sin(half)) ** 2)
        heights.append(float(lacking + radius - meeting))
    return max(heights)


def _along_line(half_length: float, pitch: float) -> FloatArray:
    count = ceil(2 * half_length / pitch - 1e-9)
    x = np.linspace(-half_length, half_length, count + 1)
    return np.column_stack([x, np.zeros_like(x)])


def _around(a: float, b: float, q: float, pitch: float, step: float) -> Iterator[tuple[float, float]]:
    """Places round a rectangle of half sizes a and b with corners of radius q; each piece in equal steps."""
    corners = [(x * a, y * b) for x, y in _CORNER_WAYS]
    for turn, corner in enumerate(corners):
        if q > 0.0:
            yield from _corner_arc(corner, turn, q, step)
        else:
            yield corner
        following = corners[(turn + 1) % 4]
        side = hypot(following[0] - corner[0], following[1] - corner[1])
        pieces = ceil(side / pitch - 1e-9)
        way = (turn + 1) * pi / 2
        for piece in range(0 if q > 0.0 and pieces else 1, pieces):
            share = piece / pieces
            x = corner[0] + share * (following[0] - corner[0]) + q * np.cos(way)
            y = corner[1] + share * (following[1] - corner[1]) + q * np.sin(way)
            yield float(x), float(y)


def _corner_arc(corner: tuple[float, float], turn: int, q: float, step: float) -> Iterator[tuple[float, float]]:
    """Places on the quarter circle about a corner, its end left to what follows."""
    pieces = ceil(pi / 2 / step - 1e-9)
    for piece in range(pieces):
        way = (turn + piece / pieces) * pi / 2
        yield float(corner[0] + q * np.cos(way)), float(corner[1] + q * np.sin(way))


def _long_path(opening: Opening, tool: Tool, width: float) -> _Path | None:
    """Centres of a slot or rectangle tool's hits: straight edges that overlap, so no scallop is left."""
    if tool.shape != {SLOT: "slot", RECTANGLE: "rectangle"}.get(opening.shape) or not _set_to(tool, opening.angle):
        return None
    length = tool.length or width
    if opening.shape == SLOT:
        corner = width / 2
        if abs(opening.radius - corner) > SIZE_TOLERANCE:
            return None
    else:
        corner = opening.radius if tool.corner_radius is None else tool.corner_radius
        if abs(opening.radius - corner) > CORNER_TOLERANCE:
            return None
    half_length = opening.half_length + opening.radius - length / 2
    half_width = opening.half_width + opening.radius - width / 2
    if min(half_length, half_width) < -SIZE_TOLERANCE:
        return None
    return _straight_path(max(half_length, 0.0), max(half_width, 0.0), length - 2 * corner, width - 2 * corner)


def _straight_path(a: float, b: float, along: float, across: float) -> _Path | None:
    """Places round a rectangle of half sizes a and b, no further apart than a tool's straight edges reach."""
    columns, rows = (1 if half <= SIZE_TOLERANCE else 0 for half in (a, b))
    if (not columns and along <= SIZE_TOLERANCE) or (not rows and across <= SIZE_TOLERANCE):
        return None
    if rows:
        return _Path(_along_line(a, along), 0.0, False)
    if columns:
        return _Path(_along_line(b, across)[:, ::-1], 0.0, False)
    x, y = _along_line(a, along)[:, 0], _along_line(b, across)[:, 0]
    top, bottom = [(value, b) for value in x[::-1]], [(value, -b) for value in x]
    left, right = [(-a, value) for value in y[::-1][1:-1]], [(a, value) for value in y[1:-1]]
    return _Path(np.array([*top, *left, *bottom, *right], dtype=np.float64), 0.0, True)


def _set_to(tool: Tool, angle: float) -> bool:
    """Whether the tool may be set to an angle (degrees), give or take half turns."""
    if not tool.angles:
        return True
    off = [abs((angle - allowed + 90.0) % 180.0 - 90.0) for allowed in tool.angles]
    return min(off) <= ANGLE_TOLERANCE
