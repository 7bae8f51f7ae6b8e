"""What a cut file is made of: one list of entities from which both kinds of DXF are written and into which they are
read. Blank coordinates as drawn, mm.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from railgen.frame.contour import Contour, Polyline

OUTLINE = "OUTLINE"
HOLES = "HOLES"
SLOTS = "SLOTS"
BEND = "BEND"
SECOND = "SECOND"
MARK = "MARK"
NOTE = "NOTE"
LAYERS = (OUTLINE, HOLES, SLOTS, BEND, SECOND, MARK, NOTE)

DECIMALS = 9
"""Decimals of a coordinate (mm), as in the hole table."""
BULGE_DECIMALS = 12


class Circle(NamedTuple):
    """A true circle."""

    layer: str
    x: float
    y: float
    radius: float


class Path(NamedTuple):
    """Lines and arcs through vertices (x, y, bulge); a bulge is tan of a quarter of the arc that leaves the vertex."""

    layer: str
    vertices: tuple[tuple[float, float, float], ...]
    closed: bool


class Line(NamedTuple):
    """A straight line."""

    layer: str
    x1: float
    y1: float
    x2: float
    y2: float


class Point(NamedTuple):
    """A centre mark."""

    layer: str
    x: float
    y: float


class Text(NamedTuple):
    """Upright text; (x, y) is the middle of it, or the left end of its base line where it is not centred."""

    layer: str
    x: float
    y: float
    height: float
    text: str
    centred: bool


Entity: TypeAlias = Circle | Path | Line | Point | Text


def rounded(values: Any) -> Any:
    """Coordinates of any shape as plain lists, to the decimals of the file and never minus zero."""
    return (np.round(values, DECIMALS) + 0.0).tolist()


def path(layer: str, contour: Contour) -> Path:
    """A contour of the frame as a path."""
    bulges = (np.round(contour.bulges, BULGE_DECIMALS) + 0.0).tolist()
    vertices = tuple((x, y, bulge) for (x, y), bulge in zip(rounded(contour.vertices), bulges, strict=True))
    return Path(layer, vertices, contour.closed)


def lines(layer: str, polylines: Iterable[Polyline]) -> list[Line]:
    """Each straight piece of some lines of the frame."""
    pieces = []
    for polyline in polylines:
        points = rounded(polyline.vertices)
        pieces += [Line(layer, *a, *b) for a, b in pairwise(points)]
    return pieces
