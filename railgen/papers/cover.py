"""What fills sheet 1 below the general arrangement: section, section and material, order, sheets, revisions."""

from __future__ import annotations

from collections.abc import Sequence

from railgen.papers.general_arrangement import SECTION_LETTER, sheet_index
from railgen.papers.part import DrawnPart
from railgen.papers.section_block import ORDER_WIDTH, order_table, section_sketch, section_table, section_table_width
from railgen.papers.sheet import FRAME_LEFT, FRAME_RIGHT, Item
from railgen.papers.subject import Subject
from railgen.papers.tables import Column, Rest, Row, table_on_sheet, table_pages
from railgen.papers.title_block import BLOCK_LEFT, STRIP_TOP
from railgen.papers.wording import say

REVISIONS_LEFT = BLOCK_LEFT - 96.0
_GAP = 4.0
_SKETCH = 62.0
_SHEET_COLUMNS = (16.0, 50.0, 14.0)
_REVISION_COLUMNS = (10.0, 40.0, 19.0, 27.0)
_EMPTY_REVISIONS = 4


def cover_blocks(
    subject: Subject, parts: list[DrawnPart], names: Sequence[tuple[str, str]], top: float
) -> tuple[list[Item], tuple[Rest, ...]]:
    """The blocks between y = `top` and the strip, and what finds no room; `names`: name and scale of each sheet."""
    top, bottom = top - 2.0, STRIP_TOP + 2.0
    items = section_sketch(subject, FRAME_LEFT + 4.0, top, top - bottom, SECTION_LETTER)
    x = FRAME_LEFT + _SKETCH
    section, rest = section_table(subject, parts, x, top, bottom)
    x += section_table_width(parts) + _GAP
    order, more = order_table(subject, x, top, bottom)
    columns = [
        Column(say(f"arrangement.sheets_{key}"), width)
        for key, width in zip(("title", "name", "scale"), _SHEET_COLUMNS, strict=True)
    ]
    rows = [Row(line) for line in sheet_index(names)]
    x = max(x + ORDER_WIDTH + _GAP, FRAME_RIGHT - sum(_SHEET_COLUMNS) - 1.0)
    sheets, most = table_on_sheet(columns, rows, x, top, bottom)
    return [*items, *section, *order, *sheets], (*rest, *more, *most)


def revision_block(subject: Subject) -> list[Item]:
    """The revisions, in the strip beside the title block; lines below are left for what is changed by hand."""
    order, about = subject.plan.order.order, subject.plan.order.library.about
    keys = ("number", "change", "build", "released")
    columns = [Column(say(f"revision.{key}"), width) for key, width in zip(keys, _REVISION_COLUMNS, strict=True)]
    change = say("revision.as_ordered", name=about.name, revision=about.revision)
    rows = [Row((order.revision, change, order.build_date.isoformat(), "")), *[Row(("",) * 4)] * _EMPTY_REVISIONS]
    return list(table_pages(columns, rows, REVISIONS_LEFT, STRIP_TOP, STRIP_TOP - 44.0)[0])
