"""The tables of a route card: operations, tools, holes by size."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, LongTable, Paragraph, Spacer

from railgen.holes.table import FACES, NONE, OPERATIONS
from railgen.papers.card_lists import GRID, INDENT, LEAST_SPLIT, heading, heads, listing
from railgen.papers.card_page import GREY, WIDTH, style
from railgen.papers.cell_text import paragraph
from railgen.papers.fonts import font_name
from railgen.papers.wording import Wording
from railgen.shop.operation import Operation
from railgen.shop.part_work import PartWork
from railgen.shop.sizes import group_by_size
from railgen.shop.tools import tool_uses

_NUMBER, _NAME, _TARGET, _TIME, _SIGN = 9.5 * mm, 28 * mm, 52 * mm, 10.5 * mm, 13.5 * mm
_WORK = WIDTH - _NUMBER - _NAME - _TARGET - _TIME - 2 * _SIGN
_LEAST_ROW = 9 * mm  # room to write in


def operations_table(operations: Sequence[Operation], words: Wording) -> list[Flowable]:
    """One row an operation: number, name, what to do, target and limit, standard time, boxes to sign."""
    head = ("number", "name", "work", "target", "time", "sign_off")
    rows: list[list[Any]] = [[*heads("operations", head, words), ""]]
    rows += [_operation_row(operation, words) for operation in operations]
    table = LongTable(
        rows,
        colWidths=[_NUMBER, _NAME, _WORK, _TARGET, _TIME, _SIGN, _SIGN],
        repeatRows=1,
        splitInRow=LEAST_SPLIT,
    )
    table.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), font_name(), 7.5),
            *GRID,
            ("SPAN", (-2, 0), (-1, 0)),
            ("FONT", (-2, 1), (-1, -1), font_name(), 5.5),
            ("TEXTCOLOR", (-2, 1), (-1, -1), GREY),
            ("ALIGN", (4, 0), (4, -1), "RIGHT"),
        ]
    )
    return [heading("operations.title", words), table]


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
    lines += [paragraph(words.text(line), style(7.5, indent=INDENT), bullet="•") for line in operation.instructions]
    lines += [
        paragraph(words.say("operations.caution", text=line), style(7.5, bold=True)) for line in operation.cautions
    ]
    lines += [paragraph(words.say(f"record.{name}"), style(7.5)) for name in operation.records]
    return lines


def _targets(operation: Operation, words: Wording) -> list[Paragraph]:
    lines = [paragraph(words.text(line), style(7.5)) for line in operation.targets]
    lines += [paragraph(words.say("operations.limit", text=line), style(7.5)) for line in operation.limits]
    return lines


def tools_table(work: PartWork, words: Wording) -> list[Flowable]:
    """The tools with their hits and the force of a hit, to be checked before the first blank."""
    rows = np.arange(len(work.holes))
    uses = tool_uses(work.holes, work.press, rows, work.strokes)
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
    return listing("tools", head, [*body, total], [*widths, WIDTH - sum(widths)], words)


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
    return listing("holes", head, [*body, total], [*widths, WIDTH - sum(widths)], words)
