"""``railgen papers``: papers of many serials as one PDF in build order, or one part's route card again."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from railgen.cli.common import (
    CLEAN,
    ERROR_FINDING,
    WRONG_INPUT,
    library_option,
    limits_option,
    open_catalogue,
    orders_argument,
    output_option,
    report,
    wording_option,
)

if TYPE_CHECKING:
    from railgen.bank.papers import Printed, Printing
    from railgen.frame.rail import Part

_PLACE = "railgen papers"
_PARTS = tuple(f"{side}-{part}" for part in ("rail", "liner") for side in ("LH", "RH"))


@click.command()
@orders_argument
@library_option
@limits_option
@output_option
@click.option(
    "--kind",
    "kinds",
    metavar="KIND,...",
    help="route-card, kit, jig, drawing, strength (default: these, in this order); or setup, slips.",
)
@click.option(
    "--station",
    "stations",
    metavar="STATION,...",
    help="Print slips for these work stations alone: cutting, punching, drilling, forming, welding, inspection, "
    "peening, coating, racking.",
)
@click.option(
    "--part",
    type=click.Choice(_PARTS),
    help="Print the route card of this part alone, as one to print again; or its slips.",
)
@wording_option
def command(
    orders: tuple[Path, ...],
    library: str | None,
    limits: str | None,
    output: Path,
    kinds: str | None,
    stations: str | None,
    part: str | None,
) -> None:
    """Print the papers of each ORDER (a TOML file, or a bank as CSV) into one PDF in DIR, in build order.

    Build order is by build date, then by serial. The file is DIR/papers.pdf, of one order DIR/SERIAL-papers.pdf; of
    slips alone slips.pdf, SERIAL-slips.pdf. With an error finding only a serial's drawing and strength sheets are
    printed, marked NOT FOR PRODUCTION.

    A slip tells one work station all that it needs for one part, and nothing else: --station forming prints the day's
    slips for forming, in build order.
    """
    from railgen.bank.papers import NothingPrinted, print_papers
    from railgen.bank.run import in_build_order
    from railgen.cli.work import console, leave, with_progress
    from railgen.data.messages import InputError
    from railgen.formats.names import papers_name

    printing = _printing(kinds, stations, part, limits)
    catalogue, screen, status = open_catalogue(library), console(), CLEAN

    def watch(printed: Printed) -> None:
        nonlocal status
        if printed.error is not None:
            report(printed.error)
            status = max(status, WRONG_INPUT)
        elif printed.held_back:
            screen.print(f"{printed.serial}: no {', '.join(printed.held_back)}: see its error findings")
            status = max(status, ERROR_FINDING)

    given = in_build_order(orders)
    what = "papers" if printing.papers != ("slips",) else "-".join(("slips", *(printing.at if stations else ())))
    target = output / papers_name(given[0].serial if len(given) == 1 else "", part or "", what)
    try:
        pages = print_papers(with_progress(given, "printing"), catalogue, printing, target, watch)
        screen.print(f"written: {target} ({pages} pages)", highlight=False)
    except NothingPrinted:
        screen.print("nothing to print: no file was written")
    except InputError as error:
        report(error)
        status = WRONG_INPUT
    leave(status)


def _printing(kinds: str | None, stations: str | None, part: str | None, limits: str | None) -> Printing:
    """What is asked for, or exit status 2 with what is wrong with it."""
    from railgen.bank.papers import Printing
    from railgen.cli.work import refuse_unknown
    from railgen.pipeline import PAPERS, USUAL
    from railgen.shop.work_stations import WORK_STATIONS

    named = None if kinds is None else _split(kinds)
    at = WORK_STATIONS if stations is None else _split(stations)
    refuse_unknown(named or (), dict.fromkeys(PAPERS), f"{_PLACE} --kind", "paper")
    refuse_unknown(at, dict.fromkeys(WORK_STATIONS), f"{_PLACE} --station", "work station")
    if stations is not None and named not in (None, ("slips",)):
        _refuse("--kind", f"--kind {kinds} with --station {stations}", "slips: only they are for one work station")
    if part is not None and named not in (None, ("route-card",), ("slips",)):
        allowed = "route-card or slips: the other papers are of the whole serial"
        _refuse("--kind", f"--kind {kinds} with --part {part}", allowed)
    if named is None:
        named = ("slips",) if stations is not None else ("route-card",) if part is not None else USUAL
    papers = tuple(name for wanted in named for name in PAPERS if name == wanted)
    return Printing(papers, _only(part), limits, tuple(name for name in WORK_STATIONS if name in at))


def _only(part: str | None) -> tuple[Part, str] | None:
    """A part with its side, as it is named on the command line."""
    if part is None:
        return None
    side, _, name = part.partition("-")
    return ("rail" if name == "rail" else "liner", side)


def _split(names: str) -> tuple[str, ...]:
    """Names between commas, each once."""
    return tuple(dict.fromkeys(name.strip() for name in names.split(",")))


def _refuse(option: str, found: str, allowed: str) -> None:
    from railgen.data.messages import InputError, Problem

    report(InputError([Problem(_PLACE, option, found, allowed)]))
    sys.exit(WRONG_INPUT)
