"""The strength of one serial on paper: bending of each rail, rated joints, hole criticality. For the designer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from railgen.formats.names import strength_name
from railgen.frame.measure import GRAVITY
from railgen.holes.table import SIDES
from railgen.layout.plan import SerialPlan
from railgen.papers.drawing import drawing_pictures
from railgen.papers.pdf import write_pdf
from railgen.papers.sheet import Drawing, Item, Sheet
from railgen.papers.strength_bending import bending_items
from railgen.papers.strength_holes import hole_pages
from railgen.papers.strength_joints import joint_pages
from railgen.papers.strip_notes import strip_notes
from railgen.papers.title_block import SheetTitle, sheet_frame, title_block
from railgen.papers.wording import say
from railgen.rules.strength import Strength
from railgen.strength.bending import RailBending

_Body = tuple[str, str, Sequence[Item]]
"""Name and hand of a sheet, and what is inside its frame."""


def strength_files(plan: SerialPlan, strength: Strength, pictures: Sequence[str] = ()) -> dict[str, bytes]:
    """The strength sheets by file name: as PDF, and as "dxf" or as a picture a sheet ("png", "svg") where asked for.

    Nothing where the serial has neither [loads] nor a rated joint. The same plan gives the same bytes.
    """
    drawing, serial = draw_strength(plan, strength), plan.serial
    if drawing is None:
        return {}
    files = {strength_name(serial): write_pdf(drawing.sheets, say("subject.strength", serial=serial))}
    for ending in dict.fromkeys(pictures):
        if ending == "dxf":
            from railgen.papers.dxf import write_dxf

            files[strength_name(serial, "dxf")] = write_dxf(drawing.sheets)
            continue
        for sheet, picture in enumerate(drawing_pictures(drawing, ending), 1):
            files[strength_name(serial, ending, sheet)] = picture
    return files


def draw_strength(plan: SerialPlan, strength: Strength) -> Drawing | None:
    """All strength sheets of a planned serial; None where it has neither [loads] nor a rated joint."""
    bodies = list(_bodies(plan, strength))
    if not bodies:
        return None
    sheets = []
    for number, (name, hand, items) in enumerate(bodies, 1):
        title = SheetTitle(name, hand, say("title.no_scale"), number, len(bodies), part="strength")
        sheets.append(Sheet(f"{number} {name}", (*sheet_frame(plan), *items, *title_block(plan, title))))
    return Drawing(plan.serial, tuple(sheets))


def _bodies(plan: SerialPlan, strength: Strength) -> Iterator[_Body]:
    both = say("title.both_hands")
    for rail in strength.bending:
        side = SIDES[rail.loads.side]
        items = [*bending_items(plan, strength, rail), *strip_notes(_bending_notes(plan, rail))]
        yield say("strength.bending_sheet", side=side), side, items
    for page in joint_pages(plan, strength.joints):
        yield say("strength_joint.sheet"), both, [*page, *strip_notes(_said("joint", ("group", "modes", "clamp")))]
    for page in hole_pages(plan, strength.criticality):
        yield say("strength_hole.sheet"), both, [*page, *strip_notes(_said("hole", ("nominal", "factor", "meaning")))]


def _said(table: str, keys: Sequence[str]) -> list[str]:
    return [say(f"strength_{table}.note_{key}") for key in keys]


def _bending_notes(plan: SerialPlan, rail: RailBending) -> list[str]:
    loads = rail.loads
    components = float(loads.loads.point_force.sum()) / GRAVITY
    given = plan.order.order.loads
    body = given.body_mass / 2 if given else 0.0
    own = loads.loads.total / GRAVITY - components - body
    return [
        say("strength.note_masses", own=own, components=components, body=body, total=loads.loads.total / 1e3),
        say("strength.note_reactions", front=loads.front / 1e3, rear=loads.rear / 1e3),
        say("strength.note_method", factor=loads.dynamic_factor),
        say("strength.note_resists"),
    ]
