"""Pages of the route card: margins, the strips above and below, page numbers, styles of type."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import IO, Any
from xml.sax.saxutils import escape

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Frame, PageTemplate, Paragraph

from railgen.formats.cautions import CAUTIONS
from railgen.papers.fonts import font_name, printable
from railgen.papers.wording import Wording

INK = HexColor("#101418")
GREY = HexColor("#5a6570")
RULE = HexColor("#9aa4ad")
SHADE = HexColor("#e9edf0")
RED = HexColor("#b00000")
WHITE = HexColor("#ffffff")

PAGE_WIDTH, PAGE_HEIGHT = A4
LEFT, RIGHT, TOP, BOTTOM = 17 * mm, 11 * mm, 11 * mm, 17 * mm
"""Margins; the left one leaves room for a binder's holes."""
WIDTH = PAGE_WIDTH - LEFT - RIGHT
_BANNER_HEIGHT, _STRIP_HEIGHT = 7 * mm, 7 * mm


@dataclass(frozen=True)
class Card:
    """The card of one part: what its pages say above and below. ``banner`` is empty where nothing bars the part."""

    serial: str
    part: str
    continued: str
    banner: str

    @property
    def first_page(self) -> str:
        """Name of its first page's template."""
        return f"{self.part} first"

    @property
    def later_page(self) -> str:
        """Name of the template of its other pages."""
        return f"{self.part} later"


@cache
def style(size: float, bold: bool = False, colour: str = "ink", indent: float = 0.0) -> ParagraphStyle:
    """A style of type: size in points, colour by name ("ink", "grey", "red", "white"), hanging indent in points."""
    colours = {"ink": INK, "grey": GREY, "red": RED, "white": WHITE}
    return ParagraphStyle(
        f"{size} {bold} {colour} {indent}",
        fontName=font_name(bold),
        fontSize=size,
        leading=size * 1.22,
        textColor=colours[colour],
        leftIndent=indent,
        bulletFontName=font_name(),
        bulletFontSize=size,
        splitLongWords=1,
    )


def paragraph(text: str, kind: ParagraphStyle, bullet: str | None = None) -> Paragraph:
    """Text that wraps; what looks like mark-up in it is printed as it is."""
    return Paragraph(escape(printable(text)), kind, bulletText=bullet)


def card_document(buffer: IO[bytes], cards: Sequence[Card], title: str) -> BaseDocTemplate:
    """An empty document with the page templates of all cards, A4 portrait."""
    document = BaseDocTemplate(
        buffer,
        pagesize=A4,
        invariant=1,
        title=title,
        creator="railgen",
        author="railgen",
        initialFontName=font_name(),
    )
    for card in cards:
        document.addPageTemplates([_template(card, first=True), _template(card, first=False)])
    return document


def _template(card: Card, first: bool) -> PageTemplate:
    above = TOP + (_BANNER_HEIGHT if card.banner else 0) + (0 if first else _STRIP_HEIGHT)
    frame = Frame(LEFT, BOTTOM, WIDTH, PAGE_HEIGHT - above - BOTTOM, 0, 0, 0, 0, id="body")

    def begin(canvas: Any, document: Any) -> None:
        canvas.route_card = card
        if first:
            canvas.bookmarkPage(card.part)
            canvas.addOutlineEntry(card.part, card.part)
        _draw_above(canvas, card, first)

    return PageTemplate(
        card.first_page if first else card.later_page,
        [frame],
        onPage=begin,
        autoNextPageTemplate=card.later_page,
        pagesize=A4,
    )


def _draw_above(canvas: Any, card: Card, first: bool) -> None:
    top = PAGE_HEIGHT - TOP
    if card.banner:
        canvas.setFillColor(RED)
        canvas.rect(LEFT, top - _BANNER_HEIGHT + 1.5 * mm, WIDTH, _BANNER_HEIGHT - 1.5 * mm, stroke=0, fill=1)
        canvas.setFillColor(WHITE)
        canvas.setFont(font_name(bold=True), 10)
        canvas.drawCentredString(LEFT + WIDTH / 2, top - _BANNER_HEIGHT + 3.1 * mm, card.banner)
        top -= _BANNER_HEIGHT
    if not first:
        canvas.setFillColor(INK)
        canvas.setFont(font_name(bold=True), 8.5)
        canvas.drawString(LEFT, top - 3.5 * mm, printable(card.continued))
        canvas.setStrokeColor(RULE)
        canvas.line(LEFT, top - 5 * mm, LEFT + WIDTH, top - 5 * mm)


def numbered_canvas(words: Wording) -> type[Canvas]:
    """A canvas that draws the foot of every page once it is known how many there are."""

    class NumberedCanvas(Canvas):  # type: ignore[misc]
        """Keeps each page until the last is done: "page x of y" needs y."""

        def __init__(self, *arguments: Any, **keywords: Any) -> None:
            super().__init__(*arguments, **keywords)
            self.kept: list[dict[str, Any]] = []

        def showPage(self) -> None:  # noqa: N802 - the canvas calls it so
            """Keep the page instead of writing it."""
            self.kept.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            """Write all pages, each with its foot."""
            kept = self.kept
            cards = [page["route_card"] for page in kept]
            for sheet, page in enumerate(kept):
                self.__dict__.update(page)
                before, total = cards[: sheet + 1].count(cards[sheet]), cards.count(cards[sheet])
                _draw_foot(self, words, cards[sheet], (before, total), (sheet + 1, len(kept)))
                super().showPage()
            super().save()

    return NumberedCanvas


def _draw_foot(canvas: Any, words: Wording, card: Card, page: tuple[int, int], sheet: tuple[int, int]) -> None:
    line_height = BOTTOM - 2 * mm
    canvas.setStrokeColor(RULE)
    canvas.line(LEFT, line_height, LEFT + WIDTH, line_height)
    canvas.setFillColor(GREY)
    canvas.setFont(font_name(), 6.5)
    canvas.drawString(LEFT, line_height - 3.2 * mm, printable(CAUTIONS[0]))
    canvas.drawRightString(
        LEFT + WIDTH, line_height - 3.2 * mm, printable(words.say("page.sheet", sheet=sheet[0], sheets=sheet[1]))
    )
    canvas.setFillColor(INK)
    canvas.setFont(font_name(bold=True), 8)
    number = words.say("page.number", serial=card.serial, part=card.part, page=page[0], pages=page[1])
    canvas.drawString(LEFT, line_height - 7.2 * mm, printable(number))
