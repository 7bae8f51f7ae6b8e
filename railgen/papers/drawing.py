"""The drawing set of one serial: general arrangement, elevations, details of taper and blanks, charts and lists."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from railgen.frame.rail import Part
from railgen.holes.table import LINER, SIDES
from railgen.layout.plan import SerialPlan
from railgen.papers.blank_sheet import blank_items, blank_scale
from railgen.papers.cover import REVISIONS_LEFT, cover_blocks, revision_block
from railgen.papers.elevation import PartSheets, elevation_items
from railgen.papers.elevation_layout import ElevationLayout, elevation_layouts
from railgen.papers.general_arrangement import arrangement_items, arrangement_scale
from railgen.papers.hole_charts import beside_one_another, hole_chart_pages
from railgen.papers.legend import notes
from railgen.papers.lists import component_pages, finding_pages, ringed_on
from railgen.papers.part import DrawnPart, drawn_liner, drawn_rail
from railgen.papers.pdf import write_pdf
from railgen.papers.section_block import mass_of
from railgen.papers.sheet import Drawing, Item, Sheet
from railgen.papers.stretches import SCALE
from railgen.papers.style import PLAIN, DrawingStyle
from railgen.papers.subject import Subject, subject_of
from railgen.papers.tables import Rest
from railgen.papers.taper_sheet import taper_items, taper_scale
from railgen.papers.title_block import SheetTitle, sheet_frame, title_block
from railgen.papers.wording import say

_FIRST_ELEVATION = 2
"""Number of the first elevation sheet, after the general arrangement."""


def drawing_pdf(plan: SerialPlan, style: DrawingStyle = PLAIN) -> bytes:
    """The drawing as a PDF, A3 landscape, a page a sheet. The same plan gives the same bytes."""
    return pdf_of(draw(plan, style))


def pdf_of(drawing: Drawing) -> bytes:
    """A drawing as a PDF, A3 landscape, a page a sheet."""
    return write_pdf(drawing.sheets, say("subject.drawing", serial=drawing.serial))


def drawing_pictures(drawing: Drawing, kind: str) -> Iterator[bytes]:
    """A drawing's sheets in order as pictures, kind "png" or "svg". The same drawing gives the same bytes."""
    from railgen.papers.pictures import write_picture

    return (write_picture(sheet, kind) for sheet in drawing.sheets)


@dataclass(frozen=True, eq=False)
class _Body:
    """Name, hand and scale of a sheet for its title block, and what is inside its frame."""

    name: str
    hand: str
    scale: str
    items: Sequence[Item]
    mass: str = ""
    of_liner: bool = False
    rest: tuple[Rest, ...] = ()


def draw(plan: SerialPlan, style: DrawingStyle = PLAIN) -> Drawing:
    """All sheets of a planned serial, as data.

    The general arrangement is sheet 1; the elevations of rails and liners follow, then hole charts, components and
    findings. Every sheet of a serial with an error finding is marked not for production.
    """
    subject = subject_of(plan, style)
    bodies = _bodies(subject)
    sheets = []
    for number, body in enumerate(bodies, 1):
        title = SheetTitle(body.name, body.hand, body.scale, number, len(bodies), of_liner=body.of_liner)
        block = title_block(plan, title, body.mass, style)
        sheets.append(Sheet(f"{number} {body.name}", (*sheet_frame(plan), *body.items, *block)))
    return Drawing(plan.serial, tuple(sheets))


def _bodies(subject: Subject) -> list[_Body]:
    rail = subject.plan.order.rail
    parts = [part for part in (drawn_rail(rail), drawn_liner(rail)) if part]
    elevations: list[_Body] = []
    numbered: list[tuple[int, ElevationLayout]] = []
    rails: list[PartSheets] = []
    for part in parts:
        for layouts in elevation_layouts(subject, part):
            first = _FIRST_ELEVATION + len(elevations)
            cuts = (part.front, *(layout.stretch.start for layout in layouts[1:]), part.rear)
            rails.append(PartSheets(cuts, first, 0))
            numbered += enumerate(layouts, first)
            elevations += [_elevation(subject, layout, PartSheets(cuts, first, n)) for n, layout in enumerate(layouts)]
    details = [_taper(subject)] if rail.taper else []
    details += [_blank(subject, part) for part in parts]
    bodies = [*elevations, *details, *_lists(subject, numbered)]
    more: list[_Body] = []
    while True:
        # What tables of other sheets have no room for stands on sheets at the end, which sheet 1 names too.
        cover = _cover(subject, parts, (rails[0], rails[1]), [*bodies, *more])
        needed = _more(subject, [cover, *bodies])
        if len(needed) <= len(more):
            return [cover, *bodies, *needed]
        more = needed


def _elevation(subject: Subject, layout: ElevationLayout, place: PartSheets) -> _Body:
    name: Part = "liner" if layout.part.part == LINER else "rail"
    side, scale = SIDES[layout.side], say("title.scale_of", scale=SCALE)
    title = say(f"elevation.sheet_{name}", side=side)
    mass = mass_of(subject, name, side)
    return _Body(title, side, scale, elevation_items(subject, layout, place), mass, name == "liner")


def _taper(subject: Subject) -> _Body:
    scale = say("title.scale_of", scale=taper_scale(subject))
    items = [*taper_items(subject), *notes(subject)]
    return _Body(say("taper_sheet.name"), say("title.both_hands"), scale, items)


def _blank(subject: Subject, part: DrawnPart) -> _Body:
    name, scale = say(f"blank_sheet.name_{part.name}"), say("title.scale_of", scale=blank_scale(part))
    items, rest = blank_items(subject, part)
    return _Body(
        name, say("title.both_hands"), scale, [*items, *notes(subject)], of_liner=part.part == LINER, rest=rest
    )


def _lists(subject: Subject, numbered: Sequence[tuple[int, ElevationLayout]]) -> Iterator[_Body]:
    """Sheets without a view; `numbered`: the elevations with the numbers of their sheets."""
    pages = [("chart.sheet", page) for page in hole_chart_pages(subject)]
    pages += [("list.components", page) for page in component_pages(subject)]
    pages += [("list.findings", page) for page in finding_pages(subject, ringed_on(numbered))]
    for key, page in pages:
        yield _Body(say(key), say("title.both_hands"), say("title.no_scale"), [*page, *notes(subject)])


def _cover(
    subject: Subject, parts: list[DrawnPart], sheets: tuple[PartSheets, PartSheets], others: list[_Body]
) -> _Body:
    """Sheet 1, which names the sheets that follow."""
    name, scale = say("arrangement.name"), say("title.scale_of", scale=arrangement_scale(subject))
    views, free = arrangement_items(subject, sheets)
    names = [(name, scale), *((body.name, body.scale) for body in others)]
    blocks, rest = cover_blocks(subject, parts, names, free)
    items = [*views, *blocks, *notes(subject, REVISIONS_LEFT), *revision_block(subject)]
    return _Body(name, say("title.both_hands"), scale, items, rest=rest)


def _more(subject: Subject, bodies: Sequence[_Body]) -> list[_Body]:
    """Sheets with what tables of other sheets have no room for."""
    pages = beside_one_another([rest for body in bodies for rest in body.rest])
    name, hands = say("rest.sheet"), say("title.both_hands")
    return [_Body(name, hands, say("title.no_scale"), [*page, *notes(subject)]) for page in pages]
