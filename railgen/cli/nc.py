"""``railgen nc``: programs for the press, and what the press is set by."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from railgen.cli.common import (
    WRONG_INPUT,
    json_option,
    library_option,
    limits_option,
    open_catalogue,
    orders_argument,
    output_option,
    report,
    wording_option,
)
from railgen.data.findings import has_errors
from railgen.data.messages import InputError, Problem
from railgen.data.order_input import OrderInput
from railgen.layout.plan import SerialPlan

if TYPE_CHECKING:
    from rich.table import Table

    from railgen.data.library import Library
    from railgen.shop.hit_order import HitOrder


@click.command()
@orders_argument
@click.option("--press", metavar="ID", help="Another press of the library than the one it makes files for.")
@library_option
@limits_option
@output_option
@click.option("--zip", "zipped", is_flag=True, help="Pack each serial's files into DIR/SERIAL.zip too.")
@wording_option
@json_option
def command(
    orders: tuple[Path, ...],
    press: str | None,
    library: str | None,
    limits: str | None,
    output: Path,
    zipped: bool,
    as_json: bool,
) -> None:
    """Order the hits of each blank of each ORDER, and write what goes to the press in place of the folder DIR/SERIAL.

    A program a blank as the press's post-processor has it, the setup sheet, cut files and hole table: what railgen
    build writes, less the drawing and the cards. Shows for each blank the cycle time with its parts, the least that any
    order could take, and the gap to it. With an error finding no program is written.
    """
    from railgen.cli.show import show_archive, show_plan, summary
    from railgen.cli.work import console, for_each_order, leave
    from railgen.formats.archive import remove_archive, write_archive
    from railgen.formats.folder import write_folder
    from railgen.pipeline import Choices, press_orders, serial_files

    catalogue, screen = open_catalogue(library, press), console()
    _refuse_without_post(catalogue.library)
    choices, shown = Choices(kinds=("holes", "findings", "cut", "nc")), list[dict[str, object]]()

    def work(planned: SerialPlan, given: OrderInput) -> None:
        held_back = has_errors(planned.findings)
        found = () if held_back else press_orders(planned)
        files = serial_files(planned, given.name, given.sha256, choices, found)
        folder = write_folder(output, planned.serial, files)
        archive = write_archive(output, planned.serial, files) if zipped else None
        removed = None if zipped else remove_archive(output, planned.serial)
        if as_json:
            shown.extend(_row(one) for one in found)
            return
        if held_back:
            show_plan(screen, planned)
        else:
            screen.print(summary(planned), highlight=False)
            screen.print(_table(found))
            for line in _due(found):
                screen.print(f"[yellow]{line}[/yellow]", highlight=False)
        screen.print(f"written: {folder}{' (no programs: see the errors)' if held_back else ''}", highlight=False)
        show_archive(screen, archive, removed)

    status = for_each_order(orders, catalogue, limits, work, "ordering hits")
    if as_json:
        click.echo(json.dumps(shown, indent=2))
    leave(status)


def _refuse_without_post(library: Library) -> None:
    """Exit status 2 where nothing says how the press's programs are written."""
    press = library.press
    if press.post is None:
        file, hint = library.files[f"presses/{press.id}"], "Name one of the library's posts/*.toml."
        report(InputError([Problem(file, "post", "nothing", "the post-processor that writes its programs", hint)]))
        sys.exit(WRONG_INPUT)


def _row(found: HitOrder) -> dict[str, object]:
    """One blank's order as plain data: seconds, shares."""
    hits, cycle = found.hits, found.cycle
    return {
        "serial": hits.work.plan.serial,
        "side": hits.work.side,
        "part": hits.work.part,
        "press": hits.press.id,
        "hits": len(hits),
        "tools": len(hits.stations),
        "cycle_s": cycle.total,
        "load_s": cycle.load,
        "moves_s": cycle.moves,
        "changes_s": cycle.changes,
        "hits_s": cycle.hits,
        "clamps_s": cycle.repositions,
        "mounting_s": cycle.mountings,
        "least_cycle_s": found.least_cycle,
        "gap": found.gap,
        "plain_cycle_s": found.plain.total,
        "gained": found.gained,
    }


def _due(orders: Sequence[HitOrder]) -> Iterator[str]:
    """Tools that pass their limit of hits before a blank is done."""
    from railgen.shop.station_uses import station_uses

    for found in orders:
        work = found.hits.work
        for use in station_uses(found):
            if use.due:
                tool = use.station.tool
                yield (
                    f"regrind due: {tool.id} on the {work.side} {work.part}, {use.hits_after} hits since the last, "
                    f"at most {tool.regrind_limit}"
                )


def _table(orders: Sequence[HitOrder]) -> Table:
    """A row a blank: cycle time, its parts, and how near it is to the least."""
    from rich.table import Table

    table = Table(pad_edge=False, header_style="bold", title="cycle time, s", title_justify="left")
    table.add_column("blank")
    heads = ("hits", "tools", "cycle", "load", "moves", "changes", "hitting", "clamps", "mounting", "at least")
    for head in (*heads, "gap", "plain order", "of possible gain"):
        table.add_column(head, justify="right")
    for found in orders:
        hits, cycle = found.hits, found.cycle
        parts = (cycle.load, cycle.moves, cycle.changes, cycle.hits, cycle.repositions, cycle.mountings)
        times = [f"{value:.1f}" for value in (cycle.total, *parts, found.least_cycle)]
        shares = (f"{found.gap:.2%}", f"{found.plain.total:.1f}", f"{found.gained:.0%}")
        table.add_row(f"{hits.work.side} {hits.work.part}", str(len(hits)), str(len(hits.stations)), *times, *shares)
    return table
