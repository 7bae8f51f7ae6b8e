"""``railgen freezone``: where one more hole may go in the rails of an order, or whether it may at one place."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from railgen.cli.common import (
    CLEAN,
    ERROR_FINDING,
    WRONG_INPUT,
    json_option,
    library_option,
    limits_option,
    one_order,
    open_catalogue,
    output_option,
    report,
    wording_option,
)
from railgen.data.messages import InputError, Problem

if TYPE_CHECKING:
    from railgen.data.library import Library
    from railgen.layout.plan import SerialPlan
    from railgen.placing.added_hole import AddedHole

_PLACE = "railgen freezone"
_SIDES = ("LH", "RH")
_LARGEST = 1000.0  # mm
F = TypeVar("F", bound=Callable[..., Any])


def _place(_: click.Context, __: click.Parameter, value: str | None) -> tuple[float, float] | None:
    if value is None:
        return None
    parts = value.split(",")
    try:
        station, across = (float(part) for part in parts)
    except ValueError:
        raise click.BadParameter(f"{value!r} is not STATION,ACROSS, two numbers in mm") from None
    return station, across


def zone_options(function: F) -> F:
    """What may be asked about one more hole."""
    for option in reversed(_OPTIONS):
        function = option(function)
    return function


_OPTIONS: tuple[Callable[[Any], Any], ...] = (
    click.option("--diameter", type=float, metavar="MM", help="Of the hole (default: the fastener's medium hole)."),
    click.option("--fastener", metavar="NAME", help="A screw of the library that goes through it, with its washers."),
    click.option(
        "--operation", type=click.Choice(("punch", "drill")), default="punch", show_default=True, help="How it is made."
    ),
    click.option("--side", type=click.Choice(_SIDES), help="Look at one rail alone; with --at LH where left out."),
    click.option(
        "--at", metavar="STATION,ACROSS", callback=_place, help="Ask for one place, mm: z on the web, else y."
    ),
    click.option(
        "--face", type=click.Choice(("web", "top", "bottom")), default="web", show_default=True, help="With --at."
    ),
    click.option("--warnings", is_flag=True, help="Keep clear of warnings, too; without it only errors close a place."),
    click.option(
        "--drawing",
        "pictures",
        type=click.Choice(("png", "svg")),
        multiple=True,
        help="Draw each sheet as a picture, too.",
    ),
    wording_option,
    output_option,
    json_option,
)


@dataclass(frozen=True)
class Question:
    """What is asked about one more hole, as the options have it."""

    diameter: float | None
    fastener: str | None
    operation: str
    side: str | None
    at: tuple[float, float] | None
    face: str
    warnings: bool
    pictures: tuple[str, ...]
    output: Path
    as_json: bool


@click.command()
@click.argument("order", metavar="ORDER", type=click.Path(path_type=Path))
@zone_options
@library_option
@limits_option
def command(order: Path, library: str | None, limits: str | None, **asked: Any) -> None:
    """Show where the centre of one more round hole may lie on the rails of ORDER without breaking a rule.

    Written are DIR/SERIAL-freezone.pdf, .dxf (the areas on layer FREE) and .json. With --at nothing is written: yes, or
    no with the findings, by the check itself. Exit status 0: yes, or some place; 1: no, or nowhere; 2: wrong input.
    """
    from railgen.cli.work import leave
    from railgen.pipeline import plan

    catalogue = open_catalogue(library)
    try:
        given, place = one_order(order, limits, "Ask for one after the other.")
        leave(answer(plan(given, catalogue, place), Question(**asked)))
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)


def answer(planned: SerialPlan, question: Question) -> int:
    """Answer a question about a planned serial; the exit status. Raises InputError for a hole that cannot be."""
    from railgen.cli.work import console

    hole = _hole(planned.order.library, question.diameter, question.fastener, question.operation)
    if question.at is not None:
        return _asked(planned, hole, question.at, question)
    free, lines = _zone(planned, hole, question)
    if not question.as_json:
        for line in lines:
            console().print(line, highlight=False, markup=False)
    return CLEAN if free else ERROR_FINDING


def _hole(library: Library, diameter: float | None, fastener: str | None, operation: str) -> AddedHole:
    """The hole that is asked for; raises InputError naming what is wrong with it."""
    from railgen.data.library import unknown
    from railgen.placing.added_hole import AddedHole

    if fastener is not None:
        if fastener not in library.fasteners:
            raise InputError([unknown(fastener, library.fasteners, _PLACE, "--fastener", "fastener")])
        entry = library.fasteners[fastener]
        if entry.kind != "screw" or entry.holes is None:
            raise InputError(
                [Problem(_PLACE, "--fastener", f"{fastener}, a {entry.kind}", "a screw with a plain hole")]
            )
        diameter = entry.holes.medium if diameter is None else diameter
        if diameter < entry.diameter:
            found = f"{diameter:g} mm"
            raise InputError([Problem(_PLACE, "--diameter", found, f"{entry.diameter:g} mm or more for {fastener}")])
    if diameter is None:
        raise InputError([Problem(_PLACE, "--diameter", "nothing", "a diameter in mm, or --fastener")])
    if not 0 < diameter <= _LARGEST:
        raise InputError([Problem(_PLACE, "--diameter", f"{diameter:g} mm", f"above 0 and at most {_LARGEST:g} mm")])
    return AddedHole(diameter, "drill" if operation == "drill" else "punch", fastener or "")


def _asked(planned: SerialPlan, hole: AddedHole, at: tuple[float, float], question: Question) -> int:
    """Say whether the hole may be at one place; returns the exit status."""
    from railgen.cli.show import findings_table
    from railgen.cli.work import console
    from railgen.data.findings import in_order
    from railgen.formats.json_text import json_bytes
    from railgen.holes.table import FACES, SIDES
    from railgen.placing.added_hole import Adding

    side, face = question.side or _SIDES[0], question.face
    found = in_order(Adding(planned, hole).findings(SIDES.index(side), FACES.index(face), *at))
    closed = any(finding.severity == "error" or question.warnings for finding in found)
    if question.as_json:
        place = {"serial": planned.serial, "side": side, "face": face, "station_mm": at[0], "across_mm": at[1]}
        answer = {**place, "free": not closed, "findings": [finding.as_dict() for finding in found]}
        click.echo(json_bytes(answer).decode(), nl=False)
    else:
        words = f"{planned.serial} {side} {face} at {at[0]:g}, {at[1]:g}: hole of {hole.diameter:g} mm"
        console().print(f"{words}: {'no' if closed else 'yes'}", highlight=False)
        if found:
            console().print(findings_table(found))
    return ERROR_FINDING if closed else CLEAN


def _zone(planned: SerialPlan, hole: AddedHole, question: Question) -> tuple[bool, list[str]]:
    """Compute the free zone and write its files; whether there is any, and what to say."""
    from railgen.formats.folder import write_whole
    from railgen.formats.free_zone_file import free_zone_data, free_zone_dxf
    from railgen.formats.json_text import json_bytes
    from railgen.formats.names import free_zone_name
    from railgen.papers.free_zone_sheet import free_zone_files
    from railgen.placing.free_zone import free_zone

    sides = (question.side,) if question.side else _SIDES
    zone = free_zone(planned, hole, sides, question.warnings)
    data = json_bytes(free_zone_data(planned.serial, zone))
    files = free_zone_files(planned, zone, sides, question.pictures)
    files[free_zone_name(planned.serial, "dxf")] = free_zone_dxf(planned, zone, sides)
    files[free_zone_name(planned.serial, "json")] = data
    lines = []
    for side in sides:
        for face in ("web", "top", "bottom"):
            areas = [area.polygon.area for area in zone.areas if (area.side, area.face) == (side, face)]
            lines.append(f"{side} {face}: {len(areas)} areas, {sum(areas) / 1e4:.1f} dm2")
    if zone.refused:
        lines.append(f"no place anywhere: {', '.join(zone.refused)}")
    for name, content in files.items():
        write_whole(question.output / name, content)
        lines.append(f"written: {question.output / name}")
    if question.as_json:
        click.echo(data.decode(), nl=False)
    return bool(zone.areas), lines
