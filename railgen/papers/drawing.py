"""The drawing of one serial: key sheet, elevation sheets of both rails, list of components, list of findings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from railgen.holes.table import SIDES
from railgen.layout.plan import SerialPlan
from railgen.papers.data_sheet import DATA_WIDTH, data_table, mass_of, section_sketch
from railgen.papers.elevation import RailSheets, elevation_items
from railgen.papers.elevation_layout import ElevationLayout, elevation_layouts
from railgen.papers.fonts import MIDDLE
from railgen.papers.hole_list import hole_chart_pages
from railgen.papers.key_sheet import key_items, key_scale
from railgen.papers.legend import notes
from railgen.papers.lists import component_pages, finding_pages, ringed_on
from railgen.papers.pdf import write_pdf
from railgen.papers.sheet import FRAME_LEFT, FRAME_RIGHT, Drawing, Item, Sheet, Text
from railgen.papers.stretches import SCALE
from railgen.papers.subject import Subject, subject_of
from railgen.papers.title_block import STRIP_TOP, SheetTitle, sheet_frame, title_block

_KEY_SHEETS = 1
_BOTH = "LH, RH"


def drawing_pdf(plan: SerialPlan) -> bytes:
    """The drawing as a PDF, A3 landscape, a page a sheet. The same plan gives the same bytes."""
    return write_pdf(draw(plan).sheets, f"{plan.serial} drawing")


def drawing_pictures(plan: SerialPlan, kind: str) -> Iterator[bytes]:
    """The drawing's sheets in order as pictures, kind "png" or "svg". The same plan gives the same bytes."""
    from railgen.papers.pictures import write_picture

    return (write_picture(sheet, kind) for sheet in draw(plan).sheets)


def draw(plan: SerialPlan) -> Drawing:
    """All sheets of a planned serial, as data.

    The key sheet is first; the elevation sheets of LH and RH follow, then the hole chart's further pages where it has
    any, the components and the findings. Every sheet of a serial with an error finding is marked not for production.
    """
    subject = subject_of(plan)
    layouts = elevation_layouts(subject)
    bodies = list(_bodies(subject, layouts))
    sheets = []
    for number, (name, hand, scale, items) in enumerate(bodies, 1):
        mass = mass_of(subject, hand) if hand in SIDES else ""
        title = SheetTitle(name, hand, scale, number, len(bodies))
        everything = (*sheet_frame(plan), *items, *title_block(plan, title, mass))
        sheets.append(Sheet(f"{number} {name}", everything))
    return Drawing(plan.serial, tuple(sheets))


_Body = tuple[str, str, str, Sequence[Item]]
"""Name, hand and scale of a sheet for its title block, and what is inside its frame."""


def _bodies(subject: Subject, layouts: tuple[Sequence[ElevationLayout], Sequence[ElevationLayout]]) -> Iterator[_Body]:
    numbered = list(enumerate((*layouts[0], *layouts[1]), _KEY_SHEETS + 1))
    places = [*_rail_sheets(subject, layouts[0], _KEY_SHEETS + 1)]
    places += _rail_sheets(subject, layouts[1], _KEY_SHEETS + 1 + len(places))
    key, *more = _key_bodies(subject, (places[0], places[-1]))
    yield key
    for place, (_, layout) in zip(places, numbered, strict=True):
        side = SIDES[layout.side]
        yield f"Hole pattern, {side} rail", side, f"1:{SCALE}", elevation_items(subject, layout, place)
    yield from more
    lists = {"Components": component_pages(subject), "Findings": finding_pages(subject, ringed_on(numbered))}
    for name, pages in lists.items():
        for page in pages:
            yield name, _BOTH, "-", [*page, *notes()]


def _key_bodies(subject: Subject, sheets: tuple[RailSheets, RailSheets]) -> list[_Body]:
    """The key sheet, and the sheets that the hole chart runs on to."""
    key, free = key_items(subject, sheets)
    chart, *more = hole_chart_pages(subject, free, STRIP_TOP + 4)
    left = FRAME_RIGHT - DATA_WIDTH
    aside = [*section_sketch(subject, left - 42, free - 3), *data_table(subject, left, free, STRIP_TOP + 4)]
    items = [*key, Text(FRAME_LEFT + 3, free + 3, "Hole chart", MIDDLE, bold=True), *chart, *aside, *notes()]
    first = ("Frame side rails, key", _BOTH, f"1:{key_scale(subject)}", items)
    return [first, *(("Hole chart", _BOTH, "-", [*page, *notes()]) for page in more)]


def _rail_sheets(subject: Subject, layouts: Sequence[ElevationLayout], first: int) -> list[RailSheets]:
    rail = subject.plan.order.rail
    cuts = (rail.front, *(layout.stretch.start for layout in layouts[1:]), rail.rear)
    return [RailSheets(cuts, first, index) for index in range(len(layouts))]
