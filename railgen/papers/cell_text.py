"""Text in the cells of cards, which wraps: a card has hundreds of cells, and most say what another says, too.

Lines are broken once for all cells that say the same, not anew each time that a table is measured, and go to the page
by the operators themselves.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from reportlab.lib.colors import HexColor
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph

from railgen.papers.fonts import printable
from railgen.papers.pdf import show_text

_LINES: dict[tuple[Any, ...], Any] = {}
_MOST_LINES = 1500


class CellText(Paragraph):  # type: ignore[misc]
    """A paragraph of one face, size and colour, without mark-up."""

    key: tuple[Any, ...] | None = None
    """What its lines follow from besides the widths; none for a piece of a text that was split between pages."""

    def breakLines(self, width: list[float]) -> Any:  # noqa: N802 - the paragraph calls it so
        """The text's lines within some widths."""
        if self.key is None:
            return super().breakLines(width)
        key = (*self.key, *width)
        if key not in _LINES:
            if len(_LINES) >= _MOST_LINES:
                _LINES.clear()
            _LINES[key] = super().breakLines(width)
        return _LINES[key]

    def draw(self) -> None:
        """Draw the lines, as the paragraph itself would."""
        if self.key is None or self.style.alignment != TA_LEFT:
            super().draw()
            return
        canvas, style = self.canv, self.style
        y = self.height - style.fontSize
        canvas.setFillColor(style.textColor)
        if self.bulletText:
            show_text(canvas, style.bulletIndent, y, self.bulletText, style.bulletFontName, style.bulletFontSize)
        for _, words in self.blPara.lines:
            show_text(canvas, style.leftIndent, y, " ".join(words), style.fontName, style.fontSize)
            y -= style.leading


def paragraph(text: str, kind: ParagraphStyle, bullet: str | None = None) -> Paragraph:
    """Text that wraps; what looks like mark-up in it is printed as it is."""
    shown, face = printable(text), (kind.fontName, kind.fontSize, kind.textColor.hexval())
    made = CellText(None, kind, bullet, frags=[_piece(*face).clone(text=shown)])
    made.key = (shown, *face, kind.leftIndent)
    return made


@cache
def _piece(face: str, size: float, colour: str) -> Any:
    """A piece of text, as the paragraph's own parser has it; colour as ``0xrrggbb``."""
    return Paragraph("x", ParagraphStyle("piece", fontName=face, fontSize=size, textColor=HexColor(colour))).frags[0]
