"""The route card: a card for each part of a serial, to go through the shop with it."""

from __future__ import annotations

from collections.abc import Collection
from io import BytesIO

from reportlab.platypus import Flowable, NextPageTemplate, PageBreak, Spacer

from railgen.data.findings import has_errors
from railgen.frame.rail import Part
from railgen.layout.plan import SerialPlan
from railgen.papers.card_lists import cautions_block
from railgen.papers.card_page import Card, card_document, numbered_canvas, style, title_band
from railgen.papers.cell_text import paragraph
from railgen.papers.codes import hole_table_sha256, identity
from railgen.papers.hanging_figure import hanging_block
from railgen.papers.route_card_header import card_header, cut_file_of
from railgen.papers.route_card_places import (
    critical_table,
    measuring_table,
    positions_table,
    ranked_rows,
    strips_table,
)
from railgen.papers.route_card_tables import holes_table, operations_table, tools_table
from railgen.papers.wording import Wording, wording
from railgen.rules.strength import strength_of
from railgen.shop.part_work import PartWork, part_work, parts_of
from railgen.shop.route import route_of
from railgen.strength.criticality import Criticality, rank_holes

_GAP = 9  # points between the blocks of a card


def write_route_card(plan: SerialPlan, only: Collection[tuple[Part, str]] | None = None) -> bytes:
    """The route cards of all parts of a serial as one PDF, A4 portrait: rails first, then liners.

    only: the parts, each with its side, to print again; their cards say so. The same plan gives the same bytes.
    Raises InputError when the library has no peening data for a part's thickness, ValueError for a part that the
    serial has not.
    """
    words, table = wording(), hole_table_sha256(plan)
    parts = list(parts_of(plan))
    if only is not None and (unknown := set(only) - set(parts)):
        raise ValueError(f"{plan.serial} has no {sorted(unknown)}")
    critical = criticality_of(plan)
    works = [part_work(plan, *part) for part in parts if only is None or part in only]
    cards = [_card(work, table, words) for work in works]
    story: list[Flowable] = []
    for card, work in zip(cards, works, strict=True):
        if story:
            story += [NextPageTemplate(card.first_page), PageBreak()]
        story += _card_story(work, table, critical, words, again=only is not None)
    buffer = BytesIO()
    title = words.say("card.subject", serial=plan.serial)
    card_document(buffer, cards, title).build(story, canvasmaker=numbered_canvas(words))
    return buffer.getvalue()


def criticality_of(plan: SerialPlan) -> Criticality:
    """All holes of the serial by the stress at their edges; none where the order has no [loads]."""
    if plan.order.order.loads is None:
        return rank_holes(plan.order, plan.holes, ())
    return strength_of(plan).criticality


def banner_of(plan: SerialPlan, words: Wording) -> str:
    """What bars the serial's cards from use; empty where nothing does."""
    errors = sum(finding.severity == "error" for finding in plan.findings)
    return words.say("card.banner", errors=errors) if has_errors(plan.findings) else ""


def _card(work: PartWork, table: str, words: Wording) -> Card:
    plan = work.plan
    part, revision = work.name, plan.order.order.revision
    return Card(
        serial=plan.serial,
        name=words.text(part),
        continued=words.say("card.continued", serial=plan.serial, part=part, revision=revision),
        identity=identity(plan.serial, work.part, work.side, table),
        banner=banner_of(plan, words),
    )


def _card_story(work: PartWork, table: str, critical: Criticality, words: Wording, again: bool) -> list[Flowable]:
    operations, ranked = route_of(work), ranked_rows(work, critical)
    told = words.say("card.again", cut_file=cut_file_of(work))
    blocks = (
        [title_band(words.say("card.title"), words.text(work.name), work.plan.serial)],
        [paragraph(told, style(8.5, bold=True))] if again else [],
        card_header(work, operations, table, words),
        cautions_block(words),
        operations_table(operations, words),
        tools_table(work, words),
        holes_table(work, words),
        positions_table(work, words),
        measuring_table(work, words),
        critical_table(work, critical, words),
        strips_table(work, ranked, words),
        hanging_block(work, words),
    )
    story: list[Flowable] = []
    for block in blocks:
        story += [Spacer(1, _GAP), *block] if story and block else block
    return story
