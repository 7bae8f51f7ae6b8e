"""The head of a route card: which part of which serial, and what it is made of."""

from __future__ import annotations

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, Spacer, Table

from railgen.holes.table import MARK, SIDES
from railgen.papers.fonts import font_name
from railgen.papers.route_card_page import INK, RULE, SHADE, WIDTH, paragraph, style
from railgen.papers.wording import Wording
from railgen.shop.operation import Operation
from railgen.shop.part_work import PartWork

_LABEL_WIDTH = 24 * mm


def title_band(work: PartWork, words: Wording) -> Flowable:
    """Part on the left, serial on the right, large enough to read from a truck."""
    left = [
        paragraph(words.say("card.title"), style(9, bold=True, colour="white")),
        paragraph(words.text(work.name), style(19, bold=True, colour="white")),
    ]
    right = style(24, bold=True, colour="white").clone("serial", alignment=2)
    band = Table([[left, paragraph(work.plan.serial, right)]], colWidths=[WIDTH / 2, WIDTH / 2])
    band.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), font_name(), 8),
            ("BACKGROUND", (0, 0), (-1, -1), INK),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 6),
        ]
    )
    return band


def card_header(work: PartWork, operations: tuple[Operation, ...], words: Wording) -> list[Flowable]:
    """Serial, family, part, revision, date, material, sizes, mass and area, in two columns."""
    left, right = _order_fields(work, operations, words), _part_fields(work, words)
    label, value = style(7, colour="grey"), style(8)
    rows = [
        [paragraph(text, kind) for text, kind in ((a, label), (b, value), (c, label), (d, value))]
        for (a, b), (c, d) in zip(left, right, strict=True)
    ]
    half = WIDTH / 2 - _LABEL_WIDTH
    table = Table(rows, colWidths=[_LABEL_WIDTH, half - 10 * mm, _LABEL_WIDTH, half + 10 * mm])
    table.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), font_name(), 8),
            ("LINEBELOW", (0, 0), (-1, -1), 0.4, RULE),
            ("BACKGROUND", (0, 0), (0, -1), SHADE),
            ("BACKGROUND", (2, 0), (2, -1), SHADE),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("TOPPADDING", (0, 0), (-1, -1), 2),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 2.5),
            ("LEFTPADDING", (0, 0), (-1, -1), 3),
            ("RIGHTPADDING", (0, 0), (-1, -1), 3),
        ]
    )
    units = paragraph(words.say("card.units"), style(7, colour="grey"))
    return [table, Spacer(1, 3), units]


def _order_fields(work: PartWork, operations: tuple[Operation, ...], words: Wording) -> list[tuple[str, str]]:
    order = work.plan.order.order
    partner = SIDES[1 - SIDES.index(work.side)]
    minutes = sum(operation.minutes or 0.0 for operation in operations)
    errors = sum(finding.severity == "error" for finding in work.findings)
    fields = {
        "serial": order.serial,
        "family": work.plan.order.family.name,
        "hand": words.say(f"card.hand_{work.side}"),
        "partner": words.say(f"card.partner_{work.part}", side=work.side, partner=partner, serial=order.serial),
        "revision": order.revision,
        "build_date": order.build_date.isoformat(),
        "minutes": words.say("card.minutes_value", minutes=minutes),
        "findings": words.say("card.findings_value", errors=errors, warnings=len(work.findings) - errors),
    }
    return [(words.say(f"card.{key}"), value) for key, value in fields.items()]


def _part_fields(work: PartWork, words: Wording) -> list[tuple[str, str]]:
    section, steel = work.section, work.steel
    marks = int((work.holes.shape == MARK).sum())
    fields = {
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
    }
    return [(words.say(f"card.{key}"), value) for key, value in fields.items()]
