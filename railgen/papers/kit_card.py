"""The fastener kit as a card: what to pick, how tight, and each joint with its tightening order."""

from __future__ import annotations

from io import BytesIO
from typing import Any

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable, LongTable, Spacer

from railgen.formats.names import kit_table_name
from railgen.holes.table import MARK, NONE, SIDES
from railgen.layout.plan import SerialPlan
from railgen.papers.card_lists import GRID, LEAST_SPLIT, cautions_block, heading, heads
from railgen.papers.card_page import (
    GREY,
    SHADE,
    WIDTH,
    Card,
    card_document,
    field_table,
    numbered_canvas,
    style,
    title_band,
)
from railgen.papers.cell_text import paragraph
from railgen.papers.codes import BOTH_HANDS, hole_table_sha256, identity
from railgen.papers.fonts import font_name
from railgen.papers.joint_figure import JointFigure
from railgen.papers.kit_tables import component_table, length_words, low_grip_block, sum_table, torque_table
from railgen.papers.route_card import banner_of
from railgen.papers.route_card_header import SHOWN_DIGITS
from railgen.papers.wording import Wording, wording
from railgen.shop.kit import Kit, kit_lines, kit_of
from railgen.shop.screws import PITCHES_BEYOND_NUT
from railgen.shop.tightening import JointType, joint_types, stations_by_side

_GAP = 9  # points between the blocks of a card
_NUMBER, _FIGURE, _SCREWS, _SIGN = 9 * mm, 46 * mm, 52 * mm, 14 * mm
_JOINT = WIDTH - _NUMBER - _FIGURE - _SCREWS - 2 * _SIGN
_LISTED = 4  # stations of one side that are named one by one


def write_kit_card(plan: SerialPlan) -> bytes:
    """The kit of a serial as a PDF, A4 portrait. The same plan gives the same bytes."""
    words, table = wording(), hole_table_sha256(plan)
    kit = kit_of(plan)
    types, lines = joint_types(kit), kit_lines(kit)
    card = Card(
        serial=plan.serial,
        name=words.say("kit.name"),
        continued=words.say("kit.continued", serial=plan.serial, revision=plan.order.order.revision),
        identity=identity(plan.serial, "kit", BOTH_HANDS, table),
        banner=banner_of(plan, words),
    )
    blocks = (
        [title_band(words.say("kit.title"), words.say("kit.both"), plan.serial)],
        _header(kit, types, table, words),
        cautions_block(words),
        sum_table(kit, lines, words),
        torque_table(kit, words),
        low_grip_block(kit, words),
        component_table(kit, lines, words),
        _joints_table(kit, types, words),
    )
    story: list[Flowable] = []
    for block in blocks:
        story += [Spacer(1, _GAP), *block] if story and block else block
    buffer = BytesIO()
    title = words.say("kit.subject", serial=plan.serial)
    card_document(buffer, [card], title).build(story, canvasmaker=numbered_canvas(words))
    return buffer.getvalue()


def _header(kit: Kit, types: tuple[JointType, ...], table: str, words: Wording) -> list[Flowable]:
    order, holes = kit.plan.order.order, kit.holes
    studs = int(((holes.shape == MARK) & (holes.fastener != NONE)).sum())
    joints = sum(found.count for found in types)
    left = {
        "serial": order.serial,
        "family": kit.plan.order.family.name,
        "revision": order.revision,
        "build_date": order.build_date.isoformat(),
    }
    right = {
        "screws": words.say("kit.screws_value", screws=len(kit.screws.row), joints=joints),
        "studs": words.say("kit.studs_value", studs=studs),
        "table": kit_table_name(order.serial),
        "hole_table": words.say("kit.hole_table_value", sha256=table[:SHOWN_DIGITS]),
    }
    fields = [[(words.say(f"kit.{key}"), value) for key, value in column.items()] for column in (left, right)]
    units = words.say("kit.units", pitches=PITCHES_BEYOND_NUT)
    return [field_table(*fields), Spacer(1, 3), paragraph(units, style(7, colour="grey"))]


def _joints_table(kit: Kit, types: tuple[JointType, ...], words: Wording) -> list[Flowable]:
    """One row for each type of joint: where, in which order, with what, and boxes to sign for each side."""
    if not types:
        return []
    head = ("number", "joint", "order", "screws", "done")
    rows: list[list[Any]] = [[*heads("kit_joint", head, words), ""]]
    rows += [_joint_row(kit, number, found, words) for number, found in enumerate(types, 1)]
    widths = [_NUMBER, _JOINT, _FIGURE, _SCREWS, _SIGN, _SIGN]
    made = LongTable(rows, colWidths=widths, repeatRows=1, splitInRow=LEAST_SPLIT)
    barred = [
        ("BACKGROUND", (4 + side, row), (4 + side, row), SHADE)
        for row, found in enumerate(types, 1)
        for side in range(len(SIDES))
        if not found.stations[side]
    ]
    made.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), font_name(), 7.5),
            *GRID,
            ("SPAN", (-2, 0), (-1, 0)),
            ("FONT", (-2, 1), (-1, -1), font_name(), 6.5),
            ("TEXTCOLOR", (-2, 1), (-1, -1), GREY),
            *barred,
        ]
    )
    told = paragraph(words.say("kit_joint.told"), style(7.5).clone("told", spaceAfter=3))
    return [CondPageBreak(60 * mm), heading("kit_joint.title", words), told, made]


def _joint_row(kit: Kit, number: int, found: JointType, words: Wording) -> list[Any]:
    signs = [side if found.stations[place] else words.say("kit_joint.not_there") for place, side in enumerate(SIDES)]
    return [
        paragraph(str(number), style(8.5, bold=True)),
        _places(kit, found, words),
        JointFigure(found.offsets, _FIGURE - 6),
        _screws(kit, found, words),
        *signs,
    ]


def _places(kit: Kit, found: JointType, words: Wording) -> list[Flowable]:
    """The components by id and name, and the stations of the joints."""
    lines: list[Flowable] = []
    for name in found.components:
        lines.append(paragraph(name, style(7.5, bold=True)))
        lines.append(paragraph(kit.library.components[name].name, style(7)))
    face = words.say(f"kit_joint.face_{found.face}")
    for side, stations in stations_by_side(found).items():
        listed = ", ".join(f"{station:.1f}" for station in stations[:_LISTED])
        if len(stations) > _LISTED:
            listed = f"{stations[0]:.1f} … {stations[-1]:.1f}"
        told = words.say("kit_joint.stations", side=side, count=len(stations), stations=listed, face=face)
        lines.append(paragraph(told, style(7, colour="grey")))
    return lines


def _screws(kit: Kit, found: JointType, words: Wording) -> list[Flowable]:
    """The screws of one joint by size and length, with torque, grip, the side of their heads, and which they are."""
    lines: list[Flowable] = []
    kinds = list(dict.fromkeys((screw.fastener, screw.length, screw.head) for screw in found.screws))
    for name, length, head in kinds:
        own = [
            (number, screw.grip)
            for number, screw in enumerate(found.screws, 1)
            if (screw.fastener, screw.length, screw.head) == (name, length, head)
        ]
        told = words.say(
            "kit_joint.screw",
            count=len(own),
            fastener=name,
            length=length_words(length, words),
            torque=kit.library.fasteners[name].torque,
        )
        lines.append(paragraph(told, style(7.5, bold=True)))
        grips = ", ".join(f"{grip:.8g}" for grip in sorted({grip for _, grip in own}))
        shown = words.say("kit_joint.grip", grips=grips, head=words.say(f"kit_joint.head_{head}"))
        lines.append(paragraph(shown, style(7)))
        if len(kinds) > 1:
            numbers = ", ".join(str(number) for number, _ in own)
            lines.append(paragraph(words.say("kit_joint.numbers", numbers=numbers), style(7)))
    return lines
