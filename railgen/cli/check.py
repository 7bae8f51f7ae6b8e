"""``railgen check``: the findings of orders, nothing written."""

from __future__ import annotations

from pathlib import Path

import click

from railgen.cli.common import json_option, library_option, limits_option, open_catalogue, orders_argument
from railgen.data.order_input import OrderInput
from railgen.layout.plan import SerialPlan


@click.command()
@orders_argument
@library_option
@limits_option
@json_option
def command(orders: tuple[Path, ...], library: str | None, limits: str | None, as_json: bool) -> None:
    """Plan each ORDER (a TOML file, or a bank as CSV) and show its findings as a table, or as JSON."""
    from railgen.cli import show
    from railgen.cli.work import console, for_each_order, leave

    catalogue, screen = open_catalogue(library), console()
    plans: list[SerialPlan] = []

    def work(planned: SerialPlan, given: OrderInput) -> None:
        if as_json:
            plans.append(planned)
        else:
            show.show_plan(screen, planned)

    status = for_each_order(orders, catalogue, limits, work, "checking", remedies=True)
    if as_json:
        click.echo(show.as_json(plans))
    leave(status)
