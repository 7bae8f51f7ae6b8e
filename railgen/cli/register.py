"""``railgen register``: what is released, given back, sought, added to, audited, saved."""

from __future__ import annotations

import datetime
import json
import sys
from math import inf
from pathlib import Path
from typing import Any

import click

from railgen.cli.common import ERROR_FINDING, counted, json_option, wording_option
from railgen.cli.freezone import Question, answer, zone_options
from railgen.cli.register_place import opened, refusals, register_option, signed, signed_options
from railgen.data.messages import InputError, Problem, nearest


@click.group()
def command() -> None:
    """Ask the release register, and add as-built facts to it."""


@command.command("list")
@click.argument("serials", nargs=-1, metavar="[SERIAL...]")
@register_option
@json_option
def list_(serials: tuple[str, ...], place: str, as_json: bool) -> None:
    """List every release; for each SERIAL its releases, its parts released again and its facts."""
    with refusals():
        from railgen.cli.register_show import as_plain, history_table
        from railgen.cli.work import console
        from railgen.records.register_queries import history, superseded

        with opened(place) as store:
            found = list(history(store, serials))
        if as_json:
            click.echo(json.dumps([as_plain(record) for record in found], indent=2))
        else:
            shown = [record for record in found if serials or record.kind == "release"]
            console().print(history_table(shown, superseded(found)))


@command.command()
@click.argument("serial")
@click.option("--revision", help="A released revision, instead of the current one.")
@click.option("--drawing", is_flag=True, help="Write the drawing instead.")
@click.option("--dxf", is_flag=True, help="Write the cut files instead.")
@click.option("--all", "everything", is_flag=True, help="Write every file of the release.")
@click.option("--inputs", is_flag=True, help="Write the library and the order, where they were kept.")
@click.option("--output", metavar="DIR", type=click.Path(path_type=Path), help="Folder to write to (default: outputs).")
@wording_option
@register_option
def holes(
    serial: str,
    revision: str | None,
    drawing: bool,
    dxf: bool,
    everything: bool,
    inputs: bool,
    output: Path | None,
    place: str,
) -> None:
    """Give back the hole table of a released SERIAL, byte for byte, on standard output.

    With --output, or one of the other choices, files are written to DIR/SERIAL-REVISION-released instead. A drawing
    or cut files that were not released are made anew from the kept library and order, where their hole table is the
    released one to the byte.
    """
    with refusals():
        from railgen.formats.folder import write_folder
        from railgen.formats.names import holes_name
        from railgen.records.register_give_back import choose, write_inputs
        from railgen.records.register_queries import released_files

        with opened(place) as store:
            record, files = released_files(store, serial, revision)
            name = f"{record.serial}-{record.revision}-released"
            if inputs:
                for path in write_inputs(store, record, (output or Path("outputs")) / f"{name}-inputs"):
                    click.echo(path)
                return
            if output is None and not (drawing or dxf or everything):
                sys.stdout.buffer.write(files[holes_name(serial)])
                return
            chosen = files if everything else choose(store, record, files, drawing=drawing, dxf=dxf)
        anew = sorted(set(chosen) - set(files))
        if anew:
            names = ", ".join(anew)
            click.echo(f"made anew from the kept inputs, whose hole table is the released one: {names}", err=True)
        click.echo(write_folder(output or Path("outputs"), name, chosen))


@command.command()
@click.argument("serial")
@click.option("--revision", help="A released revision, instead of the current one.")
@zone_options
@register_option
def freezone(serial: str, revision: str | None, place: str, **asked: Any) -> None:
    """Show where one more hole may go in a released SERIAL, as ``railgen freezone`` does for an order.

    It is planned again from the kept library and order, held to the released hole table; holes that as-built facts have
    added since are there as well.
    """
    with refusals():
        from railgen.cli.work import leave
        from railgen.records.register_as_built import as_built
        from railgen.records.register_queries import released_files

        with opened(place) as store:
            planned = as_built(store, released_files(store, serial, revision)[0])
        leave(answer(planned, Question(**asked)))


@command.command()
@click.option("--component", help="A component that has features in the serial's hole table.")
@click.option("--station", metavar="A..B", help="Stations (mm) between which they lie; A or B may be left out.")
@click.option("--kind", "fact", help="A kind of as-built fact, as `register add` names them.")
@click.option("--value", default="", help="What the fact says: a coil, a lot.")
@click.option("--every-revision", is_flag=True, help="Superseded revisions, too.")
@register_option
@json_option
def find(
    component: str | None,
    station: str | None,
    fact: str | None,
    value: str,
    every_revision: bool,
    place: str,
    as_json: bool,
) -> None:
    """Find released serials by component and stations, or by an as-built fact."""
    with refusals():
        from railgen.cli.register_show import found_as_plain, found_table
        from railgen.cli.work import console
        from railgen.records.register_facts import refuse_unknown_kind
        from railgen.records.register_queries import Sought, component_names
        from railgen.records.register_queries import find as find_releases

        least, greatest = _stations(station, component)
        if component is None and fact is None:
            raise InputError([Problem("railgen register find", "", "nothing to find", "--component or --kind")])
        if fact is not None:
            refuse_unknown_kind(fact)
        with opened(place) as store:
            sought = Sought(component, least, greatest, fact, value, every_revision)
            found = list(find_releases(store, sought))
            names = component_names(store) if component and not found else []
        if as_json:
            click.echo(json.dumps([found_as_plain(release) for release in found], indent=2))
        elif found:
            console().print(found_table(found))
        else:
            hint = nearest(component, names) if component and component not in names else ""
            click.echo(f"no released serial has it. {hint}".strip())


def _stations(given: str | None, component: str | None) -> tuple[float, float]:
    """The two stations of A..B, mm; infinite where one is left out."""
    if given is None:
        return -inf, inf
    least, dots, greatest = given.partition("..")
    try:
        ends = float(least) if least.strip() else -inf, float(greatest) if greatest.strip() else inf
    except ValueError:
        ends = inf, -inf
    if not dots or not ends[0] <= ends[1]:
        allowed = "two stations, the lesser first, as 1200..1800"
        raise InputError([Problem("railgen register find", "--station", repr(given), allowed)])
    if component is None:
        raise InputError([Problem("railgen register find", "--station", repr(given), "with --component only")])
    return ends


@command.command()
@click.argument("serial")
@click.option("--kind", required=True, metavar="KIND", help="coil, heat, certificate, peening-lot, coating-lot, ...")
@signed_options
@click.option("--value", default="", help="The coil, heat, certificate or lot.")
@click.option("--part", default="", metavar="PART", help="LH-rail, RH-rail, LH-liner, RH-liner; else all.")
@click.option("--hole", "hole_ids", multiple=True, metavar="ID", help="A hole that it is about; may be given again.")
@click.option("--added", metavar="CSV", type=click.Path(path_type=Path), help="Holes that no plan has, as measured.")
@click.option("--note", default="", help="Words: what was done or accepted, why, approved by whom.")
@click.option("--file", "files", multiple=True, type=click.Path(path_type=Path), help="A file to keep with it.")
@click.option("--revision", help="A released revision, instead of the current one.")
@click.option("--corrects", type=int, metavar="RECORD", help="The earlier fact that this one stands in for.")
@register_option
def add(
    serial: str,
    kind: str,
    by: str,
    on: datetime.datetime,
    value: str,
    part: str,
    hole_ids: tuple[str, ...],
    added: Path | None,
    note: str,
    files: tuple[Path, ...],
    revision: str | None,
    corrects: int | None,
    place: str,
) -> None:
    """Add an as-built fact to a released SERIAL: beside the release, never over it.

    Kinds: coil, heat, certificate, peening-lot, coating-lot, concession, rework, inspection. Concession and rework
    need their holes (--hole with --part, or --added) and a --note.
    """
    with refusals():
        from railgen.records.register_facts import Fact, add_fact, read_added, read_attachments

        who = signed(by, on)
        fact = Fact(kind, part, value, note, hole_ids, read_added(added), read_attachments(files), corrects)
        with opened(place) as store:
            record = add_fact(store, serial, fact, who, revision)
            what = " ".join(word for word in (record.serial, part, kind, value) if word)
            click.echo(f"added: {what}, record {record.number} of {store.place}")


@command.command("audit")
@click.option("--head", "known_head", metavar="DIGEST", help="A head digest noted earlier: is all up to it there?")
@register_option
@json_option
def audit_(known_head: str | None, place: str, as_json: bool) -> None:
    """Hold every record to the chain of digests, and print the head digest. Keep it elsewhere.

    Exit status 1 where anything is not as it was written. A register that lost its last records is intact in itself:
    only a head digest noted before, given by --head, shows the loss.
    """
    with refusals():
        from railgen.records.register_audit import audit

        _refuse_no_digest(known_head)
        with opened(place) as store:
            found = audit(store, known_head)
        if as_json:
            problems = list(found.problems)
            plain = {"records": found.records, "head": found.head, "known_at": found.known_at, "problems": problems}
            click.echo(json.dumps(plain, indent=2))
        else:
            for problem in found.problems:
                click.echo(f"{click.style('error', fg='red')}: {problem}", err=True)
            if known_head is not None and found.known_at is not None:
                since = found.records - found.known_at
                click.echo(f"the given digest is that of record {found.known_at}; added since: {since}")
            state = "NOT as written" if found.problems else "as written"
            click.echo(f"{counted(found.records, 'record')}, {state}; head digest {found.head}")
    if found.problems:
        sys.exit(ERROR_FINDING)


def _refuse_no_digest(known_head: str | None) -> None:
    if known_head is not None and (len(known_head) != 64 or set(known_head) - set("0123456789abcdef")):
        allowed = "a head digest of 64 hexadecimal digits, as `register audit` prints it"
        raise InputError([Problem("railgen register audit", "--head", repr(known_head), allowed)])


@command.command()
@click.argument("file", type=click.Path(path_type=Path))
@register_option
def backup(file: Path, place: str) -> None:
    """Copy the whole register into a new FILE: an SQLite register, whatever the register itself is."""
    with refusals():
        from railgen.records.register_copy import backup as copy

        with opened(place) as store:
            found = copy(store, file)
        click.echo(f"saved: {counted(found.records, 'record')} to {file}; head digest {found.head}")


@command.command()
@click.argument("file", type=click.Path(path_type=Path))
@register_option
def restore(file: Path, place: str) -> None:
    """Copy a backup FILE into the register, which must have no records yet."""
    with refusals():
        from railgen.records.register_copy import restore as copy

        if not file.is_file():
            raise InputError([Problem(str(file), "", "no such file", "a file made by `railgen register backup`")])
        with opened(place, make=True) as store:
            found = copy(store, file)
            click.echo(f"restored: {counted(found.records, 'record')} to {store.place}; head digest {found.head}")
