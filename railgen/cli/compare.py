"""``railgen compare``: two serials, or two revisions of one, hole by hole."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

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
    report,
    wording_option,
)
from railgen.data.messages import InputError

if TYPE_CHECKING:
    from rich.console import Console

    from railgen.records.compare import Comparison
    from railgen.records.pattern import Pattern

_PICTURES = (".pdf", ".png", ".svg")
_MOST_HOLES = 4
"""Holes named of those that have changed alike; JSON has them all."""


def _picture_file(_: click.Context, __: click.Parameter, value: Path | None) -> Path | None:
    if value is not None and value.suffix.lower() not in _PICTURES:
        raise click.BadParameter(f"{value} must end in one of {', '.join(_PICTURES)}")
    return value


@click.command()
@click.argument("before", metavar="A", type=click.Path(path_type=Path))
@click.argument("after", metavar="B", type=click.Path(path_type=Path))
@library_option
@limits_option
@click.option(
    "--picture",
    metavar="FILE",
    type=click.Path(path_type=Path),
    callback=_picture_file,
    help="Draw both over each other: FILE ends in .pdf, .png or .svg; of several sheets -1, -2, ... are added.",
)
@wording_option
@json_option
def command(
    before: Path, after: Path, library: str | None, limits: str | None, picture: Path | None, as_json: bool
) -> None:
    """Compare A with B, each a serial's folder or an order (a TOML file): what was added, removed, moved, resized.

    Exit status 0: the same holes and the same rail; 1: they differ; 2: A or B cannot be read.
    """
    from railgen.cli.work import console, leave
    from railgen.records.compare import compare

    try:
        patterns = _pattern(before, library, limits), _pattern(after, library, limits)
        comparison = compare(*patterns)
        written = _draw(comparison, picture) if picture else []
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)
    if as_json:
        click.echo(json.dumps(_as_data(comparison), indent=2))
    else:
        _show(console(), comparison)
        for file in written:
            click.echo(f"written: {file}")
    leave(ERROR_FINDING if comparison.differ else CLEAN)


def _pattern(place: Path, library: str | None, limits: str | None) -> Pattern:
    """The pattern of a folder as it is, or of an order as it would be built."""
    from railgen.records.pattern import pattern_of_folder, pattern_of_plan

    if place.is_dir():
        return pattern_of_folder(place)
    from railgen.pipeline import plan

    catalogue = open_catalogue(library)
    order, named = one_order(place, limits, "Compare the serials' folders instead.")
    return pattern_of_plan(plan(order, catalogue, named))


def _draw(comparison: Comparison, picture: Path) -> list[Path]:
    """Write the overlaid picture; returns its files."""
    from railgen.formats.folder import write_whole
    from railgen.papers.overlay import overlay_pdf, overlay_pictures
    from railgen.records.compare_picture import overlay_of

    overlay, kind = overlay_of(comparison), picture.suffix.lower().removeprefix(".")
    if kind == "pdf":
        write_whole(picture, overlay_pdf(overlay))
        return [picture]
    sheets = overlay_pictures(overlay, kind)
    numbered = [picture.with_stem(f"{picture.stem}-{number}") for number in range(1, len(sheets) + 1)]
    files = [picture] if len(sheets) == 1 else numbered
    for file, content in zip(files, sheets, strict=True):
        write_whole(file, content)
    return files


def _as_data(comparison: Comparison) -> dict[str, object]:
    from railgen.records.compare import by_component

    return {
        "before": {"serial": comparison.before.serial, "revision": comparison.before.revision},
        "after": {"serial": comparison.after.serial, "revision": comparison.after.revision},
        "rail": [asdict(change) for change in comparison.rail],
        "same": len(comparison.same),
        "components": [
            {"component": one.component, "same": one.same, **one.counts, "moves_mm": [list(move) for move in one.moves]}
            for one in by_component(comparison)
        ],
        "changes": [change.as_dict() for change in comparison.changes],
    }


def _show(screen: Console, comparison: Comparison) -> None:
    from rich.markup import escape
    from rich.table import Table

    from railgen.records.compare import KINDS, alike, by_component
    from railgen.records.compare_picture import component_cells

    head = f"[bold]{escape(comparison.before.title)}[/bold] against [bold]{escape(comparison.after.title)}[/bold]"
    counts = ", ".join(f"{sum(kind in c.kinds for c in comparison.changes)} {kind}" for kind in KINDS)
    screen.print(f"{head}: {len(comparison.same)} features the same, {counts}")
    for change in comparison.rail:
        screen.print(f"rail: {change.words}")
    if not comparison.changes:
        return
    table = Table(pad_edge=False, header_style="bold", title="By component", title_justify="left")
    table.add_column("component", overflow="fold")
    for kind in (*KINDS, "same"):
        table.add_column(kind, justify="right")
    table.add_column("moved by, mm", overflow="fold", ratio=1)
    for one in by_component(comparison):
        table.add_row(*map(escape, component_cells(one)))
    screen.print(table)
    details = Table(pad_edge=False, header_style="bold", title="Changes", title_justify="left")
    for name in ("component", "part", "face", "what", "holes"):
        details.add_column(name, overflow="fold", ratio=1 if name in ("what", "holes") else None)
    for group in alike(comparison):
        names = [f"{change.hole.side} {change.hole.hole}" for change in group.changes]
        shown = ", ".join(names[:_MOST_HOLES]) + (
            f" and {len(names) - _MOST_HOLES} more" if names[_MOST_HOLES:] else ""
        )
        details.add_row(escape(group.component), group.part, group.face, escape(group.words), f"{len(names)}: {shown}")
    screen.print(details)
