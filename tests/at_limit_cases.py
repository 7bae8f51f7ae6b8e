"""Something placed a chosen way off each limit on random rails: a case for every rule and measure that has one.

A case is called with a ``Draw`` and a shift: how much better (mm, or what the measure is in) than the limit the value
is to be. The same draw makes the same rail with the same limit, whatever the shift.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from at_limit_rails import FIT, SOCKET, STUD, WASHER, Draw, Table, bolts, holes, liner_of, part, tail_of
from builders import FRONT, REAR
from clearance_cases import Placed, box, component, foot, pattern

from railgen.data.component import Component
from railgen.data.plant import Clamp, Press
from railgen.frame.liner import LinerShape
from railgen.frame.rail import RailShape, part_length
from railgen.frame.section import Section
from railgen.rules.pattern import Pattern


def off_rail(d: Draw, shift: float) -> Pattern:
    width = d.rng.uniform(10.0, 20.0)
    return pattern(
        [Placed(part("a", holes((0, d.section.tangent + width / 2 + shift), diameter=width)), d.station)], d.rail
    )


def edge(d: Draw, shift: float) -> Pattern:
    limit = d.limit + 12.0
    group = holes((0, d.section.flange - limit - shift), face="bottom", diameter=12.0)
    return d.of("edge-distance edge", part("a", group), limit=limit)


def rail_end(d: Draw, shift: float) -> Pattern:
    group = holes((REAR - d.limit - 20.0 - shift - d.station, d.middle), diameter=12.0)
    return d.of("edge-distance rail-end", part("a", group), limit=d.limit + 20.0)


def _pair(d: Draw, distance: float, **keys: Any) -> Component:
    """Two holes at a distance in some direction, one of them now and then another component's."""
    turn = d.rng.uniform(0.0, math.pi)
    other = (distance * math.cos(turn), d.middle + distance * math.sin(turn))
    group = bolts if keys.pop("screws", False) else holes
    return part("a", group((0.0, d.middle), other, **keys))


def centre(d: Draw, shift: float) -> Pattern:
    return d.of("hole-spacing centre", _pair(d, 40.0 + d.limit + shift, diameter=15.0), limit=40.0 + d.limit)


def ligament(d: Draw, shift: float) -> Pattern:
    return d.of("hole-spacing ligament", _pair(d, 15.0 + d.limit + shift, diameter=15.0))


def bend_tangent(d: Draw, shift: float) -> Pattern:
    up = d.section.tangent + 9.0 + d.limit + shift
    face = d.rng.choice(("web", "top", "bottom"))
    across = d.section.depth - up if face == "web" and d.rng.random() < 0.5 else up
    return d.of("bend-clearance tangent", part("a", holes((0, across), face=face, diameter=18.0)))


def flange_inside(d: Draw, shift: float) -> Pattern:
    up = d.section.thickness + 9.0 + 40.0 + d.limit + shift
    return d.of("bend-clearance flange-inside", part("a", holes((0, up), diameter=18.0)), limit=40.0 + d.limit)


def seat_tangent(d: Draw, shift: float) -> Pattern:
    return d.of("washer-seat tangent", part("a", bolts((0, d.section.tangent + WASHER + d.limit + shift))))


def seat_edge(d: Draw, shift: float) -> Pattern:
    group = bolts((0, d.section.flange - WASHER - d.limit - shift), face="top")
    return d.of("washer-seat edge", part("a", group))


def seat_washer(d: Draw, shift: float) -> Pattern:
    return d.of("washer-seat washer", _pair(d, 2 * WASHER + d.limit + shift, screws=True))


def wrench_flange(d: Draw, shift: float) -> Pattern:
    up = d.section.thickness + SOCKET + d.limit + shift
    return d.of("wrench-access radial", part("a", bolts((0, up), face=d.rng.choice(("web", "top")))))


def wrench_washer(d: Draw, shift: float) -> Pattern:
    return d.of("wrench-access radial", _pair(d, SOCKET + WASHER + d.limit + shift, screws=True))


def wrench_foot(d: Draw, shift: float) -> Pattern:
    plate = component("plate", footprints=[_corner(SOCKET + d.limit + shift, d.middle, d.rng)])
    return d.of("wrench-access radial", part("a", bolts((0, d.middle))), plate)


def _corner(off: float, across: float, rng: random.Random, surface: str = "outside") -> Table:
    """A foot with a notch whose nearest corner lies ``off`` from (0, across), in some direction behind it."""
    turn = rng.uniform(-1.0, 1.0)
    x, y = off * math.cos(turn), across + off * math.sin(turn)
    # both sides from the corner lead away from the point that it is nearest to
    way = (math.cos(turn), math.sin(turn))
    side = (-way[1], way[0])

    def at(along: float, aside: float) -> tuple[float, float]:
        return (x + along * way[0] + aside * side[0], y + along * way[1] + aside * side[1])

    corners = at(0, 0), at(25, -20), at(60, -20), at(60, 20), at(40, 0), at(25, 20)
    return foot(*corners, surface=surface)


def _before(d: Draw, length: float, inside: bool) -> Component:
    start = d.section.thickness + length if inside else -length - 60.0
    return component("box", envelopes=[box(-40.0, 40.0, (start, start + 60.0), (d.middle - 40.0, d.middle + 40.0))])


def nut_length(d: Draw, shift: float) -> Pattern:
    limit = 60.0 + d.limit
    return d.of(
        "wrench-access nut-length", part("a", bolts((0, d.middle))), _before(d, limit + shift, True), limit=limit
    )


def head_length(d: Draw, shift: float) -> Pattern:
    limit = 60.0 + d.limit
    return d.of(
        "wrench-access head-length", part("a", bolts((0, d.middle))), _before(d, limit + shift, False), limit=limit
    )


def flange_size(d: Draw, shift: float) -> Pattern:
    return d.of("flange-hole size", part("a", holes((0, 60.0), face="top", diameter=d.limit - shift)))


def least(d: Draw, shift: float) -> Pattern:
    return d.of("hole-size least", part("a", holes((0, d.middle), diameter=d.limit + shift)))


def punch_stress(d: Draw, shift: float) -> Pattern:
    width = d.rng.uniform(10.0, 20.0)
    stress = 4 * 0.75 * 750 * d.section.thickness / width
    group = holes((0, d.middle), diameter=width)
    return d.of("hole-size punch-stress", part("a", group), limit=stress + shift, unit="MPa")


def largest(d: Draw, shift: float) -> Pattern:
    return d.of("hole-size largest", part("a", bolts((0, d.middle))), limit=FIT + shift)


def passage(d: Draw, shift: float) -> Pattern:
    return d.of("hole-size passage", part("a", holes((0, d.middle), diameter=30 + d.limit - shift)), limit=30 + d.limit)


def duplicate(d: Draw, shift: float) -> Pattern:
    return pattern([Placed(_pair(d, 0.05 + shift, diameter=15.0), d.station)], d.rail)


def conflict(d: Draw, shift: float) -> Pattern:
    return pattern([Placed(_pair(d, 15.0 + shift, diameter=15.0), d.station)], d.rail)


def weld_hole(d: Draw, shift: float) -> Pattern:
    taper = d.rail.taper
    assert taper is not None
    station = d.rng.uniform(4200.0, 4700.0)
    off = 6.0 + d.limit + shift
    at = (station - off * math.sin(taper.slope), float(taper.lower_cut_z(station)) - off * math.cos(taper.slope))
    return d.of("weld-clearance hole", part("a", holes((at[0] - d.station, at[1]), diameter=12.0)))


def stud_hole(d: Draw, shift: float) -> Pattern:
    turn, off = d.rng.uniform(0.0, math.pi), 7.5 + d.limit + shift
    stud = holes((0, d.middle), shape="mark") | STUD
    hole = holes((off * math.cos(turn), d.middle + off * math.sin(turn)), diameter=15.0, id="other")
    return d.of("weld-clearance stud-hole", part("a", stud, hole))


def stud_tangent(d: Draw, shift: float) -> Pattern:
    stud = holes((0, d.section.tangent + d.limit + shift), shape="mark") | STUD
    return d.of("weld-clearance stud-tangent", part("a", stud))


def _by_liner(d: Draw, measure: str, reach: float, shift: float, group: Callable[..., Table], **keys: Any) -> Pattern:
    liner = d.rail.liner
    assert liner is not None
    way = d.rng.choice((-1, 1))
    station = d.rng.choice((liner.start, liner.end)) + way * (reach + d.limit + shift)
    return d.of(measure, part("a", group((station - d.station, d.middle), **keys)))


def liner_hole(d: Draw, shift: float) -> Pattern:
    return _by_liner(d, "liner-edge hole", 8.0, shift, holes, diameter=16.0)


def liner_washer(d: Draw, shift: float) -> Pattern:
    return _by_liner(d, "liner-edge washer", WASHER, shift, bolts)


def feet(d: Draw, shift: float) -> Pattern:
    turn, surface = d.rng.uniform(-1.0, 1.0), d.rng.choice(("outside", "inside"))
    tip = foot((0, d.middle), (-60, d.middle - 20), (-30, d.middle), (-60, d.middle + 20), surface=surface)
    other = _corner(d.limit + shift, d.middle, random.Random(turn), surface)
    return d.of("footprint-clash feet", component("a", footprints=[tip]), component("b", footprints=[other]))


def foot_tangent(d: Draw, shift: float) -> Pattern:
    low = d.section.tangent + d.limit + shift
    face = d.rng.choice(("web", "top", "bottom"))
    corners = (0.0, low), (30.0, low + 10), (0.0, low + 25), (10.0, low + 10)
    return d.of("footprint-clash tangent", component("a", footprints=[foot(*corners, face=face)]))


def foot_washer(d: Draw, shift: float) -> Pattern:
    plate = component("plate", footprints=[_corner(WASHER + d.limit + shift, d.middle, d.rng)])
    return d.of("footprint-clash washer", part("a", bolts((0, d.middle))), plate)


def foot_end(d: Draw, shift: float) -> Pattern:
    end = REAR - d.limit - shift - d.station
    corners = (end, d.middle), (end - 50, d.middle + 30), (end - 20, d.middle), (end - 50, d.middle - 30)
    return d.of("footprint-clash end", component("a", footprints=[foot(*corners)]))


def _boxes(clearance: str) -> Callable[[Draw, float], Pattern]:
    def case(d: Draw, shift: float) -> Pattern:
        """Two boxes apart along one axis, or over an edge or a corner: 3, 4 and 12 make 13."""
        gap = d.limit + shift
        shares = d.rng.choice(((1, 0, 0), (0, 1, 0), (0, 0, 1), (0.6, 0.8, 0), (3 / 13, 4 / 13, 12 / 13)))
        x, y, z = (share * gap if share else -20.0 for share in shares)
        first = box(-50, 0, (100, 150), (-50, 0), clearance=clearance)
        second = box(x, x + 50, (150 + y, 200 + y), (z, z + 50), clearance=clearance)
        one, other = component("a", envelopes=[first]), component("b", envelopes=[second])
        return d.of(f"space-clash {clearance}", one, other)

    return case


def proud(d: Draw, shift: float) -> Pattern:
    corners = (4200 - d.station, 40), (4260 - d.station, 40), (4260 - d.station, 80)
    plies = [{"thickness": d.limit - shift, "surface": "outside"}]
    return d.of("ramp-flush proud", component("a", footprints=[foot(*corners, face="top")], plies=plies))


def recess(d: Draw, shift: float) -> Pattern:
    """The head of a flush M12 is just as high as its cone is deep."""
    group = holes((4300 - d.station, 55), face="top") | {"fastener": "Flush M12x1.25", "operation": "countersink"}
    return d.of("ramp-flush recess", part("a", group), limit=shift)


def relief(d: Draw, shift: float) -> Pattern:
    tail = tail_of(d.rng, d.section, 2 * (20 + d.limit + shift))
    return replace(d, rail=replace(d.rail, taper=tail)).of("taper-shape relief", limit=20 + d.limit)


def seam_bend(d: Draw, shift: float) -> Pattern:
    """A bend as tight as the plate is thick, which EN 1993-1-8 table 4.2 lets no weld be near from 4 mm up."""
    section = replace(d.section, inside_radius=d.section.thickness)
    tail = tail_of(d.rng, section, slit=section.tangent + 20 + d.limit + shift)
    return replace(d, rail=RailShape(section, FRONT, REAR, tail, None)).of("taper-shape seam-bend", limit=20 + d.limit)


def liner_proud(d: Draw, shift: float) -> Pattern:
    flange = d.section.flange - d.section.thickness + d.limit - shift
    return replace(d, rail=replace(d.rail, liner=liner_of(d.rng, d.section, flange))).of("liner-fit proud")


def interference(d: Draw, shift: float) -> Pattern:
    """Liner and rail with corners about one centre along the web, so that the corner digs in by the gap's want."""
    inner = Section(d.section.depth - 2 * d.section.thickness, 70.0, 6.0, 12.0, 0.4)
    outer = replace(d.section, inside_radius=inner.tangent + d.limit)
    rail = RailShape(outer, FRONT, REAR, None, LinerShape(500.0, 2500.0, inner, outer))
    assert rail.liner is not None
    return replace(d, rail=rail).of("liner-fit interference", limit=rail.liner.interference + shift)


def _mates(d: Draw, measure: str, off: tuple[float, float]) -> Pattern:
    left = part("left", holes((0, d.middle), diameter=12.0), mates="pair")
    right = part("right", holes((off[0], d.middle + off[1]), diameter=12.0), mates="pair")
    sides = [Placed(left, d.station, ("LH",)), Placed(right, d.station, ("RH",))]
    return d.of(measure, *sides)


def mates_station(d: Draw, shift: float) -> Pattern:
    return _mates(d, "pair-match station", (d.limit - shift, 0.0))


def mates_height(d: Draw, shift: float) -> Pattern:
    return _mates(d, "pair-match height", (0.0, shift - d.limit))


def pressed(made: Pattern, **changes: Any) -> Pattern:
    """A pattern under a press of other figures."""
    library = made.order.library
    press: Press = library.press.model_copy(update=changes)
    changed = replace(library, presses={**library.presses, press.id: press})
    return replace(made, order=replace(made.order, library=changed), _evaluated={}, _computed={})


def force(d: Draw, shift: float) -> Pattern:
    """17.5 mm round, for which the crib has a tool; steel of at most 950 MPa."""
    share = math.pi * FIT * d.section.thickness * 0.75 * 950 / 2e6
    made = d.of("press-limit force", part("a", holes((0, d.middle), diameter=FIT)), limit=share + shift, unit="ratio")
    return pressed(made, force=2000.0)


def reach(d: Draw, shift: float) -> Pattern:
    up = d.section.flange - d.section.tangent + d.section.bend_allowance + d.middle - d.section.tangent
    made = d.of("press-limit reach", part("a", holes((0, d.middle), diameter=FIT)), limit=0, unit="violations")
    return pressed(made, reach=up + shift)


def clamp(d: Draw, shift: float) -> Pattern:
    """A clamp about the hole's own station that ends short of its edge."""
    off = d.section.flange - 60.0 - FIT / 2 - d.limit - shift  # the clamp's depth: the hole's distance from the edge
    made = d.of("press-limit clamp", part("a", holes((0, 60.0), face="bottom", diameter=FIT)))
    grip = Clamp(station=d.station - FRONT, width=200.0, depth=off)
    return pressed(made, clamps=(grip,), clamp_shifts=(0.0,), clamp_dead_zone=0.0, gauge_edge="bottom")


def blank(d: Draw, shift: float) -> Pattern:
    made = d.of("press-limit blank", part("a", holes((0, d.middle), diameter=FIT)), limit=0, unit="violations")
    return pressed(made, longest_blank=part_length(d.rail, "rail") + shift)


CASES: dict[str, Callable[[Draw, float], Pattern]] = {
    "off-rail outside": off_rail,
    "edge-distance edge": edge,
    "edge-distance rail-end": rail_end,
    "hole-spacing centre": centre,
    "hole-spacing ligament": ligament,
    "bend-clearance tangent": bend_tangent,
    "bend-clearance flange-inside": flange_inside,
    "washer-seat tangent": seat_tangent,
    "washer-seat edge": seat_edge,
    "washer-seat washer": seat_washer,
    "wrench-access radial, of a flange": wrench_flange,
    "wrench-access radial, of a washer": wrench_washer,
    "wrench-access radial, of a foot": wrench_foot,
    "wrench-access nut-length": nut_length,
    "wrench-access head-length": head_length,
    "flange-hole size": flange_size,
    "hole-size least": least,
    "hole-size punch-stress": punch_stress,
    "hole-size largest": largest,
    "hole-size passage": passage,
    "duplicate-hole pair": duplicate,
    "size-conflict pair": conflict,
    "weld-clearance hole": weld_hole,
    "weld-clearance stud-hole": stud_hole,
    "weld-clearance stud-tangent": stud_tangent,
    "liner-edge hole": liner_hole,
    "liner-edge washer": liner_washer,
    "footprint-clash feet": feet,
    "footprint-clash tangent": foot_tangent,
    "footprint-clash washer": foot_washer,
    "footprint-clash end": foot_end,
    **{f"space-clash {name}": _boxes(name) for name in ("static", "service", "motion", "tyre", "heat")},
    "ramp-flush proud": proud,
    "ramp-flush recess": recess,
    "taper-shape relief": relief,
    "taper-shape seam-bend": seam_bend,
    "liner-fit proud": liner_proud,
    "liner-fit interference": interference,
    "pair-match station": mates_station,
    "pair-match height": mates_height,
    "press-limit force": force,
    "press-limit reach": reach,
    "press-limit clamp": clamp,
    "press-limit blank": blank,
}
"""Cases by rule and measure, and what it is held against where a measure has several."""
