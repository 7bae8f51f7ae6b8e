"""``railgen inspect``: measured holes against nominal ones, and run charts over earlier inspections."""

from __future__ import annotations

import datetime
import json
import sys
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

import click

from railgen.cli.common import (
    ERROR_FINDING,
    WRONG_INPUT,
    json_option,
    library_option,
    output_option,
    report,
    wording_option,
)
from railgen.data.extras import need
from railgen.data.messages import InputError, Problem

if TYPE_CHECKING:
    from railgen.holes.inspection import Inspection
    from railgen.papers.run_chart import Chart
    from railgen.records.inspect_subject import InspectionSubject

_PLACE = "railgen inspect"
_COLDEST, _HOTTEST = -60.0, 300.0


@click.command()
@click.argument(
    "things", nargs=-1, required=True, metavar="SERIAL MEASURED.csv | FILES...", type=click.Path(path_type=Path)
)
@click.option(
    "--folder", metavar="DIR", type=click.Path(path_type=Path), help="The serial's folder (default: DIR/SERIAL)."
)
@click.option(
    "--register", "place", metavar="PATH|URL", help="Take the released hole table from this register instead."
)
@click.option("--revision", help="A released revision, instead of the current one; with --register.")
@click.option("--temperature", type=float, default=20.0, show_default=True, metavar="C", help="Of the steel, degC.")
@click.option("--fit", type=click.Choice(["datums", "best", "none"]), default="datums", show_default=True)
@click.option(
    "--tolerances", metavar="TOML", type=click.Path(path_type=Path), help="Tolerances other than the default."
)
@click.option("--search", type=click.FloatRange(0.1, 100), default=10.0, show_default=True, metavar="MM")
@click.option("--partial", is_flag=True, help="Only some holes were measured: none is missing.")
@click.option("--on", metavar="DATE", type=click.DateTime(["%Y-%m-%d"]), help="When it was measured, YYYY-MM-DD.")
@click.option(
    "--chart", is_flag=True, help="Draw run charts over earlier inspections: inspection.json FILES, or folders."
)
@library_option
@output_option
@wording_option
@json_option
def command(
    things: tuple[Path, ...],
    folder: Path | None,
    place: str | None,
    revision: str | None,
    temperature: float,
    fit: str,
    tolerances: Path | None,
    search: float,
    partial: bool,
    on: datetime.datetime | None,
    chart: bool,
    library: str | None,
    output: Path,
    as_json: bool,
) -> None:
    """Hold measured holes (part,side,face,station_mm,across_mm,diameter_mm) to a serial's hole table.

    The report is written to DIR/inspections/SERIAL-NAME, NAME being that of the measured file. The measured pattern is
    laid on the locating holes (--fit datums), on all holes (best), or taken as it is (none). Exit status 1 where a hole
    is missing, extra or out of tolerance, or the hand is wrong.

    With --chart: run charts of press and tools over earlier inspections, by date where all have one, else as given.
    """
    try:
        need("scipy", "inspect", "railgen inspect")
        if chart:
            _chart(things, output, as_json)
            return
        if len(things) != 2:
            raise InputError([Problem(_PLACE, "", f"{len(things)} arguments", "SERIAL MEASURED.csv, or --chart FILES")])
        subject = _subject(str(things[0]), folder or output / things[0], place, revision, library)
        found = _inspect(subject, things[1], tolerances, on, temperature, fit, search, partial)
        written = _write(found, things[1], output)
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)
    _show(found, written, as_json)
    if not found.good:
        sys.exit(ERROR_FINDING)


def _subject(
    serial: str, folder: Path, place: str | None, revision: str | None, library: str | None
) -> InspectionSubject:
    from railgen.records.inspect_subject import subject_from_folder, subject_from_register

    if place is None:
        if revision is not None:
            raise InputError([Problem(_PLACE, "--revision", repr(revision), "with --register only")])
        return subject_from_folder(serial, folder, library)
    from railgen.cli.register_place import opened

    with ExitStack() as stack:
        store = stack.enter_context(opened(place))
        return subject_from_register(serial, revision, store, library)


def _inspect(
    subject: InspectionSubject,
    measured: Path,
    tolerances: Path | None,
    on: datetime.datetime | None,
    temperature: float,
    fit: str,
    search: float,
    partial: bool,
) -> Inspection:
    from railgen.data.inspection import Tolerances
    from railgen.data.reading import read_bytes, read_model
    from railgen.formats.measured import read_measured
    from railgen.holes.inspection import Inspection
    from railgen.records.inspect import Choices, inspect_parts

    if not _COLDEST <= temperature <= _HOTTEST:
        allowed = f"{_COLDEST:g} to {_HOTTEST:g} degC"
        raise InputError([Problem(_PLACE, "--temperature", f"{temperature:g}", allowed)])
    limits = read_model(tolerances, Tolerances)[0] if tolerances else Tolerances()
    rows, digest = read_measured(measured), read_bytes(measured).sha256
    choices = Choices(temperature, fit, search, partial)  # type: ignore[arg-type]
    parts, not_measured = inspect_parts(subject.table, rows, subject.library, limits, choices)
    date = on.date().isoformat() if on else ""
    return Inspection(
        subject.serial,
        subject.revision,
        choices.fit,
        temperature,
        (measured.name, digest),
        date,
        limits.source,
        parts,
        not_measured,
    )


def _write(found: Inspection, measured: Path, output: Path) -> Path:
    from railgen.formats.folder import write_folder
    from railgen.formats.inspection_file import (
        CSV_NAME,
        JSON_NAME,
        PDF_NAME,
        folder_name,
        inspection_csv,
        inspection_json,
        picture_name,
    )
    from railgen.papers.inspection import inspection_pdf, inspection_pictures

    files = {JSON_NAME: inspection_json(found), CSV_NAME: inspection_csv(found), PDF_NAME: inspection_pdf(found)}
    files |= {picture_name(part): picture for part, picture in inspection_pictures(found)}
    return write_folder(output / "inspections", folder_name(found.serial, measured.stem), files)


def _show(found: Inspection, written: Path, as_json: bool) -> None:
    from railgen.formats.inspection_file import inspection_json
    from railgen.papers.inspection import summary_lines

    if as_json:
        click.echo(inspection_json(found).decode(), nl=False)
        return
    from railgen.cli.inspect_show import faults_table
    from railgen.cli.work import console

    screen = console()
    for part in found.parts:
        verdict = "within all tolerances" if part.good else "NOT within tolerances"
        click.echo(f"{found.serial} {part.name}: {verdict}")
        for line in summary_lines(found, part):
            click.echo(f"  {line}")
        if not part.good and not part.wrong_hand:
            screen.print(faults_table(part))
    if found.not_measured:
        click.echo(f"not measured: {', '.join(found.not_measured)}")
    click.echo(f"written: {written}")


def _chart(files: tuple[Path, ...], output: Path, as_json: bool) -> None:
    from railgen.formats.folder import write_folder
    from railgen.formats.inspection_file import JSON_NAME, read_inspection
    from railgen.papers.pictures import write_picture
    from railgen.papers.run_chart import run_chart_pdf, run_chart_sheets
    from railgen.papers.wording import say
    from railgen.records.inspect_chart import run_chart

    found = [read_inspection(path / JSON_NAME if path.is_dir() else path) for path in files]
    charts = run_chart(found)
    if not charts:
        raise InputError([Problem(_PLACE, "--chart", "no web of a right hand measured", "at least one")])
    title = say("run_chart.title", count=len(found))
    written = {"run-chart.pdf": run_chart_pdf(charts, title)}
    for number, sheet in enumerate(run_chart_sheets(charts, title), 1):
        written[f"run-chart-{number}.svg"] = write_picture(sheet, "svg")
    folder = write_folder(output / "inspections", "run-chart", written)
    if as_json:
        click.echo(json.dumps([_plain(one) for one in charts], indent=2))
        return
    for one in charts:
        if one.words:
            click.echo(f"{one.title}: {'; '.join(one.words)} (last {one.values[-1]:.3f} {one.unit})")
    click.echo(f"{sum(bool(one.words) for one in charts)} of {len(charts)} quantities show something")
    click.echo(f"written: {folder}")


def _plain(chart: Chart) -> dict[str, object]:
    limits = {name: None if (value := getattr(chart, name)) != value else value for name in ("mean", "lower", "upper")}
    points = [
        {"serial": name, "value": value, "signal": signal}
        for name, value, signal in zip(chart.names, chart.values.tolist(), chart.signals.tolist(), strict=True)
    ]
    return {"quantity": chart.title, "unit": chart.unit, **limits, "seen": list(chart.words), "points": points}
