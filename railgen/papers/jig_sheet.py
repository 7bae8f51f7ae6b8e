"""The jig sheet, A3, to hang by the jig: what it is set to for one serial, and how the ladder is checked."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import zip_longest

from railgen.data.findings import has_errors
from railgen.layout.plan import SerialPlan
from railgen.papers.codes import BOTH_HANDS, bar_code, code_figures, hole_table_sha256, identity, qr_code
from railgen.papers.fonts import MIDDLE, SMALL, TITLE, fitted, printable
from railgen.papers.jig_figure import ACROSS, Ladder, along_scale, ladder_items, side_items
from railgen.papers.jig_tables import diagonal_pages, member_pages, pair_pages, pin_pages, step_items
from railgen.papers.pdf import write_pdf
from railgen.papers.route_card_header import SHOWN_DIGITS
from railgen.papers.sheet import (
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    OUTLINE,
    PALE_RED,
    Item,
    Sheet,
    Text,
    rectangle,
    segments,
)
from railgen.papers.wording import Wording, wording
from railgen.shop.jig import JigSetting, jig_setting

_BAND = 17.0
_FOOT = FRAME_BOTTOM + 22.0
_QR_SIZE, _BAR_HEIGHT = 20.0, 11.0
_DARK, _WHITE = "#101418", "#ffffff"
_PLAN_TITLE = FRAME_TOP - _BAND - 5.5
_ROOM_ABOVE, _ROOM_BELOW = 25.0, 35.0
"""Above and below the plan, for words that stand on end."""
_SIDE_ROOM = 8.0
"""Above the rail's side, for the heights of the pins."""
_PINS_LEFT = FRAME_LEFT + 250.0
_PAIR_LEFT = FRAME_LEFT + 216.0


def write_jig_sheet(plan: SerialPlan) -> bytes:
    """The jig sheet of a serial as a PDF. The same plan gives the same bytes."""
    words = wording()
    return write_pdf(jig_sheets(plan, words), words.say("jig.subject", serial=plan.serial))


def jig_sheets(plan: SerialPlan, words: Wording) -> tuple[Sheet, ...]:
    """The sheets as data: one, and more only where its tables have more rows than it holds."""
    setting, table = jig_setting(plan), hole_table_sha256(plan)
    base = _PLAN_TITLE - 2.0 - _ROOM_ABOVE - setting.frame_width / ACROSS
    ladder = Ladder(plan, setting, base, along_scale(plan))
    side_base = base - _ROOM_BELOW - _SIDE_ROOM - plan.order.rail.section.depth / ACROSS
    top = side_base - 10.5
    (pins, *more_pins) = pin_pages(setting, (_PINS_LEFT, top, _FOOT + 2.0), words)
    first = [
        _told(_PLAN_TITLE, words.say("jig.plan", along=ladder.scale, across=ACROSS)),
        *ladder_items(ladder, words),
        _told(side_base - 8.0, words.say("jig.side")),
        *side_items(ladder, side_base, words),
        *step_items(plan, setting, FRAME_LEFT + 2, top, _PINS_LEFT - FRAME_LEFT - 8, words),
        *pins,
    ]
    pages = [first, *(list(page) for page in more_pins), *_records(plan, setting, words)]
    name = words.say("jig.name")
    return tuple(
        Sheet(f"{number} {name}", (*_frame(plan, table, number, len(pages), words), *page))
        for number, page in enumerate(pages, 1)
    )


def _told(y: float, told: str) -> Item:
    return Text(FRAME_LEFT + 2, y, told, SMALL, colour=GREY)


def _records(plan: SerialPlan, setting: JigSetting, words: Wording) -> Iterator[list[Item]]:
    """The pages behind the figures: cross members above, check dimensions to be filled in and the pair below."""
    top, middle, bottom, left = FRAME_TOP - _BAND - 4.0, 150.0, _FOOT + 2.0, FRAME_LEFT + 3.0
    members = member_pages(plan, setting, (left, top, middle), words)
    checks = diagonal_pages(setting, (left, middle - 3.0, bottom), words)
    pair = pair_pages(plan, (_PAIR_LEFT, middle - 3.0, bottom), words)
    for pieces in zip_longest(members, checks, pair, fillvalue=()):
        yield [item for piece in pieces for item in piece]


def _frame(plan: SerialPlan, table: str, page: int, pages: int, words: Wording) -> list[Item]:
    """Frame, title band, and a foot with cautions, release and codes."""
    order = plan.order
    told = words.say(
        "jig.order",
        family=order.family.name,
        revision=order.order.revision,
        date=order.order.build_date.isoformat(),
        sha256=table[:SHOWN_DIGITS],
    )
    top = FRAME_TOP
    items: list[Item] = [rectangle(FRAME_LEFT, top - _BAND, FRAME_RIGHT, top, None, _DARK)]
    if has_errors(plan.findings):
        items.append(Text(220, 150, words.say("jig.banner"), 17, "middle", True, PALE_RED, 27, behind=True))
    name = fitted(printable(words.say("jig.name")), TITLE, 280, bold=True)
    items += [
        Text(FRAME_LEFT + 3, top - 5.6, words.say("jig.title"), MIDDLE, bold=True, colour=_WHITE),
        Text(FRAME_LEFT + 3, top - 13.6, name, TITLE, bold=True, colour=_WHITE),
        Text(FRAME_RIGHT - 3, top - 12.2, plan.serial, 8.0, "right", bold=True, colour=_WHITE),
        rectangle(FRAME_LEFT, FRAME_BOTTOM, FRAME_RIGHT, top, OUTLINE),
        segments([[(FRAME_LEFT, _FOOT), (FRAME_RIGHT, _FOOT)]], OUTLINE),
        Text(FRAME_LEFT + 3, _FOOT - 17.6, printable(told), SMALL),
        Text(FRAME_LEFT + 3, _FOOT - 20.6, words.say("jig.sheet", page=page, pages=pages), SMALL, bold=True),
    ]
    return [*items, *_cautions(words), *_release(words), *_codes(plan, table)]


def _cautions(words: Wording) -> list[Item]:
    keys = ("release", "instructions", "checks", "life")
    return [
        Text(FRAME_LEFT + 3, _FOOT - 4.0 - 3.1 * line, words.say(f"cautions.{key}"), SMALL, bold=line == 0)
        for line, key in enumerate(keys)
    ]


_RELEASE_LEFT = FRAME_LEFT + 196.0


def _release(words: Wording) -> list[Item]:
    """The boxes of the chassis engineer's release."""
    items: list[Item] = []
    x = _RELEASE_LEFT
    top, low = _FOOT - 2.0, FRAME_BOTTOM + 2.0
    middle = (top + low) / 2
    right = x + 92.0
    items.append(rectangle(x, low, right, top))
    items.append(segments([[(x, middle), (right, middle)], [(x + 50, low), (x + 50, middle)]]))
    items.append(Text(x + 1.5, top - 3.0, words.say("cautions.released"), SMALL))
    items.append(Text(x + 1.5, top - 6.4, words.say("cautions.name"), SMALL, colour=GREY))
    items.append(Text(x + 1.5, middle - 3.0, words.say("cautions.signature"), SMALL, colour=GREY))
    items.append(Text(x + 51.5, middle - 3.0, words.say("cautions.date"), SMALL, colour=GREY))
    return items


def _codes(plan: SerialPlan, table: str) -> list[Item]:
    """The bar code with the serial below it, and the QR code, at the right of the foot."""
    said = identity(plan.serial, "jig", BOTH_HANDS, table)
    left, bottom = FRAME_RIGHT - 1 - _QR_SIZE, FRAME_BOTTOM + 1.0
    bars = bar_code(plan.serial, _BAR_HEIGHT)
    start = left - bars.width
    return [
        code_figures(qr_code(said, _QR_SIZE), left, bottom),
        code_figures(bars, start, bottom + 6.5),
        Text(start + bars.width / 2, bottom + 2.5, plan.serial, MIDDLE, "middle", bold=True),
    ]
