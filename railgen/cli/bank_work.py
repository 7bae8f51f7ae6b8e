"""Running a bank from the command line: who does the work, progress on a terminal, problems as they come, totals."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, cast

import click
from rich.console import Console
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    ProgressColumn,
    Task,
    TextColumn,
    TimeElapsedColumn,
    TimeRemainingColumn,
)
from rich.table import Table
from rich.text import Text

from railgen.bank.crews import Crew, Processes, ThisProcess, make_ready
from railgen.bank.job import BankJob, Done
from railgen.bank.memory import ready_for_bank
from railgen.bank.record import CLEAN, ERRORS, OUTCOMES, REFUSED
from railgen.bank.run import SUMMARY, run_bank
from railgen.bank.summary import PAGE
from railgen.bank.tally import Tally
from railgen.cli import common
from railgen.cli.work import console, leave, refuse_unknown
from railgen.data.messages import InputError
from railgen.data.order_files import count_orders
from railgen.formats.dxf import DxfVersion
from railgen.layout.catalogue import Catalogue
from railgen.papers.wording import wording
from railgen.pipeline import Choices, Kind

INTERRUPTED = 130
"""Exit status after Ctrl-C, as shells give it."""
_MOST_REPORTED = 1000


@dataclass(frozen=True)
class Asked:
    """What the command line asks for."""

    orders: tuple[Path, ...]
    workers: int
    scheduler: str | None
    kinds: tuple[str, ...]
    dxf: DxfVersion
    library: str | None
    limits: str | None
    output: Path
    as_json: bool


def work_through(asked: Asked) -> None:
    """Do the whole bank, show its totals, and leave with the highest exit status."""
    if asked.workers > 1 and not asked.scheduler:
        make_ready()
    catalogue = common.open_catalogue(asked.library)
    if asked.limits:
        refuse_unknown((asked.limits,), catalogue.library.limit_sets, "--limits", "limit set")
    name = ", ".join(path.resolve().name for path in asked.orders)
    choices = Choices(asked.dxf, kinds=cast(tuple[Kind, ...], asked.kinds))
    job = BankJob(catalogue.library, asked.output.resolve(), choices, asked.limits, name, wording())
    try:
        ready_for_bank(job.output)
        crew = _crew(asked, job, catalogue)
        with _watched(count_orders(asked.orders), asked.as_json) as watch:
            tally = run_bank(asked.orders, job, crew, watch)
    except InputError as error:
        common.report(error)
        sys.exit(common.WRONG_INPUT)
    except KeyboardInterrupt:
        click.echo("Interrupted. What is complete stays; run the same command again to go on from here.", err=True)
        sys.exit(INTERRUPTED)
    summary = asked.output / SUMMARY / PAGE
    if asked.as_json:
        click.echo(json.dumps(_as_data(tally, summary), indent=2))
    else:
        _show(tally, summary)
    leave(exit_status(tally))


def _crew(asked: Asked, job: BankJob, catalogue: Catalogue) -> Crew:
    """Who does the work: the cluster where one is named, else as many processes as are asked for."""
    if asked.scheduler:
        from railgen.bank.cluster import Cluster

        return Cluster(job, asked.scheduler)
    return ThisProcess(job, catalogue) if asked.workers == 1 else Processes(job, asked.workers)


def exit_status(tally: Tally) -> int:
    """The highest status met: 2 with an order refused, 1 with an error finding."""
    if tally.outcomes[REFUSED]:
        return common.WRONG_INPUT
    return common.ERROR_FINDING if tally.outcomes[ERRORS] else common.CLEAN


@contextmanager
def _watched(total: int, quiet: bool) -> Iterator[Callable[[Done], None]]:
    """A watcher that reports problems as they come, under a progress bar where there is a terminal."""
    reported = 0

    def report(done: Done) -> None:
        nonlocal reported
        if not done.problems:
            return
        reported += 1
        if reported <= _MOST_REPORTED:
            common.report(InputError(done.problems))
        elif reported == _MOST_REPORTED + 1:
            click.echo("More orders are refused; summary/serials.parquet names all of them.", err=True)

    screen = Console(stderr=True)
    if quiet or not screen.is_terminal:
        yield report
        return
    columns = (
        TextColumn("{task.description}"),
        BarColumn(None),
        MofNCompleteColumn(),
        _Rate(),
        TimeElapsedColumn(),
        TextColumn("left"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=screen, transient=True, expand=True) as progress:
        task = progress.add_task("serials", total=max(total, 1))

        def advance(done: Done) -> None:
            report(done)
            progress.advance(task)

        yield advance


class _Rate(ProgressColumn):
    """Serials a second."""

    def render(self, task: Task) -> Text:
        speed = task.finished_speed or task.speed
        return Text(f"{speed:,.0f}/s" if speed else "", style="progress.data.speed")


def _as_data(tally: Tally, summary: Path) -> dict[str, Any]:
    return {
        "serials": tally.serials,
        "outcomes": {name: tally.outcomes[name] for name in OUTCOMES},
        "unchanged": tally.kept,
        "findings": [
            {"rule": rule, "measure": measure, "severity": severity, "findings": count}
            for (rule, measure, severity), count in sorted(tally.findings.items())
        ],
        "hits": tally.hits.total(),
        "blanks": tally.blanks.total(),
        "fasteners": tally.fasteners.total(),
        "summary": str(summary),
    }


_COLOURS = {CLEAN: "green", ERRORS: "red", REFUSED: "red"}


def _show(tally: Tally, summary: Path) -> None:
    screen = console()
    counts = ", ".join(
        f"[{_COLOURS.get(name, 'yellow')}]{tally.outcomes[name]} {name}[/]" for name in OUTCOMES if tally.outcomes[name]
    )
    kept = f" ({tally.kept} complete and unchanged from before)" if tally.kept else ""
    screen.print(f"[bold]{common.counted(tally.serials, 'serial')}[/bold]: {counts or 'none'}{kept}")
    table = Table(pad_edge=False, header_style="bold")
    for heading in ("rule", "measure", "severity"):
        table.add_column(heading)
    table.add_column("findings", justify="right")
    table.add_column("in serials", justify="right")
    worst = [item for item in tally.findings.items() if item[0][2] != "note"]
    for key, count in sorted(worst, key=lambda item: (item[0][2], -item[1], item[0])):
        table.add_row(*key, str(count), str(tally.serials_with[key]))
    if worst:
        screen.print(table)
    screen.print(f"summary: {summary}", highlight=False, soft_wrap=True)
