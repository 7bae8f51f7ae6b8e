"""The values of a tail taper as a table."""

from __future__ import annotations

from math import degrees

from railgen.frame.taper import TaperShape
from railgen.papers.sheet import Item
from railgen.papers.subject import Subject
from railgen.papers.tables import Column, Row, table_height, table_pages
from railgen.papers.wording import say

_COLUMNS = (66.0, 42.0)
TAPER_TABLE_WIDTH = sum(_COLUMNS)


def taper_table(subject: Subject, taper: TaperShape, left: float, bottom: float) -> tuple[list[Item], float]:
    """What is ordered and what follows from it, standing on y = `bottom`, and its height, mm."""
    columns = [Column(say("taper_table.what"), _COLUMNS[0]), Column(say("taper_table.value"), _COLUMNS[1])]
    rows = [Row((say(f"taper_table.{key}"), value)) for key, value in _values(subject, taper)]
    height = table_height(columns, rows)
    return list(table_pages(columns, rows, left, bottom + height, bottom)[0]), height


def _values(subject: Subject, taper: TaperShape) -> list[tuple[str, str]]:
    length, size = subject.style.length, subject.style.size
    relief = {"diameter": size(taper.relief_diameter), "least": size(2 * taper.least_relief_radius)}
    return [
        ("start", length(taper.start)),
        ("length", length(taper.rear - taper.start)),
        ("end_depth", length(taper.end_depth)),
        ("slope", say("taper_sheet.slope", angle=degrees(taper.slope))),
        ("slit", length(taper.slit_depth)),
        ("hinge", length(taper.hinge_height)),
        ("relief", say("taper_table.relief_value", **relief)),
        ("gap", length(taper.root_gap)),
        ("opening", say("taper_sheet.slope", angle=degrees(taper.opening_angle))),
        ("seam", length(taper.seam_length)),
        ("seam_upper", length(taper.seam_to_upper_tangent)),
        ("seam_lower", length(taper.seam_to_lower_tangent)),
        ("ramp", length(taper.flange_length)),
        ("fold", length(taper.fold_half_width)),
        ("upset", say("taper_table.upset_value", width=length(taper.upset_half_width), area=taper.upset_area)),
        ("trim", length(taper.trim)),
        ("wedge", say("order.in_blank" if taper.in_blank else "order.after_forming")),
    ]
