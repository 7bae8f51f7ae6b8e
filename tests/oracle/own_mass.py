"""What rail and liner weigh themselves, less their holes, as loads spread along them."""

from __future__ import annotations

import math

DENSITY = 7850e-9
"""kg/mm3. EN 1991-1-1 table A.4."""


def own_stretches(side, features, order):
    """(from, to, kg) of the steel of one side: rail, tail from the taper's start on, and liner.

    Each is spread evenly; the rail's holes lighten rail and tail alike, wherever they are.
    """
    rail, liner = order["rail"], order["liner"]
    opened = {"rail": 0.0, "liner": 0.0}
    for f in features:
        if f.side == side and not f.is_mark:
            opened[f.part_name] += _opening_area(f) * f.part.channel.thickness
    straight = _section_area(rail.channel)
    if rail.taper is None:
        volumes = [(rail.front, rail.rear, straight * (rail.rear - rail.front))]
    else:
        start = rail.taper.start
        ahead = straight * (start - rail.front)
        volumes = [(rail.front, start, ahead), (start, rail.rear, _tapered_volume(rail) - ahead)]
    whole = sum(volume for _, _, volume in volumes)
    left = (whole - opened["rail"]) / whole
    found = [(first, last, volume * left * DENSITY) for first, last, volume in volumes]
    if liner is not None:
        volume = _section_area(liner.channel) * (liner.rear - liner.front) - opened["liner"]
        found.append((liner.front, liner.rear, volume * DENSITY))
    return found


def _opening_area(f):
    """Area of a core blown up by rho: itself, a strip along its edge, and a disc."""
    area = edge = 0.0
    for k, (x, y) in enumerate(f.core):
        next_x, next_y = f.core[(k + 1) % len(f.core)]
        area += (x * next_y - next_x * y) / 2.0
        edge += math.hypot(next_x - x, next_y - y)
    return abs(area) + edge * f.rho + math.pi * f.rho**2


def _section_area(c):
    """Two flanges and the web up to the tangents, and two quarter rings."""
    flats = 2.0 * (c.flange - c.tangent) + c.depth - 2.0 * c.tangent
    return flats * c.thickness + math.pi / 2.0 * (c.tangent**2 - c.radius**2)


def _tapered_volume(rail):
    """Volume of a tapered rail: its lower piece as it is, its upper one in the straight position, mid-surface times t.

    Upset steel is counted, what the seam's weld adds is not.
    """
    c, t = rail.channel, rail.taper
    lower = _lower_area(rail, c.flange - c.tangent, c.radius + c.thickness / 2.0)

    # the rear end is cut square when all is done: turned up straight, what lies lower reaches further back
    def length(below):
        return t.start + (rail.rear - t.start) / t.cos + below * t.sin / t.cos - rail.front

    middle = c.radius + c.thickness / 2.0
    upper = (c.flange - c.tangent) * length(0.0)
    upper += _simpson(lambda turn: middle * length(middle * (1.0 - math.cos(turn))), 0.0, math.pi / 2.0)
    upper += _simpson(length, middle, t.hinge[1] - t.slit)
    upper -= math.pi * t.relief_radius**2 / 2.0
    return (lower + upper) * c.thickness


def _lower_area(rail, flat, middle):
    """Mid-surface of bottom flange, lower bend, and the web below slit, relief hole and wedge."""
    c, t = rail.channel, rail.taper
    whole = (flat + math.pi / 2.0 * middle + t.slit - c.tangent) * (rail.rear - rail.front)
    (ax, az), radius = t.apex, t.relief_radius
    (first, height), (last, end) = t.lower_cut()
    # below the slit the hole is open from its front to where the cut leaves it; it runs straight from there
    turn = math.acos((first - ax) / radius)
    hole = radius**2 * (math.pi - turn + math.sin(turn) * math.cos(turn)) / 2.0
    wedge = (last - first) * ((az - height) + (az - end)) / 2.0
    return whole - hole - wedge


def _simpson(function, first, last, slices=200):
    total = function(first) + function(last)
    for k in range(1, slices):
        total += (4 if k % 2 else 2) * function(first + (last - first) * k / slices)
    return total * (last - first) / slices / 3.0
