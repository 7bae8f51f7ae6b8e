"""What an inspection found, on a screen."""

from __future__ import annotations

import numpy as np
from rich.markup import escape
from rich.table import Table

from railgen.holes.inspection import PartInspection

_MOST_ROWS = 40


def faults_table(part: PartInspection) -> Table:
    """A row a hole that is not as it should be, the first 40; all stand in the files."""
    table = Table(pad_edge=False, header_style="bold")
    for name in ("hole", "face"):
        table.add_column(name, overflow="fold")
    for name in ("station", "across", "position", "allowed", "in group", "allowed", "diameter", "measured"):
        table.add_column(name, justify="right")
    table.add_column("fault")
    rows = np.flatnonzero(part.out).tolist()
    for row in rows[:_MOST_ROWS]:
        values = (
            *part.nominal[row],
            part.position[row],
            part.station_tolerance[row],
            part.group_position[row],
            part.group_tolerance[row],
            part.diameter[row],
            part.measured_diameter[row],
        )
        faults = ", ".join(part.faults_of(row))
        table.add_row(escape(part.hole[row]), part.face[row], *map(_number, values), faults)
    for row in range(min(len(part.extra), max(_MOST_ROWS - len(rows), 0))):
        place = map(_number, part.extra[row])
        table.add_row("", part.extra_face[row], *place, *[""] * 5, _number(part.extra_diameter[row]), "extra")
    more = len(rows) + len(part.extra) - table.row_count
    if more > 0:
        table.caption = f"and {more} more: see the files"
    return table


def _number(value: float) -> str:
    return "" if np.isnan(value) else f"{value:.2f}"
