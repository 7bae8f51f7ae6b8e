"""What the commands have in common: options, library and orders with their errors, and exit statuses."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, TypeVar

import click

from railgen.data.library import find_library, load_library, with_press
from railgen.data.messages import InputError, Problem
from railgen.data.order import Order
from railgen.data.order_files import read_orders
from railgen.data.order_input import OrderInput, held_to
from railgen.layout.catalogue import Catalogue, compile_catalogue

CLEAN, ERROR_FINDING, WRONG_INPUT = 0, 1, 2
"""Exit statuses."""

F = TypeVar("F", bound=Callable[..., Any])


def counted(number: int, word: str) -> str:
    """A number and what is counted, in the plural unless it is one."""
    return f"{number} {word}{'' if number == 1 else 's'}"


def library_option(function: F) -> F:
    return click.option("--library", metavar="DIR", help="Library folder (default: as the README says).")(function)


def limits_option(function: F) -> F:
    return click.option("--limits", metavar="SET", help="Limit set, instead of the orders' own.")(function)


def output_option(function: F) -> F:
    return click.option(
        "--output", metavar="DIR", default="outputs", show_default=True, type=click.Path(path_type=Path)
    )(function)


def wording_option(function: F) -> F:
    """While the command lasts papers are made in the words of a file; exit status 2 with every problem of it."""
    return click.option(
        "--wording",
        metavar="FILE",
        type=click.Path(path_type=Path),
        expose_value=False,
        callback=_speak,
        help="Words of the papers: a translation of railgen/papers/wording.toml.",
    )(function)


def _speak(context: click.Context, _: click.Parameter, wording: Path | None) -> None:
    if wording is None:
        return
    from railgen.papers.wording import read_wording, speaking

    try:
        context.with_resource(speaking(read_wording(wording)))
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)


def json_option(function: F) -> F:
    return click.option("--json", "as_json", is_flag=True, help="Print JSON instead of a table.")(function)


orders_argument = click.argument("orders", nargs=-1, required=True, metavar="ORDER...", type=click.Path(path_type=Path))


def report(error: InputError) -> None:
    """Print every problem of an input on standard error."""
    for problem in error.problems:
        click.echo(f"{click.style('error', fg='red')}: {problem}", err=True)


def open_catalogue(named: str | None, press: str | None = None) -> Catalogue:
    """The library's catalogue, or exit status 2 with every problem; for another of its presses where one is named."""
    try:
        library = load_library(find_library(named))
        return compile_catalogue(library if press is None else with_press(library, press))
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)


def orders_in(paths: tuple[Path, ...], limits: str | None) -> Iterator[OrderInput]:
    """The orders of some files, held to another limit set where one is named."""
    for given in read_orders(paths):
        yield held_to(given, limits)


def one_order(path: Path, limits: str | None, hint: str) -> tuple[Order, str]:
    """The only order of a file and its place in messages. Raises InputError where there are none or many."""
    given = list(orders_in((path,), limits))
    if len(given) != 1:
        raise InputError([Problem(str(path), "", f"{len(given)} orders", "one order", hint)])
    if given[0].error is not None or given[0].order is None:
        raise given[0].error or InputError([])
    return given[0].order, given[0].place
