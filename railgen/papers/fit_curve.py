"""How many serials each offset of a component from its anchor suits: a curve, and what suits all of them beneath."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil, floor

from railgen.papers.fit_sheet import CLOSED, FREE, FREE_PEN
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, fitted, printable
from railgen.papers.sheet import (
    BLUE,
    EDGE,
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    OUTLINE,
    PALE,
    RED,
    THIN,
    Item,
    Pen,
    Sheet,
    Text,
    polygon,
    rectangle,
    segments,
)
from railgen.papers.style import number
from railgen.papers.tables import Column, Row, table_pages
from railgen.papers.wording import cautions, say
from railgen.placing.free import Interval
from railgen.placing.over_bank import Suited

_LEFT, _RIGHT = FRAME_LEFT + 20.0, FRAME_RIGHT - 10.0
_TOP, _BASE = FRAME_TOP - 30.0, FRAME_TOP - 140.0
_LANE = 5.0
_FOOT = FRAME_BOTTOM + 12.0
_CURVE = "#cfe3d3"
_STEPS = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000)
_COLUMNS = (("from", 26.0), ("to", 26.0), ("length", 26.0), ("serials", 20.0), ("share", 20.0))
_MOST_ROWS = 40
_ASIDE = 190.0
"""From the table's first half to its second, mm."""


@dataclass(frozen=True)
class FitCurve:
    """What is drawn: the component, the curve, offsets free on all serials, the wanted one and the nearest; mm."""

    name: str
    anchor: str
    serials: int
    curve: Sequence[Suited]
    on_all: Sequence[Interval]
    wanted: float
    nearest: float | None


def fit_curve_title(drawn: FitCurve) -> str:
    """What the sheet shows, in words."""
    return say("fit_curve.title", component=drawn.name, serials=drawn.serials)


def fit_curve_sheet(drawn: FitCurve) -> Sheet:
    """The curve over the lane of offsets that suit every serial, and a table of those that suit most."""
    ends = [drawn.wanted, *(end for part in drawn.curve for end in (part.start, part.end))]
    low, high = min(ends) - 1.0, max(ends) + 1.0
    per_mm = (_RIGHT - _LEFT) / (high - low)
    field = _Field(low, per_mm, (_TOP - _BASE) / max(drawn.serials, 1))
    items = [*_scales(field, drawn, low, high), *_curve(field, drawn), *_lane(field, drawn, low, high)]
    items += [*_marks(field, drawn), *_table(drawn), *_frame(drawn)]
    return Sheet("1", tuple(items))


@dataclass(frozen=True)
class _Field:
    low: float
    per_mm: float
    per_serial: float

    def x(self, offset: float) -> float:
        """x on the sheet of an offset."""
        return _LEFT + (offset - self.low) * self.per_mm

    def y(self, serials: float) -> float:
        """y on the sheet of a count."""
        return _BASE + serials * self.per_serial


def _scales(field: _Field, drawn: FitCurve, low: float, high: float) -> Iterator[Item]:
    step = next((s for s in _STEPS if drawn.serials / s <= 10), _STEPS[-1])
    for count in range(0, drawn.serials + 1, step):
        y = field.y(count)
        yield segments([[(_LEFT, y), (_RIGHT, y)]], Pen(0.1, PALE))
        yield Text(_LEFT - 2, y - SMALL / 2, str(count), SMALL, "right")
    yield Text(FRAME_LEFT + 4, _TOP + 4, say("fit_curve.suited"), SMALL, colour=GREY)
    along = next((s for s in _STEPS if (high - low) / s <= 18), _STEPS[-1])
    for mark in range(ceil(low / along), floor(high / along) + 1):
        x = field.x(float(mark * along))
        yield segments([[(x, _BASE), (x, _BASE - 1.5)]], THIN)
        yield Text(x, _BASE - 2.2 - SMALL, str(mark * along), SMALL, "middle", colour=GREY)
    yield Text(_RIGHT, _BASE - 8.6, say("fit_curve.offset", anchor=drawn.anchor), SMALL, "right", colour=GREY)


def _curve(field: _Field, drawn: FitCurve) -> Iterator[Item]:
    corners = [(field.x(x), field.y(part.serials)) for part in drawn.curve for x in (part.start, part.end)]
    if corners:
        yield polygon([(corners[0][0], _BASE), *corners, (corners[-1][0], _BASE)], FREE_PEN, _CURVE)
    yield segments([[(_LEFT, _BASE), (_RIGHT, _BASE)], [(_LEFT, _BASE), (_LEFT, _TOP)]], EDGE)


def _lane(field: _Field, drawn: FitCurve, low: float, high: float) -> Iterator[Item]:
    top = _BASE - 11.0
    yield rectangle(field.x(low), top - _LANE, field.x(high), top, Pen(0.1, GREY), CLOSED)
    for start, end in drawn.on_all:
        yield rectangle(field.x(start), top - _LANE, field.x(end), top, FREE_PEN, FREE)
    yield Text(_LEFT - 2, top - _LANE / 2 - SMALL / 2, say("fit_curve.all"), SMALL, "right", True)


def _marks(field: _Field, drawn: FitCurve) -> Iterator[Item]:
    marks = [(drawn.wanted, Pen(0.25, RED, (1.6, 0.8)), say("fit.wanted"), RED)]
    if drawn.nearest == drawn.wanted:
        marks = [(drawn.wanted, Pen(0.25, BLUE), say("fit_curve.wanted_free"), BLUE)]
    elif drawn.nearest is not None:
        marks.append((drawn.nearest, Pen(0.25, BLUE), say("fit_curve.nearest"), BLUE))
    marks.sort(key=lambda mark: mark[0])
    for place, (offset, pen, words, colour) in enumerate(marks):
        x = field.x(offset)
        left = place == 0 if len(marks) > 1 else x > (_LEFT + _RIGHT) / 2
        yield segments([[(x, _BASE - 11.0 - _LANE), (x, _TOP + 3)]], pen)
        at = x - 1.2 if left else x + 1.2
        yield Text(at, _TOP + 3.4, f"{words} {number(offset, 3)}", MIDDLE, "right" if left else "left", True, colour)


def _table(drawn: FitCurve) -> Iterator[Item]:
    best = sorted((part for part in drawn.curve if part.serials), key=lambda part: (-part.serials, part.start))
    rows = [
        Row(
            (
                *(f"{mm:.3f}" for mm in (part.start, part.end, part.end - part.start)),
                str(part.serials),
                f"{100 * part.serials / drawn.serials:.1f} %",
            )
        )
        for part in best[:_MOST_ROWS]
    ]
    top = _BASE - 24.0
    title = say("fit_curve.some", most=_MOST_ROWS, count=len(best)) if len(best) > _MOST_ROWS else say("fit_curve.best")
    yield Text(FRAME_LEFT + 6, top, title, MIDDLE, bold=True)
    columns = [Column(say(f"fit_table.{key}"), width, True) for key, width in _COLUMNS]
    for place, half in enumerate((rows[: _MOST_ROWS // 2], rows[_MOST_ROWS // 2 :])):
        if half:
            left = FRAME_LEFT + 6 + place * _ASIDE
            yield from table_pages(columns, half, left, top - 3.0, _FOOT + 2)[0]


def _frame(drawn: FitCurve) -> Iterator[Item]:
    yield rectangle(FRAME_LEFT, FRAME_BOTTOM, FRAME_RIGHT, FRAME_TOP, OUTLINE)
    yield Text(
        FRAME_LEFT + 4, FRAME_TOP - 8, fitted(printable(fit_curve_title(drawn)), LARGE, 320, True), LARGE, bold=True
    )
    yield Text(FRAME_LEFT + 4, FRAME_TOP - 13, say("fit_curve.about"), MIDDLE)
    yield segments([[(FRAME_LEFT, _FOOT), (FRAME_RIGHT, _FOOT)]], OUTLINE)
    yield Text(FRAME_LEFT + 4, _FOOT - 6, " ".join(cautions()), SMALL)
