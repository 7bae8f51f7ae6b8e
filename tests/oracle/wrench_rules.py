"""The rule of wrenches: sockets against flanges, washers and feet, and the length that is free before them."""

from __future__ import annotations

import math

from .feet_rules import with_foot
from .geometry import distance, least_between
from .limits import broken
from .pair_rules import COINCIDENT, TOLERANCE, pair_finding
from .placed import (
    SLACK,
    across_reach,
    boxes_of,
    core_shape,
    feet_of,
    foreign,
    head_surface,
    lined_holes,
    ply_thickness,
    rail_points,
)
from .rules import finding, hold

SOLID = ("static", "service", "heat")


def wrench_access(placed, features, order, limits, library):
    """All findings of wrench-access."""
    lined = lined_holes(features)
    feet, boxes = feet_of(placed, order, library), boxes_of(placed, order, library)
    screws = [f for f in features if f.part_name == "rail" and f.has_fastener and not f.is_mark]
    found = []
    for f in screws:
        through = (f.side, f.face, f.hole) in lined
        if "inside" in socket_surfaces(f, library):
            hold(found, limits, "wrench-access", "radial", f, _off_inside_faces(f, order, through) - f.socket_radius)
        found += _feet(f, feet, limits, library)
        found += _lengths(f, boxes, order, limits, library, through)
    return found + _pairs(screws, limits)


def socket_surfaces(f, library):
    """The face sides where a socket goes round the nut or the head of a screw; none goes round a flush head."""
    head = head_surface(f, library)
    nut = "inside" if head == "outside" else "outside"
    return [nut] if f.is_flush else [head, nut]


def _off_inside_faces(f, order, through):
    """From a core to the inside faces of what it sits in: rail, or liner where the screw passes through it."""
    rail = order["rail"]
    part = order["liner"] if through else rail
    channel = part.channel
    if f.face != "web":
        return f.across - across_reach(f) - (part.inset + channel.thickness)
    values = []
    for point in rail_points(f):
        values.append(point[1] - part.lift - channel.thickness)
        values.append(part.lift + channel.depth - channel.thickness - point[1])
        if rail.taper is not None and not through:
            values.append(channel.depth - channel.thickness - rail.taper.turn_up(point)[1])
    return min(values)


def _feet(f, feet, limits, library):
    found = []
    own = limits.of_feature("wrench-access", "radial", f)
    for foot in feet:
        if (foot.side, foot.face) != (f.side, f.face) or foot.surface not in socket_surfaces(f, library):
            continue
        if not foreign(foot.component, f, library):
            continue
        value = core_shape(f).distance(foot.polygon) - f.socket_radius
        verdict = broken("wrench-access", "radial", value, own)
        if verdict is not None:
            found.append(with_foot("wrench-access", "radial", verdict, f, value, foot))
    return found


def _pairs(screws, limits):
    found = []
    screws = sorted(screws, key=lambda f: f.order_key)
    for i, first in enumerate(screws):
        for second in screws[i + 1 :]:
            if (first.side, first.panel) != (second.side, second.panel) or _in_conflict(first, second):
                continue
            need = max(first.socket_radius + second.washer_radius, second.socket_radius + first.washer_radius)
            value = least_between(first.blank, second.blank) - need
            verdict = broken("wrench-access", "radial", value, limits.of_pair("wrench-access", "radial", first, second))
            if verdict is not None:
                pair = (first, second)
                found.append(pair_finding("wrench-access", "radial", verdict[0], pair, value, verdict[1]))
    return found


def _in_conflict(first, second):
    apart = math.hypot(first.centre[0] - second.centre[0], first.centre[1] - second.centre[1])
    ligament = distance(first.blank, second.blank) - first.rho - second.rho
    return apart < COINCIDENT - TOLERANCE or ligament < -TOLERANCE


def _lengths(f, boxes, order, limits, library, through):
    found = []
    head = head_surface(f, library)
    for surface in ("outside", "inside"):
        measure = "head-length" if surface == head else "nut-length"
        seat, outward, opposite = _seat(f, surface, order, library, through)
        free, nearest = math.inf if opposite is None else outward * (opposite - seat), None
        for box in boxes:
            if box.clearance not in SOLID or not foreign(box.component, f, library):
                continue
            length = _length_before(f, box, seat, outward, order)
            nearer = nearest is not None and length == free and box.component < nearest
            if length < free or nearer:
                free, nearest = length, box.component
        verdict = broken("wrench-access", measure, free, limits.of_feature("wrench-access", measure, f))
        if verdict is not None:
            entry = finding("wrench-access", measure, verdict[0], f, free, verdict[1])
            others = {nearest} if nearest is not None else set()
            found.append({**entry, "components": sorted({*f.owners, *others})})
    return found


def _seat(f, surface, order, library, through):
    """Where nut or head sits along the screw, the direction away from the steel, and the flange opposite.

    Along a web screw the axis is that across the truck, along a flange screw it is z.
    """
    rail = order["rail"]
    plies = ply_thickness(f.owners, surface, library)
    part = order["liner"] if through else rail
    t = part.channel.thickness
    if f.face == "web":
        from_web, outward = (-plies, -1.0) if surface == "outside" else (part.inset + t + plies, 1.0)
        if f.side == "RH":
            return order["frame_width"] - from_web, -outward, None
        return from_web, outward, None
    depth = rail.depth_at(f.station)
    low, high = (part.lift + t, part.lift + part.channel.depth - t) if through else (t, depth - t)
    if f.face == "top":
        return (depth + plies, 1.0, None) if surface == "outside" else (high - plies, -1.0, low)
    return (-plies, -1.0, None) if surface == "outside" else (low + plies, 1.0, high)


def _length_before(f, box, seat, outward, order):
    """Free length up to a box, infinite where it does not stand before the socket."""
    points = rail_points(f)
    axis, seen = (1, 2) if f.face == "web" else (2, 1)
    spans = [(min(x for x, _ in points), max(x for x, _ in points))]
    across = (min(y for _, y in points), max(y for _, y in points))
    if f.face != "web" and f.side == "RH":
        across = (order["frame_width"] - across[1], order["frame_width"] - across[0])
    spans.append(across)
    gaps = []
    for (low, high), (box_low, box_high) in zip(spans, (box.ends[0], box.ends[seen]), strict=True):
        gaps.append(max(0.0, box_low - high, low - box_high))
    if math.hypot(*gaps) >= f.socket_radius - SLACK:
        return math.inf
    ends = sorted(outward * (end - seat) for end in box.ends[axis])
    return max(0.0, ends[0]) if ends[1] > SLACK else math.inf
