"""Things about the shape of a rail and the press placed a chosen way off each limit: the rest of the cases.

They are as those of ``at_limit_cases``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from at_limit_rails import FIT, Draw, Table, holes, liner_of, part, tail_of
from builders import FRONT, REAR
from clearance_cases import Placed, component, foot

from railgen.data.plant import Clamp, Press, Tool
from railgen.frame.liner import LinerShape
from railgen.frame.rail import RailShape, part_length
from railgen.frame.section import Section
from railgen.rules.pattern import Pattern

FLUSH = "Flush M12x1.25"


def proud(d: Draw, shift: float) -> Pattern:
    corners = (4200 - d.station, 40), (4260 - d.station, 40), (4260 - d.station, 80)
    plies = [{"thickness": d.limit - shift, "surface": "outside"}]
    return d.of("ramp-flush proud", component("a", footprints=[foot(*corners, face="top")], plies=plies))


def _flush(d: Draw, measure: str, proud: float, limit: float) -> Pattern:
    """A flush M12 in the ramp with a head so much higher than its countersink is deep, (D - d) / 2 at 90 degrees."""
    group = holes((4300 - d.station, 55), face="top") | {"fastener": FLUSH, "operation": "countersink"}
    made = d.of(measure, part("a", group), limit=limit)
    screws = made.order.library.fasteners
    sunk = screws[FLUSH].countersink
    assert sunk is not None
    assert sunk.angle == 90
    high = (sunk.diameter - screws[FLUSH].diameter) / 2 + proud
    return stocked(made, fasteners={**screws, FLUSH: screws[FLUSH].model_copy(update={"head_height": high})})


def head_proud(d: Draw, shift: float) -> Pattern:
    return _flush(d, "ramp-flush proud", d.held_to() - shift, d.held_to())


def recess(d: Draw, shift: float) -> Pattern:
    limit = d.held_to(-3.5)
    return _flush(d, "ramp-flush recess", shift - limit, limit)


def relief(d: Draw, shift: float) -> Pattern:
    limit = d.held_to(20.0)
    tail = tail_of(d.rng, d.section, 2 * (limit + shift))
    return replace(d, rail=replace(d.rail, taper=tail)).of("taper-shape relief", limit=limit)


def seam_bend(d: Draw, shift: float) -> Pattern:
    """A bend as tight as the plate is thick, which EN 1993-1-8 table 4.2 lets no weld be near from 4 mm up."""
    section = replace(d.section, inside_radius=d.section.thickness)
    limit = d.held_to(20.0)
    tail = tail_of(d.rng, section, slit=section.tangent + limit + shift)
    return replace(d, rail=RailShape(section, FRONT, REAR, tail, None)).of("taper-shape seam-bend", limit=limit)


def upset(d: Draw, shift: float) -> Pattern:
    """Of h = slit - t / 2 the area 2 h2 tan(a / 2) / cos(a / 2), a the angle by which the ramp falls."""
    tail = tail_of(d.rng, d.section)
    half, h = math.atan2(d.section.depth - tail.end_depth, REAR - tail.start) / 2, tail.slit_depth - tail.thickness / 2
    area = 2 * h**2 * math.tan(half) / math.cos(half)
    made = replace(d, rail=replace(d.rail, taper=tail))
    return made.of("taper-shape upset", limit=area + shift, unit="mm2")


def liner_proud(d: Draw, shift: float) -> Pattern:
    flange = d.section.flange - d.section.thickness + d.held_to() - shift
    return replace(d, rail=replace(d.rail, liner=liner_of(d.rng, d.section, flange))).of("liner-fit proud")


def interference(d: Draw, shift: float) -> Pattern:
    """Liner and rail with corners about one centre along the web, so that the corner digs in by the gap's want.

    Where a row asks, the rail's bend is as wide as the liner's corner: then it just does not.
    """
    inner = Section(d.section.depth - 2 * d.section.thickness, 70.0, 6.0, 12.0, 0.4)
    outer = replace(d.section, inside_radius=inner.tangent + (d.limit if d.asked is None else -shift))
    rail = RailShape(outer, FRONT, REAR, None, LinerShape(500.0, 2500.0, inner, outer))
    assert rail.liner is not None
    return replace(d, rail=rail).of("liner-fit interference", limit=rail.liner.interference + shift)


def _mates(d: Draw, measure: str, off: tuple[float, float]) -> Pattern:
    left = part("left", holes((0, d.middle), diameter=12.0), mates="pair")
    right = part("right", holes((off[0], d.middle + off[1]), diameter=12.0), mates="pair")
    sides = [Placed(left, d.station, ("LH",)), Placed(right, d.station, ("RH",))]
    return d.of(measure, *sides)


def mates_station(d: Draw, shift: float) -> Pattern:
    return _mates(d, "pair-match station", (d.held_to() - shift, 0.0))


def mates_height(d: Draw, shift: float) -> Pattern:
    return _mates(d, "pair-match height", (0.0, shift - d.held_to()))


def stocked(made: Pattern, **changes: Any) -> Pattern:
    """A pattern over a library of which something is changed."""
    library = replace(made.order.library, **changes)
    return replace(made, order=replace(made.order, library=library), _evaluated={}, _computed={})


def pressed(made: Pattern, **changes: Any) -> Pattern:
    """A pattern under a press of other figures."""
    library = made.order.library
    press: Press = library.press.model_copy(update=changes)
    return stocked(made, presses={**library.presses, press.id: press})


def force(d: Draw, shift: float) -> Pattern:
    """17.5 mm round, for which the crib has a tool."""
    return _of_share(d, holes((0, d.middle), diameter=FIT), shift)


def _of_share(d: Draw, group: Table, shift: float) -> Pattern:
    """A press of which hits of 17.5 mm round through steel of at most 950 MPa take the share that is allowed."""
    force = math.pi * FIT * d.section.thickness * 0.75 * 950 / 1e3
    share = d.asked.figure if d.asked else force / 2000.0
    made = d.of("press-limit force", part("a", group), limit=share, unit="ratio")
    return pressed(made, force=force / (share - shift))


def string_force(d: Draw, shift: float) -> Pattern:
    """A slot that a round tool of 17.5 mm cuts by overlapping hits: the tool's edge counts, not the slot's."""
    slot = holes((0, d.middle), shape="slot", diameter=FIT + 4.0, length=60.0)
    tool = Tool(id="R", shape="round", diameter=FIT, strings=True)
    return pressed(_of_share(d, slot, shift), tools=(tool,))


def reach(d: Draw, shift: float) -> Pattern:
    up = d.section.flange - d.section.tangent + d.section.bend_allowance + d.middle - d.section.tangent
    made = d.of("press-limit reach", part("a", holes((0, d.middle), diameter=FIT)), limit=0, unit="violations")
    return pressed(made, reach=up + shift)


def clamp(d: Draw, shift: float) -> Pattern:
    """A clamp about the hole's own station that ends short of its edge."""
    off = d.section.flange - 45.0 - FIT / 2 - d.held_to() - shift  # the hole's distance from the gauge edge
    made = d.of("press-limit clamp", part("a", holes((0, 45.0), face="bottom", diameter=FIT)))
    grip = Clamp(station=d.station - FRONT, width=200.0, depth=off)
    return pressed(made, clamps=(grip,), clamp_shifts=(0.0,), clamp_dead_zone=0.0, gauge_edge="bottom")


def blank(d: Draw, shift: float) -> Pattern:
    made = d.of("press-limit blank", part("a", holes((0, d.middle), diameter=FIT)), limit=0, unit="violations")
    return pressed(made, longest_blank=part_length(d.rail, "rail") + shift)


SHAPE_CASES: dict[str, Callable[[Draw, float], Pattern]] = {
    "ramp-flush proud, of a foot": proud,
    "ramp-flush proud, of a head": head_proud,
    "ramp-flush recess": recess,
    "taper-shape relief": relief,
    "taper-shape seam-bend": seam_bend,
    "taper-shape upset": upset,
    "liner-fit proud": liner_proud,
    "liner-fit interference": interference,
    "pair-match station": mates_station,
    "pair-match height": mates_height,
    "press-limit force": force,
    "press-limit force, of a string": string_force,
    "press-limit reach": reach,
    "press-limit clamp": clamp,
    "press-limit blank": blank,
}
"""Cases as in ``CASES``."""
