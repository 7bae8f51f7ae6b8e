"""Sheets as a PDF: vector, searchable, faces embedded, no clock."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from io import BytesIO

import numpy as np
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfgen.canvas import FILL_NON_ZERO, Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from railgen.papers.fonts import font_name, points
from railgen.papers.sheet import HEIGHT, WIDTH, Figures, Pen, Sheet, Text
from railgen.papers.wording import wording

_POINTS_PER_MM = 72 / 25.4
_WORTH_SHARING = 20
"""Figures alike, on several pages, that are written once for all of them."""


def write_pdf(sheets: Sequence[Sheet], title: str) -> bytes:
    """All sheets as one PDF file, a page a sheet; the same sheets always give the same bytes."""
    buffer = BytesIO()
    size = WIDTH * _POINTS_PER_MM, HEIGHT * _POINTS_PER_MM
    canvas = Canvas(buffer, pagesize=size, invariant=1, pageCompression=1, initialFontName=font_name())
    canvas.setTitle(title)
    canvas.setAuthor("railgen")
    embed_faces(canvas)
    shared = _on_several(sheets)
    for sheet in sheets:
        for item in sheet.items:
            if isinstance(item, Text):
                _draw_text(canvas, item)
            elif len(item.points):
                many = _is_large(item) and _digest(item) in shared
                (draw_shared if many else draw_figures)(canvas, item)
        canvas.bookmarkPage(sheet.name)
        canvas.addOutlineEntry(sheet.name, sheet.name)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def embed_faces(canvas: Canvas) -> None:
    """Embed both faces with the letters of all papers, so that papers hold the same faces and one file one of each."""
    letters = "".join(sorted(letter for letter in {*"".join(wording().words.values()), *"•…"} if letter > "~"))
    for bold in (False, True):
        face = pdfmetrics.getFont(font_name(bold))
        face.splitString(letters, canvas._doc)
        face.getSubsetInternalName(0, canvas._doc)


def _on_several(sheets: Sequence[Sheet]) -> set[str]:
    """Digests of the figures that stand on more than one sheet: codes above all."""
    count = Counter(
        digest
        for sheet in sheets
        for digest in {_digest(item) for item in sheet.items if isinstance(item, Figures) and _is_large(item)}
    )
    return {digest for digest, number in count.items() if number > 1}


def _is_large(figures: Figures) -> bool:
    return len(figures.points) >= _WORTH_SHARING


def _digest(figures: Figures) -> str:
    told = f"{figures.commands} {figures.pen} {figures.fill} {figures.points.shape}".encode()
    return hashlib.sha256(told + figures.points.tobytes()).hexdigest()


def _draw_text(canvas: Canvas, text: Text) -> None:
    """A line of text by the operators themselves: the canvas's own ways take as long as all else on a sheet."""
    start = {"left": 0.0, "middle": -0.5, "right": -1.0}[text.anchor] * text.width * _POINTS_PER_MM
    x, y = text.x * _POINTS_PER_MM, text.y * _POINTS_PER_MM
    face, size = font_name(text.bold), points(text.height)
    canvas._code.append(f"{_colour(text.colour)} rg")
    if text.angle == 0:
        show_text(canvas, x + start, y, text.text, face, size)
        return
    turn = np.radians(text.angle)
    cosine, sine = float(np.cos(turn)), float(np.sin(turn))
    place = f"{cosine:.6f} {sine:.6f} {-sine:.6f} {cosine:.6f} {x + start * cosine:.2f} {y + start * sine:.2f}"
    canvas._code.append(f"BT {place} Tm {_shown(canvas, text.text, face, size)} ET")


def show_text(canvas: Canvas, x: float, y: float, text: str, face: str, size: float) -> None:
    """A line of text in the colour that is set, its baseline from (x, y), points; face: by name, registered."""
    canvas._code.append(f"BT 1 0 0 1 {x:.2f} {y:.2f} Tm {_shown(canvas, text, face, size)} ET")


def _shown(canvas: Canvas, text: str, name: str, size: float) -> str:
    """The operators that set the face and show a text."""
    face = pdfmetrics.getFont(name)
    return " ".join(
        f"{face.getSubsetInternalName(subset, canvas._doc)} {_short(size)} Tf ({canvas._escape(letters)}) Tj"
        for subset, letters in face.splitString(text, canvas._doc)
    )


def draw_shared(canvas: Canvas, figures: Figures) -> None:
    """Draw figures on a page as `draw_figures` does; on further pages of the document they are only referred to."""
    name = _digest(figures)
    if not canvas.hasForm(name):
        corners = figures.points.reshape(-1, 2) * _POINTS_PER_MM
        edge = figures.pen.width * _POINTS_PER_MM if figures.pen else 0.0
        (left, bottom), (right, top) = (corners.min(axis=0) - edge).tolist(), (corners.max(axis=0) + edge).tolist()
        canvas.beginForm(name, left, bottom, right, top)
        draw_figures(canvas, figures)
        canvas.endForm()
    canvas.doForm(name)


def draw_figures(canvas: Canvas, figures: Figures) -> None:
    """Draw figures on a page; their millimetres count from the page's lower left corner."""
    if figures.pen:
        canvas._code.append(_pen(figures.pen))
    if figures.fill:
        canvas._code.append(f"{_colour(figures.fill)} rg")
    # The path's own methods format number by number; a drawing has tens of thousands.
    path = PDFPathObject([_path_code(figures)])
    stroke, fill = int(figures.pen is not None), int(figures.fill is not None)
    canvas.drawPath(path, stroke=stroke, fill=fill, fillMode=FILL_NON_ZERO)


@lru_cache(maxsize=256)
def _pen(pen: Pen) -> str:
    dashes = " ".join(_short(length * _POINTS_PER_MM) for length in pen.dashes)
    return f"{_short(pen.width * _POINTS_PER_MM)} w {_colour(pen.colour)} RG [{dashes}] 0 d"


@lru_cache(maxsize=256)
def _colour(colour: str) -> str:
    """A colour, ``#rrggbb``, as shares of red, green and blue."""
    return " ".join(_short(int(colour[place : place + 2], 16) / 255) for place in (1, 3, 5))


def _short(value: float) -> str:
    return f"{value:.4f}".rstrip("0").rstrip(".")


def _path_code(figures: Figures) -> str:
    """The operators of all figures, coordinates in points with two decimals, 0.004 mm."""
    form = " ".join(_forms(figures.commands))
    rows = (figures.points * _POINTS_PER_MM).reshape(len(figures.points), -1).tolist()
    return " ".join(form % tuple(row) for row in rows)


@lru_cache(maxsize=256)
def _forms(commands: str) -> tuple[str, ...]:
    """Each operator with its places for numbers."""
    forms, handles = [], 0
    for command in commands:
        handles += command == "C"
        operator = {"M": "m", "L": "l", "Z": "h", "C": "" if handles % 3 else "c"}[command]
        forms.append(operator if command == "Z" else f"%.2f %.2f {operator}".rstrip())
    return tuple(forms)
