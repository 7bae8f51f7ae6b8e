"""Hits as features: what a program strokes, and what it should stroke by the hole table and the press's crib."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railgen.data.plant import Press, Tool
from railgen.formats.names import Part, Side
from railgen.formats.nc_reader import Program, ProgramHit
from railgen.holes.shapes import LEAST_CORNER_RADIUS
from railgen.holes.table import SHAPES, FloatArray
from railgen.records.features import Features
from railgen.records.subject import Subject
from railgen.shop.strings import LARGEST_FASTENER_HOLE, HitString, Opening, string_by
from railgen.shop.tools import SIZE_TOLERANCE

_CORNER_REACH = 0.01
"""mm between a rectangle's place in the hole table and in the cut file that tells its corner radius."""


def program_features(program: Program, hits: Sequence[ProgramHit], press: Press) -> Features:
    """Hits of a program in blank axes: of the shape and size of their tools, ``where`` naming these."""
    crib = {tool.id: tool for tool in press.tools}
    named = [program.tool_of(hit) for hit in hits]
    tools = [crib.get(name) for name, _ in named]
    place = np.array([(hit.x, hit.y) for hit in hits], dtype=np.float64).reshape(-1, 2)
    x, y = program.to_blank(place[:, 0], place[:, 1])
    size = np.array([_size(tool) for tool in tools], dtype=np.float64).reshape(-1, 2)
    return Features(
        [""] * len(hits),
        [name for name, _ in named],
        [tool.shape if tool else "unknown" for tool in tools],
        x,
        y,
        size[:, 0],
        size[:, 1],
        np.array([angle for _, angle in named], dtype=np.float64),
    )


def table_hits(subject: Subject, side: Side, part: Part, thickness: float) -> Features:
    """The hits that a blank's rows of the hole table ask for: one each, or those of the string that its tool cuts.

    ``where`` names the tools; ``thickness`` mm.
    """
    rows, chosen = subject.rows(side, part), subject.hit_rows(side, part)
    plain = subject.features(side, part).rows(np.searchsorted(rows, chosen))
    tools = [subject.holes.tool[row] or "no tool" for row in chosen.tolist()]
    plain = Features(plain.hole, tools, plain.shape, plain.x, plain.y, plain.diameter, plain.length, plain.angle)
    crib = {tool.id: (number, tool) for number, tool in enumerate(subject.press_file.press.tools)}
    strings: dict[int, tuple[Tool, HitString]] = {}
    for at, (row, name) in enumerate(zip(chosen.tolist(), tools, strict=True)):
        if name in crib and crib[name][1].strings and _may_be_strung(subject, row):
            number, tool = crib[name]
            string = (
                None
                if _fits(plain, at, tool)
                else string_by(_opening(subject, side, part, plain, at, thickness), number, tool)
            )
            if string:
                strings[at] = tool, string
    return _expanded(plain, strings) if strings else plain


def _size(tool: Tool | None) -> tuple[float, float]:
    """Diameter and length (mm) as features have them."""
    return (0.0, 0.0) if tool is None else (tool.diameter or 0.0, tool.length or 0.0)


def _may_be_strung(subject: Subject, row: int) -> bool:
    holes = subject.holes
    plain = holes.face[row] == "web" and holes.shape[row] != "mark" and not holes.fastener[row]
    return plain and (holes.shape[row] != "round" or bool(holes.diameter_mm[row] > LARGEST_FASTENER_HOLE))


def _fits(table: Features, row: int, tool: Tool) -> bool:
    """Whether a tool has the size of its row."""
    off = np.abs(np.array(_size(tool)) - (table.diameter[row], table.length[row]))
    return tool.shape == table.shape[row] and bool((off <= 2 * SIZE_TOLERANCE).all())


def _opening(subject: Subject, side: Side, part: Part, table: Features, row: int, thickness: float) -> Opening:
    width, length, shape = float(table.diameter[row]), float(table.length[row]), table.shape[row]
    radius = width / 2
    if shape == "rectangle":
        radius = min(_corner_radius(subject, side, part, table, row, thickness), width / 2, length / 2)
    return Opening(
        half_length=max(length / 2 - radius, 0.0),
        half_width=width / 2 - radius,
        radius=radius,
        angle=float(table.angle[row]),
        shape=SHAPES.index(shape),
    )


def _corner_radius(subject: Subject, side: Side, part: Part, table: Features, row: int, thickness: float) -> float:
    """Of a rectangle as the cut file draws it, else what the steel asks for, mm: the hole table leaves it out."""
    cut = subject.cut_file(side, part)
    for feature in cut.features if cut else ():
        if max(abs(feature.x - table.x[row]), abs(feature.y - table.y[row])) <= _CORNER_REACH:
            return float(feature.corner_radius)
    return max(0.5 * thickness, LEAST_CORNER_RADIUS)


def _expanded(plain: Features, strings: dict[int, tuple[Tool, HitString]]) -> Features:
    """Features with the hits of strings in place of their openings."""
    count = np.array([len(strings[row][1].places) if row in strings else 1 for row in range(len(plain))])
    source = np.repeat(np.arange(len(plain)), count)
    every, start = plain.rows(source), np.concatenate([[0], np.cumsum(count)])
    x, y, diameter, length = every.x.copy(), every.y.copy(), every.diameter.copy(), every.length.copy()
    shape: list[str] = list(every.shape)
    angle: FloatArray = every.angle.copy()
    for row, (tool, string) in strings.items():
        chosen = slice(start[row], start[row + 1])
        x[chosen] += string.places[:, 0]
        y[chosen] += string.places[:, 1]
        diameter[chosen], length[chosen] = _size(tool)
        shape[chosen] = [tool.shape] * len(string.places)
        angle[chosen] = 0.0 if tool.shape == "round" else angle[chosen]
    return Features(every.hole, every.where, shape, x, y, diameter, length, angle)
