"""``railgen verify``: serials' folders read back and held against their hole tables and manifests."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from railgen.cli.common import CLEAN, ERROR_FINDING, WRONG_INPUT, json_option, report
from railgen.data.messages import InputError

if TYPE_CHECKING:
    from rich.console import Console

    from railgen.records.verify import Verified

_MOST_SHOWN = 60
"""Discrepancies of one folder on the screen; JSON has them all."""


@click.command()
@click.argument("folders", nargs=-1, required=True, metavar="FOLDER...", type=click.Path(path_type=Path))
@json_option
def command(folders: tuple[Path, ...], as_json: bool) -> None:
    """Read back everything in each FOLDER (a serial's, or an output folder of many) and name what is wrong.

    Every file is held against the manifest, every drawn hole against the hole table: missing, added, moved, of a wrong
    size, on a wrong layer, of a wrong tool, hand or serial. Needs no library. Exit status 0: all as written; 1:
    something differs; 2: a FOLDER is none.
    """
    from railgen.cli.work import console, leave

    screen, status, shown = console(), CLEAN, []
    for found in _verified(folders):
        if isinstance(found, InputError):
            report(found)
            status = max(status, WRONG_INPUT)
            continue
        status = max(status, ERROR_FINDING if found.discrepancies else CLEAN)
        if as_json:
            shown.append(asdict(found))
        else:
            _show(screen, found)
    if as_json:
        click.echo(json.dumps(shown, indent=2))
    leave(status)


def _verified(places: tuple[Path, ...]) -> Iterator[Verified | InputError]:
    """Each folder as it was found, or why it cannot be looked at."""
    from railgen.records.verify import folders_in, verify_folder

    for place in places:
        try:
            folders = folders_in(place)
        except InputError as error:
            yield error
            continue
        for folder in folders:
            try:
                yield verify_folder(folder)
            except InputError as error:
                yield error


def _show(screen: Console, found: Verified) -> None:
    from rich.markup import escape
    from rich.table import Table

    head = f"[bold]{found.serial}[/bold] {escape(found.folder)}: {found.files} files, {found.holes} holes: "
    if not found.discrepancies:
        screen.print(f"{head}[green]as written[/green]")
        return
    count = len(found.discrepancies)
    screen.print(f"{head}[red]{count} {'discrepancy' if count == 1 else 'discrepancies'}[/red]")
    table = Table(pad_edge=False, header_style="bold")
    table.add_column("file", overflow="fold")
    table.add_column("what")
    table.add_column("in words", overflow="fold", ratio=1)
    for one in found.discrepancies[:_MOST_SHOWN]:
        table.add_row(escape(one.file), one.kind, escape(one.message))
    screen.print(table)
    left = count - _MOST_SHOWN
    if left > 0:
        screen.print(f"and {left} more: see --json")
