"""The setup sheet: for each blank of a serial how the press is set for it, and the path of its hits."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from railgen.papers.fonts import LARGE, MIDDLE, SMALL
from railgen.papers.hit_path import path_scale, path_sheet
from railgen.papers.pdf import write_pdf
from railgen.papers.press_view import axes_items, blank_items, clamp_items, gauge_words, hole_items, press_view
from railgen.papers.setup_tables import cycle_table, measured_pages, notes, station_pages
from railgen.papers.sheet import (
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    OUTLINE,
    RED,
    Figures,
    Item,
    Sheet,
    Text,
    rectangle,
)
from railgen.papers.symbols import HoleChart, hole_chart, number
from railgen.papers.title_block import BLOCK_LEFT, STRIP_TOP, SheetTitle, sheet_frame, title_block
from railgen.papers.wording import say
from railgen.shop.clamps import clamp_boxes
from railgen.shop.hit_order import HitOrder

_LEFT, _RIGHT = FRAME_LEFT + 12.0, FRAME_RIGHT - 12.0
_ROOM_FOR_CLAMPS = 9.0
"""mm of paper below the blank's picture for the words of its clamps."""
_CYCLE_WIDTH = 112.0
_TITLE = 5.0


def setup_sheet_pdf(orders: Sequence[HitOrder]) -> bytes:
    """The setup sheets of a serial's blanks, A3 landscape: one of the setting and one of the path for each.

    The same orders give the same bytes. Raises ValueError where there are none.
    """
    if not orders:
        raise ValueError("there is no blank to set the press for")
    serial = orders[0].hits.work.plan.serial
    return write_pdf(setup_sheets(orders), say("setup.subject", serial=serial))


def setup_sheets(orders: Sequence[HitOrder]) -> list[Sheet]:
    """The sheets as data, in the order of the blanks."""
    bodies = [body for found in orders for body in _bodies(found)]
    sheets = []
    for place, (found, name, scale, items) in enumerate(bodies, 1):
        work = found.hits.work
        title = SheetTitle(name, work.side, scale, place, len(bodies))
        everything = (*sheet_frame(work.plan), *items, *title_block(work.plan, title))
        sheets.append(Sheet(f"{place} {name}", everything))
    return sheets


_Body = tuple[HitOrder, str, str, list[Item]]
"""The blank, name and scale for the title block, and what is inside the frame."""


def _bodies(found: HitOrder) -> Iterator[_Body]:
    work = found.hits.work
    name = say(f"part.{work.part}", side=work.side)
    chart = hole_chart(work.holes, np.full(len(work.holes), work.thickness), work.plan.order.library)
    picture, free = _picture(found, chart)
    for page in _pages(found, chart, picture, free):
        yield found, say("setup.sheet", part=name), say("title.no_scale"), [*page, *_foot(found)]
    yield found, say("setup.path", part=name), say("title.scale_of", scale=path_scale(found)), path_sheet(found, chart)


def _pages(found: HitOrder, chart: HoleChart, picture: list[Item], free: float) -> Iterator[list[Item]]:
    """The picture with the tool stations below it, then the measurements, on the same sheet where they fit."""
    left, bottom = FRAME_LEFT + 4, STRIP_TOP + 3
    stations = station_pages(found, chart, left, free - _TITLE, bottom)
    below = min(float(item.points[..., 1].min()) for item in stations[0] if isinstance(item, Figures)) - _TITLE
    first = [*picture, _title(say("setup_stations.title"), free), *stations[0]]
    fits = below > bottom + 3 * _TITLE
    measured = measured_pages(found, chart, left, below - _TITLE, bottom) if fits else ()
    if len(stations) == 1 and len(measured) == 1:
        yield [*first, _title(say("setup_measured.title"), below), *measured[0]]
        return
    top = FRAME_TOP - 6.0
    yield first
    for page in stations[1:]:
        yield [_title(say("setup_stations.title"), free), *page]
    for page in measured_pages(found, chart, left, top - _TITLE, bottom):
        yield [_title(say("setup_measured.title"), top), *page]


def _title(words: str, top: float) -> Item:
    return Text(FRAME_LEFT + 4, top - MIDDLE, words, MIDDLE, bold=True)


def _picture(found: HitOrder, chart: HoleChart) -> tuple[list[Item], float]:
    """The whole blank as it lies on the press, and the y below which the sheet is free."""
    hits = found.hits
    lie, work = hits.lie, hits.work
    scale = (_RIGHT - _LEFT) / lie.length
    base = FRAME_TOP - 24.0 - lie.width * scale
    view = press_view(hits, 0.0, lie.length, _LEFT, base, scale)
    size = " × ".join(number(value) for value in (lie.length, lie.width, lie.thickness))
    part = say(f"part.{work.part}", side=work.side)
    head = say("setup.blank", serial=work.plan.serial, part=part, size=size, steel=work.steel_name)
    items: list[Item] = [
        Text(FRAME_LEFT + 4, FRAME_TOP - 7.5, head, LARGE, bold=True),
        Text(
            FRAME_LEFT + 4, FRAME_TOP - 13.5, say("setup.press", press=hits.press.name, gauge=gauge_words(hits)), MIDDLE
        ),
        *blank_items(hits, view),
        *clamp_items(found, view),
        *hole_items(hits, chart, view),
        *_ends(found, view.upper + 1.6),
        *axes_items(_RIGHT + 2.6, base),
        *_clamp_words(found, base, scale),
    ]
    return items, base - _ROOM_FOR_CLAMPS - 3.0


def _ends(found: HitOrder, y: float) -> list[Item]:
    """Which end of the part lies where, and which edge lies at the top of the picture."""
    hits = found.hits
    front_left = (hits.work.side == "LH") != hits.lie.turned
    words = [say(f"setup.{key}") for key in (("front", "rear") if front_left else ("rear", "front"))]
    far = {"bottom": "top", "top": "bottom"}[hits.press.gauge_edge]
    return [
        Text(_LEFT, y, words[0], SMALL, bold=True),
        Text((_LEFT + _RIGHT) / 2, y, say("setup.far_edge", edge=say(f"gauge.{far}")), SMALL, "middle", colour=GREY),
        Text(_RIGHT, y, words[1], SMALL, "right", bold=True),
    ]


def _clamp_words(found: HitOrder, base: float, scale: float) -> list[Item]:
    hits = found.hits
    y = base - 4.4
    gauge = say("setup.gauge_edge", edge=say(f"gauge.{hits.press.gauge_edge}"))
    items: list[Item] = [Text(_LEFT, y - 3.4, gauge, SMALL, bold=True)]
    for low, _, high, _ in clamp_boxes(hits.press, hits.lie, hits.press.clamp_shifts[0]).tolist():
        middle = (low + high) / 2
        distance = float(hits.lie.from_stop(np.array(middle)))
        words = say("setup.clamp", distance=distance, width=high - low)
        items.append(Text(_LEFT + middle * scale, y, words, SMALL, "middle", colour=RED))
    return items


def _foot(found: HitOrder) -> list[Item]:
    """The strip left of the title block: cycle time and notes."""
    items: list[Item] = [rectangle(FRAME_LEFT, FRAME_BOTTOM, BLOCK_LEFT, STRIP_TOP, OUTLINE)]
    items += cycle_table(found, FRAME_LEFT + 3, STRIP_TOP - 2.5)
    return items + notes(found, FRAME_LEFT + _CYCLE_WIDTH, BLOCK_LEFT - 3, STRIP_TOP - 5.0)
