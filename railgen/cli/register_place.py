"""What the commands of the register have in common: which register is meant, who says so, and errors."""

from __future__ import annotations

import datetime
import importlib.util
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

import click

from railgen.cli.common import WRONG_INPUT, report
from railgen.data.messages import InputError, Problem

if TYPE_CHECKING:
    from railgen.records.register_release import Signed
    from railgen.records.register_store import Store

DEFAULT_PLACE = "railgen-register.sqlite"
ENVIRONMENT_VARIABLE = "RAILGEN_REGISTER"
F = TypeVar("F", bound=Callable[..., Any])


def register_option(function: F) -> F:
    return click.option(
        "--register",
        "place",
        metavar="PATH|URL",
        envvar=ENVIRONMENT_VARIABLE,
        default=DEFAULT_PLACE,
        show_default=True,
        help=f"The register: an SQLite file, or postgresql://USER@HOST/DATABASE (or {ENVIRONMENT_VARIABLE}).",
    )(function)


def signed_options(function: F) -> F:
    """Who and when."""
    by = click.option("--by", required=True, metavar="NAME", help="Who says so.")
    on = click.option("--on", required=True, metavar="DATE", type=click.DateTime(["%Y-%m-%d"]), help="YYYY-MM-DD.")
    return by(on(function))


def signed(by: str, on: datetime.datetime) -> Signed:
    """Who and when, as the register keeps it."""
    from railgen.records.register_release import Signed

    return Signed(by, on.date().isoformat())


@contextmanager
def refusals() -> Iterator[None]:
    """Exit status 2, with every problem, where the input or the register cannot be used."""
    try:
        if importlib.util.find_spec("sqlalchemy") is None:
            hint = "Install it: pip install sqlalchemy."
            raise InputError([Problem("railgen", "", "no SQLAlchemy installed", "what the register needs", hint)])
        yield
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)


@contextmanager
def opened(place: str, make: bool = False) -> Iterator[Store]:
    """The register at a place, let go of afterwards."""
    from railgen.records.register_store import open_store

    store = open_store(place, make)
    try:
        yield store
    finally:
        store.close()
