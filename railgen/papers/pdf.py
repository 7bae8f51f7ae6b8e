"""Sheets as a PDF: vector, searchable, faces embedded, no clock."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import FILL_NON_ZERO, Canvas
from reportlab.pdfgen.pathobject import PDFPathObject

from railgen.papers.fonts import font_name, points
from railgen.papers.sheet import HEIGHT, WIDTH, Figures, Pen, Sheet, Text

_POINTS_PER_MM = 72 / 25.4
_DECIMALS = 2  # of a point: 0.004 mm


def write_pdf(sheets: Sequence[Sheet], title: str) -> bytes:
    """All sheets as one PDF file, a page a sheet; the same sheets always give the same bytes."""
    buffer = BytesIO()
    size = WIDTH * _POINTS_PER_MM, HEIGHT * _POINTS_PER_MM
    canvas = Canvas(buffer, pagesize=size, invariant=1, pageCompression=1, initialFontName=font_name())
    canvas.setTitle(title)
    canvas.setAuthor("railgen")
    for sheet in sheets:
        _draw(canvas, sheet)
        canvas.bookmarkPage(sheet.name)
        canvas.addOutlineEntry(sheet.name, sheet.name)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _draw(canvas: Canvas, sheet: Sheet) -> None:
    for item in sheet.items:
        if isinstance(item, Text):
            _draw_text(canvas, item)
        elif len(item.points):
            draw_figures(canvas, item)


def _draw_text(canvas: Canvas, text: Text) -> None:
    canvas.setFillColor(HexColor(text.colour))
    canvas.setFont(font_name(text.bold), points(text.height))
    start = {"left": 0.0, "middle": -0.5, "right": -1.0}[text.anchor] * text.width * _POINTS_PER_MM
    if text.angle == 0:
        x, y = text.x * _POINTS_PER_MM + start, text.y * _POINTS_PER_MM
        canvas.drawString(round(x, _DECIMALS), round(y, _DECIMALS), text.text)
        return
    canvas.saveState()
    canvas.translate(round(text.x * _POINTS_PER_MM, _DECIMALS), round(text.y * _POINTS_PER_MM, _DECIMALS))
    canvas.rotate(text.angle)
    canvas.drawString(round(start, _DECIMALS), 0, text.text)
    canvas.restoreState()


def draw_figures(canvas: Canvas, figures: Figures) -> None:
    """Draw figures on a page; their millimetres count from the page's lower left corner."""
    if figures.pen:
        _set_pen(canvas, figures.pen)
    if figures.fill:
        canvas.setFillColor(HexColor(figures.fill))
    # The path's own methods format number by number; a drawing has tens of thousands.
    path = PDFPathObject([_path_code(figures)])
    stroke, fill = int(figures.pen is not None), int(figures.fill is not None)
    canvas.drawPath(path, stroke=stroke, fill=fill, fillMode=FILL_NON_ZERO)


def _set_pen(canvas: Canvas, pen: Pen) -> None:
    canvas.setLineWidth(pen.width * _POINTS_PER_MM)
    canvas.setStrokeColor(HexColor(pen.colour))
    canvas.setDash([length * _POINTS_PER_MM for length in pen.dashes])


def _path_code(figures: Figures) -> str:
    """The operators of all figures, coordinates in points with two decimals, 0.004 mm."""
    form = " ".join(_forms(figures.commands))
    rows = (figures.points * _POINTS_PER_MM).reshape(len(figures.points), -1).tolist()
    return " ".join(form % tuple(row) for row in rows)


def _forms(commands: str) -> list[str]:
    """Each operator with its places for numbers."""
    forms, handles = [], 0
    for command in commands:
        handles += command == "C"
        operator = {"M": "m", "L": "l", "Z": "h", "C": "" if handles % 3 else "c"}[command]
        forms.append(operator if command == "Z" else f"%.2f %.2f {operator}".rstrip())
    return forms
