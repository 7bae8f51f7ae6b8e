"""The flow, in one screen: order and library -> resolve -> place -> hole table -> develop -> check -> write."""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

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
    route_card_name,
    taper_name,
)
from railgen.holes.table import PARTS, in_file_order
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import SerialPlan
from railgen.layout.resolve import resolve
from railgen.placing.greedy import Placed, place_greedily
from railgen.shop.tools import assign_tools

Placer = Callable[..., Placed]
Kind = Literal["holes", "findings", "cut", "papers"]
KINDS: tuple[Kind, ...] = get_args(Kind)
"""Kinds of file: the hole table, the findings, cut files with their templates, drawing and cards."""


@dataclass(frozen=True)
class Choices:
    """What the command line may choose about the files."""

    dxf: DxfVersion = "R12"
    pictures: tuple[str, ...] = ()
    kinds: tuple[Kind, ...] = KINDS


def plan(order: Order, catalogue: Catalogue, file: str = "order", placer: Placer = place_greedily) -> SerialPlan:
    """One serial planned and checked; ``file`` names the order in messages.

    Raises InputError where the order cannot be used.
    """
    resolved = resolve(order, catalogue.library, file)
    placed = placer(resolved, catalogue)
    thickness = np.array([resolved.thickness_of(part) for part in PARTS])[placed.holes.part]
    tools = assign_tools(placed.holes, catalogue.library.press, thickness)
    holes = in_file_order(placed.holes.with_columns(tool=tools))
    findings = in_order([*resolved.findings, *placed.findings])
    return SerialPlan(resolved, placed.placements, holes, findings)


def serial_files(planned: SerialPlan, name: str, sha256: str, choices: Choices) -> dict[str, bytes]:
    """The files of a serial that are asked for, by name, and their manifest; name and sha256: of the order's input.

    With an error finding there is nothing to cut from: no cut file, no template, no route card.
    """
    kinds = choices.kinds
    files = checked_files(planned, kinds)
    if "papers" in kinds:
        files |= drawings(planned, choices)
    if "cut" in kinds and not has_errors(planned.findings):
        files |= cut_files(planned, choices.dxf)
    if "papers" in kinds and not has_errors(planned.findings):
        files |= route_card(planned)
    order = planned.order
    inputs = inputs_of(name, sha256, order.library)
    settings = {"limits": order.limit_set, "dxf": choices.dxf, "revision": order.order.revision}
    settings["library_revision"] = order.library.about.revision
    if kinds != KINDS:
        settings["written"] = ", ".join(kinds)
    return files | {MANIFEST: manifest_json(manifest_of(planned.serial, files, inputs, settings))}


def checked_files(planned: SerialPlan, kinds: Collection[Kind] = KINDS) -> dict[str, bytes]:
    """The hole table and the findings, those of the two that are asked for."""
    files, serial = {}, planned.serial
    if "holes" in kinds:
        files[holes_name(serial)] = hole_table_csv(serial, planned.holes)
    if "findings" in kinds:
        files[findings_name(serial)] = findings_json(planned.findings)
    return files


def cut_files(planned: SerialPlan, version: DxfVersion) -> dict[str, bytes]:
    """The cut files of rails and liners, and the taper's templates."""
    from railgen.formats.cut_file import cut_file
    from railgen.formats.feet import web_feet
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
    return files


def drawings(planned: SerialPlan, choices: Choices) -> dict[str, bytes]:
    """The drawing as PDF, and its sheets as pictures where they are asked for."""
    from railgen.papers.drawing import drawing_pdf, drawing_pictures

    files = {drawing_name(planned.serial): drawing_pdf(planned)}
    for ending in choices.pictures:
        for sheet, picture in enumerate(drawing_pictures(planned, ending), 1):
            files[drawing_name(planned.serial, ending, sheet)] = picture
    return files


def route_card(planned: SerialPlan) -> dict[str, bytes]:
    """The route card of all parts."""
    from railgen.papers.route_card import write_route_card

    return {route_card_name(planned.serial): write_route_card(planned)}
