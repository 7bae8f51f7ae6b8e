"""``railgen fit``: where a component fits on the rails of an order, or of a whole bank."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

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
    orders_in,
    output_option,
    report,
    wording_option,
)
from railgen.data.messages import InputError

if TYPE_CHECKING:
    from rich.console import Console

    from railgen.bank.fit import BankFit
    from railgen.layout.catalogue import Catalogue
    from railgen.papers.sheet import Sheet
    from railgen.placing.fit import Fit
    from railgen.placing.free import Interval

_MOST_STRETCHES = 20
"""Stretches of the curve shown on a screen; JSON has them all."""


@click.command()
@click.argument("component", metavar="COMPONENT")
@click.option("--order", metavar="ORDER", type=click.Path(path_type=Path), help="One order (a TOML file).")
@click.option(
    "--orders", metavar="BANK", type=click.Path(path_type=Path), help="Many: offsets from the component's anchor."
)
@click.option("--side", type=click.Choice(("LH", "RH")), help="Look at one side alone (default: all it belongs on).")
@click.option(
    "--window",
    nargs=2,
    type=float,
    metavar="FROM TO",
    help="Stations, mm; with --orders offsets from the anchor (default: the window of a float, else the whole rail).",
)
@click.option("--wanted", type=float, metavar="MM", help="Wanted station or offset (default: the preferred one).")
@library_option
@limits_option
@click.option("--picture", type=click.Choice(("png", "svg", "pdf")), help="Draw it too, as DIR/fit-....")
@output_option
@wording_option
@json_option
def command(
    component: str,
    order: Path | None,
    orders: Path | None,
    side: str | None,
    window: tuple[float, float] | None,
    wanted: float | None,
    library: str | None,
    limits: str | None,
    picture: str | None,
    output: Path,
    as_json: bool,
) -> None:
    """Show where COMPONENT of the library could stand beside everything else, under every rule, without stepping.

    On one order: the free stations of each side as exact intervals, with the rule, the holes and the component that
    bound each end. Over a bank: the offsets free on all serials, and how many serials each offset suits.

    Exit status 0: it fits; 1: nowhere (over a bank: nowhere on all serials); 2: something asked for is wrong.
    """
    from railgen.cli.work import console, leave

    if (order is None) == (orders is None):
        raise click.UsageError("give --order ORDER for one serial, or --orders BANK for many")
    catalogue = open_catalogue(library)
    asked = _Asked(component, window, wanted, (side,) if side else (), limits)
    try:
        if order is not None:
            files, found, show = _on_one(asked, order, catalogue, picture)
        elif orders is not None:
            files, found, show = _on_many(asked, orders, catalogue, picture)
        written = _write(output, files)
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)
    if as_json:
        click.echo(json.dumps(found, indent=2))
    else:
        show(console())
        for file in written:
            click.echo(f"written: {file}")
    if found.get("problems"):
        leave(WRONG_INPUT)
    leave(CLEAN if found["nearest_mm"] is not None else ERROR_FINDING)


@dataclass(frozen=True)
class _Asked:
    component: str
    window: Interval | None
    wanted: float | None
    sides: tuple[str, ...]
    limits: str | None


_Answer = tuple[dict[str, bytes], dict[str, Any], Callable[["Console"], None]]
"""Files, JSON, and what shows it on a screen."""


def _write(output: Path, files: dict[str, bytes]) -> list[Path]:
    from railgen.formats.folder import write_whole

    for name, content in files.items():
        write_whole(output / name, content)
    return [output / name for name in files]


def _on_one(asked: _Asked, path: Path, catalogue: Catalogue, picture: str | None) -> _Answer:
    from railgen.pipeline import plan
    from railgen.placing.fit import fit

    order, place = one_order(path, asked.limits, "Use --orders for many.")
    planned = plan(order, catalogue, place)
    found = fit(asked.component, planned, catalogue, asked.window, asked.wanted, asked.sides)
    files: dict[str, bytes] = {}
    if picture:
        from railgen.papers.fit_sheet import fit_sheets, fit_title

        name = f"fit-{planned.serial}-{found.component.id}"
        files = _drawn(list(fit_sheets(found, catalogue)), fit_title(found), name, picture)
    return files, _fit_data(found), lambda screen: _show_fit(screen, found)


def _on_many(asked: _Asked, path: Path, catalogue: Catalogue, picture: str | None) -> _Answer:
    from railgen.bank.fit import fit_over_bank

    orders = orders_in((path,), asked.limits)
    found = fit_over_bank(asked.component, orders, catalogue, asked.window, asked.wanted, asked.sides)
    report(InputError(found.problems))
    files: dict[str, bytes] = {}
    if picture:
        from railgen.papers.fit_curve import FitCurve, fit_curve_sheet, fit_curve_title

        anchor = found.component.position.anchor
        drawn = FitCurve(
            found.component.id, anchor, len(found.serials), found.curve, found.on_all, found.wanted, found.nearest
        )
        name = f"fit-{path.stem}-{found.component.id}"
        files = _drawn([fit_curve_sheet(drawn)], fit_curve_title(drawn), name, picture)
    return files, _bank_data(found), lambda screen: _show_bank(screen, found)


def _drawn(sheets: list[Sheet], title: str, name: str, kind: str) -> dict[str, bytes]:
    """Sheets as one PDF, or as pictures, several with their numbers."""
    if kind == "pdf":
        from railgen.papers.pdf import write_pdf

        return {f"{name}.pdf": write_pdf(sheets, title)}
    from railgen.papers.pictures import write_picture

    numbers = [""] if len(sheets) == 1 else [f"-{number}" for number in range(1, len(sheets) + 1)]
    return {f"{name}{n}.{kind}": write_picture(sheet, kind) for n, sheet in zip(numbers, sheets, strict=True)}


def _fit_data(found: Fit) -> dict[str, Any]:
    return {
        "component": found.component.id,
        "serial": found.plan.serial,
        "window_mm": list(found.free.window),
        "wanted_mm": found.wanted,
        "nearest_mm": found.nearest,
        "sides": {
            side: [
                {
                    "start_mm": interval.start,
                    "end_mm": interval.end,
                    "ahead": asdict(interval.ahead) if interval.ahead else None,
                    "behind": asdict(interval.behind) if interval.behind else None,
                }
                for interval in intervals
            ]
            for side, intervals in found.free.sides.items()
        },
        "on_all_sides_mm": [list(interval) for interval in found.free.together],
    }


def _bank_data(found: BankFit) -> dict[str, Any]:
    return {
        "component": found.component.id,
        "anchor": found.component.position.anchor,
        "wanted_mm": found.wanted,
        "nearest_mm": found.nearest,
        "on_all_mm": [list(interval) for interval in found.on_all],
        "suited": [{"start_mm": p.start, "end_mm": p.end, "serials": p.serials} for p in found.curve],
        "serials": [
            {
                "serial": s.serial,
                "anchor_mm": s.anchor,
                "nearest_mm": s.nearest,
                "free_mm": [list(i) for i in s.offsets],
            }
            for s in found.serials
        ],
        "left_out": list(found.left_out),
        "problems": [str(problem) for problem in found.problems],
    }


def _show_fit(screen: Console, found: Fit) -> None:
    from rich.markup import escape
    from rich.table import Table

    start, end = found.free.window
    screen.print(
        f"[bold]{escape(found.component.id)}[/bold] on [bold]{escape(found.plan.serial)}[/bold], "
        f"stations {start:.3f} to {end:.3f} mm: {_nearest(found.nearest, found.wanted)}"
    )
    table = Table(pad_edge=False, header_style="bold")
    table.add_column("side")
    for name in ("from mm", "to mm", "length mm"):
        table.add_column(name, justify="right")
    for name in ("closed ahead of it by", "closed behind it by"):
        table.add_column(name, overflow="fold", ratio=1)
    for side, intervals in found.free.sides.items():
        for i in intervals:
            ends = f"{i.start:.3f}", f"{i.end:.3f}", f"{i.end - i.start:.3f}"
            bounds = (escape(b.words if b else "the end of the window") for b in (i.ahead, i.behind))
            table.add_row(side, *ends, *bounds)
    screen.print(table)


def _show_bank(screen: Console, found: BankFit) -> None:
    from rich.markup import escape
    from rich.table import Table

    screen.print(
        f"[bold]{escape(found.component.id)}[/bold] over {len(found.serials)} serials, offsets from "
        f"{escape(found.component.position.anchor)}: {_nearest(found.nearest, found.wanted, ' on all')}"
    )
    if found.left_out:
        screen.print(f"{len(found.left_out)} serials left out: their families have no such anchor")
    table = Table(pad_edge=False, header_style="bold", title="Offsets that suit most serials", title_justify="left")
    for name in ("from mm", "to mm", "length mm", "serials"):
        table.add_column(name, justify="right")
    for part in sorted(found.curve, key=lambda part: (-part.serials, part.start))[:_MOST_STRETCHES]:
        table.add_row(f"{part.start:.3f}", f"{part.end:.3f}", f"{part.end - part.start:.3f}", str(part.serials))
    screen.print(table)


def _nearest(nearest: float | None, wanted: float, where: str = "") -> str:
    if nearest is None:
        return f"[red]nowhere free{where}[/red], wanted {wanted:.3f} mm"
    if nearest == wanted:
        return f"free{where} where it is wanted, at {wanted:.3f} mm"
    return f"nearest free{where} {nearest:.3f} mm, {nearest - wanted:+.3f} mm from the wanted {wanted:.3f} mm"
