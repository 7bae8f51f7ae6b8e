"""``railgen build``: orders to their folders of files."""

from __future__ import annotations

from pathlib import Path

import click

from railgen.cli.common import library_option, limits_option, open_catalogue, orders_argument, output_option
from railgen.data.findings import has_errors
from railgen.data.order_input import OrderInput
from railgen.layout.plan import SerialPlan


@click.command()
@orders_argument
@library_option
@limits_option
@output_option
@click.option(
    "--dxf", type=click.Choice(["R12", "R2018"]), default="R12", show_default=True, help="Cut files' version."
)
@click.option(
    "--drawing",
    "pictures",
    type=click.Choice(["png", "svg"]),
    multiple=True,
    help="Draw each sheet as a picture too, besides the PDF.",
)
def command(
    orders: tuple[Path, ...],
    library: str | None,
    limits: str | None,
    output: Path,
    dxf: str,
    pictures: tuple[str, ...],
) -> None:
    """Plan each ORDER (a TOML file, or a bank as CSV), check it and write its folder DIR/SERIAL.

    With an error finding no cut file and no route card is written, and the drawing is marked NOT FOR PRODUCTION.
    """
    from railgen.cli.show import show_plan
    from railgen.cli.work import console, for_each_order, leave
    from railgen.formats.folder import write_folder
    from railgen.pipeline import Choices, serial_files

    catalogue, screen = open_catalogue(library), console()
    choices = Choices("R2018" if dxf == "R2018" else "R12", tuple(dict.fromkeys(pictures)))

    def work(planned: SerialPlan, given: OrderInput) -> None:
        folder = write_folder(output, planned.serial, serial_files(planned, given.name, given.sha256, choices))
        show_plan(screen, planned)
        held_back = " (no cut files: see the errors)" if has_errors(planned.findings) else ""
        screen.print(f"written: {folder}{held_back}", highlight=False)

    leave(for_each_order(orders, catalogue, limits, work, "building"))
