"""``railgen step``: the finished parts as STEP solids."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from railgen.cli.common import (
    WRONG_INPUT,
    counted,
    library_option,
    limits_option,
    open_catalogue,
    orders_argument,
    output_option,
    report,
)
from railgen.data.messages import InputError
from railgen.data.order_input import OrderInput
from railgen.layout.plan import SerialPlan


@click.command()
@orders_argument
@library_option
@limits_option
@output_option
def command(orders: tuple[Path, ...], library: str | None, limits: str | None, output: Path) -> None:
    """Write the rails and liners of each ORDER as STEP solids, with holes and taper, into DIR/SERIAL-step.

    One file a part, in mm and in vehicle axes: x rearward from the front axle, y to the right from the truck's middle,
    z up from the rail's bottom. Each file is read back and held to the hole table and the computed mass before
    anything is written. Needs the optional extra: pip install 'railgen[step]'.
    """
    from railgen.cli.show import summary
    from railgen.cli.work import console, for_each_order, leave
    from railgen.formats.folder import write_folder
    from railgen.formats.step import require_binding, step_files
    from railgen.records.check_step import read_back

    try:
        require_binding()
    except InputError as error:
        report(error)
        sys.exit(WRONG_INPUT)
    catalogue, screen = open_catalogue(library), console()

    def work(planned: SerialPlan, _: OrderInput) -> None:
        files = step_files(planned)
        axes = read_back(planned, files)
        folder = write_folder(output, f"{planned.serial}-step", files)
        screen.print(summary(planned), highlight=False)
        screen.print(f"written: {folder}; read back: {counted(axes, 'hole')} and the mass as computed", highlight=False)

    leave(for_each_order(orders, catalogue, limits, work, "building solids"))
