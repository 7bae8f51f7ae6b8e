"""Frame, title block and marks that every sheet of a drawing carries."""

from __future__ import annotations

from dataclasses import dataclass

from railgen.data.findings import has_errors
from railgen.formats.cautions import CAUTIONS
from railgen.layout.plan import SerialPlan
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, fitted, printable, text_width, wrapped
from railgen.papers.sheet import (
    BLACK,
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    HEIGHT,
    OUTLINE,
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
from railgen.papers.symbols import number

STRIP_TOP = FRAME_BOTTOM + 48.0
"""Upper edge of the strip along the foot of every sheet."""
BLOCK_LEFT = FRAME_RIGHT - 180.0
"""The title block is 180 mm wide (ISO 7200, from memory)."""
NOT_FOR_PRODUCTION = "NOT FOR PRODUCTION"
CHECKS_ONLY = "The tool's results are checks, not approvals."
_HEAD, _CELL, _REVISION, _BAR, _CAUTIONS = 8.0, 7.2, 4.6, 5.6, 8.2
"""Heights of the block's rows, from the top down; they add up to the strip's."""
_VALUE = 2.1


@dataclass(frozen=True)
class SheetTitle:
    """What the title block says of its sheet: words, hand, scale, number of the sheet and of all sheets."""

    words: str
    hand: str
    scale: str
    sheet: int
    sheets: int


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
        items.append(Text(middle_x + 10, 140, NOT_FOR_PRODUCTION, 17, "middle", True, PALE_RED, 27, behind=True))
    return [*items, rectangle(FRAME_LEFT, FRAME_BOTTOM, FRAME_RIGHT, FRAME_TOP, OUTLINE), segments(marks, OUTLINE)]


def title_block(plan: SerialPlan, title: SheetTitle, mass: str = "") -> list[Item]:
    """The title block at the lower right corner of the frame."""
    rows = _rows(plan, title, mass)
    items: list[Item] = [rectangle(BLOCK_LEFT, FRAME_BOTTOM, FRAME_RIGHT, STRIP_TOP, OUTLINE)]
    top = STRIP_TOP
    for height, cells in rows:
        x = BLOCK_LEFT
        for caption, value, width in cells:
            items += _cell(x, top, width, height, caption, value)
            x += width
        top -= height
        items.append(segments([[(BLOCK_LEFT, top), (FRAME_RIGHT, top)]]))
    items.append(_revision_line(plan, top))
    items += _projection_symbol(FRAME_RIGHT - 12, STRIP_TOP - _HEAD - _CELL / 2)
    items += _bar(plan, FRAME_BOTTOM + _CAUTIONS)
    return items + _cautions()


_Row = tuple[float, tuple[tuple[str, str, float], ...]]


def _rows(plan: SerialPlan, title: SheetTitle, mass: str) -> list[_Row]:
    order, rail = plan.order, plan.order.rail
    section, given = rail.section, order.order
    wheelbase, frame_width = (order.dimensions.get(name) for name in ("wheelbase", "frame_width"))
    sizes = " × ".join(number(size) for size in (section.depth, section.flange, section.thickness))
    blank = f"{number(rail.blank_length)} × {number(rail.blank_width)}"
    return [
        (
            _HEAD,
            (("", title.words, 90), ("serial", plan.serial, 46), ("sheet", f"{title.sheet} of {title.sheets}", 44)),
        ),
        (
            _CELL,
            (
                ("family", order.family.name, 62),
                ("hand", title.hand, 24),
                ("scale", title.scale, 24),
                ("drive", order.drive, 24),
                ("units", "mm", 22),
                ("", "", 24),
            ),
        ),
        (
            _CELL,
            (
                ("section H × B × t, r", f"{order.section}: {sizes}, {number(section.inside_radius)}", 86),
                ("steel", order.steel, 26),
                ("wheelbase", _length(wheelbase), 22),
                ("frame width", _length(frame_width), 22),
                ("mass", mass or "-", 24),
            ),
        ),
        (
            _CELL,
            (
                ("revision", given.revision, 22),
                ("build date", given.build_date.isoformat(), 32),
                ("limit set", order.limit_set, 58),
                ("rail length", number(rail.length), 22),
                ("blank", blank, 46),
            ),
        ),
    ]


def _length(value: float | None) -> str:
    return "-" if value is None else number(value)


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


def _revision_line(plan: SerialPlan, top: float) -> Item:
    order = plan.order.order
    words = f"Revision {order.revision}: as ordered, for build on {order.build_date.isoformat()}"
    library = plan.order.library.about
    words = f"{words}; library {library.name}, revision {library.revision}"
    fit = fitted(printable(words), SMALL, FRAME_RIGHT - BLOCK_LEFT - 3)
    return Text(BLOCK_LEFT + 1.2, top - _REVISION / 2 - SMALL / 2, fit, SMALL)


def _projection_symbol(x: float, y: float) -> list[Item]:
    """Third-angle projection: end view of a cut cone on the left, side view on the right (ISO 5456-2, from memory)."""
    cone = [(x + 1, y - 1), (x + 7, y - 2), (x + 7, y + 2), (x + 1, y + 1)]
    axes = [[(x - 7, y), (x - 1, y)], [(x - 4, y - 2.6), (x - 4, y + 2.6)], [(x, y), (x + 8, y)]]
    rings = [circles([(x - 4, y)], radius, THIN) for radius in (1.0, 2.0)]
    return [*rings, polygon(cone), segments(axes, THIN)]


def _bar(plan: SerialPlan, bottom: float) -> list[Item]:
    """The verdict of the checks: a red bar where any finding is an error."""
    count = {name: sum(f.severity == name for f in plan.findings) for name in ("error", "warning", "note")}
    words = ", ".join(f"{n} {name}{'' if n == 1 else 's'}" for name, n in count.items())
    middle = (BLOCK_LEFT + FRAME_RIGHT) / 2, bottom + _BAR / 2
    if count["error"]:
        bar = rectangle(BLOCK_LEFT, bottom, FRAME_RIGHT, bottom + _BAR, OUTLINE, RED)
        return [bar, centred(*middle, f"{NOT_FOR_PRODUCTION}: {words}", MIDDLE, True, "#ffffff")]
    line = segments([[(BLOCK_LEFT, bottom), (FRAME_RIGHT, bottom)]])
    return [line, centred(*middle, f"Checked: {words}", SMALL, True, BLACK)]


def _cautions() -> list[Item]:
    words = " ".join((*CAUTIONS, CHECKS_ONLY))
    lines = wrapped(words, SMALL, FRAME_RIGHT - BLOCK_LEFT - 3)
    first = FRAME_BOTTOM + _CAUTIONS - 0.9 - SMALL
    step = 2.6 if len(lines) > 2 else 3.2
    return [Text(BLOCK_LEFT + 1.5, first - step * n, line, SMALL) for n, line in enumerate(lines)]
