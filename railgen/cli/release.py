"""``railgen release``: folders of serials recorded in the register, once and for all."""

from __future__ import annotations

import datetime
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from railgen.cli.common import CLEAN, WRONG_INPUT, json_option, library_option, report
from railgen.cli.register_place import opened, refusals, register_option, signed, signed_options

if TYPE_CHECKING:
    from railgen.records.register_chain import Record
    from railgen.records.register_folder import Inputs


@click.command()
@click.argument("folders", nargs=-1, required=True, metavar="FOLDER...", type=click.Path(path_type=Path))
@signed_options
@click.option("--part", metavar="PART", help="Release one part again after scrap: LH-rail, RH-liner, ...")
@click.option("--reason", default="", help="Why: needed with --part.")
@click.option(
    "--order", "orders", multiple=True, metavar="FILE", type=click.Path(path_type=Path), help="Keep the order, too."
)
@library_option
@register_option
@json_option
def command(
    folders: tuple[Path, ...],
    by: str,
    on: datetime.datetime,
    part: str | None,
    reason: str,
    orders: tuple[Path, ...],
    library: str | None,
    place: str,
    as_json: bool,
) -> None:
    """Record each FOLDER of a serial in the register: its files, with who released it and when.

    Nothing recorded is ever changed. A folder whose files differ from its manifest, or with an error finding, is
    refused; a new revision of a serial supersedes the one before, which stays. The library is kept beside the release
    where it is at hand as it was when the serial was built, the order where --order names its file or bank.
    """
    with refusals():
        from railgen.data.messages import InputError
        from railgen.records.register_folder import read_release_folder
        from railgen.records.register_release import release, release_again

        who, inputs, status = signed(by, on), _inputs(library, orders), CLEAN
        _refuse_part_without_reason(part, reason, len(folders))
        made: list[Record] = []
        for folder in folders:
            try:
                found = read_release_folder(folder)
                with opened(place, make=True) as store:
                    if part:
                        made.append(release_again(store, found, part, reason, who))
                    else:
                        made.append(release(store, found, who, inputs, reason))
                    if not as_json:
                        click.echo(_line(made[-1], store.place))
            except InputError as error:
                report(error)
                status = WRONG_INPUT
        if as_json:
            click.echo(json.dumps([{**record.body, "digest": record.digest} for record in made], indent=2))
        if status:
            sys.exit(status)


def _inputs(library: str | None, orders: tuple[Path, ...]) -> Inputs:
    from railgen.data.library import find_library
    from railgen.data.messages import InputError
    from railgen.records.register_folder import read_inputs

    try:
        folder = find_library(library)
    except InputError:
        if library is not None:
            raise
        return read_inputs(None, orders)
    return read_inputs(folder, orders)


def _refuse_part_without_reason(part: str | None, reason: str, folders: int) -> None:
    from railgen.data.messages import InputError, Problem

    if part and not reason.strip():
        raise InputError([Problem("railgen release", "--reason", "nothing", "why the part is released again")])
    if part and folders > 1:
        raise InputError([Problem("railgen release", "--part", f"{folders} folders", "one folder")])


def _line(record: Record, place: str) -> str:
    """What was recorded, on one line."""
    if record.part:
        words = f"released again: {record.serial} {record.part}, blank {record['blank']}"
        return f"{words}, revision {record.revision}, record {record.number} of {place}"
    words = f"released: {record.serial} revision {record.revision}, record {record.number} of {place}"
    earlier = f"; supersedes record {record['supersedes']}" if record["supersedes"] else ""
    missing = [name for name in ("library", "order") if not record[name]["kept"]]
    return words + earlier + (f"; not kept: {', '.join(missing)}" if missing else "")
