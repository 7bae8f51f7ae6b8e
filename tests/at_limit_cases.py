"""Something placed a chosen way off each limit on random rails: a case for every rule and measure that has one.

A case is called with a ``Draw`` and a shift: how much better (mm, or what the measure is in) than the limit the value
is to be. The same draw makes the same rail with the same limit, whatever the shift.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from typing import Any

from at_limit_rails import FIT, SOCKET, STUD, WASHER, Draw, Table, bolts, holes, part
from at_limit_shapes import SHAPE_CASES
from builders import REAR
from clearance_cases import Placed, box, component, foot, pattern

from railgen.data.component import Component
from railgen.rules.pattern import Pattern


def off_rail(d: Draw, shift: float) -> Pattern:
    width = d.rng.uniform(10.0, 20.0)
    return pattern(
        [Placed(part("a", holes((0, d.section.tangent + width / 2 + shift), diameter=width)), d.station)], d.rail
    )


def edge(d: Draw, shift: float) -> Pattern:
    limit = d.held_to(12.0)
    group = holes((0, d.section.flange - limit - shift), face="bottom", diameter=d.width(12.0))
    return d.of("edge-distance edge", part("a", group), limit=limit)


def rail_end(d: Draw, shift: float) -> Pattern:
    limit = d.held_to(20.0)
    group = holes((REAR - limit - shift - d.station, d.middle), diameter=12.0)
    return d.of("edge-distance rail-end", part("a", group), limit=limit)


def _pair(d: Draw, distance: float, **keys: Any) -> Component:
    """Two holes at a distance in some direction, one of them now and then another component's."""
    turn = d.turn()
    other = (distance * math.cos(turn), d.middle + distance * math.sin(turn))
    group = bolts if keys.pop("screws", False) else holes
    return part("a", group((0.0, d.middle), other, **keys))


def centre(d: Draw, shift: float) -> Pattern:
    limit = d.held_to(40.0)
    return d.of("hole-spacing centre", _pair(d, limit + shift, diameter=d.width(15.0)), limit=limit)


def ligament(d: Draw, shift: float) -> Pattern:
    width = d.width(15.0)
    return d.of("hole-spacing ligament", _pair(d, width + d.held_to() + shift, diameter=width))


def bend_tangent(d: Draw, shift: float) -> Pattern:
    up = d.section.tangent + 9.0 + d.held_to() + shift
    face = d.rng.choice(("web", "top", "bottom"))
    across = d.section.depth - up if face == "web" and d.rng.random() < 0.5 else up
    return d.of("bend-clearance tangent", part("a", holes((0, across), face=face, diameter=18.0)))


def flange_inside(d: Draw, shift: float) -> Pattern:
    limit = d.held_to(40.0)
    up = d.section.thickness + 9.0 + limit + shift
    return d.of("bend-clearance flange-inside", part("a", holes((0, up), diameter=18.0)), limit=limit)


def seat_tangent(d: Draw, shift: float) -> Pattern:
    return d.of("washer-seat tangent", part("a", bolts((0, d.section.tangent + WASHER + d.held_to() + shift))))


def seat_edge(d: Draw, shift: float) -> Pattern:
    group = bolts((0, d.section.flange - WASHER - d.held_to() - shift), face="top")
    return d.of("washer-seat edge", part("a", group))


def seat_washer(d: Draw, shift: float) -> Pattern:
    return d.of("washer-seat washer", _pair(d, 2 * WASHER + d.held_to() + shift, screws=True))


def wrench_flange(d: Draw, shift: float) -> Pattern:
    up = d.section.thickness + SOCKET + d.held_to() + shift
    return d.of("wrench-access radial", part("a", bolts((0, up), face=d.rng.choice(("web", "top")))))


def wrench_washer(d: Draw, shift: float) -> Pattern:
    return d.of("wrench-access radial", _pair(d, SOCKET + WASHER + d.held_to() + shift, screws=True))


def wrench_foot(d: Draw, shift: float) -> Pattern:
    plate = component("plate", footprints=[_corner(SOCKET + d.held_to() + shift, d.middle, d.rng)])
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
    limit = d.held_to(60.0)
    return d.of(
        "wrench-access nut-length", part("a", bolts((0, d.middle))), _before(d, limit + shift, True), limit=limit
    )


def head_length(d: Draw, shift: float) -> Pattern:
    limit = d.held_to(60.0)
    return d.of(
        "wrench-access head-length", part("a", bolts((0, d.middle))), _before(d, limit + shift, False), limit=limit
    )


def flange_size(d: Draw, shift: float) -> Pattern:
    return d.of("flange-hole size", part("a", holes((0, 60.0), face="top", diameter=d.held_to() - shift)))


def least(d: Draw, shift: float) -> Pattern:
    return d.of("hole-size least", part("a", holes((0, d.middle), diameter=d.held_to() + shift)))


def punch_stress(d: Draw, shift: float) -> Pattern:
    force = 4 * 0.75 * 750 * d.section.thickness
    stress = d.asked.figure if d.asked else force / d.rng.uniform(10.0, 20.0)
    group = holes((0, d.middle), diameter=force / (stress - shift))
    return d.of("hole-size punch-stress", part("a", group), limit=stress, unit="MPa")


def largest(d: Draw, shift: float) -> Pattern:
    limit = d.held_to(FIT)
    return d.of("hole-size largest", part("a", bolts((0, d.middle), diameter=limit - shift)), limit=limit)


def passage(d: Draw, shift: float) -> Pattern:
    limit = d.held_to(30.0)
    return d.of("hole-size passage", part("a", holes((0, d.middle), diameter=limit - shift)), limit=limit)


def duplicate(d: Draw, shift: float) -> Pattern:
    return pattern([Placed(_pair(d, 0.05 + shift, diameter=15.0), d.station)], d.rail)


def conflict(d: Draw, shift: float) -> Pattern:
    return pattern([Placed(_pair(d, 15.0 + shift, diameter=15.0), d.station)], d.rail)


def weld_hole(d: Draw, shift: float) -> Pattern:
    taper = d.rail.taper
    assert taper is not None
    station = d.rng.uniform(4200.0, 4700.0)
    off = 6.0 + d.held_to() + shift
    at = (station - off * math.sin(taper.slope), float(taper.lower_cut_z(station)) - off * math.cos(taper.slope))
    return d.of("weld-clearance hole", part("a", holes((at[0] - d.station, at[1]), diameter=12.0)))


def stud_hole(d: Draw, shift: float) -> Pattern:
    turn, off = d.turn(), 7.5 + d.held_to() + shift
    stud = holes((0, d.middle), shape="mark") | STUD
    hole = holes((off * math.cos(turn), d.middle + off * math.sin(turn)), diameter=15.0, id="other")
    return d.of("weld-clearance stud-hole", part("a", stud, hole))


def stud_tangent(d: Draw, shift: float) -> Pattern:
    stud = holes((0, d.section.tangent + d.held_to() + shift), shape="mark") | STUD
    return d.of("weld-clearance stud-tangent", part("a", stud))


def _by_liner(d: Draw, measure: str, reach: float, shift: float, group: Callable[..., Table], **keys: Any) -> Pattern:
    liner = d.rail.liner
    assert liner is not None
    way = d.rng.choice((-1, 1))
    station = d.rng.choice((liner.start, liner.end)) + way * (reach + d.held_to() + shift)
    return d.of(measure, part("a", group((station - d.station, d.middle), **keys)))


def liner_hole(d: Draw, shift: float) -> Pattern:
    return _by_liner(d, "liner-edge hole", 8.0, shift, holes, diameter=16.0)


def liner_washer(d: Draw, shift: float) -> Pattern:
    return _by_liner(d, "liner-edge washer", WASHER, shift, bolts)


def feet(d: Draw, shift: float) -> Pattern:
    turn, surface = d.rng.uniform(-1.0, 1.0), d.rng.choice(("outside", "inside"))
    tip = foot((0, d.middle), (-60, d.middle - 20), (-30, d.middle), (-60, d.middle + 20), surface=surface)
    other = _corner(d.held_to() + shift, d.middle, random.Random(turn), surface)
    return d.of("footprint-clash feet", component("a", footprints=[tip]), component("b", footprints=[other]))


def foot_tangent(d: Draw, shift: float) -> Pattern:
    low = d.section.tangent + d.held_to() + shift
    face = d.rng.choice(("web", "top", "bottom"))
    corners = (0.0, low), (30.0, low + 10), (0.0, low + 25), (10.0, low + 10)
    return d.of("footprint-clash tangent", component("a", footprints=[foot(*corners, face=face)]))


def foot_washer(d: Draw, shift: float) -> Pattern:
    plate = component("plate", footprints=[_corner(WASHER + d.held_to() + shift, d.middle, d.rng)])
    return d.of("footprint-clash washer", part("a", bolts((0, d.middle))), plate)


def foot_end(d: Draw, shift: float) -> Pattern:
    end = REAR - d.held_to() - shift - d.station
    corners = (end, d.middle), (end - 50, d.middle + 30), (end - 20, d.middle), (end - 50, d.middle - 30)
    return d.of("footprint-clash end", component("a", footprints=[foot(*corners)]))


def _boxes(clearance: str) -> Callable[[Draw, float], Pattern]:
    def case(d: Draw, shift: float) -> Pattern:
        """Two boxes apart along one axis, or over an edge or a corner: 3, 4 and 12 make 13."""
        gap = d.held_to() + shift
        shares = d.rng.choice(((1, 0, 0), (0, 1, 0), (0, 0, 1), (0.6, 0.8, 0), (3 / 13, 4 / 13, 12 / 13)))
        x, y, z = (share * gap if share else -20.0 for share in shares)
        when = d.asked.row.get("when", {}) if d.asked else {}
        kind = {"clearance": clearance} | when
        first = box(-50, 0, (100, 150), (-50, 0), **kind)
        second = box(x, x + 50, (150 + y, 200 + y), (z, z + 50), **kind)
        one, other = component("a", envelopes=[first]), component("b", envelopes=[second])
        return d.of(f"space-clash {clearance}", one, other)

    return case


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
    **SHAPE_CASES,
}
"""Cases by rule and measure, and what it is held against where a measure has several."""
