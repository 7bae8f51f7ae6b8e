"""``railgen option check`` and ``railgen option matrix``: where an option clashes, over all orders that may come."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Iterable
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
    orders_in,
    report,
)
from railgen.data.messages import InputError

if TYPE_CHECKING:
    from railgen.layout.catalogue import Catalogue
    from railgen.placing.verdicts import Matrix
    from railgen.records.option_bank import OptionOnSerial

_orders_option = click.option(
    "--orders",
    metavar="BANK",
    multiple=True,
    type=click.Path(path_type=Path),
    help="Also try the orders of a bank, a folder or a file; may be given more than once.",
)
_output_option = click.option(
    "--output", metavar="DIR", type=click.Path(path_type=Path), help="Write pages and data under DIR too."
)
_CLASHES = ("only for", "always")


@click.group()
def command() -> None:
    """Find where options clash, over all values of all order dimensions."""


@command.command()
@click.argument("option", metavar="OPTION")
@library_option
@limits_option
@_orders_option
@_output_option
@json_option
def check(
    option: str, library: str | None, limits: str | None, orders: tuple[Path, ...], output: Path | None, as_json: bool
) -> None:
    """Hold OPTION against every other option of the families it is sold in.

    Options that can never be ordered with it are left out. Exit status 0: no clash; 1: some order clashes; 2: the
    input is wrong.
    """
    from railgen.cli.option_show import show_option
    from railgen.cli.work import console, leave

    catalogue = open_catalogue(library)
    try:
        matrices = _matrices(option, catalogue, limits)
        serials = _on_bank(option, orders, catalogue, limits) if orders else None
        written = _write_option(option, matrices, serials, output) if output else []
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)
    if as_json:
        click.echo(json.dumps(_option_data(option, matrices, serials), indent=2))
    else:
        show_option(console(), option, matrices, serials)
        _name(written)
    clash = any(cell.verdict in _CLASHES for matrix in matrices for cell in matrix.cells.values())
    on_bank = any(serial.errors for serial in serials or ())
    leave(ERROR_FINDING if clash or on_bank else CLEAN)


@command.command("matrix")
@click.argument("family", metavar="FAMILY")
@library_option
@limits_option
@_orders_option
@_output_option
@json_option
def matrix_(
    family: str, library: str | None, limits: str | None, orders: tuple[Path, ...], output: Path | None, as_json: bool
) -> None:
    """Hold every option of FAMILY against every other: never, always, or only for some orders.

    Exit status 0: no clash; 1: some order clashes; 2: the input is wrong.
    """
    from railgen.cli.option_show import matrix_data, show_matrix
    from railgen.cli.work import console, leave
    from railgen.data.library import look_up
    from railgen.formats.folder import write_folder
    from railgen.formats.option_files import matrix_csv
    from railgen.papers.option_pages import matrix_page
    from railgen.placing.family_proof import proof_of_family
    from railgen.placing.verdicts import DECIDED, matrix_of
    from railgen.records.option_bank import open_on_bank
    from railgen.records.option_sections import open_section

    catalogue = open_catalogue(library)
    try:
        look_up(catalogue.library.families, family, "command line", "FAMILY", "family")
        matrix = matrix_of(proof_of_family(family, catalogue, limits), workers=os.cpu_count() or 1)
        left = open_on_bank(family, DECIDED, orders_in(orders, limits), catalogue, report) if orders else None
        written = []
        if output:
            page = matrix_page(matrix, [open_section(*left)] if left else [])
            files = {"matrix.html": page, "matrix.csv": matrix_csv(matrix)}
            folder = write_folder(output, family, files)
            written = [folder / name for name in files]
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)
    if as_json:
        click.echo(json.dumps(matrix_data(matrix, left), indent=2))
    else:
        show_matrix(console(), matrix, left)
        _name(written)
    leave(ERROR_FINDING if any(cell.verdict in _CLASHES for cell in matrix.cells.values()) else CLEAN)


def _matrices(code: str, catalogue: Catalogue, limits: str | None) -> list[Matrix]:
    """The option's clashes in every family that it is sold in; raises InputError where it can never be ordered."""
    from railgen.data.library import look_up
    from railgen.placing.family_proof import proof_of_family
    from railgen.placing.verdicts import matrix_of

    option = look_up(catalogue.library.options, code, "command line", "OPTION", "option")
    return [matrix_of(proof_of_family(family, catalogue, limits, code), code) for family in option.families]


def _on_bank(code: str, orders: tuple[Path, ...], catalogue: Catalogue, limits: str | None) -> list[OptionOnSerial]:
    from railgen.records.option_bank import option_on_bank

    return list(option_on_bank(code, orders_in(orders, limits), catalogue, report))


def _option_data(code: str, matrices: list[Matrix], serials: list[OptionOnSerial] | None) -> dict[str, Any]:
    from railgen.cli.option_show import option_data

    return option_data(code, matrices, serials)


def _write_option(code: str, matrices: list[Matrix], serials: list[OptionOnSerial] | None, output: Path) -> list[Path]:
    from railgen.formats.folder import write_folder
    from railgen.formats.json_text import json_bytes
    from railgen.papers.option_pages import option_page
    from railgen.records.option_sections import serials_section

    option = matrices[0].proof.catalogue.library.options[code]
    bank = [serials_section(serials)] if serials is not None else []
    files = {
        "option.html": option_page(option, matrices, bank),
        "option.json": json_bytes(_option_data(code, matrices, serials)),
    }
    folder = write_folder(output, code, files)
    return [folder / name for name in files]


def _name(written: Iterable[Path]) -> None:
    for file in written:
        click.echo(f"written: {file}")
