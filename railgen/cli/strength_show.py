"""Strength on a screen: reactions and lowest margins, rated joints, and the most stressed holes."""

from __future__ import annotations

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from railgen.holes.table import FACES, PARTS, SIDES
from railgen.rules.strength import Strength
from railgen.strength.joints import MODES

_WORST = 20
"""Holes listed of those that are ranked; JSON has them all."""


def show_strength(screen: Console, strength: Strength) -> None:
    """Reactions and lowest margins, rated joints and the worst holes as tables, or why there are none."""
    if strength.bending:
        screen.print(_bending(strength))
    else:
        screen.print(escape("no [loads] in the order: bending is not checked and no hole is ranked"))
    if len(strength.joints.forces):
        screen.print(_joints(strength))
    else:
        screen.print("no component carries a rated load: no joint is checked")
    if len(strength.criticality):
        screen.print(_holes(strength))


def _bending(strength: Strength) -> Table:
    names = ("rail", "front axle, kN", "rear, kN", "lowest margin", "at station", "moment, kN m", "resists, kN m")
    table = _table("Bending: reactions at rest, moments with the dynamic factor", names, 1)
    for rail in strength.bending:
        at = rail.lowest
        reactions = f"{rail.loads.front / 1e3:.1f}", f"{rail.loads.rear / 1e3:.1f}"
        lowest = f"{rail.margin[at]:.2f}", f"{rail.station[at]:.1f}"
        moments = f"{rail.moment[at] / 1e6:.1f}", f"{rail.resistance[at] / 1e6:.1f}"
        table.add_row(SIDES[rail.loads.side], *reactions, *lowest, *moments)
    return table


def _joints(strength: Strength) -> Table:
    holes, joints = strength.pattern.table, strength.joints
    names = ("side", "component", "hole", "governs", "load", "use", "margin")
    table = _table("Rated joints: margin of each hole under its worst load", names, 4)
    for row, worst in zip(*(index.tolist() for index in joints.by_hole()), strict=True):
        component = holes.names.components[int(joints.forces.component[worst])]
        mode, load = MODES[int(joints.governing[worst])], str(int(joints.forces.load[worst]) + 1)
        figures = f"{joints.greatest[worst]:.3f}", f"{joints.margin[worst]:.2f}"
        table.add_row(SIDES[holes.side[row]], component, holes.hole_id(row), mode, load, *figures)
    return table


def _holes(strength: Strength) -> Table:
    holes, found = strength.pattern.table, strength.criticality
    shown = min(_WORST, len(found))
    title = f"The {shown} most stressed of {len(found)} holes: nominal stress x Kt"
    table = _table(title, ("side", "part", "face", "hole", "rank", "station", "nominal, MPa", "Kt", "peak, MPa"), 4)
    for index, row in enumerate(found.row[:shown].tolist()):
        place = SIDES[holes.side[row]], PARTS[holes.part[row]], FACES[holes.face[row]], holes.hole_id(row)
        stress = f"{found.nominal[index]:.1f}", f"{found.factor[index]:.3f}", f"{found.peak[index]:.1f}"
        table.add_row(*place, str(int(found.rank[index])), f"{found.station[index]:.1f}", *stress)
    return table


def _table(title: str, names: tuple[str, ...], words: int) -> Table:
    """A table whose first columns hold words and all others numbers."""
    table = Table(title=title, title_justify="left", pad_edge=False, header_style="bold")
    for place, name in enumerate(names):
        table.add_column(name, justify="left" if place < words else "right", overflow="fold")
    return table
