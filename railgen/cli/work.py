"""Going through orders: one after the other, with progress, errors reported and the worst exit status kept."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import TypeVar

import click
from rich.console import Console
from rich.progress import Progress

from railgen.cli.common import CLEAN, ERROR_FINDING, WRONG_INPUT, orders_in, report
from railgen.data.findings import has_errors
from railgen.data.library import unknown
from railgen.data.messages import InputError, Problem
from railgen.data.order_input import OrderInput
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import SerialPlan
from railgen.pipeline import plan, with_remedies

T = TypeVar("T")
Work = Callable[[SerialPlan, OrderInput], None]


def for_each_order(
    paths: tuple[Path, ...], catalogue: Catalogue, limits: str | None, work: Work, what: str, remedies: bool = False
) -> int:
    """Plan every order and do the work; returns the highest exit status met.

    remedies: whether findings between components are to say what would put them right.
    """
    status, seen = CLEAN, set[str]()
    for given in with_progress(list(orders_in(paths, limits)), what):
        try:
            if given.error is not None or given.order is None:
                raise given.error or InputError([])
            if given.order.serial in seen:
                allowed = "each serial once in one command"
                raise InputError([Problem(given.place, "serial", repr(given.order.serial), allowed)])
            seen.add(given.order.serial)
            planned = plan(given.order, catalogue, given.place)
            work(with_remedies(planned, catalogue) if remedies else planned, given)
        except InputError as error:
            report(error)
            status = max(status, WRONG_INPUT)
            continue
        status = max(status, ERROR_FINDING if has_errors(planned.findings) else CLEAN)
    return status


def with_progress(given: Sequence[T], what: str) -> Iterable[T]:
    """The orders, with progress on a terminal: a bar where there are many, a turning sign for one."""
    console = Console(stderr=True)
    if not console.is_terminal:
        yield from given
    elif len(given) == 1:
        with console.status(what):
            yield from given
    else:
        with Progress(console=console, transient=True) as progress:
            yield from progress.track(given, description=what)


def console() -> Console:
    """Standard output: colour only on a terminal, a readable width elsewhere."""
    found = Console(highlight=False)
    return found if found.is_terminal else Console(highlight=False, width=150, no_color=True)


def leave(status: int) -> None:
    """End the command with an exit status."""
    click.get_current_context().exit(status) if status == CLEAN else sys.exit(status)


def refuse_unknown(names: tuple[str, ...], valid: Mapping[str, object], place: str, kind: str) -> None:
    """Exit status 2, with the nearest valid name, where a name on the command line is not known."""
    unknown_names = [name for name in names if name not in valid]
    if unknown_names:
        report(InputError(unknown(name, valid, place, kind, kind) for name in unknown_names))
        sys.exit(WRONG_INPUT)
