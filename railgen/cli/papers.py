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
    from railgen.pipeline import Paper

_PARTS = tuple(f"{side}-{part}" for part in ("rail", "liner") for side in ("LH", "RH"))


@click.command()
@orders_argument
@library_option
@limits_option
@output_option
@click.option(
    "--kind", "kinds", metavar="KIND,...", help="route-card, kit, jig, drawing (default: all, in this order)."
)
@click.option(
    "--part", type=click.Choice(_PARTS), help="Print the route card of this part alone, as one to print again."
)
@wording_option
def command(
    orders: tuple[Path, ...],
    library: str | None,
    limits: str | None,
    output: Path,
    kinds: str | None,
    part: str | None,
) -> None:
    """Print the papers of each ORDER (a TOML file, or a bank as CSV) into one PDF in DIR, in build order.

    Build order is by build date, then by serial. The file is DIR/papers.pdf; of one order DIR/SERIAL-papers.pdf. With
    an error finding only a serial's drawing is printed, marked NOT FOR PRODUCTION.
    """
    from railgen.bank.papers import NothingPrinted, print_papers
    from railgen.bank.run import in_build_order
    from railgen.cli.work import console, leave
    from railgen.data.messages import InputError
    from railgen.formats.names import papers_name

    printing = _printing(kinds, part, limits)
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
    target = output / papers_name(given[0].serial if len(given) == 1 else "", part or "")
    try:
        pages = print_papers(given, catalogue, printing, target, watch)
        screen.print(f"written: {target} ({pages} pages)", highlight=False)
    except NothingPrinted:
        screen.print("nothing to print: no file was written")
    except InputError as error:
        report(error)
        status = WRONG_INPUT
    leave(status)


def _printing(kinds: str | None, part: str | None, limits: str | None) -> Printing:
    """What is asked for, or exit status 2 with what is wrong with it."""
    from railgen.bank.papers import Printing
    from railgen.data.messages import InputError, Problem
    from railgen.pipeline import PAPERS

    if part is not None:
        if kinds not in (None, "route-card"):
            found, allowed = (
                f"--kind {kinds} with --part {part}",
                "route-card: the other papers are of the whole serial",
            )
            report(InputError([Problem("railgen papers", "--kind", found, allowed)]))
            sys.exit(WRONG_INPUT)
        side, _, name = part.partition("-")
        return Printing(("route-card",), ("rail" if name == "rail" else "liner", side), limits)
    return Printing(PAPERS if kinds is None else _named(kinds), None, limits)


def _named(kinds: str) -> tuple[Paper, ...]:
    """Papers by name, each once, in the order asked for; exit status 2 for a name that is none."""
    from railgen.cli.work import refuse_unknown
    from railgen.pipeline import PAPERS

    names = tuple(dict.fromkeys(name.strip() for name in kinds.split(",")))
    refuse_unknown(names, dict.fromkeys(PAPERS), "railgen papers --kind", "paper")
    return tuple(name for wanted in names for name in PAPERS if name == wanted)
