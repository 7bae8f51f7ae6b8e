"""Sheets as pictures, PNG or SVG, drawn by matplotlib; it is loaded for pictures only."""

from __future__ import annotations

from io import BytesIO
from typing import Any, Literal

import numpy as np
from matplotlib import rc_context
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.collections import PathCollection
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.path import Path
from matplotlib.text import Text as PictureText
from matplotlib.transforms import Affine2D

from railgen.papers.fonts import font_file, points
from railgen.papers.sheet import HEIGHT, WIDTH, Anchor, Figures, Sheet, Text

KINDS = ("png", "svg")
DOTS_PER_INCH = 150
_MM_PER_INCH = 25.4
_POINTS_PER_MM = 72 / _MM_PER_INCH
_CODES = {"M": Path.MOVETO, "L": Path.LINETO, "C": Path.CURVE4}
_SETTINGS: dict[Any, Any] = {
    # One salt for all: the names inside an SVG must not change from run to run.
    "svg.hashsalt": "railgen",
    "svg.fonttype": "path",
    "path.simplify": False,
    "text.parse_math": False,
    # Hinting widens small letters; they were measured without it.
    "text.hinting": "none",
}


def write_picture(sheet: Sheet, kind: str) -> bytes:
    """One sheet as a file of a kind ("png" or "svg"); the same sheet always gives the same bytes.

    Raises ValueError for any other kind.
    """
    if kind not in KINDS:
        raise ValueError(f"a picture is of kind {' or '.join(KINDS)}, not {kind!r}")
    buffer = BytesIO()
    with rc_context(_SETTINGS):
        figure = picture_of(sheet)
        canvas: Any = FigureCanvasSVG(figure) if kind == "svg" else FigureCanvasAgg(figure)
        metadata = {"Date": None, "Creator": "railgen"} if kind == "svg" else {"Software": "railgen"}
        canvas.print_figure(buffer, format=kind, dpi=DOTS_PER_INCH, metadata=metadata)
    return buffer.getvalue()


def picture_of(sheet: Sheet) -> Figure:
    """The sheet as a matplotlib figure of its true size."""
    figure = Figure((WIDTH / _MM_PER_INCH, HEIGHT / _MM_PER_INCH), dpi=DOTS_PER_INCH, facecolor="white")
    # Millimetres to the figure's inches, whatever the resolution it is written at.
    millimetres = Affine2D().scale(1 / _MM_PER_INCH) + figure.dpi_scale_trans
    for order, item in enumerate(sheet.items):
        artist: Any = _text(item) if isinstance(item, Text) else _paths(item)
        artist.set_transform(millimetres)
        artist.set_zorder(order)
        artist.set_figure(figure)
        figure.add_artist(artist)
    return figure


def _text(text: Text) -> PictureText:
    sides: dict[Anchor, Literal["left", "center", "right"]] = {"left": "left", "middle": "center", "right": "right"}
    return PictureText(
        text.x,
        text.y,
        text.text,
        color=text.colour,
        fontproperties=FontProperties(fname=font_file(text.bold), size=points(text.height)),
        horizontalalignment=sides[text.anchor],
        verticalalignment="baseline",
        rotation=text.angle,
        rotation_mode="anchor",
    )


def _paths(figures: Figures) -> PathCollection:
    codes = np.array([_CODES.get(command, Path.CLOSEPOLY) for command in figures.commands], dtype=np.uint8)
    pen = figures.pen
    width = pen.width * _POINTS_PER_MM if pen else 0.0
    # matplotlib counts dashes in line widths.
    dashes = (0, [length * _POINTS_PER_MM / width for length in pen.dashes]) if pen and pen.dashes else "solid"
    return PathCollection(
        [Path(vertices, codes) for vertices in _vertices(figures)],
        facecolors=figures.fill or "none",
        edgecolors=pen.colour if pen else "none",
        linewidths=width,
        linestyles=[dashes],
        capstyle="butt",
    )


def _vertices(figures: Figures) -> np.ndarray:
    """Points with one more, not used, wherever a figure is closed: matplotlib wants a point for every command."""
    draws = np.array([command != "Z" for command in figures.commands])
    vertices = np.zeros((len(figures.points), len(draws), 2))
    vertices[:, draws] = figures.points
    return vertices
