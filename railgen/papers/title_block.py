"""Frame, title block and marks that every sheet of a drawing carries."""

from __future__ import annotations

from dataclasses import dataclass

from railgen import __version__
from railgen.data.findings import has_errors
from railgen.holes.table import SIDES
from railgen.layout.plan import SerialPlan
from railgen.papers.codes import BOTH_HANDS, bar_code, code_figures, hole_table_sha256, identity, qr_code
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, fitted, printable, text_width, wrapped
from railgen.papers.sheet import (
    BLACK,
    CENTRE,
    EDGE,
    FRAME,
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    HEIGHT,
    PALE_RED,
    RED,
    THIN,
    WIDTH,
    Item,
    Text,
    centred,
    circles,
    polygon,
    rectangle,
    segments,
)
from railgen.papers.style import PLAIN, DrawingStyle, Projection
from railgen.papers.wording import say

STRIP_TOP = FRAME_BOTTOM + 48.0
"""Upper edge of the strip along the foot of every sheet."""
BLOCK_LEFT = FRAME_RIGHT - 180.0
"""The title block is 180 mm wide (ISO 7200, from memory; so are its fields)."""
_HEAD, _CELL, _RELEASE, _BAR, _CAUTIONS = 7.6, 7.2, 4.0, 5.6, 9.2
"""Heights of the block's rows, from the top down; they add up to the strip's."""
_VALUE = 2.1
_QR_SIZE = 20.0
_CODES = _QR_SIZE + 2.0
"""Width beside the middle rows that the QR code takes."""
_BAR_CODE = 7.0
"""Height of the bar code's bars, in the lowest row."""


@dataclass(frozen=True)
class SheetTitle:
    """What the title block says of its sheet: words, hand, scale, number of the sheet and of all sheets.

    `part`: of which part, or which paper, the sheet's QR code speaks; `of_liner`: section and steel are the liner's.
    """

    words: str
    hand: str
    scale: str
    sheet: int
    sheets: int
    part: str = "drawing"
    of_liner: bool = False


def sheet_frame(plan: SerialPlan) -> list[Item]:
    """The frame with its centring marks, and pale words across the sheet where it is not for production."""
    middle_x, middle_y = WIDTH / 2, HEIGHT / 2
    marks = [
        [(middle_x, 5), (middle_x, FRAME_BOTTOM)],
        [(middle_x, HEIGHT - 5), (middle_x, FRAME_TOP)],
        [(10, middle_y), (FRAME_LEFT, middle_y)],
        [(WIDTH - 5, middle_y), (FRAME_RIGHT, middle_y)],
    ]
    items: list[Item] = []
    if has_errors(plan.findings):
        words = say("title.not_for_production")
        items.append(Text(middle_x + 10, 140, words, 17, "middle", True, PALE_RED, 27, behind=True))
    return [*items, rectangle(FRAME_LEFT, FRAME_BOTTOM, FRAME_RIGHT, FRAME_TOP, FRAME), segments(marks, FRAME)]


def title_block(plan: SerialPlan, title: SheetTitle, mass: str = "", style: DrawingStyle = PLAIN) -> list[Item]:
    """The title block at the lower right corner of the frame."""
    items: list[Item] = [rectangle(BLOCK_LEFT, FRAME_BOTTOM, FRAME_RIGHT, STRIP_TOP, FRAME)]
    top = STRIP_TOP
    for height, cells in _rows(plan, title, mass, style):
        x = BLOCK_LEFT
        for key, value, width in cells:
            items += _cell(x, top, width, height, say(f"title.{key}") if key else "", value)
            x += width
        top -= height
        items.append(segments([[(BLOCK_LEFT, top), (x, top)]], THIN))
    released = Text(BLOCK_LEFT + 1.2, top - (_RELEASE + SMALL) / 2, say("title.released"), SMALL, colour=GREY)
    symbol = projection_symbol(FRAME_RIGHT - _CODES - 14, STRIP_TOP - _HEAD - _CELL / 2, style.projection)
    items += [released, *symbol, *_bar(plan, FRAME_BOTTOM + _CAUTIONS), *_codes(plan, title)]
    return items + _cautions(bar_code(plan.serial, _BAR_CODE).width)


_Row = tuple[float, tuple[tuple[str, str, float], ...]]


def _rows(plan: SerialPlan, title: SheetTitle, mass: str, style: DrawingStyle) -> list[_Row]:
    """Rows from the top down: their heights, and the key of the caption, the value and the width of each cell."""
    order, given = plan.order, plan.order.order
    wheelbase = order.dimensions.get("wheelbase")
    sheet = say("title.sheet_of", sheet=title.sheet, sheets=title.sheets)
    first = (("", title.words, 90), ("serial", plan.serial, 46), ("sheet", sheet, 44))
    second = (
        ("family", order.family.name, 48),
        ("hand", title.hand, 20),
        ("scale", title.scale, 20),
        ("drive", say(f"drive.{order.drive}"), 20),
        ("units", style.unit_name, 22),
        ("", "", 28),
    )
    liner = given.liner if title.of_liner else None
    section, steel = (liner.section, liner.steel) if liner else (order.section, order.steel)
    third = (
        ("section", section, 48),
        ("steel", steel, 24),
        ("wheelbase", style.length(wheelbase) if wheelbase is not None else "-", 31),
        ("rail_length", style.length(order.rail.length), 33),
        ("mass", mass or "-", 22),
    )
    fourth = (
        ("revision", given.revision, 14),
        ("build_date", given.build_date.isoformat(), 26),
        ("limit_set", order.limit_set, 38),
        ("owner", order.library.about.name, 50),
        ("drawn_by", f"railgen {__version__}", 30),
    )
    return [(_HEAD, first), (_CELL, second), (_CELL, third), (_CELL, fourth)]


def _cell(x: float, top: float, width: float, height: float, caption: str, value: str) -> list[Item]:
    """One cell: a caption in its upper left corner, the value below; in the high first row beside it."""
    items: list[Item] = [segments([[(x + width, top), (x + width, top - height)]])]
    if not value:
        return items
    lead = text_width(caption, SMALL) + 1.5 if height > _CELL and caption else 0.0
    size = LARGE if height > _CELL else _VALUE
    words = fitted(printable(value), size, width - lead - 2.5, True)
    if height > _CELL:
        middle = top - height / 2
        items.append(Text(x + 1.2, middle - SMALL / 2, caption, SMALL, colour=GREY))
        return [*items, Text(x + 1.2 + lead, middle - size / 2, words, size, bold=True)]
    items.append(Text(x + 1.2, top - 1.0 - SMALL, caption, SMALL, colour=GREY))
    return [*items, Text(x + 1.2, top - height + 1.1, words, size, bold=True)]


def projection_symbol(x: float, y: float, projection: Projection) -> list[Item]:
    """The symbol of the projection, 15 mm wide about (x, y) (ISO 5456-2, from memory).

    A cut cone from the side and its smaller end: in third-angle projection the end view stands beside the smaller end,
    in first-angle projection beyond the larger one.
    """
    centre, cone_left = (x - 4, x + 0.5) if projection == "third" else (x + 5, x - 7)
    cone = [(cone_left, y - 1), (cone_left + 6, y - 2), (cone_left + 6, y + 2), (cone_left, y + 1)]
    axes = [
        [(centre - 2.8, y), (centre + 2.8, y)],
        [(centre, y - 2.8), (centre, y + 2.8)],
        [(cone_left - 0.8, y), (cone_left + 6.8, y)],
    ]
    rings = [circles([(centre, y)], radius, EDGE) for radius in (1.0, 2.0)]
    return [*rings, polygon(cone, EDGE), segments(axes, CENTRE)]


def _bar(plan: SerialPlan, bottom: float) -> list[Item]:
    """The verdict of the checks: a red bar where any finding is an error."""
    count = {name: sum(f.severity == name for f in plan.findings) for name in ("error", "warning", "note")}
    keys = {name: f"title.{name}" if n == 1 else f"title.{name}s" for name, n in count.items()}
    words = ", ".join(say(keys[name], count=n) for name, n in count.items())
    middle = (BLOCK_LEFT + FRAME_RIGHT) / 2, bottom + _BAR / 2
    if count["error"]:
        bar = rectangle(BLOCK_LEFT, bottom, FRAME_RIGHT, bottom + _BAR, FRAME, RED)
        verdict = f"{say('title.not_for_production')}: {words}"
        return [bar, centred(*middle, verdict, MIDDLE, True, "#ffffff")]
    line = segments([[(BLOCK_LEFT, bottom + _BAR), (FRAME_RIGHT, bottom + _BAR)]], THIN)
    lower = segments([[(BLOCK_LEFT, bottom), (FRAME_RIGHT, bottom)]], THIN)
    return [line, lower, centred(*middle, say("title.checked", counts=words), SMALL, True, BLACK)]


def _codes(plan: SerialPlan, title: SheetTitle) -> list[Item]:
    """The QR code beside the middle rows, and the bar code of the serial in the lowest one."""
    hand = title.hand if title.hand in SIDES else BOTH_HANDS
    qr = qr_code(identity(plan.serial, title.part, hand, hole_table_sha256(plan)), _QR_SIZE)
    bars = bar_code(plan.serial, _BAR_CODE)
    top = STRIP_TOP - _HEAD
    return [
        code_figures(qr, FRAME_RIGHT - 1 - _QR_SIZE, top - 0.8 - _QR_SIZE),
        code_figures(bars, FRAME_RIGHT - bars.width, FRAME_BOTTOM + (_CAUTIONS - _BAR_CODE) / 2),
    ]


def _cautions(codes: float) -> list[Item]:
    """The cautions in the lowest row, beside a code so many mm wide."""
    words = " ".join(say(key) for key in ("cautions.release", "cautions.instructions", "title.checks_only"))
    lines = wrapped(words, SMALL, FRAME_RIGHT - BLOCK_LEFT - 3 - codes)
    first = FRAME_BOTTOM + _CAUTIONS - 0.7 - SMALL
    step = 2.75 if len(lines) > 2 else 3.2
    return [Text(BLOCK_LEFT + 1.5, first - step * n, line, SMALL) for n, line in enumerate(lines)]
