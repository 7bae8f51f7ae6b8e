"""The head of a route card: which part of which serial, and what it is made of."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable, Spacer

from railgen.formats.names import cut_file_name
from railgen.holes.table import MARK, SIDES
from railgen.papers.card_page import field_table, style
from railgen.papers.cell_text import paragraph
from railgen.papers.wording import Wording
from railgen.shop.operation import Operation
from railgen.shop.part_work import PartWork

SHOWN_DIGITS = 16
"""Of a sha256: as many as people compare by eye."""
_LEFT = ("serial", "family", "hand", "partner", "cut_file", "revision", "build_date", "minutes", "findings")
_RIGHT = ("section", "steel", "strength", "blank", "length", "mass", "area", "holes", "hole_table")


def card_header(work: PartWork, operations: tuple[Operation, ...], table: str, words: Wording) -> list[Flowable]:
    """Serial, family, part, revision, date, material, sizes, mass and area, in two columns.

    table: sha256 of the hole table.
    """
    units = paragraph(words.say("card.units"), style(7, colour="grey"))
    return [fields_of(work, operations, table, words, _LEFT, _RIGHT), Spacer(1, 3), units]


def fields_of(
    work: PartWork,
    operations: Sequence[Operation],
    table: str,
    words: Wording,
    left: Sequence[str],
    right: Sequence[str],
) -> Flowable:
    """Some of what there is to say of a part and its order, by their keys in the words, in two columns."""
    values = _order_values(work, operations, words) | _part_values(work, table, words)
    columns = ([(words.say(f"card.{key}"), values[key]) for key in keys] for keys in (left, right))
    return field_table(*columns)


def cut_file_of(work: PartWork) -> str:
    """Name of the file that the part is cut from."""
    return cut_file_name(work.plan.serial, "RH" if work.side == "RH" else "LH", work.part)


def _order_values(work: PartWork, operations: Sequence[Operation], words: Wording) -> dict[str, str]:
    order = work.plan.order.order
    partner = SIDES[1 - SIDES.index(work.side)]
    minutes = sum(operation.minutes or 0.0 for operation in operations)
    errors = sum(finding.severity == "error" for finding in work.findings)
    return {
        "serial": order.serial,
        "family": work.plan.order.family.name,
        "hand": words.say(f"card.hand_{work.side}"),
        "partner": words.say(f"card.partner_{work.part}", side=work.side, partner=partner, serial=order.serial),
        "cut_file": cut_file_of(work),
        "revision": order.revision,
        "build_date": order.build_date.isoformat(),
        "minutes": words.say("card.minutes_value", minutes=minutes),
        "findings": words.say("card.findings_value", errors=errors, warnings=len(work.findings) - errors),
    }


def _part_values(work: PartWork, table: str, words: Wording) -> dict[str, str]:
    section, steel = work.section, work.steel
    marks = int((work.holes.shape == MARK).sum())
    return {
        "section": words.say(
            "card.section_value",
            name=work.section_name,
            depth=section.depth,
            flange=section.flange,
            thickness=section.thickness,
            radius=section.inside_radius,
        ),
        "steel": words.say("card.steel_value", name=work.steel_name, standard=work.steel_standard),
        "strength": words.say(
            "card.yield_value",
            yield_strength=steel.yield_strength,
            least=steel.tensile_least,
            most=steel.tensile_most,
        ),
        "blank": words.say(
            "card.blank_value",
            length=work.blank_length,
            width=work.blank_width,
            thickness=work.thickness,
            mass=work.blank_mass,
        ),
        "length": words.say("card.length_value", length=work.finished_length),
        "mass": words.say("card.mass_value", mass=work.measures.mass),
        "area": words.say("card.area_value", area=work.measures.surface * 1e-6),
        "holes": words.say("card.holes_value", holes=len(work.hole_rows), marks=marks),
        "hole_table": words.say("card.hole_table_value", sha256=table[:SHOWN_DIGITS]),
    }
