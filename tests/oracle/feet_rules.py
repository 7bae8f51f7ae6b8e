"""The rule of feet: against feet, bends, ends and foreign screws, each foot and pair in turn."""

from __future__ import annotations

from .limits import broken, stricter
from .placed import SLACK, core_shape, feet_of, foreign, head_surface, on_liner, stack
from .rules import finding


def footprint_clash(placed, features, order, limits, library):
    """All findings of footprint-clash."""
    feet = feet_of(placed, order, library)
    found = _feet_apart(feet, order, limits, library)
    for foot in feet:
        for measure, value in (
            ("tangent", tangent_clearance(foot, order)),
            ("end", end_clearance(foot, order)),
        ):
            verdict = broken("footprint-clash", measure, value, _limits_of(foot, measure, order, limits))
            if verdict is not None:
                found.append(_about_feet(measure, verdict, value, [foot]))
    return found + _washers(feet, features, limits, library)


def _limits_of(foot, measure, order, limits):
    return limits.at("footprint-clash", measure, limits.place_beside(order["rail"], foot.station))


def _feet_apart(feet, order, limits, library):
    found = []
    for i, first in enumerate(feet):
        for second in feet[i + 1 :]:
            same_place = (first.side, first.face, first.surface) == (second.side, second.face, second.surface)
            if not same_place or first.placement == second.placement:
                continue
            if stack(first.component, second.component, library):
                continue
            value = first.polygon.distance(second.polygon)
            both = [_limits_of(foot, "feet", order, limits) for foot in (first, second)]
            verdict = broken("footprint-clash", "feet", value, stricter("footprint-clash", "feet", both))
            if verdict is not None:
                found.append(_about_feet("feet", verdict, value, [first, second]))
    return found


def tangent_clearance(foot, order):
    """How far a foot keeps off every bend that it may lie near, below 0 where it lies on one."""
    rail, liner = order["rail"], order["liner"]
    lined = liner is not None and foot.surface == "inside" and on_liner(foot, liner)
    lined = lined and min(foot.rear, liner.rear) - max(foot.front, liner.front) > SLACK
    values = []
    for x, across in foot.corners:
        values += _off_bends(foot.face, across, rail.channel, 0.0, 0.0)
        if foot.face == "web" and rail.taper is not None:
            turned = rail.taper.turn_up((x, across))[1]
            values.append(rail.channel.depth - rail.channel.tangent - turned)
        if lined:
            values += _off_bends(foot.face, across, liner.channel, liner.lift, liner.inset)
    taper = rail.taper
    if foot.face == "top" and taper is not None:
        ahead = taper.start - taper.fold_half_width - foot.rear
        values.append(max(ahead, foot.front - taper.start - taper.fold_half_width * taper.cos))
    return min(values)


def _off_bends(face, across, channel, lift, inset):
    if face != "web":
        return [across - inset - channel.tangent]
    return [across - lift - channel.tangent, lift + channel.depth - channel.tangent - across]


def end_clearance(foot, order):
    """How far a foot keeps off the rail's ends and, inside, the liner's; below 0 past or across one."""
    rail, liner = order["rail"], order["liner"]
    values = [foot.front - rail.front, rail.rear - foot.rear]
    if liner is not None and foot.surface == "inside" and on_liner(foot, liner):
        for end in (liner.front, liner.rear):
            values.append(max(foot.front - end, end - foot.rear))
    return min(values)


def _about_feet(measure, verdict, value, feet):
    return {
        "rule": "footprint-clash",
        "measure": measure,
        "severity": verdict[0],
        "side": feet[0].side,
        "part": "rail",
        "face": feet[0].face,
        "holes": [],
        "components": sorted({foot.component for foot in feet}),
        "station_mm": min(foot.station for foot in feet),
        "value": value,
        "limit": verdict[1],
        "unit": "mm",
    }


def _washers(feet, features, limits, library):
    found = []
    for f in features:
        if f.part_name != "rail" or not f.has_fastener:
            continue
        radius = f.fastener_diameter / 2.0 if f.is_mark else f.washer_radius
        own = limits.of_feature("footprint-clash", "washer", f)
        for foot in feet:
            if (foot.side, foot.face) != (f.side, f.face) or not foreign(foot.component, f, library):
                continue
            if f.is_mark and foot.surface != head_surface(f, library):
                continue
            value = core_shape(f).distance(foot.polygon) - radius
            verdict = broken("footprint-clash", "washer", value, own)
            if verdict is not None:
                found.append(with_foot("footprint-clash", "washer", verdict, f, value, foot))
    return found


def with_foot(rule, measure, verdict, feature, value, foot):
    """A finding about a feature and a foreign foot."""
    entry = finding(rule, measure, verdict[0], feature, value, verdict[1])
    return {**entry, "components": sorted({*feature.owners, foot.component})}
