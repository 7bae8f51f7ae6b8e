"""The table of developed sizes: what the blank's width follows from, with its formulas."""

from __future__ import annotations

from railgen.frame.rail import Part, part_length
from railgen.holes.table import RAIL, SIDES
from railgen.papers.part import DrawnPart
from railgen.papers.sheet import Item
from railgen.papers.subject import Subject
from railgen.papers.tables import Column, Rest, Row, table_height, table_on_sheet
from railgen.papers.wording import say
from railgen.shop.part_work import part_work

_COLUMNS = {"sign": 12.0, "what": 46.0, "value": 28.0}
BLANK_TABLE_WIDTH = sum(_COLUMNS.values())


def blank_table(
    subject: Subject, part: DrawnPart, left: float, top: float, bottom: float
) -> tuple[list[Item], float, tuple[Rest, ...]]:
    """As much of the table as the sheet holds, the y below which the sheet is free, and the rest of the table."""
    columns = [Column(say(f"developed.{key}"), width) for key, width in _COLUMNS.items()]
    values = _values(subject, part)
    rows = [Row((say(f"developed.sign_{key}"), say(f"developed.{key}"), value)) for key, value in values]
    items, rest = table_on_sheet(columns, rows, left, top, bottom)
    return items, top - table_height(columns, rows), rest


def _values(subject: Subject, part: DrawnPart) -> list[tuple[str, str]]:
    style, section, rail = subject.style, part.section, part.rail
    name: Part = "rail" if part.part == RAIL else "liner"
    masses = [part_work(subject.plan, name, side).blank_mass for side in SIDES]
    values = [
        ("depth", style.length(section.depth)),
        ("flange", style.length(section.flange)),
        ("thickness", style.size(section.thickness)),
        ("radius", style.size(section.inside_radius)),
        ("factor", f"{section.neutral_line:.4f}"),
        ("allowance", style.length(section.bend_allowance)),
        ("flat_flange", style.length(section.flat_flange)),
        ("flat_web", style.length(section.flat_web)),
        ("width", style.length(section.developed_width)),
        ("length", style.length(part_length(rail, name))),
        ("mass", say("title.mass_of", mass=masses[0])),
    ]
    if name == "rail" and rail.taper:
        values.append(("trim", style.length(rail.taper.trim)))
    return values
