"""The tables of a route card: operations, tools, holes by size, and what is to be heeded before use."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, KeepTogether, LongTable, Paragraph, Spacer, Table

from railgen.formats.cautions import CAUTIONS
from railgen.holes.table import FACES, NONE, OPERATIONS
from railgen.papers.fonts import font_name, printable
from railgen.papers.route_card_page import GREY, INK, RULE, SHADE, WHITE, WIDTH, paragraph, style
from railgen.papers.wording import Wording
from railgen.shop.operation import Operation
from railgen.shop.part_work import PartWork
from railgen.shop.sizes import group_by_size
from railgen.shop.tools import tool_uses

_NUMBER, _NAME, _TARGET, _TIME, _SIGN = 9.5 * mm, 28 * mm, 45 * mm, 11 * mm, 13.5 * mm
_WORK = WIDTH - _NUMBER - _NAME - _TARGET - _TIME - 2 * _SIGN
_LEAST_ROW = 9 * mm  # room to write in
_INDENT = 6.0
_SHORT = 7  # letters that fit the narrowest column of a list
_LEAST_SPLIT = 120 * mm  # a row moves to the next page whole, unless it is near to a page high
_GRID: list[tuple[Any, ...]] = [
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


def operations_table(operations: Sequence[Operation], words: Wording) -> list[Flowable]:
    """One row an operation: number, name, what to do, target and limit, standard time, boxes to sign."""
    head = ("number", "name", "work", "target", "time", "sign_off")
    rows: list[list[Any]] = [[*_heads("operations", head, words), ""]]
    rows += [_operation_row(operation, words) for operation in operations]
    table = LongTable(
        rows,
        colWidths=[_NUMBER, _NAME, _WORK, _TARGET, _TIME, _SIGN, _SIGN],
        repeatRows=1,
        splitInRow=_LEAST_SPLIT,
    )
    table.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), font_name(), 7.5),
            *_GRID,
            ("SPAN", (-2, 0), (-1, 0)),
            ("FONT", (-2, 1), (-1, -1), font_name(), 5.5),
            ("TEXTCOLOR", (-2, 1), (-1, -1), GREY),
            ("ALIGN", (4, 0), (4, -1), "RIGHT"),
        ]
    )
    return [_title("operations.title", words), table]


def _operation_row(operation: Operation, words: Wording) -> list[Any]:
    time = words.say("operations.no_time")
    if operation.minutes is not None:
        time = words.say("operations.time_value", minutes=operation.minutes)
    return [
        paragraph(str(operation.number), style(8.5, bold=True)),
        [
            paragraph(words.say(f"operation.{operation.kind}"), style(8, bold=True)),
            Spacer(1, _LEAST_ROW - 10),
        ],
        _work(operation, words),
        _targets(operation, words),
        paragraph(time, style(7.5)),
        *(words.say(f"sign_off.{name}") for name in operation.sign_off),
    ]


def _work(operation: Operation, words: Wording) -> list[Paragraph]:
    lines = [paragraph(words.say("operations.input", text=line), style(7, colour="grey")) for line in operation.inputs]
    lines += [paragraph(words.text(line), style(7.5, indent=_INDENT), bullet="•") for line in operation.instructions]
    lines += [
        paragraph(words.say("operations.caution", text=line), style(7.5, bold=True)) for line in operation.cautions
    ]
    return lines


def _targets(operation: Operation, words: Wording) -> list[Paragraph]:
    lines = [paragraph(words.text(line), style(7.5)) for line in operation.targets]
    lines += [paragraph(words.say("operations.limit", text=line), style(7.5)) for line in operation.limits]
    return lines


def tools_table(work: PartWork, words: Wording) -> list[Flowable]:
    """The tools with their hits and the force of a hit, to be checked before the first blank."""
    rows = np.arange(len(work.holes))
    uses = tool_uses(work.holes, work.press, rows)
    if not uses:
        return []
    head = ("tool", "size", "hits", "force", "wear", "changed")
    body = []
    for use in uses:
        force = float(work.forces[use.size.rows].max()) / 1000
        wear = (
            ""
            if use.tool is None
            else words.say("tools.wear_value", hits=use.tool.hits_since_regrind, limit=use.tool.regrind_limit)
        )
        body.append(
            [
                words.say("tool.none") if use.tool is None else use.tool.id,
                words.text(use.size.name),
                str(use.hits),
                f"{force:.1f}" if force else words.say("holes.none"),
                wear,
                "",
            ]
        )
    total = [words.say("tools.total"), "", str(sum(use.hits for use in uses)), "", "", ""]
    widths = [38 * mm, 44 * mm, 14 * mm, 24 * mm, 36 * mm]
    return _listing("tools", head, [*body, total], [*widths, WIDTH - sum(widths)], words)


def holes_table(work: PartWork, words: Wording) -> list[Flowable]:
    """How many features of each size, operation and fastener there are on each face."""
    holes = work.holes
    body = []
    for operation, kind in enumerate(OPERATIONS):
        made = np.flatnonzero(holes.operation == operation)
        for fastener in np.unique(holes.fastener[made]).tolist():
            name = words.say("holes.none") if fastener == NONE else holes.names.fasteners[fastener]
            for group in group_by_size(holes, made[holes.fastener[made] == fastener]):
                faces = np.bincount(holes.face[group.rows], minlength=len(FACES)).tolist()
                size, made_by = words.text(group.name), words.say(f"holes.{kind}")
                body.append([size, made_by, name, *(str(count) for count in faces), str(group.count)])
    if not body:
        return []
    head = ("size", "operation", "fastener", *FACES, "count")
    sums = np.bincount(holes.face, minlength=len(FACES)).tolist()
    total = [words.say("holes.total"), "", "", *(str(count) for count in sums), str(len(holes))]
    widths = [44 * mm, 30 * mm, 33 * mm, 16 * mm, 19 * mm, 22 * mm]
    return _listing("holes", head, [*body, total], [*widths, WIDTH - sum(widths)], words)


def cautions_block(words: Wording) -> list[Flowable]:
    """What must be heeded before the card is used, and the box for its release."""
    told = (*CAUTIONS, words.say("cautions.checks"), words.say("cautions.life"))
    lines = [paragraph(text, style(8, bold=text == CAUTIONS[0], indent=_INDENT), bullet="•") for text in told]
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
    return [KeepTogether([_title("cautions.title", words), *lines, Spacer(1, 5), release])]


def _listing(
    table: str, head: Sequence[str], rows: list[list[str]], widths: list[float], words: Wording
) -> list[Flowable]:
    """A list with its title: one line a row, the last row the sums."""
    cells = [[_cell(text) for text in row] for row in rows[:-1]]
    cells.append([printable(text) for text in rows[-1]])
    listing = LongTable([_heads(table, head, words), *cells], colWidths=widths, repeatRows=1, splitInRow=_LEAST_SPLIT)
    listing.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), font_name(), 7.5),
            *_GRID,
            ("BACKGROUND", (0, -1), (-1, -1), SHADE),
            ("FONT", (0, -1), (-1, -1), font_name(bold=True), 7.5),
        ]
    )
    return [KeepTogether([_title(f"{table}.title", words), listing])]


def _cell(text: str) -> Paragraph | str:
    """Numbers and other short words as they are, which is quicker; what may have to wrap as a paragraph."""
    return printable(text) if len(text) <= _SHORT else paragraph(text, style(7.5))


def _heads(table: str, keys: Sequence[str], words: Wording) -> list[Paragraph]:
    return [paragraph(words.say(f"{table}.{key}"), style(7, bold=True, colour="white")) for key in keys]


def _title(key: str, words: Wording) -> Paragraph:
    return paragraph(words.say(key), style(10, bold=True).clone(key, spaceAfter=2))
