"""The tables of the jig sheet: cross members, pins, check dimensions, the pair of rails, and how the jig is set."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railgen.holes.table import LH, RH
from railgen.layout.plan import SerialPlan
from railgen.papers.fonts import MIDDLE, wrapped
from railgen.papers.jig_figure import bay_letters, pin_letters
from railgen.papers.sheet import Item, Text
from railgen.papers.tables import Column, Row, table_pages
from railgen.papers.wording import Wording
from railgen.shop.jig import CrossMember, Diagonals, JigSetting, MemberEnd
from railgen.shop.part_work import part_work, parts_of

HEIGHT = 2.1
"""Of capitals beside the figures, mm."""
_RECORD_HEIGHT = 2.7
"""Of capitals in the tables that are filled in, mm."""
_HEADING = 5.0
Pages = tuple[tuple[Item, ...], ...]


def _table(
    name: str,
    keys: Sequence[tuple[str, float, bool]],
    rows: Sequence[Row],
    place: tuple[float, float, float],
    words: Wording,
    height: float = _RECORD_HEIGHT,
) -> Pages:
    """A titled table; keys: heading, width, whether numbers; place: left, top and bottom, mm."""
    left, top, bottom = place
    columns = [Column(words.say(f"{name}.{key}"), width, right) for key, width, right in keys]
    pages = table_pages(columns, rows, left, top - _HEADING, bottom, height)
    title = Text(left, top - 3.0, words.say(f"{name}.title"), MIDDLE, bold=True)
    return tuple((title, *page) for page in pages)


def member_pages(plan: SerialPlan, setting: JigSetting, place: tuple[float, float, float], words: Wording) -> Pages:
    """The cross members: stations of both ends, from the first pin, feet and heights of bolts."""
    keys = (
        ("number", 12.0, True),
        ("name", 112.0, False),
        ("left", 32.0, True),
        ("right", 32.0, True),
        ("pin", 34.0, True),
        ("front", 34.0, True),
        ("rear", 32.0, True),
        ("heights", 54.0, True),
        ("bolts", 40.0, True),
    )
    zero = next((pin.station[LH] for pin in setting.locating if not np.isnan(pin.station[LH])), float("nan"))
    rows = [_member_row(plan, number, member, zero, words) for number, member in enumerate(setting.members, 1)]
    return _table("jig_members", keys, rows, place, words)


def _member_row(plan: SerialPlan, number: int, member: CrossMember, zero: float, words: Wording) -> Row:
    left, right = member.ends
    end = left or right
    assert end is not None  # a cross member has an end
    missing = words.say("jig_members.missing")

    def station(of: MemberEnd | None) -> str:
        return missing if of is None else words.say("jig_members.station", station=of.station)

    from_pin = missing if np.isnan(zero) else words.say("jig_members.station", station=end.station - zero)
    return Row(
        (
            str(number),
            plan.order.library.components[member.component].name,
            station(left),
            station(right),
            from_pin,
            words.say("jig_members.station", station=end.front),
            words.say("jig_members.station", station=end.rear),
            words.say("jig_members.range", low=end.low, high=end.high),
            str(end.bolts),
        )
    )


def pin_pages(setting: JigSetting, place: tuple[float, float, float], words: Wording) -> Pages:
    """The locating pins: hole, diameter, stations and heights."""
    keys = (
        ("letter", 10.0, False),
        ("hole", 45.0, False),
        ("diameter", 12.0, True),
        ("left", 20.0, True),
        ("right", 20.0, True),
        ("height", 28.0, True),
    )
    missing = words.say("jig_members.missing")
    rows = []
    for letter, pin in zip(pin_letters(setting), setting.locating, strict=True):
        stations = [
            missing if np.isnan(value) else words.say("jig_members.station", station=value) for value in pin.station
        ]
        heights = words.say("jig_pins.heights", left=pin.height[LH], right=pin.height[RH])
        rows.append(Row((letter, pin.hole, words.say("jig_pins.number", value=pin.diameter), *stations, heights)))
    return _table("jig_pins", keys, rows, place, words, HEIGHT)


def diagonal_pages(setting: JigSetting, place: tuple[float, float, float], words: Wording) -> Pages:
    """The check dimensions, with a column to write in."""
    keys = (("name", 74.0, False), ("left", 34.0, True), ("right", 34.0, True), ("read", 64.0, False))
    rows = []
    if setting.by_pins:
        letters, both = pin_letters(setting), [not np.isnan(pin.station).any() for pin in setting.locating]
        name, first, last = (
            words.say("jig_diagonals.pins_name"),
            both.index(True),
            len(both) - both[::-1].index(True) - 1,
        )
        told = words.say("jig_diagonals.by_pins", name=name, front=letters[first], rear=letters[last])
        rows.append(_diagonal_row(told, setting.by_pins, words))
    rows.append(_diagonal_row(words.say("jig_diagonals.by_ends"), setting.by_ends, words))
    for letter, bay in zip(bay_letters(setting), setting.bays, strict=True):
        told = words.say("jig_diagonals.bay", name=letter, ahead=bay.ahead + 1, behind=bay.behind + 1, clear=bay.clear)
        rows.append(_diagonal_row(told, bay.diagonals, words))
    return _table("jig_diagonals", keys, rows, place, words)


def _diagonal_row(told: str, found: Diagonals, words: Wording) -> Row:
    values = (words.say("jig_diagonals.value", value=value) for value in (found.lh_to_rh, found.rh_to_lh))
    return Row((told, *values, ""))


def pair_pages(plan: SerialPlan, place: tuple[float, float, float], words: Wording) -> Pages:
    """The parts that belong together, with what is stamped on them."""
    keys = (("part", 42.0, False), ("stamp", 62.0, False), ("mass", 25.0, True), ("read", 40.0, False))
    rows = [
        Row(
            (
                words.say(f"jig_pairing.{part}", side=side),
                words.say("jig_pairing.stamped", serial=plan.serial, side=side, part=part.upper()),
                words.say("jig_pairing.mass_value", mass=part_work(plan, part, side).measures.mass),
                "",
            )
        )
        for part, side in parts_of(plan)
    ]
    return _table("jig_pairing", keys, rows, place, words)


def step_items(
    plan: SerialPlan, setting: JigSetting, left: float, top: float, width: float, words: Wording
) -> list[Item]:
    """How the jig is set and the ladder checked, numbered, from y = `top` down."""
    jig = plan.order.library.about.jig
    values: dict[str, float | str] = {
        "width": setting.frame_width,
        "width_limit": jig.frame_width,
        "station_limit": jig.station,
        "diagonal_limit": jig.diagonal,
        "source": jig.source,
        "serial": plan.serial,
    }
    items: list[Item] = [Text(left, top - 3.0, words.say("jig_steps.title"), MIDDLE, bold=True)]
    y = top - _HEADING
    for number, key in enumerate(("pins", "rails", "members", "check", "tighten"), 1):
        items.append(Text(left, y - 3.2, str(number), HEIGHT, bold=True))
        for line in wrapped(words.say(f"jig_steps.{key}", **values), HEIGHT, width - 5.0):
            items.append(Text(left + 5.0, y - 3.2, line, HEIGHT))
            y -= 3.7
        y -= 0.8
    return items
