"""Rule ``footprint-clash``: feet keep off each other, off bends and ends, and off fasteners of other components.

Feet are true polygons on one side of one face, in the finished part; on a ramp they are seen from above. Common
practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely

from railgen.data.findings import VALUE_TOLERANCE, Finding
from railgen.frame.panels import Face
from railgen.holes.neighbours import overlapping
from railgen.holes.table import FACES, NONE, SIDES, BoolArray, FloatArray, IntArray
from railgen.layout.feet import INSIDE, OUTSIDE, SURFACES, declared_stacks
from railgen.rules.along import quantities_at
from railgen.rules.beside import Beside, is_stud, strangers
from railgen.rules.breaks import Breaks, breaks, each, finding, finding_about, suspects, worse
from railgen.rules.limits import evaluate
from railgen.rules.pattern import Pattern

_RULE = "footprint-clash"


def footprint_clash(pattern: Pattern) -> Iterator[Finding]:
    """Feet too near to each other, on bends, past the rail's ends or across a liner's, mm."""
    for measure, of_feet in (("feet", _feet_apart), ("tangent", _tangent), ("end", _end)):
        if len(pattern.feet) and pattern.limits.holds(_RULE, measure):
            first, second, value = of_feet(pattern)
            near = np.flatnonzero(worse(value, np.asarray(pattern.limits.plainly(_RULE, measure)), "least"))
            if len(near):
                yield from _findings(pattern, _broken(pattern, measure, first[near], second[near], value[near]))


def _broken(pattern: Pattern, measure: str, first: IntArray, second: IntArray, value: FloatArray) -> Breaks:
    """Breaks of feet, or of pairs of feet; second: NONE for single ones."""
    limits = evaluate(pattern.limits, _RULE, measure, quantities_at(pattern, pattern.feet.station))
    of_pair = limits.at(first)
    if (second != NONE).any():
        of_pair = of_pair.stricter(limits.at(second))
    return breaks(_RULE, measure, first, value, of_pair, second)


_Measured = tuple[IntArray, IntArray, FloatArray]
"""Feet, the feet that they are measured to (NONE where to none), and values, mm."""


def _feet_apart(pattern: Pattern) -> _Measured:
    """Distance of feet on one side of one face, 0 where they meet; of other placements, not declared as stacks."""
    feet = pattern.feet
    reach = _reach(pattern)
    group = (feet.side * len(FACES) + feet.face) * len(SURFACES) + feet.surface
    first, second = overlapping(feet.low[:, 0], feet.high[:, 0], group, reach)
    gap = np.maximum(feet.low[first, 1] - feet.high[second, 1], feet.low[second, 1] - feet.high[first, 1])
    stacked = declared_stacks(pattern.order.library)[feet.component[first], feet.component[second]]
    apart = (feet.placement[first] != feet.placement[second]) & ~stacked & (gap < reach)
    first, second = first[apart], second[apart]
    return first, second, np.asarray(shapely.distance(feet.polygons(first), feet.polygons(second)))


def _reach(pattern: Pattern) -> float:
    """Distance of two feet beyond which their limits are kept, mm."""
    figure = pattern.limits.plainly(_RULE, "feet")
    if np.isfinite(figure):
        return max(figure, 0.0)
    return evaluate(pattern.limits, _RULE, "feet", quantities_at(pattern, pattern.feet.station)).greatest


def _tangent(pattern: Pattern) -> _Measured:
    """Least distance of a foot's corners to a tangent, below zero on the bend; inside a liner to the liner's."""
    rail, feet = pattern.rail, pattern.feet
    station, across = feet.corners.T
    foot = np.repeat(np.arange(len(feet)), np.diff(feet.start))
    on_web = feet.face[foot] == Face.WEB
    section, taper, liner = rail.section, rail.taper, rail.liner
    top = section.web_upper_tangent - across
    if taper:
        turned = taper.turn_up(np.stack([station, across], axis=-1))[:, 1]
        # The web ends at the nearer of the straight tangent and the turned one: the tail's top falls away.
        top = np.minimum(top, section.web_upper_tangent - turned)
    clear = np.where(on_web, np.minimum(across - section.web_lower_tangent, top), across - section.tangent)
    if liner:
        on_liner = _on_liner(pattern)[foot]
        web = np.minimum(across - liner.web_lower_tangent, liner.web_upper_tangent - across)
        inner = np.where(on_web, web, across - liner.flange_tangent)
        clear = np.where(on_liner, np.minimum(clear, inner), clear)
    value = feet.least(clear)
    if taper:
        ahead = taper.start - taper.fold_half_width - feet.high[:, 0]
        behind = feet.low[:, 0] - taper.start - taper.fold_half_width * np.cos(taper.slope)
        fold = np.where(feet.face == Face.TOP, np.maximum(ahead, behind), np.inf)
        value = np.minimum(value, fold)
    return np.arange(len(feet)), np.full(len(feet), NONE), value


def _on_liner(pattern: Pattern) -> BoolArray:
    """Feet inside the rail that lie on the liner, with a part of them at least."""
    liner, feet = pattern.rail.liner, pattern.feet
    if liner is None:
        return np.zeros(len(feet), dtype=np.bool_)
    along = np.minimum(feet.high[:, 0], liner.end) - np.maximum(feet.low[:, 0], liner.start) > VALUE_TOLERANCE
    return np.asarray((feet.surface == INSIDE) & along & meets_liner(pattern))


def meets_liner(pattern: Pattern) -> BoolArray:
    """Feet on the web, and those on flanges that reach over the liner's flange."""
    liner, feet = pattern.rail.liner, pattern.feet
    edge = liner.flange_edge if liner else 0.0
    return np.asarray((feet.face == Face.WEB) | (feet.low[:, 1] < edge - VALUE_TOLERANCE))


def _end(pattern: Pattern) -> _Measured:
    """Distance of a foot to the rail's ends, below zero past them; inside also to a liner's, below zero across them."""
    rail, feet = pattern.rail, pattern.feet
    low, high = feet.low[:, 0], feet.high[:, 0]
    value = np.minimum(low - rail.front, rail.rear - high)
    if rail.liner:
        inside = (feet.surface == INSIDE) & meets_liner(pattern)
        for end in (rail.liner.start, rail.liner.end):
            value = np.where(inside, np.minimum(value, np.maximum(low - end, end - high)), value)
    return np.arange(len(feet)), np.full(len(feet), NONE), value


def _findings(pattern: Pattern, broken: Breaks) -> Iterator[Finding]:
    feet, names = pattern.feet, list(pattern.order.library.components)
    for first, second, severity, value, limit, held in each(broken):
        both = [first] if second < 0 else [first, second]
        yield finding_about(
            _RULE,
            broken.measure,
            severity,
            side=SIDES[feet.side[first]],
            face=FACES[feet.face[first]],
            station=float(feet.station[both].min()),
            value=value,
            limit=limit,
            held=held,
            components=tuple(sorted({names[feet.component[foot]] for foot in both})),
            place=SURFACES[feet.surface[first]],
        )


def washers_on_feet(beside: Beside) -> Iterator[Finding]:
    """Washer edge of a fastener (edge of a stud) to a foot of a component that neither owns nor stacks with it, mm."""
    pattern = beside.pattern
    if not pattern.limits.holds(_RULE, "washer") or not len(beside.row):
        return
    radius = seat_radius(pattern)[beside.row]
    feet, stud = pattern.feet, is_stud(pattern)[beside.row]
    # A stud stands on one face side; a screw has a washer on either.
    same_side = pattern.head_outside[beside.row] == (feet.surface[beside.foot] == OUTSIDE)
    seated = np.flatnonzero((radius > 0) & (~stud | same_side))
    yield from foot_findings(beside, _RULE, "washer", seated, beside.distance[seated] - radius[seated])


def seat_radius(pattern: Pattern) -> FloatArray:
    """Radius of each row's washer, of a stud its own, mm."""
    diameter = np.array([fastener.diameter for fastener in pattern.order.library.fasteners.values()] + [0.0])
    return np.where(is_stud(pattern), diameter[pattern.table.fastener] / 2, pattern.washer_radius)


def foot_findings(beside: Beside, rule: str, measure: str, pairs: IntArray, value: FloatArray) -> Iterator[Finding]:
    """Findings of some pairs of a row and a foot, where the foot is a stranger's."""
    pattern, feet = beside.pattern, beside.pattern.feet
    near = suspects(pattern, rule, measure, beside.row[pairs], value)
    near = near[strangers(pattern, beside.row[pairs[near]], feet.component[beside.foot[pairs[near]]])]
    if not len(near):
        return
    rows, met = beside.row[pairs[near]], beside.foot[pairs[near]]
    broken = breaks(rule, measure, rows, value[near], pattern.limit(rule, measure).at(rows), met)
    names = list(pattern.order.library.components)
    for row, foot, severity, gap, limit, held in each(broken):
        found = finding(pattern, rule, measure, severity, [row], gap, limit, held.row.unit, held.source)
        name = names[feet.component[foot]]
        yield replace(
            found,
            components=tuple(sorted({*found.components, name})),
            message=f"{found.message} (foot of {name}, {SURFACES[feet.surface[foot]]})",
        )
