"""The rules of the ramp and of the press, racks, tank and oven."""

from __future__ import annotations

import math

from .geometry import distance
from .limits import broken
from .placed import SLACK, feet_of, head_surface, ply_thickness
from .rail_rules import whole
from .rules import finding, hold


def ramp_flush(placed, features, order, limits, library):
    """What stands proud of a ramp, and flush heads that lie too deep in it."""
    found = []
    taper = order["rail"].taper
    if taper is None:
        return found
    for f in features:
        if f.part_name != "rail" or f.panel != "TAIL_TOP" or not f.has_fastener or f.is_mark:
            continue
        screw = library["fasteners"][f.fastener]
        proud = ply_thickness(f.owners, "outside", library)
        head_outside = head_surface(f, library) == "outside"
        if not head_outside:
            proud += screw["nut_height"] + screw["washer_thickness"]
        elif f.is_flush:
            slope = 2.0 * math.tan(math.radians(screw["countersink_angle"]) / 2.0)
            proud += screw["head_height"] - (screw["countersink"] - screw["diameter"]) / slope
            hold(found, limits, "ramp-flush", "recess", f, -proud)
        else:
            proud += screw["head_height"] + screw["washer_thickness"]
        hold(found, limits, "ramp-flush", "proud", f, proud)
    return found + _feet(feet_of(placed, order, library), taper, order, limits, library)


def _feet(feet, taper, order, limits, library):
    found = []
    for foot in feet:
        if (foot.face, foot.surface) != ("top", "outside") or foot.rear <= taper.start + SLACK:
            continue
        proud = ply_thickness([foot.component], "outside", library)
        place = limits.place_beside(order["rail"], foot.station)
        verdict = broken("ramp-flush", "proud", proud, limits.at("ramp-flush", "proud", place))
        if verdict is not None:
            entry = whole("ramp-flush", "proud", verdict[0], foot.side, "rail", foot.station, proud, verdict[1])
            found.append({**entry, "face": "top", "components": [foot.component]})
    return found


def press_limit(features, order, limits, library, strung):
    """Force, reach, tools and clamps for every punched hole, and each blank's size; strung: tools of strings."""
    press = library["press"]
    found = []
    for f in features:
        if f.is_mark or f.operation != "punch":
            continue
        own = strung.get((f.side, f.part_name, f.hole))
        edge = _perimeter(f) if own is None else _tool_edge(press["tools"][own], f.part.channel.thickness)
        force = edge * f.part.channel.thickness * f.part.band["shear_most"]
        hold(found, limits, "press-limit", "force", f, force / (press["force"] * 1000.0), "ratio")
        if own is None and not f.tool:
            hold(found, limits, "press-limit", "tool", f, 1.0, "violations")
        if _from_gauge_edge(f, f.centre[1], press) > press["reach"] + SLACK:
            hold(found, limits, "press-limit", "reach", f, 1.0, "violations")
        found += _clamp(f, press, limits)
    return found + _blanks(order, press, limits, library)


def _perimeter(f):
    if f.shape == "round":
        return math.pi * f.d
    if f.shape == "slot":
        return math.pi * f.d + 2.0 * (f.length - f.d)
    return 2.0 * (f.d + f.length) - 8.0 * f.rho + 2.0 * math.pi * f.rho


def _tool_edge(tool, thickness):
    """How far the edge of a tool is to follow all round."""
    if tool["shape"] == "round":
        return math.pi * tool["diameter"]
    width, length = sorted((tool["diameter"], tool["length"]))
    corner = width / 2.0
    if tool["shape"] == "rectangle":
        corner = min(corner, tool["corner_radius"] or max(thickness / 2.0, 3.0))
    return 2.0 * (width - 2.0 * corner) + 2.0 * (length - 2.0 * corner) + 2.0 * math.pi * corner


def _from_gauge_edge(f, v, press):
    return v if press["gauge_edge"] == "bottom" else f.part.channel.developed - v


def _clamp(f, press, limits):
    value = max(_off_clamps(f, press, shift) for shift in press["clamp_shifts"])
    error, warning = limits.of_feature("press-limit", "clamp", f)
    if error is None and warning is None:
        return []
    error = press["clamp_dead_zone"] if error is None else max(error, press["clamp_dead_zone"])
    verdict = broken("press-limit", "clamp", value, (error, warning))
    return [] if verdict is None else [finding("press-limit", "clamp", verdict[0], f, value, verdict[1])]


def _off_clamps(f, press, shift):
    """Least distance from a hole's edge to a clamp's grip, infinite where no clamp grips the blank."""
    least = math.inf
    length = f.part.blank_length()
    for clamp in press["clamps"]:
        middle = clamp["station"] + shift
        low, high = middle - clamp["width"] / 2.0, middle + clamp["width"] / 2.0
        if low >= length or high <= 0.0:
            continue
        if press["gauge_end"] == "rear":
            low, high = length - high, length - low
        edges = [_from_gauge_edge(f, v, press) for v in (0.0, clamp["depth"])]
        # the same turning of the axis serves both ways: from the gauge edge to v and back
        grip = [(low, edges[0]), (high, edges[0]), (high, edges[1]), (low, edges[1])]
        least = min(least, distance(f.blank, grip) - f.rho)
    return least


def _blanks(order, press, limits, library):
    rack = library["rack"]
    found = []
    for part in (order["rail"], order["liner"]):
        if part is None:
            continue
        sizes = [
            (part.blank_length(), press["longest_blank"]),
            (part.channel.developed, press["widest_blank"]),
            (part.channel.thickness, press["thickest_blank"]),
        ]
        sizes += [(part.rear - part.front, rack[name]) for name in ("longest_part", "tank_length", "oven_length")]
        count = float(sum(size > most + SLACK for size, most in sizes))
        verdict = broken(
            "press-limit", "blank", count, limits.at("press-limit", "blank", limits.place_beside(part, part.front))
        )
        if verdict is not None:
            entry = ("press-limit", "blank", verdict[0])
            for side in ("LH", "RH"):
                found.append(whole(*entry, side, part.name, part.front, count, verdict[1], "violations"))
    return found
