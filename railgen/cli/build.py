"""``railgen build``: orders to their folders of files."""

from __future__ import annotations

from pathlib import Path

import click

from railgen.cli.common import (
    library_option,
    limits_option,
    open_catalogue,
    orders_argument,
    output_option,
    wording_option,
)
from railgen.data.findings import has_errors
from railgen.data.order_input import OrderInput
from railgen.layout.plan import SerialPlan
from railgen.papers.style import DrawingStyle, DrawnUnits, Projection


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
    type=click.Choice(["png", "svg", "dxf"]),
    multiple=True,
    help="Write the drawing as a DXF too, or each of its sheets as a picture, besides the PDF.",
)
@click.option(
    "--units", type=click.Choice(["mm", "in", "both"]), default="mm", show_default=True, help="Lengths on the drawing."
)
@click.option(
    "--projection",
    type=click.Choice(["third", "first"]),
    default="third",
    show_default=True,
    help="The drawing's projection, by angle.",
)
@wording_option
@click.option("--nc1", is_flag=True, help="Write each part and each blank as a DSTV file too.")
@click.option(
    "--split",
    "splits",
    type=click.Choice(["tool", "layer"]),
    multiple=True,
    help="Write a DXF a tool, or a DXF a layer, besides the cut files.",
)
@click.option("--zip", "zipped", is_flag=True, help="Pack each serial's files into DIR/SERIAL.zip too.")
def command(
    orders: tuple[Path, ...],
    library: str | None,
    limits: str | None,
    output: Path,
    dxf: str,
    pictures: tuple[str, ...],
    units: DrawnUnits,
    projection: Projection,
    nc1: bool,
    splits: tuple[str, ...],
    zipped: bool,
) -> None:
    """Plan each ORDER (a TOML file, or a bank as CSV), check it and write its folder DIR/SERIAL.

    With an error finding no cut file and no route card is written, and the drawing is marked NOT FOR PRODUCTION.
    """
    from railgen.cli.show import show_archive, show_plan
    from railgen.cli.work import console, for_each_order, leave
    from railgen.formats.archive import remove_archive, write_archive
    from railgen.formats.folder import write_folder
    from railgen.formats.more_cut_files import MORE
    from railgen.pipeline import Choices, serial_files

    catalogue, screen = open_catalogue(library), console()
    asked = {"nc1": nc1, "tools": "tool" in splits, "layers": "layer" in splits}
    more = tuple(name for name in MORE if asked[name])
    style = DrawingStyle(units, projection)
    choices = Choices("R2018" if dxf == "R2018" else "R12", tuple(dict.fromkeys(pictures)), more=more, drawing=style)

    def work(planned: SerialPlan, given: OrderInput) -> None:
        files = serial_files(planned, given.name, given.sha256, choices)
        folder = write_folder(output, planned.serial, files)
        archive = write_archive(output, planned.serial, files) if zipped else None
        removed = None if zipped else remove_archive(output, planned.serial)
        show_plan(screen, planned)
        held_back = " (no cut files: see the errors)" if has_errors(planned.findings) else ""
        screen.print(f"written: {folder}{held_back}", highlight=False)
        show_archive(screen, archive, removed)

    leave(for_each_order(orders, catalogue, limits, work, "building", remedies=True))
