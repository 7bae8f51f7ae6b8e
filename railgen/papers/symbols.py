"""Symbols of holes: drawn true to size, with a fill for each size and marks for each operation; and their counts.

A round hole, slot or rectangle is told from others of its shape by which of its four quarters are black; there are
sixteen such fills, and a ring inside doubles them. Drilled holes have four ticks outside, countersunk ones their
countersink's circle as well, locating holes a square around; a stud is a black triangle, a mark a cross. The fills of
round holes follow the press's tool crib, so that a size looks the same on every serial punched there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from railgen.data.library import Library
from railgen.holes.shapes import cores_of
from railgen.holes.table import (
    COUNTERSINK,
    DRILL,
    MARK,
    NONE,
    PARTS,
    RECTANGLE,
    ROUND,
    SHAPES,
    SIDES,
    SLOT,
    STUD,
    FloatArray,
    HoleTable,
    IntArray,
)
from railgen.papers.sheet import BLACK, EDGE, ROUND_ARC, THIN, Figures, Item, Pen, rounded_outline, segments
from railgen.papers.style import PLAIN, DrawingStyle
from railgen.papers.style import number as number  # for papers that know it from here
from railgen.papers.wording import say

_FILL_EDGE = Pen(0.05)
"""Closes the hairlines that viewers show between neighbouring black quarters."""
MARK_SIZE = 2.2
"""Breadth of the symbols of marks and studs, mm of paper: they have no size of their own."""
TICK = 0.8
"""Length of a drilled hole's ticks, mm of paper."""
# Quarters are bits 1, 2, 4, 8 counter-clockwise from the upper right; the plainest fills come first.
_FILLS = (0, 15, 5, 3, 6, 12, 9, 10, 1, 4, 14, 11, 2, 8, 13, 7)
_QUARTERS = ((1, 1), (-1, 1), (-1, -1), (1, -1))


@dataclass(frozen=True, order=True)
class HoleClass:
    """Features that look and are made alike: indices of shape and operation, sizes in mm, studs' and marks' fastener.

    `countersink` is the diameter (mm) of a countersink, 0 elsewhere; `corner` a rectangle's corner radius.
    """

    shape: int
    diameter: float
    length: float
    operation: int
    corner: float = 0.0
    countersink: float = 0.0
    fastener: str = ""

    @property
    def name(self) -> str:
        """Its words in a legend; punched features have none for the operation. Lengths in mm."""
        return self.name_in(PLAIN)

    @property
    def size(self) -> str:
        """Shape and size in words, mm; a stud's are its fastener."""
        return self.size_in(PLAIN)

    def name_in(self, style: DrawingStyle) -> str:
        """Its words in a legend, lengths as a drawing of a style writes them."""
        return " ".join(part for part in (self.size_in(style), self.work_in(style)) if part)

    def size_in(self, style: DrawingStyle) -> str:
        """Shape and size in words, lengths as a drawing of a style writes them; a stud's are its fastener."""
        if self.shape == MARK and self.operation == STUD:
            return self.fastener or say("symbol.stud")
        width, length = style.size(self.diameter), style.size(self.length)
        return say(f"symbol.{SHAPES[self.shape]}", diameter=width, length=length)

    def work_in(self, style: DrawingStyle) -> str:
        """The operation in words, empty for plain punching."""
        if self.operation == COUNTERSINK and self.countersink:
            return say("symbol.countersunk_to", diameter=style.size(self.countersink))
        return {DRILL: say("symbol.drilled"), STUD: say("symbol.welded"), COUNTERSINK: say("symbol.countersunk")}.get(
            self.operation, ""
        )


@dataclass(frozen=True, eq=False)
class HoleChart:
    """Classes of a hole table in order, the class of each row, and the fill of each class."""

    classes: tuple[HoleClass, ...]
    row_class: IntArray
    fills: tuple[int, ...]
    counts: IntArray
    """Features by class, side and part, shape (classes, 2, 2); indices as in SIDES and PARTS."""


def hole_chart(holes: HoleTable, thickness: FloatArray, library: Library) -> HoleChart:
    """The classes of all features of a serial; `thickness` (n,) mm of each row's part."""
    keys = _keys(holes, thickness, library)
    classes = tuple(sorted(set(keys)))
    place = {key: index for index, key in enumerate(classes)}
    row_class = np.array([place[key] for key in keys], dtype=np.int64)
    counts = np.zeros((len(classes), len(SIDES), len(PARTS)), dtype=np.int64)
    np.add.at(counts, (row_class, holes.side, holes.part), 1)
    return HoleChart(classes, row_class, _fills_of(classes, library), counts)


def _keys(holes: HoleTable, thickness: FloatArray, library: Library) -> list[HoleClass]:
    rectangles = holes.shape == RECTANGLE
    cores = cores_of(holes, thickness)
    corner = np.where(rectangles, cores.radius, 0.0).round(6)
    size = np.nan_to_num(holes.diameter).round(6)
    length = np.nan_to_num(holes.length).round(6)
    sinks = [_countersink(library, name) for name in holes.names.fasteners]
    columns = zip(
        holes.shape.tolist(),
        size.tolist(),
        length.tolist(),
        holes.operation.tolist(),
        corner.tolist(),
        holes.fastener.tolist(),
        strict=True,
    )
    known: dict[tuple[int, float, float, int, float, int], HoleClass] = {}
    keys = []
    for column in columns:
        if column not in known:
            shape, diameter, longest, operation, radius, fastener = column
            sink = sinks[fastener] if operation == COUNTERSINK and fastener != NONE else 0.0
            name = holes.names.fasteners[fastener] if shape == MARK and fastener != NONE else ""
            known[column] = HoleClass(shape, diameter, longest, operation, radius, sink, name)
        keys.append(known[column])
    return keys


def _countersink(library: Library, fastener: str) -> float:
    entry = library.fasteners.get(fastener)
    return entry.countersink.diameter if entry and entry.countersink else 0.0


def _fills_of(classes: Sequence[HoleClass], library: Library) -> tuple[int, ...]:
    """Number of each class's fill: by size among its shape, the tool crib's sizes first."""
    known: dict[int, list[tuple[float, float]]] = {}
    for shape in (ROUND, SLOT, RECTANGLE):
        tools = [tool for tool in library.press.tools if tool.shape == SHAPES[shape]]
        crib = sorted({(round(tool.diameter or 0.0, 6), round(tool.length or 0.0, 6)) for tool in tools})
        others = sorted({(c.diameter, c.length) for c in classes if c.shape == shape} - set(crib))
        known[shape] = [*crib, *others]
    return tuple(known[c.shape].index((c.diameter, c.length)) if c.shape != MARK else 0 for c in classes)


def symbols(hole_class: HoleClass, fill: int, centres: FloatArray, angle: FloatArray, scale: float) -> list[Item]:
    """Symbols of one class about `centres` (k, 2) in mm of paper, their long axes at `angle` (k,) degrees.

    `scale` is millimetres of paper for one of steel.
    """
    if hole_class.shape == MARK:
        return [_mark(hole_class, centres)]
    half_length = max(hole_class.length, hole_class.diameter) / 2 * scale
    half_width = hole_class.diameter / 2 * scale
    corner = half_width if hole_class.shape != RECTANGLE else hole_class.corner * scale
    commands, outline = rounded_outline(half_length, half_width, corner)
    turned = upright(angle)
    items: list[Item] = [Figures(commands, _placed(outline, centres, turned), EDGE, "#ffffff")]
    items += _fill(fill, half_length, half_width, corner, centres, turned)
    if hole_class.operation in (DRILL, COUNTERSINK):
        reach = max(half_width, hole_class.countersink / 2 * scale)
        items += _drilled(hole_class, reach, scale, centres)
    return items


def upright(angle: FloatArray) -> FloatArray:
    """Angles (degrees) of axes turned half round where they would stand on their heads: above -90, at most 90."""
    return np.asarray(90.0 - np.mod(90.0 - angle, 180.0))


def _placed(outline: FloatArray, centres: FloatArray, angle: FloatArray) -> FloatArray:
    turn = np.radians(angle)
    cosine, sine = np.cos(turn)[:, None], np.sin(turn)[:, None]
    x = outline[:, 0] * cosine - outline[:, 1] * sine
    y = outline[:, 0] * sine + outline[:, 1] * cosine
    return np.stack([x, y], axis=-1) + centres[:, None, :]


def _fill(
    fill: int, half_length: float, half_width: float, corner: float, centres: FloatArray, angle: FloatArray
) -> list[Item]:
    quarters = _FILLS[fill % len(_FILLS)]
    items: list[Item] = []
    for bit, (sx, sy) in enumerate(_QUARTERS):
        if quarters >> bit & 1:
            quarter = _quarter(half_length, half_width, corner) * (sx, sy)
            items.append(Figures("MLLCCCLZ", _placed(quarter, centres, angle), _FILL_EDGE, BLACK))
    rings = fill // len(_FILLS)
    for ring in range(1, rings + 1):
        share = ring / (rings + 1)
        commands, outline = rounded_outline(half_length * share, half_width * share, corner * share)
        items.append(Figures(commands, _placed(outline, centres, angle), THIN, "#ffffff"))
    return items


def _quarter(a: float, b: float, r: float) -> FloatArray:
    """Corners and arc of the upper right quarter of a rounded rectangle."""
    handle = r * (1 - ROUND_ARC)
    arc = [(a, b - r), (a, b - handle), (a - handle, b), (a - r, b)]
    return np.array([(0, 0), (a, 0), *arc, (0, b)], dtype=np.float64)


def _drilled(hole_class: HoleClass, reach: float, scale: float, centres: FloatArray) -> list[Item]:
    items: list[Item] = []
    if hole_class.countersink:
        commands, ring = rounded_outline(*[hole_class.countersink / 2 * scale] * 3)
        items.append(Figures(commands, centres[:, None, :] + ring, THIN))
    ways = np.array([(1, 0), (0, 1), (-1, 0), (0, -1)], dtype=np.float64)
    ticks = np.stack([ways * reach, ways * (reach + TICK)], axis=1)
    items.append(segments(centres[:, None, None, :] + ticks[None], EDGE))
    return items


def locating_squares(reach: FloatArray, centres: FloatArray) -> list[Figures]:
    """Squares around locating holes whose symbols reach `reach` (k,) mm from their centres (k, 2)."""
    if not len(centres):
        return []
    square = np.array([(1, -1), (1, 1), (-1, 1), (-1, -1)], dtype=np.float64)
    points = centres[:, None, :] + square * (reach[:, None, None] + 0.5)
    return [Figures("MLLLZ", points, THIN)]


def _mark(hole_class: HoleClass, centres: FloatArray) -> Figures:
    half = MARK_SIZE / 2
    if hole_class.operation == STUD:
        triangle = half * np.array([(-1, -0.75), (1, -0.75), (0, 1)], dtype=np.float64)
        return Figures("MLLZ", centres[:, None, :] + triangle, EDGE, BLACK)
    cross = half * np.array([(-1, 0), (1, 0), (0, -1), (0, 1)], dtype=np.float64)
    return Figures("MLML", centres[:, None, :] + cross, EDGE)
