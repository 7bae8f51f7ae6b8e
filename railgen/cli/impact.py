"""``railgen impact``: what a change of the library does to the orders of a bank."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from railgen.cli.common import (
    CLEAN,
    ERROR_FINDING,
    WRONG_INPUT,
    json_option,
    limits_option,
    open_catalogue,
    orders_in,
    report,
)
from railgen.data.messages import InputError

if TYPE_CHECKING:
    from rich.console import Console

    from railgen.records.impact import Impact

_MOST = 30
_FOLDER = "impact"


@click.command()
@click.argument("before", metavar="LIBRARY_OLD")
@click.argument("after", metavar="LIBRARY_NEW")
@click.option(
    "--orders",
    metavar="BANK",
    multiple=True,
    required=True,
    type=click.Path(path_type=Path),
    help="The orders of a bank, a folder or a file; may be given more than once.",
)
@click.option(
    "--released",
    metavar="LIST",
    type=click.Path(path_type=Path),
    help="Serials whose rails are punched already: a CSV with a column serial.",
)
@limits_option
@click.option("--output", metavar="DIR", type=click.Path(path_type=Path), help="Write a page and tables under DIR too.")
@json_option
def command(
    before: str,
    after: str,
    orders: tuple[Path, ...],
    released: Path | None,
    limits: str | None,
    output: Path | None,
    as_json: bool,
) -> None:
    """Plan the orders of BANK with LIBRARY_OLD and LIBRARY_NEW: which serials change, how, and from which on they may.

    Exit status 0: nothing changes; 1: something does; 2: a library, an order or the list cannot be used.
    """
    from railgen.cli.work import console, leave
    from railgen.formats.folder import write_folder
    from railgen.records.impact import impact_of, read_released
    from railgen.records.impact_files import impact_data, impact_files

    old, new = (open_catalogue(folder) for folder in (before, after))
    try:
        punched = read_released(released) if released else ()
        impact = impact_of(old, new, orders_in(orders, limits), punched)
        files = impact_files(impact) if output else {}
        written = [write_folder(output, _FOLDER, files) / name for name in files] if output else []
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)
    if as_json:
        click.echo(json.dumps(impact_data(impact), indent=2))
    else:
        _show(console(), impact)
        for file in written:
            click.echo(f"written: {file}")
    refused = any(one.state == "refused" for one in impact.serials)
    leave(WRONG_INPUT if refused else ERROR_FINDING if impact.differs else CLEAN)


def _show(screen: Console, impact: Impact) -> None:
    from railgen.records.impact import STATES
    from railgen.records.impact_files import effect_words, families

    states = [(state, sum(one.state == state for one in impact.serials)) for state in STATES]
    told = ", ".join(f"{count:,} {state}" for state, count in states if count)
    screen.print(f"[bold]{len(impact.serials):,} orders[/bold]: {told}")
    _show_components(screen, impact)
    _show_findings(screen, impact)
    for one in impact.serials:
        for problem in one.problems[:1]:
            screen.print(f"{one.serial}: {one.state}: {problem}", markup=False)
    if any(one.is_released for one in impact.serials):
        broken = [one.serial for one in impact.broken]
        more = f" and {len(broken) - _MOST} more" if len(broken) > _MOST else ""
        screen.print(f"punched rails that would no longer match: {', '.join(broken[:_MOST]) or 'none'}{more}")
    if impact.not_in_bank:
        screen.print(f"punched, but not in the bank: {', '.join(impact.not_in_bank)}")
    for family in families(impact):
        screen.print(f"{family}: the change can take effect {effect_words(impact, family)}")


def _show_components(screen: Console, impact: Impact) -> None:
    from rich.table import Table

    from railgen.records.compare import KINDS

    if not impact.components:
        return
    table = Table(pad_edge=False, header_style="bold", title="Holes by component", title_justify="left")
    table.add_column("component", overflow="fold")
    for name in ("serials", "punched", *KINDS):
        table.add_column(name, justify="right")
    table.add_column("can take effect from", overflow="fold")
    for one in impact.components:
        counts = (str(one.counts[kind] or "") for kind in KINDS)
        effect = ", ".join(one.take_effect) or "any serial"
        table.add_row(one.component, str(len(one.serials)), str(len(one.released)), *counts, effect)
    screen.print(table)


def _show_findings(screen: Console, impact: Impact) -> None:
    from rich.table import Table

    if not impact.findings:
        return
    table = Table(pad_edge=False, header_style="bold", title="Findings that come and go", title_justify="left")
    for name in ("", "rule", "measure", "severity", "findings", "in serials"):
        table.add_column(name, justify="right" if name in ("findings", "in serials") else "left")
    for row in impact.findings:
        table.add_row(*map(str, row))
    screen.print(table)
