"""The route card: a card for each part of a serial, to go through the shop with it."""

from __future__ import annotations

from io import BytesIO

from reportlab.platypus import Flowable, NextPageTemplate, PageBreak, Spacer

from railgen.data.findings import has_errors
from railgen.layout.plan import SerialPlan
from railgen.papers.route_card_header import card_header, title_band
from railgen.papers.route_card_page import Card, card_document, numbered_canvas
from railgen.papers.route_card_tables import cautions_block, holes_table, operations_table, tools_table
from railgen.papers.wording import Wording, wording
from railgen.shop.part_work import PartWork, part_work, parts_of
from railgen.shop.route import route_of

_GAP = 9  # points between the blocks of a card


def write_route_card(plan: SerialPlan) -> bytes:
    """The route cards of all parts of a serial as one PDF, A4 portrait: rails first, then liners.

    The same plan gives the same bytes. Raises InputError when the library has no peening data for a part's
    thickness.
    """
    words = wording()
    works = [part_work(plan, part, side) for part, side in parts_of(plan)]
    cards = [_card(work, words) for work in works]
    story: list[Flowable] = []
    for card, work in zip(cards, works, strict=True):
        if story:
            story += [NextPageTemplate(card.first_page), PageBreak()]
        story += _card_story(work, words)
    buffer = BytesIO()
    title = words.say("card.subject", serial=plan.serial)
    card_document(buffer, cards, title).build(story, canvasmaker=numbered_canvas(words))
    return buffer.getvalue()


def _card(work: PartWork, words: Wording) -> Card:
    plan = work.plan
    banner = ""
    if has_errors(plan.findings):
        errors = sum(finding.severity == "error" for finding in plan.findings)
        banner = words.say("card.banner", errors=errors)
    part, revision = work.name, plan.order.order.revision
    continued = words.say("card.continued", serial=plan.serial, part=part, revision=revision)
    return Card(plan.serial, words.text(part), continued, banner)


def _card_story(work: PartWork, words: Wording) -> list[Flowable]:
    operations = route_of(work)
    gap = Spacer(1, _GAP)
    blocks = (
        [title_band(work, words)],
        card_header(work, operations, words),
        cautions_block(words),
        operations_table(operations, words),
        tools_table(work, words),
        holes_table(work, words),
    )
    story: list[Flowable] = []
    for block in blocks:
        story += [gap, *block] if story and block else block
    return story
