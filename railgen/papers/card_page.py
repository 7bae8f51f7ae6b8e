"""Pages of the cards that go through the shop: margins, strips above and below, codes, page numbers, styles of type."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import IO, Any

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Flowable, Frame, PageTemplate, Table

from railgen.papers.cell_text import paragraph
from railgen.papers.codes import bar_code, code_figures, qr_code
from railgen.papers.fonts import MM_PER_POINT, font_name, printable
from railgen.papers.pdf import draw_shared, embed_faces, show_text
from railgen.papers.wording import Wording

INK = HexColor("#101418")
GREY = HexColor("#5a6570")
RULE = HexColor("#9aa4ad")
SHADE = HexColor("#e9edf0")
RED = HexColor("#b00000")
WHITE = HexColor("#ffffff")

PAGE_WIDTH, PAGE_HEIGHT = A4
LEFT, RIGHT, TOP, BOTTOM = 17 * mm, 11 * mm, 11 * mm, 22 * mm
"""Margins; the left one leaves room for a binder's holes."""
WIDTH = PAGE_WIDTH - LEFT - RIGHT
_BANNER_HEIGHT, _STRIP_HEIGHT = 7 * mm, 7 * mm
_LABEL_WIDTH = 24 * mm
_FOOT_TOP = BOTTOM - 2 * mm
_QR_SIZE, _BAR_HEIGHT = 15.0, 8.0  # mm


@dataclass(frozen=True)
class Card:
    """One card: what its pages say above and below.

    name: what it is for, a part or all of the serial; identity: what its QR code says; banner: empty where nothing bars
    its use.
    """

    serial: str
    name: str
    continued: str
    identity: str
    banner: str = ""

    @property
    def first_page(self) -> str:
        """Name of its first page's template."""
        return f"{self.name} first"

    @property
    def later_page(self) -> str:
        """Name of the template of its other pages."""
        return f"{self.name} later"


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
        canvas.card = card
        if first:
            canvas.bookmarkPage(card.name)
            canvas.addOutlineEntry(card.name, card.name)
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
            embed_faces(self)
            self.kept: list[dict[str, Any]] = []

        def drawString(self, x: float, y: float, text: str, *_: Any, **__: Any) -> None:  # noqa: N802
            """Show a text in the face that is set."""
            show_text(self, x, y, text, self._fontname, self._fontsize)

        def showPage(self) -> None:  # noqa: N802 - the canvas calls it so
            """Keep the page instead of writing it."""
            self.kept.append(dict(self.__dict__))
            self._startPage()

        def save(self) -> None:
            """Write all pages, each with its foot."""
            kept = self.kept
            cards = [page["card"] for page in kept]
            for sheet, page in enumerate(kept):
                self.__dict__.update(page)
                before, total = cards[: sheet + 1].count(cards[sheet]), cards.count(cards[sheet])
                _draw_foot(self, words, cards[sheet], (before, total), (sheet + 1, len(kept)))
                super().showPage()
            super().save()

    return NumberedCanvas


def _draw_foot(canvas: Any, words: Wording, card: Card, page: tuple[int, int], sheet: tuple[int, int]) -> None:
    canvas.setStrokeColor(RULE)
    canvas.setLineWidth(0.6)
    canvas.line(LEFT, _FOOT_TOP, LEFT + WIDTH, _FOOT_TOP)
    number = words.say("page.number", serial=card.serial, part=card.name, page=page[0], pages=page[1])
    lines = (
        (words.say("cautions.release"), False, 6.5, GREY, 3.6),
        (number, True, 8.5, INK, 9.0),
        (words.say("page.sheet", sheet=sheet[0], sheets=sheet[1]), False, 6.5, GREY, 12.6),
    )
    for text, bold, size, colour, below in lines:
        canvas.setFillColor(colour)
        canvas.setFont(font_name(bold), size)
        canvas.drawString(LEFT, _FOOT_TOP - below * mm, printable(text))
    _draw_codes(canvas, card)


def _draw_codes(canvas: Any, card: Card) -> None:
    """QR code at the right of the foot, bar code with the serial below it beside it."""
    right, top = (LEFT + WIDTH) * MM_PER_POINT, _FOOT_TOP * MM_PER_POINT - 1.0
    draw_shared(canvas, code_figures(qr_code(card.identity, _QR_SIZE), right - _QR_SIZE, top - _QR_SIZE))
    bars = bar_code(card.serial, _BAR_HEIGHT)
    left, bottom = right - _QR_SIZE - bars.width, top - _BAR_HEIGHT
    draw_shared(canvas, code_figures(bars, left, bottom))
    canvas.setFillColor(INK)
    canvas.setFont(font_name(), 7)
    canvas.drawCentredString((left + bars.width / 2) * mm, (bottom - 3.2) * mm, card.serial)


def title_band(title: str, name: str, serial: str) -> Flowable:
    """The card's name on the left, the serial on the right, large enough to read from a truck."""
    left = [
        paragraph(title, style(9, bold=True, colour="white")),
        paragraph(name, style(19, bold=True, colour="white")),
    ]
    right = style(24, bold=True, colour="white").clone("serial", alignment=2)
    band = Table([[left, paragraph(serial, right)]], colWidths=[WIDTH / 2, WIDTH / 2])
    band.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), font_name(), 8),
            ("BACKGROUND", (0, 0), (-1, -1), INK),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
        ]
    )
    return band


def field_table(left: list[tuple[str, str]], right: list[tuple[str, str]]) -> Flowable:
    """Labels and values in two columns of equal length."""
    label, value = style(7, colour="grey"), style(8)
    rows = [
        [paragraph(text, kind) for text, kind in ((a, label), (b, value), (c, label), (d, value))]
        for (a, b), (c, d) in zip(left, right, strict=True)
    ]
    half = WIDTH / 2 - _LABEL_WIDTH
    table = Table(rows, colWidths=[_LABEL_WIDTH, half - 10 * mm, _LABEL_WIDTH, half + 10 * mm])
    table.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), font_name(), 8),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
            ("BACKGROUND", (0, 0), (0, -1), SHADE),
            ("BACKGROUND", (2, 0), (2, -1), SHADE),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            ("LEFTPADDING", (0, 0), (-1, -1), 3),
            ("RIGHTPADDING", (0, 0), (-1, -1), 3),
        ]
    )
    return table
