"""Sheets as a DXF drawing (R2018): the same lines, arcs, areas and words as the PDF, in millimetres of paper.

The sheets lie side by side in model space; each has a layout of its own with a viewport on it. Layers are the purposes
of the pens. Words are set in Arial, each line stretched to the width at which it was measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from ezdxf.document import Drawing as Document
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts.layout import Modelspace
from reportlab.pdfbase import pdfmetrics

from railgen.formats.dxf_r2018 import document_bytes, fixed_metadata, millimetre_document
from railgen.papers.paths import SubPath, sub_paths
from railgen.papers.sheet import BLACK, HEIGHT, WIDTH, Figures, Pen, Sheet, Text

SHEET_STEP = WIDTH + 30.0
"""Distance (mm) from one sheet to the next in model space."""
TEXT_LAYER, FILL_LAYER = "TEXT", "FILLS"
_PAPER = "#ffffff"
"""Areas of this colour hide what is drawn before them on paper; a CAD drawing needs no such areas."""
_WEIGHTS = np.array([0, 5, 9, 13, 15, 18, 20, 25, 30, 35, 40, 50, 53, 60, 70, 80, 90, 100])
"""Line weights that the format knows, hundredths of a millimetre."""
_FACES = {False: ("RAILGEN", "arial.ttf", "Helvetica"), True: ("RAILGEN_BOLD", "arialbd.ttf", "Helvetica-Bold")}
"""Name of the text style, its font file, and the PDF face that has that font's widths; by boldness."""
_ARIAL_CAPITALS = 0.716
"""Height of Arial's capitals over its size."""
_POINTS_PER_MM = 72 / 25.4


def write_dxf(sheets: Sequence[Sheet]) -> bytes:
    """All sheets as one DXF file; the same sheets always give the same bytes."""
    with fixed_metadata():
        document = millimetre_document()
        linetypes = _linetypes(document, sheets)
        _layers(document, sheets)
        for name, font, _ in _FACES.values():
            document.styles.add(name, font=font)
        space = document.modelspace()
        for number, sheet in enumerate(sheets):
            for item in sheet.items:
                if isinstance(item, Text):
                    _text(space, item, number * SHEET_STEP)
                elif len(item.points):
                    _figures(space, item, number * SHEET_STEP, linetypes)
        _layouts(document, len(sheets))
        return document_bytes(document)


_Dashes = tuple[float, ...]


def _pens(sheets: Sequence[Sheet]) -> set[Pen]:
    return {item.pen for sheet in sheets for item in sheet.items if isinstance(item, Figures) and item.pen}


def _linetypes(document: Document, sheets: Sequence[Sheet]) -> dict[_Dashes, str]:
    """A line type for each pattern of dashes, by the pattern."""
    patterns = sorted({pen.dashes for pen in _pens(sheets) if pen.dashes})
    names = {(): "Continuous"} | {pattern: f"RAILGEN_{number}" for number, pattern in enumerate(patterns, 1)}
    for pattern in patterns:
        lengths = [length if place % 2 == 0 else -length for place, length in enumerate(pattern)]
        words = "dashes and gaps, mm: " + " ".join(f"{length:.2f}" for length in pattern)
        document.linetypes.add(names[pattern], [sum(pattern), *lengths], description=words)
    return names


def _layers(document: Document, sheets: Sequence[Sheet]) -> None:
    for name in sorted({pen.layer for pen in _pens(sheets)} | {TEXT_LAYER, FILL_LAYER}):
        document.layers.add(name, color=7)


def _layouts(document: Document, count: int) -> None:
    """A layout a sheet, A3, with the sheet in its viewport; model space is shown whole."""
    for number in range(count):
        layout = document.layouts.new(f"Sheet {number + 1}")
        layout.page_setup(size=(WIDTH, HEIGHT), margins=(0, 0, 0, 0), units="mm")
        middle = (WIDTH / 2, HEIGHT / 2)
        seen = (number * SHEET_STEP + middle[0], middle[1])
        layout.add_viewport(middle, (WIDTH, HEIGHT), seen, HEIGHT, status=2)
    document.layouts.delete("Layout1")
    document.set_modelspace_vport(HEIGHT * 1.1, center=(WIDTH / 2, HEIGHT / 2))


def _text(space: Modelspace, text: Text, shift: float) -> None:
    style, _, face = _FACES[text.bold]
    natural = _face_width(text.text, text.height, face)
    attributes = {"layer": TEXT_LAYER, "style": style, "rotation": text.angle}
    attributes |= {"width": text.width / natural if natural else 1.0, **_colour(text.colour)}
    start = {"left": 0.0, "middle": -0.5, "right": -1.0}[text.anchor] * text.width
    turn = np.radians(text.angle)
    at = (text.x + shift + start * float(np.cos(turn)), text.y + start * float(np.sin(turn)))
    entity = space.add_text(text.text, height=text.height, dxfattribs=attributes)
    entity.set_placement(at, align=TextEntityAlignment.LEFT)


@lru_cache(maxsize=8192)
def _face_width(text: str, height: float, face: str) -> float:
    """Width (mm) of a line set in a face with Arial's widths."""
    return float(pdfmetrics.stringWidth(text, face, height / _ARIAL_CAPITALS * _POINTS_PER_MM)) / _POINTS_PER_MM


def _figures(space: Modelspace, figures: Figures, shift: float, linetypes: dict[_Dashes, str]) -> None:
    points = figures.points + np.array([shift, 0.0])
    paths = [path for part in sub_paths(figures.commands) for path in part.of(points)]
    if figures.fill and figures.fill != _PAPER:
        _fill(space, paths, figures.fill)
    if figures.pen is None:
        return
    pen = figures.pen
    weight = int(_WEIGHTS[np.argmin(np.abs(_WEIGHTS - 100 * pen.width))])
    attributes = {"layer": pen.layer, "lineweight": weight, **_colour(pen.colour)}
    if pen.dashes:
        attributes["linetype"] = linetypes[pen.dashes]
    for path in paths:
        _outline(space, path, attributes)


def _outline(space: Modelspace, path: SubPath, attributes: dict[str, object]) -> None:
    circle = path.circle
    if circle:
        space.add_circle(circle[:2], circle[2], attributes)
    elif len(path.vertices) == 2 and not path.bulges.any():
        first, last = path.vertices.tolist()
        space.add_line(first, last, attributes)
    else:
        space.add_lwpolyline(_vertices(path), "xyb", close=path.closed, dxfattribs=attributes)


def _fill(space: Modelspace, paths: Sequence[SubPath], colour: str) -> None:
    hatch = space.add_hatch(dxfattribs={"layer": FILL_LAYER, **_colour(colour)})
    for path in paths:
        hatch.paths.add_polyline_path(_vertices(path), is_closed=True)


def _vertices(path: SubPath) -> list[tuple[float, float, float]]:
    return [(x, y, bulge) for (x, y), bulge in zip(path.vertices.tolist(), path.bulges.tolist(), strict=True)]


def _colour(colour: str) -> dict[str, int]:
    """The colour's entry; black is the layer's own, which is white on a dark screen."""
    return {} if colour == BLACK else {"true_color": int(colour[1:], 16)}
