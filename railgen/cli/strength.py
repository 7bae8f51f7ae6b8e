"""``railgen strength``: bending, rated joints and hole criticality of orders, for the designer."""

from __future__ import annotations

from pathlib import Path

import click

from railgen.cli.common import (
    json_option,
    library_option,
    limits_option,
    open_catalogue,
    orders_argument,
    output_option,
    wording_option,
)
from railgen.data.order_input import OrderInput
from railgen.layout.plan import SerialPlan

_RULES = ("bending", "joint", "grip")


@click.command()
@orders_argument
@library_option
@limits_option
@output_option
@click.option(
    "--drawing",
    "pictures",
    type=click.Choice(["png", "svg", "dxf"]),
    multiple=True,
    help="Write the diagrams as a DXF too, or each sheet as a picture, besides the PDF.",
)
@wording_option
@json_option
def command(
    orders: tuple[Path, ...],
    library: str | None,
    limits: str | None,
    output: Path,
    pictures: tuple[str, ...],
    as_json: bool,
) -> None:
    """Show the strength of the rails of each ORDER, and draw it: DIR/SERIAL-strength.pdf.

    Bending is looked at where the order has [loads], joints where a component carries a rated load. Strength figures
    are checks and no approvals. Exit status 1 where any finding of the order is an error.
    """
    from railgen.cli.show import findings_table, summary
    from railgen.cli.strength_show import show_strength
    from railgen.cli.work import console, for_each_order, leave
    from railgen.formats.folder import write_whole
    from railgen.formats.json_text import json_bytes
    from railgen.formats.strength_file import strength_data
    from railgen.papers.strength_sheets import strength_files
    from railgen.rules.strength import strength_of

    catalogue, screen = open_catalogue(library), console()
    data: list[dict[str, object]] = []

    def work(planned: SerialPlan, _: OrderInput) -> None:
        strength = strength_of(planned)
        files = strength_files(planned, strength, pictures)
        for name, content in files.items():
            write_whole(output / name, content)
        if as_json:
            data.append(strength_data(planned.serial, strength))
            return
        screen.print(summary(planned), highlight=False)
        show_strength(screen, strength)
        found = tuple(finding for finding in planned.findings if finding.rule in _RULES)
        if found:
            screen.print(findings_table(found))
        for name in files:
            screen.print(f"written: {output / name}", highlight=False)

    status = for_each_order(orders, catalogue, limits, work, "computing")
    if as_json:
        click.echo(json_bytes(data).decode(), nl=False)
    leave(status)
