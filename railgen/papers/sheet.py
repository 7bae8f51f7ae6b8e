"""A sheet as data: lines, areas and text in millimetres of paper, before any file format.

Origin at the sheet's lower left corner, x to the right, y up. What is listed first is drawn first. The same sheets
are written as PDF (`pdf.py`) and as pictures (`pictures.py`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, cos, radians, sin, tan
from typing import Literal

import numpy as np

from railgen.holes.table import FloatArray
from railgen.papers.fonts import ASCENT_SHARE, DESCENT_SHARE, text_width

WIDTH, HEIGHT = 420.0, 297.0
"""A3 landscape, mm (ISO 216)."""
FRAME_LEFT, FRAME_BOTTOM, FRAME_RIGHT, FRAME_TOP = 20.0, 10.0, 410.0, 287.0
"""The frame: 20 mm to the filing edge, 10 mm elsewhere (ISO 5457, from memory)."""

BLACK, GREY, PALE = "#000000", "#6e6e6e", "#d2d2d2"
RED, PALE_RED, BLUE = "#b00000", "#f6dcdc", "#1f4e8c"
ROUND_ARC = 0.5522847498
"""Length of the handles of a cubic that stands for a quarter circle of radius 1."""


@dataclass(frozen=True)
class Pen:
    """A line: width (mm), colour, lengths (mm) of dashes and gaps in turn, none for a full line, and its purpose.

    The purpose is the layer that it has in a CAD drawing.
    """

    width: float
    colour: str = BLACK
    dashes: tuple[float, ...] = ()
    layer: str = "DETAIL"


def _long_dashed_dotted(width: float, dots: int = 1) -> tuple[float, ...]:
    """Long dashes of 24 line widths, gaps of 3; dots of half a width would not print, so they are a width long."""
    return (24 * width, 3 * width, *((width, 3 * width) * dots))


# Line types after ISO 128-2 (from memory), line group 0.35: wide 0.35, narrow 0.18, symbols 0.25 mm; dashes of 12 line
# widths. Extension lines of running dimensions, of which there are hundreds, are a step thinner.
FRAME = Pen(0.5, layer="FRAME")
OUTLINE = Pen(0.35, layer="OUTLINE")
EDGE = Pen(0.25, layer="HOLES")
THIN = Pen(0.18)
FINE = Pen(0.13, "#505050", layer="DIMENSIONS")
DIMENSION = Pen(0.18, layer="DIMENSIONS")
GRID = Pen(0.1, PALE, layer="TABLES")
HIDDEN = Pen(0.18, BLACK, (12 * 0.18, 3 * 0.18), "HIDDEN")
TANGENT = Pen(0.18, GREY, layer="TANGENTS")
BEND = Pen(0.18, layer="BENDS")
AXIS = Pen(0.18, BLUE, _long_dashed_dotted(0.18), "AXES")
CENTRE = Pen(0.18, BLACK, _long_dashed_dotted(0.18), "AXES")
BEFORE = Pen(0.18, BLACK, _long_dashed_dotted(0.18, dots=2), "BEFORE")
"""Outlines before forming, and of what is cut away."""
CUT = Pen(0.5, BLACK, _long_dashed_dotted(0.35), "SECTIONS")
MATCH = Pen(0.5, BLACK, _long_dashed_dotted(0.35), "MATCH")


@dataclass(frozen=True, eq=False)
class Figures:
    """k figures drawn alike: each follows `commands` through its own points, `points` (k, m, 2) in mm.

    Commands: M move, L line (a point each), C three points of a cubic, written CCC, Z close (no point). A cubic always
    stands for an arc of a circle, of a quarter at most.
    """

    commands: str
    points: FloatArray
    pen: Pen | None = THIN
    fill: str | None = None


Anchor = Literal["left", "middle", "right"]


@dataclass(frozen=True)
class Text:
    """A line of text: its baseline starts, is centred or ends at (x, y); `height` of capitals, mm; angle in degrees.

    `behind` marks words that lie under the drawing, which may cross it.
    """

    x: float
    y: float
    text: str
    height: float
    anchor: Anchor = "left"
    bold: bool = False
    colour: str = BLACK
    angle: float = 0.0
    behind: bool = False

    @property
    def width(self) -> float:
        """Length (mm) of the line along its baseline."""
        return text_width(self.text, self.height, self.bold)

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Left, bottom, right, top (mm) of the upright rectangle around it."""
        start = {"left": 0.0, "middle": -0.5, "right": -1.0}[self.anchor] * self.width
        along = np.array([start, start + self.width])
        up = np.array([-DESCENT_SHARE, ASCENT_SHARE]) * self.height
        turn = np.radians(self.angle)
        x = np.add.outer(along * np.cos(turn), -up * np.sin(turn)) + self.x
        y = np.add.outer(along * np.sin(turn), up * np.cos(turn)) + self.y
        return float(x.min()), float(y.min()), float(x.max()), float(y.max())


Item = Figures | Text


@dataclass(frozen=True, eq=False)
class Sheet:
    """One sheet of paper: its name and everything on it, in drawing order."""

    name: str
    items: tuple[Item, ...]

    @property
    def texts(self) -> tuple[Text, ...]:
        """All text on the sheet."""
        return tuple(item for item in self.items if isinstance(item, Text))


@dataclass(frozen=True, eq=False)
class Drawing:
    """All sheets of one serial's drawing."""

    serial: str
    sheets: tuple[Sheet, ...]


def moved(figures: Figures, x: float, y: float) -> Figures:
    """The figures moved by x and y."""
    return replace(figures, points=figures.points + np.array([x, y]))


def segments(ends: FloatArray | Sequence[Sequence[Sequence[float]]], pen: Pen = THIN) -> Figures:
    """Straight lines: `ends` (k, 2, 2)."""
    return Figures("ML", np.asarray(ends, dtype=np.float64).reshape(-1, 2, 2), pen)


def polyline(points: FloatArray | Sequence[Sequence[float]], pen: Pen = THIN) -> Figures:
    """An open line through `points` (m, 2)."""
    points = np.asarray(points, dtype=np.float64)
    return Figures("M" + "L" * (len(points) - 1), points[None], pen)


def polygon(points: FloatArray | Sequence[Sequence[float]], pen: Pen | None = THIN, fill: str | None = None) -> Figures:
    """A closed area with corners `points` (m, 2)."""
    points = np.asarray(points, dtype=np.float64)
    return Figures("M" + "L" * (len(points) - 1) + "Z", points[None], pen, fill)


def rectangle(
    left: float, bottom: float, right: float, top: float, pen: Pen | None = THIN, fill: str | None = None
) -> Figures:
    """An upright rectangle."""
    return polygon([(left, bottom), (right, bottom), (right, top), (left, top)], pen, fill)


def circles(
    centres: FloatArray | Sequence[Sequence[float]], radius: float, pen: Pen | None = THIN, fill: str | None = None
) -> Figures:
    """Circles of one radius about `centres` (k, 2)."""
    commands, outline = rounded_outline(radius, radius, radius)
    return Figures(commands, np.asarray(centres, dtype=np.float64).reshape(-1, 1, 2) + outline, pen, fill)


def rounded_outline(half_length: float, half_width: float, corner: float) -> tuple[str, FloatArray]:
    """Commands and points (m, 2), about the centre, of a rectangle with round corners.

    A circle where the corner's radius equals both half sizes, a slot where it equals the half width.
    """
    a, b, r = half_length, half_width, corner
    handle = r * (1 - ROUND_ARC)
    quarter = [(a, b - r), (a, b - handle), (a - handle, b), (a - r, b)]
    points: list[tuple[float, float]] = []
    for turn, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
        arc = [(sx * x, sy * y) for x, y in quarter]
        points += arc[::-1] if turn % 2 else arc
    return "MCCC" + "LCCC" * 3 + "Z", np.array(points, dtype=np.float64)


def arcs(centre: tuple[float, float], radius: float, first: float, last: float, pen: Pen = THIN) -> Figures:
    """An open arc about `centre` from angle `first` to `last`, degrees, counter-clockwise where `last` is greater."""
    commands, points = arc_curve(centre, radius, first, last)
    start = np.array(centre) + radius * np.array([cos(radians(first)), sin(radians(first))])
    return Figures("M" + commands, np.concatenate([start[None], points])[None], pen)


def arc_curve(centre: tuple[float, float], radius: float, first: float, last: float) -> tuple[str, FloatArray]:
    """Commands and points (m, 2) of the cubics that follow an arc, without its first point; angles in degrees."""
    pieces = max(ceil(abs(last - first) / 90.0 - 1e-9), 1)
    angles = np.radians(np.linspace(first, last, pieces + 1))
    ways = np.stack([np.cos(angles), np.sin(angles)], axis=-1)
    handle = 4 / 3 * tan(radians(last - first) / pieces / 4) * np.stack([-ways[:, 1], ways[:, 0]], axis=-1)
    steps = np.stack([ways[:-1] + handle[:-1], ways[1:] - handle[1:], ways[1:]], axis=1)
    return "CCC" * pieces, np.asarray(np.array(centre) + radius * steps.reshape(-1, 2))


def centred(x: float, y: float, text: str, height: float, bold: bool = False, colour: str = BLACK) -> Text:
    """Text whose middle, not its baseline, lies at (x, y)."""
    return Text(x, y - height / 2, text, height, "middle", bold, colour)
