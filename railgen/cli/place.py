"""``railgen place``: where the floats of an order settle, what that costs, and what is proved about it."""

from __future__ import annotations

import json
from dataclasses import asdict
from math import isfinite
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
    open_catalogue,
    orders_argument,
    orders_in,
    report,
)
from railgen.data.messages import InputError

if TYPE_CHECKING:
    from rich.console import Console

    from railgen.layout.plan import ResolvedOrder
    from railgen.placing.optimum import Settling


@click.command()
@orders_argument
@library_option
@limits_option
@json_option
def command(orders: tuple[Path, ...], library: str | None, limits: str | None, as_json: bool) -> None:
    """Settle the floating components of each ORDER together and say what is proved; nothing is written.

    Each stands on its grid, so that the weighted departure from preferred stations is least under every rule. It is
    proved least, or given with its gap; floats that find no station are told with a smallest set of components that
    leaves them none.

    Exit status 0: all floats stand; 1: some find no station or stand in error; 2: an order is wrong.
    """
    from railgen.cli.work import console, leave
    from railgen.layout.resolve import resolve
    from railgen.placing.optimum import settle

    catalogue, status, found = open_catalogue(library), CLEAN, []
    for given in orders_in(orders, limits):
        try:
            if given.error is not None or given.order is None:
                raise given.error or InputError([])
            order = resolve(given.order, catalogue.library, given.place)
            settling = settle(order, catalogue)
        except InputError as error:
            report(error)
            status = WRONG_INPUT
            continue
        found.append(_data(order, settling))
        status = max(status, ERROR_FINDING if found[-1]["unsettled"] or found[-1]["errors"] else CLEAN)
        if not as_json:
            _show(console(), found[-1])
    if as_json:
        click.echo(json.dumps(found, indent=2))
    leave(status)


def _data(order: ResolvedOrder, settling: Settling) -> dict[str, Any]:
    """Everything about one order's floats; lengths mm, costs mm times weight."""
    weights = {c.id: c.floating.weight for c in order.components if c.floating}
    notes = {finding.components[0]: finding.message for finding in settling.placed.findings if finding.rule == "placed"}
    floats = [
        {
            "component": name,
            "wanted_mm": wanted,
            "station_mm": settling.stations[name],
            "departure_mm": settling.stations[name] - wanted,
            "weight": weights[name],
            "note": notes.get(name, ""),
        }
        for name, wanted in settling.wanted.items()
    ]
    errors = [
        finding.message
        for finding in settling.placed.findings
        if finding.severity == "error" and not set(finding.components).isdisjoint(settling.wanted)
    ]
    return {
        "serial": order.serial,
        "floats": floats,
        "cost": settling.cost,
        "bound": settling.bound,
        "proved": settling.is_proved,
        "rounds": settling.rounds,
        "clusters": [
            {
                "floats": list(cluster.floats),
                "cost": cluster.solution.cost,
                "bound": cluster.solution.bound if isfinite(cluster.solution.bound) else None,
                "nodes": cluster.solution.nodes,
                "proved": cluster.solution.is_proved,
            }
            for cluster in settling.clusters
        ],
        "unsettled": {name: asdict(conflict) if conflict else None for name, conflict in settling.unsettled.items()},
        "errors": errors,
    }


def _show(screen: Console, found: dict[str, Any]) -> None:
    from rich.markup import escape
    from rich.table import Table

    screen.print(f"[bold]{escape(found['serial'])}[/bold]: {_proof(found)}")
    if not found["floats"]:
        return
    table = Table(pad_edge=False, header_style="bold")
    table.add_column("component")
    for name in ("wanted mm", "station mm", "departure mm", "weight"):
        table.add_column(name, justify="right")
    table.add_column("why", overflow="fold", ratio=1)
    for row in found["floats"]:
        moved = f"{row['departure_mm']:+.1f}" if row["departure_mm"] else ""
        if row["component"] in found["unsettled"]:
            moved = "[red]none free[/red]"
        figures = f"{row['wanted_mm']:.1f}", f"{row['station_mm']:.1f}", moved, f"{row['weight']:g}"
        table.add_row(row["component"], *figures, escape(row["note"]))
    screen.print(table)
    for message in found["errors"]:
        screen.print(f"[red]error[/red]: {escape(message)}")


def _proof(found: dict[str, Any]) -> str:
    floats, moved = len(found["floats"]), sum(bool(row["departure_mm"]) for row in found["floats"])
    if not floats:
        return "no component floats"
    head = f"{floats} floats, {moved} moved, departure {found['cost']:.1f} mm times weight"
    nodes = sum(cluster["nodes"] for cluster in found["clusters"])
    proof = "proved least" if found["proved"] else f"at most {found['cost'] - found['bound']:.1f} above the least"
    without = f"; {len(found['unsettled'])} find no station" if found["unsettled"] else ""
    return f"{head}, {proof} ({nodes} nodes){without}"
