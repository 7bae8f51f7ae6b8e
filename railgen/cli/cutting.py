"""``railgen cutting``: the blanks of a bank cut from stock lengths."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from railgen.cli.common import (
    CLEAN,
    WRONG_INPUT,
    json_option,
    library_option,
    open_catalogue,
    output_option,
    report,
)

if TYPE_CHECKING:
    from railgen.bank.cutting import CuttingTotals


@click.command()
@click.argument("orders", nargs=-1, required=True, metavar="ORDERS...", type=click.Path(path_type=Path))
@click.option("--window", type=click.IntRange(min=1), metavar="N", help="Serials cut together (default: stock.toml's).")
@library_option
@output_option
@json_option
def command(orders: tuple[Path, ...], window: int | None, library: str | None, output: Path, as_json: bool) -> None:
    """Plan how the blanks of ORDERS are cut from the library's stock lengths, into DIR/cutting.

    Blanks are grouped by steel, thickness and width and cut with least waste, window by window in build order, so that
    the rails of a serial are cut close together.
    """
    from railgen.bank.cutting import CuttingTotals, cutting_plan
    from railgen.bank.cutting_files import BarTable, cutting_page
    from railgen.bank.run import in_build_order
    from railgen.cli.work import leave
    from railgen.data.extras import need
    from railgen.data.messages import InputError, Problem
    from railgen.formats.folder import write_folder

    found = open_catalogue(library).library
    try:
        need("ortools", "cutting", "railgen cutting")
        if found.stock is None:
            allowed = "lengths, kerf, end_trim and window: see railgen schema"
            raise InputError([Problem(f"{found.folder}/stock.toml", "", "no such file", allowed)])
        stock = found.stock.model_copy(update={"window": window}) if window else found.stock
        totals, bars = CuttingTotals(), BarTable()
        given = (unread.read() for unread in in_build_order(orders))
        for bar in cutting_plan(given, found, stock, totals):
            bars.add(bar)
        page = cutting_page(totals, bars, stock, found, ", ".join(path.resolve().name for path in orders))
        folder = write_folder(output, "cutting", {"bars.csv": bars.content(), "cutting.html": page})
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)
    report(InputError(totals.problems))
    if as_json:
        click.echo(json.dumps({"serials": totals.serials, "materials": _rows(totals), "folder": str(folder)}, indent=2))
    else:
        for (steel, thickness, width), sums in sorted(totals.materials.items()):
            gap = 100 * (sums.stock / sums.bound - 1)
            click.echo(
                f"{steel} {thickness:g} x {width:.2f}: {sums.blanks} blanks from {sums.bars.total()} bars, "
                f"{sums.stock / 1000:.1f} m, waste {100 * sums.waste:.2f} %, {gap:.2f} % above the proved bound, "
                f"pairs at most {sums.apart} bars apart"
            )
        click.echo(f"written: {folder}")
    leave(WRONG_INPUT if totals.problems else CLEAN)


def _rows(totals: CuttingTotals) -> list[dict[str, object]]:
    return [
        {
            "steel": steel,
            "thickness_mm": thickness,
            "width_mm": width,
            "blanks": sums.blanks,
            "bars": sums.bars.total(),
            "stock_mm": round(sums.stock, 3),
            "bound_mm": round(sums.bound, 3),
            "waste": round(sums.waste, 6),
            "bars_apart": sums.apart,
        }
        for (steel, thickness, width), sums in sorted(totals.materials.items())
    ]
