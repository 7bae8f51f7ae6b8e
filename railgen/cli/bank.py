"""``railgen bank``: every order of a bank planned, checked, written and summed up."""

from __future__ import annotations

import os
from pathlib import Path

import click

from railgen.cli.common import json_option, library_option, limits_option, output_option, wording_option

_KINDS = ("holes", "findings", "cut", "nc", "papers")
_NOTHING = "none"


def _kinds(_: click.Context, __: click.Parameter, given: str) -> tuple[str, ...]:
    """The kinds of file that are asked for, each once, in the order of the help."""
    if given.strip() == _NOTHING:
        return ()
    wanted = {name.strip() for name in given.split(",") if name.strip()}
    unknown = sorted(wanted - set(_KINDS))
    if unknown:
        from railgen.data.messages import nearest, one_of

        raise click.BadParameter(f"{unknown[0]!r} is not {one_of(_KINDS)}. {nearest(unknown[0], _KINDS)}".strip())
    return tuple(name for name in _KINDS if name in wanted)


def _cores() -> int:
    """Cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@click.command()
@click.argument("orders", nargs=-1, required=True, metavar="ORDERS...", type=click.Path(path_type=Path))
@click.option(
    "--workers", type=click.IntRange(min=1), metavar="N", help="Processes that share the work (default: one a core)."
)
@click.option(
    "--scheduler", metavar="ADDRESS", help="Work on the Dask cluster of this scheduler, tcp://HOST:PORT, instead."
)
@click.option(
    "--write",
    "kinds",
    default="holes,findings",
    show_default=True,
    metavar="KINDS",
    callback=_kinds,
    help="Files to write for each serial: any of holes,findings,cut,nc,papers; or none: the summary alone.",
)
@click.option(
    "--dxf", type=click.Choice(["R12", "R2018"]), default="R12", show_default=True, help="Cut files' version."
)
@library_option
@limits_option
@output_option
@wording_option
@json_option
def command(
    orders: tuple[Path, ...],
    workers: int | None,
    scheduler: str | None,
    kinds: tuple[str, ...],
    dxf: str,
    library: str | None,
    limits: str | None,
    output: Path,
    as_json: bool,
) -> None:
    """Plan and check every order of ORDERS (a CSV, a Parquet file, or a folder of TOML files).

    What is asked for is written to DIR/SERIAL, and the day's summary to DIR/summary. An order that cannot be used is
    reported with its line and the others go on. Interrupted or run again, nothing is redone that is complete and
    unchanged: DIR/records remembers each serial.
    """
    from railgen.cli.bank_work import Asked, work_through

    work_through(
        Asked(
            orders=orders,
            workers=workers or _cores(),
            scheduler=scheduler,
            kinds=kinds,
            dxf="R2018" if dxf == "R2018" else "R12",
            library=library,
            limits=limits,
            output=output,
            as_json=as_json,
        )
    )
