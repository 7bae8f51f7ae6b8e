"""Slips: for each work station that a part comes by, what is done there and nothing else."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from io import BytesIO

from reportlab.platypus import Flowable, NextPageTemplate, PageBreak, Spacer

from railgen.frame.rail import Part
from railgen.holes.table import STUD
from railgen.layout.plan import SerialPlan
from railgen.papers.card_lists import INDENT
from railgen.papers.card_page import Card, card_document, numbered_canvas, style, title_band
from railgen.papers.cell_text import paragraph
from railgen.papers.codes import hole_table_sha256, identity
from railgen.papers.hanging_figure import hanging_block
from railgen.papers.route_card import banner_of, criticality_of
from railgen.papers.route_card_header import fields_of
from railgen.papers.route_card_places import (
    DRILLED,
    critical_table,
    measuring_table,
    positions_table,
    ranked_rows,
    strips_table,
)
from railgen.papers.route_card_tables import operations_table, tools_table
from railgen.papers.wording import Wording, wording
from railgen.shop.operation import Operation
from railgen.shop.part_work import PartWork, part_work, parts_of
from railgen.shop.route import route_of
from railgen.shop.work_stations import WORK_STATIONS, Stop, WorkStation, stops_of

_GAP = 9  # points between the blocks of a slip
_LEFT = ("hand", "revision", "build_date", "minutes")
_RIGHT: Mapping[WorkStation, tuple[str, str, str]] = {
    "cutting": ("steel", "blank", "cut_file"),
    "punching": ("steel", "blank", "cut_file"),
    "drilling": ("steel", "blank", "cut_file"),
    "forming": ("section", "steel", "strength"),
    "welding": ("section", "steel", "length"),
    "inspection": ("section", "length", "holes"),
    "peening": ("steel", "strength", "holes"),
    "coating": ("length", "mass", "area"),
    "racking": ("partner", "length", "mass"),
}
"""What a work station must know of the part, besides the hole table that its slip was made from."""


def write_slips(
    plan: SerialPlan,
    only: Collection[tuple[Part, str]] | None = None,
    at: Collection[WorkStation] = WORK_STATIONS,
) -> bytes | None:
    """The slips of a serial's parts as one PDF, A4 portrait, a page or more for each stop; None where there is no stop.

    only: the parts, each with its side; at: the work stations. The same plan gives the same bytes. Raises InputError
    when the library has no peening data for a part's thickness.
    """
    words, table = wording(), hole_table_sha256(plan)
    works = [part_work(plan, *part) for part in parts_of(plan) if only is None or part in only]
    stops = [(work, stop) for work in works for stop in stops_of(route_of(work)) if stop.at in at]
    if not stops:
        return None
    cards = [_card(work, stop, table, words) for work, stop in stops]
    story: list[Flowable] = []
    for card, (work, stop) in zip(cards, stops, strict=True):
        if story:
            story += [NextPageTemplate(card.first_page), PageBreak()]
        story += _slip(work, stop, table, words)
    buffer = BytesIO()
    title = words.say("slip.subject", serial=plan.serial)
    card_document(buffer, cards, title).build(story, canvasmaker=numbered_canvas(words))
    return buffer.getvalue()


def _card(work: PartWork, stop: Stop, table: str, words: Wording) -> Card:
    plan, number = work.plan, stop.operations[0].number
    name = words.say("slip.name", part=work.name, number=number, at=words.say(f"slip.{stop.at}"))
    return Card(
        serial=plan.serial,
        name=name,
        continued=words.say("slip.continued", serial=plan.serial, name=name, revision=plan.order.order.revision),
        identity=identity(plan.serial, work.part, work.side, table),
        banner=banner_of(plan, words),
    )


def _slip(work: PartWork, stop: Stop, table: str, words: Wording) -> list[Flowable]:
    right = (*_RIGHT[stop.at], "hole_table")
    blocks = (
        [title_band(words.say(f"slip.{stop.at}"), words.text(work.name), work.plan.serial)],
        [fields_of(work, stop.operations, table, words, _LEFT, right), Spacer(1, 3), *_between(stop, words)],
        list(_heed(words)),
        operations_table(stop.operations, words),
        *_TABLES.get(stop.at, _nothing)(work, words),
    )
    story: list[Flowable] = []
    for block in blocks:
        story += [Spacer(1, _GAP), *block] if story and block else block
    return story


def _between(stop: Stop, words: Wording) -> Iterator[Flowable]:
    """Where the part comes from and where it goes."""
    before, after = (_named(operation, words) for operation in (stop.before, stop.after))
    text = words.say("slip.between", before=before, after=after)
    yield paragraph(text, style(8.5, bold=True))
    yield paragraph(words.say("card.units"), style(7, colour="grey"))


def _named(operation: Operation | None, words: Wording) -> str:
    if operation is None:
        return words.say("slip.nothing")
    return words.say("slip.operation", number=operation.number, name=words.say(f"operation.{operation.kind}"))


def _heed(words: Wording) -> Iterator[Flowable]:
    """What holds at every work station."""
    yield paragraph(words.say("slip.released"), style(8, bold=True, indent=INDENT), bullet="•")
    for key in ("instructions", "life"):
        yield paragraph(words.say(f"cautions.{key}"), style(8, indent=INDENT), bullet="•")


def _punching(work: PartWork, words: Wording) -> Iterator[list[Flowable]]:
    yield tools_table(work, words)


def _drilling(work: PartWork, words: Wording) -> Iterator[list[Flowable]]:
    yield positions_table(work, words, DRILLED)


def _welding(work: PartWork, words: Wording) -> Iterator[list[Flowable]]:
    yield positions_table(work, words, (STUD,))


def _inspection(work: PartWork, words: Wording) -> Iterator[list[Flowable]]:
    yield measuring_table(work, words)
    yield critical_table(work, criticality_of(work.plan), words)


def _peening(work: PartWork, words: Wording) -> Iterator[list[Flowable]]:
    critical = criticality_of(work.plan)
    yield strips_table(work, ranked_rows(work, critical), words)
    yield critical_table(work, critical, words)


def _coating(work: PartWork, words: Wording) -> Iterator[list[Flowable]]:
    yield hanging_block(work, words)


def _nothing(_: PartWork, __: Wording) -> Iterator[list[Flowable]]:
    return iter(())


_TABLES: Mapping[WorkStation, Callable[[PartWork, Wording], Iterator[list[Flowable]]]] = {
    "punching": _punching,
    "drilling": _drilling,
    "welding": _welding,
    "inspection": _inspection,
    "peening": _peening,
    "coating": _coating,
}
"""The lists that belong to a work station's operations."""
