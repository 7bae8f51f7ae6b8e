"""Lists on cards, and what is to be heeded before a card is used."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, LongTable, Paragraph, Spacer, Table

from railgen.papers.card_page import GREY, INK, RULE, SHADE, WHITE, WIDTH, style
from railgen.papers.cell_text import paragraph
from railgen.papers.fonts import font_name, printable
from railgen.papers.wording import Wording

INDENT = 7.5
LEAST_SPLIT = 120 * mm
"""A row moves to the next page whole, unless it is near to a page high."""
_ROOM = 40 * mm  # that a title wants below it, for its list to begin on the same page
_SHORT = 7  # letters that fit the narrowest column of a list
GRID: list[tuple[Any, ...]] = [
    ("BACKGROUND", (0, 0), (-1, 0), INK),
    ("TEXTCOLOR", (0, 0), (-1, 0), WHITE),
    ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
    ("LINEAFTER", (0, 0), (-2, -1), 0.25, RULE),
    ("BOX", (0, 0), (-1, -1), 0.6, INK),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
    ("TOPPADDING", (0, 0), (-1, -1), 2.5),
    ("BOTTOMPADDING", (0, 0), (-1, -1), 3.5),
    ("LEFTPADDING", (0, 0), (-1, -1), 3),
    ("RIGHTPADDING", (0, 0), (-1, -1), 3),
]


def cautions_block(words: Wording) -> list[Flowable]:
    """What must be heeded before the card is used, and the box for its release."""
    lines = [
        paragraph(words.say(f"cautions.{key}"), style(8, bold=key == "release", indent=INDENT), bullet="•")
        for key in ("release", "instructions", "checks", "life")
    ]
    boxes = [words.say(f"cautions.{key}") for key in ("released", "name", "signature", "date")]
    width = WIDTH / 4
    release = Table([boxes], colWidths=[width * 1.3, width * 1.0, width * 1.0, width * 0.7], rowHeights=[11 * mm])
    release.setStyle(
        [
            ("BOX", (0, 0), (-1, -1), 0.8, INK),
            ("INNERGRID", (0, 0), (-1, -1), 0.4, RULE),
            ("BACKGROUND", (0, 0), (0, 0), SHADE),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("FONT", (0, 0), (-1, -1), font_name(), 6.5),
            ("TEXTCOLOR", (1, 0), (-1, -1), GREY),
        ]
    )
    return [KeepTogether([heading("cautions.title", words), *lines, Spacer(1, 5), release])]


def listing(
    table: str,
    head: Sequence[str],
    rows: list[list[str]],
    widths: list[float],
    words: Wording,
    sums: int = 1,
    whole: bool = True,
) -> list[Flowable]:
    """A list with its title, on one page where it can be, unless not `whole`.

    The last row holds the sums, on one line, their words over so many columns; where `sums` is 0 there are none.
    """
    body, last = (rows[:-1], rows[-1:]) if sums else (rows, [])
    cells = [[cell(text) for text in row] for row in body] + [[printable(text) for text in row] for row in last]
    made = LongTable([heads(table, head, words), *cells], colWidths=widths, repeatRows=1, splitInRow=LEAST_SPLIT)
    shaded = [
        ("BACKGROUND", (0, -1), (-1, -1), SHADE),
        ("FONT", (0, -1), (-1, -1), font_name(bold=True), 7.5),
        ("SPAN", (0, -1), (sums - 1, -1)),
    ]
    made.setStyle([("FONT", (0, 0), (-1, -1), font_name(), 7.5), *GRID, *(shaded if sums else [])])
    title = heading(f"{table}.title", words)
    return [KeepTogether([title, made])] if whole else [CondPageBreak(_ROOM), title, made]


def cell(text: str) -> Paragraph | str:
    """Numbers and other short words as they are, which is quicker; what may have to wrap as a paragraph."""
    return printable(text) if len(text) <= _SHORT else paragraph(text, style(7.5))


def heads(table: str, keys: Sequence[str], words: Wording) -> list[Paragraph]:
    return [paragraph(words.say(f"{table}.{key}"), style(7, bold=True, colour="white")) for key in keys]


def heading(key: str, words: Wording) -> Paragraph:
    return paragraph(words.say(key), style(10, bold=True).clone(key, spaceAfter=2))
