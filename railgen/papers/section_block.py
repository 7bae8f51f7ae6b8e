"""The section drawn with its sizes, the block of section and material, and the block of the order's own data."""

from __future__ import annotations

from math import degrees

import numpy as np

from railgen.data.stock import SteelBand
from railgen.frame.measure import STEEL_DENSITY
from railgen.frame.rail import Part
from railgen.frame.section import Section, properties
from railgen.holes.table import SIDES
from railgen.papers.dimensions import extensions, leader, level_dimension, upright_dimension
from railgen.papers.fonts import MIDDLE
from railgen.papers.part import DrawnPart
from railgen.papers.scales import fitting_scale
from railgen.papers.sheet import HIDDEN, OUTLINE, ROUND_ARC, Figures, Item, Pen, Text
from railgen.papers.style import DrawingStyle
from railgen.papers.subject import Subject
from railgen.papers.tables import Column, Rest, Row, table_on_sheet
from railgen.papers.wording import say
from railgen.shop.part_work import part_work

SECTION_FILL = "#d8d8d8"
"""Cut steel thinner than hatching would show is filled (ISO 128-3, from memory)."""
_SKETCH_SCALES = (5, 10, 20, 50)
_ABOVE_SKETCH, _BELOW_SKETCH, _LEFT_OF_SKETCH = 13.0, 3.0, 13.0
_CAPTION = 28.0
_VALUES = {1: 62.0, 2: 44.0}
"""Width (mm) of the columns of values, by the number of parts."""
_ORDER_COLUMNS = (22.0, 66.0)


def mass_of(subject: Subject, part: Part, side: str) -> str:
    """Mass of one finished part less its holes, in words."""
    return say("title.mass_of", mass=part_work(subject.plan, part, side).measures.mass)


def section_table(
    subject: Subject, parts: list[DrawnPart], left: float, top: float, bottom: float
) -> tuple[list[Item], tuple[Rest, ...]]:
    """Section and material of each part, a column a part; as much of it as the sheet holds, and the rest."""
    columns = [Column(say("section.title"), _CAPTION)]
    columns += [Column(say(f"section.{part.name}"), _VALUES[len(parts)]) for part in parts]
    values = [_part_values(subject, part) for part in parts]
    rows = [Row((say(f"section.{key}"), *(value[key] for value in values))) for key in values[0]]
    return table_on_sheet(columns, rows, left, top, bottom)


def section_table_width(parts: list[DrawnPart]) -> float:
    """Width of the table, mm."""
    return _CAPTION + len(parts) * _VALUES[len(parts)]


def _part_values(subject: Subject, part: DrawnPart) -> dict[str, str]:
    style, section = subject.style, part.section
    name: Part = "rail" if part.name == "rail" else "liner"
    lh, rh = (part_work(subject.plan, name, side) for side in SIDES)
    area = properties(section).area
    blank = (lh.blank_length, lh.blank_width)
    return {
        "name": lh.section_name,
        "sizes": " × ".join([style.length(section.depth), style.length(section.flange), style.size(section.thickness)]),
        "radius": say("section.radius_value", radius=style.size(section.inside_radius), factor=section.neutral_line),
        "area": say("section.area_value", area=area / 100, mass=area * STEEL_DENSITY * 1000),
        "steel": say("section.steel_value", steel=lh.steel_name, standard=lh.steel_standard),
        "strength": _strength(lh.steel),
        "length": style.length(part.length),
        "blank": " × ".join(style.length(size) for size in blank),
        "mass": say("section.mass_value", lh=lh.measures.mass, rh=rh.measures.mass),
    }


def _strength(steel: SteelBand) -> str:
    strengths = {"least": steel.tensile_least, "most": steel.tensile_most}
    return say("section.strength_value", yield_strength=steel.yield_strength, **strengths)


def order_table(subject: Subject, left: float, top: float, bottom: float) -> tuple[list[Item], tuple[Rest, ...]]:
    """What the order says besides, as a table; as much of it as the sheet holds, and the rest."""
    columns = [Column(say("order.title"), _ORDER_COLUMNS[0]), Column("", _ORDER_COLUMNS[1])]
    rows = [Row((say(f"order.{key}"), value)) for key, value in _order_values(subject) if value]
    return table_on_sheet(columns, rows, left, top, bottom)


ORDER_WIDTH = sum(_ORDER_COLUMNS)


def _order_values(subject: Subject) -> list[tuple[str, str]]:
    order, style = subject.plan.order, subject.style
    about, rail = order.library.about, order.rail
    taper = liner = ""
    if rail.taper:
        start, end, slope = rail.taper.start, rail.taper.end_depth, degrees(rail.taper.slope)
        cut = say("order.in_blank" if rail.taper.in_blank else "order.after_forming")
        taper = say("order.taper_value", start=style.length(start), end=style.length(end), slope=slope, cut=cut)
    if rail.liner:
        ends = {"start": style.length(rail.liner.start), "end": style.length(rail.liner.end)}
        liner = say("order.liner_value", gap=style.length(rail.liner.gap), **ends)
    library = say("order.library_value", name=about.name, revision=about.revision, digest=order.library.digest[:16])
    return [
        ("drive", say(f"drive.{order.drive}")),
        ("front_end", say("order.station", station=style.length(rail.front))),
        ("taper", taper),
        ("liner", liner),
        ("options", " ".join(order.order.options) or say("order.none")),
        ("library", library),
    ]


def section_sketch(subject: Subject, left: float, top: float, room: float, letter: str) -> list[Item]:
    """The rail's section with its liner, web at the left, and its sizes; `room`: the height that it may take, mm."""
    rail, style = subject.plan.order.rail, subject.style
    section = rail.section
    scale = fitting_scale(section.depth, room - _ABOVE_SKETCH - _BELOW_SKETCH, _SKETCH_SCALES)
    depth = section.depth / scale
    web, base = left + _LEFT_OF_SKETCH, top - _ABOVE_SKETCH - depth
    items: list[Item] = [section_outline(section, web, base, 1 / scale, OUTLINE, SECTION_FILL)]
    if rail.liner:
        at = web + rail.liner.offset_y / scale, base + rail.liner.offset_z / scale
        items.append(section_outline(rail.liner.section, *at, 1 / scale, HIDDEN, None))
    items += _sketch_dimensions(section, style, (web, base), scale)
    name = say("section.sketch", letter=letter, scale=scale)
    return [*items, Text(left, top - MIDDLE, name, MIDDLE, bold=True)]


def _sketch_dimensions(section: Section, style: DrawingStyle, corner: tuple[float, float], scale: float) -> list[Item]:
    (web, base), depth, flange = corner, section.depth / scale, section.flange / scale
    top, thick = base + depth, section.thickness / scale
    items: list[Item] = [
        extensions([((web, base), (web - 6, base)), ((web, top), (web - 6, top))]),
        extensions([((web, top), (web, top + 5)), ((web + flange, top), (web + flange, top + 5))]),
        *upright_dimension(base, top, web - 6, say("section.depth", value=style.length(section.depth))),
        *level_dimension(web, web + flange, top + 5, say("section.flange", value=style.length(section.flange))),
    ]
    right = web + flange + 4
    items.append(extensions([((web + flange, top), (right, top)), ((web + flange, top - thick), (right, top - thick))]))
    items += upright_dimension(top - thick, top, right, say("section.thickness", value=style.size(section.thickness)))
    # Where the bend's inside meets the bisector of its corner, from its centre.
    centre = section.tangent / scale
    reach = section.inside_radius / scale * np.sqrt(0.5)
    touch = web + centre - reach, base + centre - reach
    radius = say("section.radius_mark", value=style.size(section.inside_radius))
    return [*items, *leader([touch, (touch[0] + 8, touch[1] + 8)], radius)]


def section_outline(section: Section, x: float, y: float, scale: float, pen: Pen, fill: str | None) -> Figures:
    """The channel's outline with its bends as arcs; (x, y) is the outer corner of web and bottom flange."""
    b, h, t = section.flange, section.depth, section.thickness
    inside = _corner(t, t, section.inside_radius)
    outside = _corner(0.0, 0.0, section.tangent)
    upper_inside, upper_outside = ([(px, h - py) for px, py in corner] for corner in (inside, outside))
    inner = [(b, h), (b, h - t), *reversed(upper_inside), *inside, (b, t)]
    points = [*inner, (b, 0.0), *reversed(outside), *upper_outside]
    commands = "ML" + "LCCC" * 2 + "LL" + "LCCC" * 2 + "Z"
    return Figures(commands, (np.array(points, dtype=np.float64) * scale + (x, y))[None], pen, fill)


def _corner(x: float, y: float, radius: float) -> list[tuple[float, float]]:
    """A quarter circle in the corner (x, y), from its upper end to its right end."""
    handle = radius * (1 - ROUND_ARC)
    return [(x, y + radius), (x, y + handle), (x + handle, y), (x + radius, y)]
