"""The flow, in one screen: order and library -> resolve -> place -> hole table -> develop -> check -> write."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal, get_args

from railgen.data.findings import has_errors, in_order
from railgen.data.order import Order
from railgen.formats.dxf import DxfVersion
from railgen.formats.findings_file import findings_json
from railgen.formats.hole_table import hole_table_csv
from railgen.formats.manifest import inputs_of, manifest_json, manifest_of
from railgen.formats.names import (
    MANIFEST,
    cut_file_name,
    drawing_name,
    findings_name,
    holes_name,
    jig_sheet_name,
    kit_card_name,
    kit_table_name,
    route_card_name,
    setup_sheet_name,
    strength_name,
    taper_name,
)
from railgen.frame.rail import Part
from railgen.holes.table import HoleTable, in_file_order
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import Placements, SerialPlan
from railgen.layout.resolve import resolve
from railgen.papers.style import PLAIN, DrawingStyle
from railgen.placing.optimum import place_together
from railgen.placing.placed import Placed
from railgen.rules.check import every_finding
from railgen.rules.pattern import Pattern, pattern_of
from railgen.rules.strength import strength_findings, strength_of
from railgen.shop.kit import stack_findings
from railgen.shop.strings import with_string_tools
from railgen.shop.work_stations import WORK_STATIONS, WorkStation

if TYPE_CHECKING:
    from railgen.formats.more_cut_files import More
    from railgen.shop.hit_order import HitOrder

Placer = Callable[..., Placed]
Kind = Literal["holes", "findings", "cut", "nc", "papers"]
KINDS: tuple[Kind, ...] = get_args(Kind)
"""Kinds of file: hole table, findings, cut files with templates, programs with their setup sheet, drawing and cards."""
Paper = Literal["route-card", "kit", "jig", "drawing", "strength", "setup", "slips"]
PAPERS: tuple[Paper, ...] = get_args(Paper)
"""Papers of a serial, in the order in which they are printed."""
USUAL: tuple[Paper, ...] = ("route-card", "kit", "jig", "drawing", "strength")
"""Papers that are printed where none are named: the others are for one work station alone."""
ALWAYS: tuple[Paper, ...] = ("drawing", "strength")
"""Papers that no error finding holds back: they show what is wrong."""


@dataclass(frozen=True)
class Choices:
    """What the command line may choose about the files."""

    dxf: DxfVersion = "R12"
    pictures: tuple[str, ...] = ()
    kinds: tuple[Kind, ...] = KINDS
    more: tuple[More, ...] = ()
    drawing: DrawingStyle = PLAIN


def plan(order: Order, catalogue: Catalogue, file: str = "order", placer: Placer = place_together) -> SerialPlan:
    """One serial planned and checked; ``file`` names the order in messages.

    Raises InputError where the order cannot be used.
    """
    resolved = resolve(order, catalogue.library, file)
    placed = placer(resolved, catalogue)
    pattern = placed.pattern
    tools = with_string_tools(placed.holes, catalogue.library.press, pattern.thickness, pattern.own_tools)
    holes = in_file_order(placed.holes.with_columns(tool=tools))
    strength = strength_findings(pattern)
    findings = in_order([*resolved.findings, *placed.findings, *strength, *stack_findings(resolved, holes)])
    return SerialPlan(resolved, placed.placements, holes, findings)


def with_remedies(planned: SerialPlan, catalogue: Catalogue) -> SerialPlan:
    """The plan; findings between components say what would put them right: a shift, a window, a size, or nothing."""
    from railgen.layout.features import hole_table
    from railgen.placing.remedies import with_remedies as searched
    from railgen.placing.shifts import Checks

    order = planned.order

    def pattern(placed: Placements, holes: HoleTable | None) -> Pattern:
        return pattern_of(order, hole_table(order, catalogue, placed) if holes is None else holes, placed)

    checks = Checks(
        shapes=lambda placed, holes: every_finding(pattern(placed, holes)),
        strength=lambda placed, holes: strength_findings(pattern(placed, holes)),
    )
    return replace(planned, findings=searched(order, catalogue, planned.placements, planned.findings, checks))


def serial_files(
    planned: SerialPlan, name: str, sha256: str, choices: Choices, orders: Sequence[HitOrder] | None = None
) -> dict[str, bytes]:
    """The files of a serial that are asked for, by name, and their manifest; name and sha256: of the order's input.

    With an error finding there is nothing to cut from: no cut file, no template, no program, no paper but the drawing.
    ``orders``: as ``press_orders`` found them, where that was done already.
    """
    kinds, held_back = choices.kinds, has_errors(planned.findings)
    files = checked_files(planned, kinds)
    # Most of the search for orders is machine code, beside which papers can be drawn.
    with ThreadPoolExecutor(1) as aside:
        search = aside.submit(press_orders, planned) if "nc" in kinds and not held_back and orders is None else None
        if "papers" in kinds:
            files |= drawings(planned, choices)
        if "cut" in kinds and not held_back:
            files |= cut_files(planned, choices.dxf, choices.more)
        if "papers" in kinds and not held_back:
            files |= cards(planned)
        if "nc" in kinds and not held_back:
            files |= press_files(planned, search.result() if search else orders or ())
    order = planned.order
    inputs = inputs_of(name, sha256, order.library) | _wording_inputs(kinds)
    settings = {"limits": order.limit_set, "dxf": choices.dxf, "revision": order.order.revision}
    settings["library_revision"] = order.library.about.revision
    if "nc" in kinds:
        settings["press"] = order.library.press.id
    if kinds != KINDS:
        settings["written"] = ", ".join(kinds)
    if choices.more:
        settings["more"] = ", ".join(choices.more)
    if choices.drawing != PLAIN:
        settings["drawing"] = f"{choices.drawing.units}, {choices.drawing.projection}-angle projection"
    return files | {MANIFEST: manifest_json(manifest_of(planned.serial, files, inputs, settings))}


def _wording_inputs(kinds: Collection[Kind]) -> dict[str, str]:
    """The digest of the file that papers have their words from, unless it is the program's own."""
    if "papers" not in kinds:
        return {}
    from railgen.papers.wording import wording

    return {f"wording/{wording().name}": wording().sha256} if wording().name else {}


def checked_files(planned: SerialPlan, kinds: Collection[Kind] = KINDS) -> dict[str, bytes]:
    """The hole table and the findings, those of the two that are asked for."""
    files, serial = {}, planned.serial
    if "holes" in kinds:
        files[holes_name(serial)] = hole_table_csv(serial, planned.holes)
    if "findings" in kinds:
        files[findings_name(serial)] = findings_json(planned.findings)
    return files


def cut_files(planned: SerialPlan, version: DxfVersion, more: tuple[More, ...] = ()) -> dict[str, bytes]:
    """The cut files of rails and liners, the taper's templates, and more files to cut from where asked for."""
    from railgen.formats.cut_file import cut_file
    from railgen.formats.feet import web_feet
    from railgen.formats.more_cut_files import more_cut_files
    from railgen.formats.taper_template import taper_file

    order, files = planned.order, {}
    for side in ("LH", "RH"):
        feet = web_feet(order, planned.placements, side)
        files[cut_file_name(order.serial, side, "rail")] = cut_file(order, planned.holes, side, "rail", feet, version)
        if order.rail.liner:
            liner = cut_file(order, planned.holes, side, "liner", feet, version)
            files[cut_file_name(order.serial, side, "liner")] = liner
        if order.rail.taper:
            files[taper_name(order.serial, side)] = taper_file(order, side, version)
    return files | more_cut_files(planned, more, version)


def press_orders(planned: SerialPlan) -> tuple[HitOrder, ...]:
    """The hits of every blank in order; raises InputError naming all that the press cannot make."""
    from railgen.formats.nc_files import blank_orders

    return blank_orders(planned)


def press_files(planned: SerialPlan, orders: Sequence[HitOrder]) -> dict[str, bytes]:
    """What the press is set and run by: a program a blank, the press itself, the setup sheet; none without a hit."""
    from railgen.formats.nc_files import program_files
    from railgen.papers.setup_sheet import setup_sheet_pdf

    if not orders:
        return {}
    return program_files(planned, orders) | {setup_sheet_name(planned.serial): setup_sheet_pdf(orders)}


def drawings(planned: SerialPlan, choices: Choices) -> dict[str, bytes]:
    """The drawing and the strength sheets as PDF; as DXF, and sheet by sheet as pictures, where they are asked for."""
    from railgen.papers.drawing import draw, drawing_pictures, pdf_of
    from railgen.papers.strength_sheets import strength_files

    drawing = draw(planned, choices.drawing)
    files = {drawing_name(planned.serial): pdf_of(drawing)}
    if "dxf" in choices.pictures:
        from railgen.papers.dxf import write_dxf

        files[drawing_name(planned.serial, "dxf")] = write_dxf(drawing.sheets)
    for ending in (ending for ending in choices.pictures if ending != "dxf"):
        for sheet, picture in enumerate(drawing_pictures(drawing, ending), 1):
            files[drawing_name(planned.serial, ending, sheet)] = picture
    return files | strength_files(planned, strength_of(planned), choices.pictures)


def cards(planned: SerialPlan) -> dict[str, bytes]:
    """The papers that work is done by, besides the drawing: route card, fastener kit with its table, jig sheet."""
    from railgen.formats.kit_file import kit_csv
    from railgen.papers.jig_sheet import write_jig_sheet
    from railgen.papers.kit_card import write_kit_card
    from railgen.papers.route_card import write_route_card
    from railgen.shop.kit import kit_lines, kit_of

    serial = planned.serial
    return {
        route_card_name(serial): write_route_card(planned),
        kit_card_name(serial): write_kit_card(planned),
        jig_sheet_name(serial): write_jig_sheet(planned),
        kit_table_name(serial): kit_csv(kit_lines(kit_of(planned))),
    }


def paper(
    planned: SerialPlan,
    name: Paper,
    only: Collection[tuple[Part, str]] | None = None,
    at: Collection[WorkStation] = WORK_STATIONS,
) -> bytes | None:
    """One paper of a serial as a PDF, None where the serial has no such; only: of route card and slips, the parts with
    their sides; at: of slips, the work stations.
    """
    if name == "slips":
        from railgen.papers.slips import write_slips

        return write_slips(planned, only, at)
    if name == "setup":
        from railgen.papers.setup_sheet import setup_sheet_pdf

        orders = press_orders(planned)
        return setup_sheet_pdf(orders) if orders else None
    if name == "strength":
        from railgen.papers.strength_sheets import strength_files

        return strength_files(planned, strength_of(planned)).get(strength_name(planned.serial))
    if name == "drawing":
        from railgen.papers.drawing import drawing_pdf

        return drawing_pdf(planned)
    if name == "kit":
        from railgen.papers.kit_card import write_kit_card

        return write_kit_card(planned)
    if name == "jig":
        from railgen.papers.jig_sheet import write_jig_sheet

        return write_jig_sheet(planned)
    from railgen.papers.route_card import write_route_card

    return write_route_card(planned, only)
