"""The section drawn with its sizes, and the order's data in words, for the key sheet."""

from __future__ import annotations

from math import degrees

import numpy as np

from railgen.frame.section import Section
from railgen.papers.fonts import SMALL
from railgen.papers.sheet import HIDDEN, ROUND_ARC, THIN, Figures, Item, Pen, Text, segments
from railgen.papers.stretches import SCALE
from railgen.papers.subject import Subject
from railgen.papers.symbols import number
from railgen.papers.tables import Column, Row, table_pages, table_width
from railgen.shop.part_work import part_work, parts_of

_COLUMNS = (Column("of this serial", 34), Column("", 98))
DATA_WIDTH = table_width(_COLUMNS)


def mass_of(subject: Subject, side: str) -> str:
    """Mass of one finished rail less its holes, in words."""
    return f"{part_work(subject.plan, 'rail', side).measures.mass:.1f} kg"


def data_table(subject: Subject, left: float, top: float, bottom: float) -> tuple[Item, ...]:
    """What the order says and what follows from it, as a table; as much of it as the sheet holds."""
    rows = [*_rail_rows(subject), *_liner_and_taper_rows(subject), *_order_rows(subject)]
    return table_pages(_COLUMNS, [Row(row) for row in rows], left, top, bottom)[0]


_Words = tuple[str, str]


def _rail_rows(subject: Subject) -> list[_Words]:
    order, rail = subject.plan.order, subject.plan.order.rail
    section, steel = rail.section, order.rail_steel
    tensile = f"{steel.tensile_least:g} to {steel.tensile_most:g} MPa"
    blank = " × ".join(number(size) for size in (rail.blank_length, section.developed_width, section.thickness))
    masses = [(side, part, part_work(subject.plan, part, side).measures.mass) for part, side in parts_of(subject.plan)]
    return [
        ("rail, finished", f"{number(rail.length)} long, front end at station {number(rail.front)}"),
        ("blank", blank),
        ("steel of the rail", f"{order.steel}: yield {steel.yield_strength:g} MPa, tensile {tensile}"),
        ("mass, finished", ", ".join(f"{side} {part} {mass:.1f} kg" for side, part, mass in masses)),
    ]


def _liner_and_taper_rows(subject: Subject) -> list[_Words]:
    order, rail = subject.plan.order.order, subject.plan.order.rail
    rows = []
    if rail.liner and order.liner:
        ends = f"stations {number(rail.liner.start)} to {number(rail.liner.end)}"
        rows.append(("liner", f"{order.liner.section}, {order.liner.steel}, {ends}, gap {number(rail.liner.gap)}"))
    if rail.taper:
        taper = rail.taper
        shape = (
            f"from station {number(taper.start)} to depth {number(taper.end_depth)}, slope {degrees(taper.slope):.2f}°"
        )
        rows.append(("taper", f"{shape}; wedge cut {'in the blank' if taper.in_blank else 'after forming'}"))
    return rows


def _order_rows(subject: Subject) -> list[_Words]:
    order, about = subject.plan.order, subject.plan.order.library.about
    names = {"axle_spread": "axle spread", "frame_width": "frame width"}
    rows = [(words, number(order.dimensions[name])) for name, words in names.items() if name in order.dimensions]
    rows.append(("drive", order.drive))
    rows.append(("options", " ".join(order.order.options) or "none"))
    rows.append(("library", f"{about.name}, revision {about.revision}, sha256 {order.library.digest[:16]}"))
    return rows


def section_sketch(subject: Subject, left: float, top: float) -> list[Item]:
    """The rail's section with its liner, 1:5 like the elevations, its web at the left, and its sizes."""
    rail = subject.plan.order.rail
    section = rail.section
    depth, flange = section.depth / SCALE, section.flange / SCALE
    web, base = left + 13.0, top - 7.0 - depth
    items: list[Item] = [_outline(section, web, base, Pen(0.35), "#dedede")]
    if rail.liner:
        liner = rail.liner
        at = web + liner.offset_y / SCALE, base + liner.offset_z / SCALE
        items.append(_outline(liner.section, *at, HIDDEN, None))
    items += _across(web, web + flange, base + depth + 3.0, f"B {number(section.flange)}")
    items += _upward(base, base + depth, web - 5.0, f"H {number(section.depth)}")
    words = [f"t {number(section.thickness)}   r {number(section.inside_radius)}", f"K {section.neutral_line:.3f}"]
    items += [Text(left, base - 5 - 3.4 * n, line, SMALL) for n, line in enumerate(words)]
    return [*items, Text(left, top, f"Section 1:{SCALE}", SMALL, bold=True)]


def _outline(section: Section, x: float, y: float, pen: Pen, fill: str | None) -> Figures:
    """The channel's outline with its bends as arcs; (x, y) is the outer corner of web and bottom flange."""
    b, h, t = section.flange, section.depth, section.thickness
    inside = _corner(t, t, section.inside_radius)
    outside = _corner(0.0, 0.0, section.tangent)
    upper_inside, upper_outside = ([(px, h - py) for px, py in corner] for corner in (inside, outside))
    inner = [(b, h), (b, h - t), *reversed(upper_inside), *inside, (b, t)]
    points = [*inner, (b, 0.0), *reversed(outside), *upper_outside]
    commands = "ML" + "LCCC" * 2 + "LL" + "LCCC" * 2 + "Z"
    return Figures(commands, (np.array(points, dtype=np.float64) / SCALE + (x, y))[None], pen, fill)


def _corner(x: float, y: float, radius: float) -> list[tuple[float, float]]:
    """A quarter circle in the corner (x, y), from its upper end to its right end."""
    handle = radius * (1 - ROUND_ARC)
    return [(x, y + radius), (x, y + handle), (x + handle, y), (x + radius, y)]


def _across(left: float, right: float, y: float, words: str) -> list[Item]:
    ends = [[(left, y), (right, y)], [(left, y - 2), (left, y + 1)], [(right, y - 2), (right, y + 1)]]
    return [segments(ends, THIN), Text((left + right) / 2, y + 0.8, words, SMALL, "middle")]


def _upward(low: float, high: float, x: float, words: str) -> list[Item]:
    ends = [[(x, low), (x, high)], [(x - 1, low), (x + 3, low)], [(x - 1, high), (x + 3, high)]]
    return [segments(ends, THIN), Text(x - 1, (low + high) / 2, words, SMALL, "middle", angle=90)]
