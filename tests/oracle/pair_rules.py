"""The rules that look at two features at a time, each pair once, in a double loop."""

from __future__ import annotations

import math

from .geometry import distance, least_between
from .limits import broken

COINCIDENT = 0.05
TOLERANCE = 1e-6
ACROSS_A_BEND = (
    {"WEB", "TOP"},
    {"WEB", "BOTTOM"},
    {"TAIL_WEB", "TAIL_TOP"},
    {"TOP", "TAIL_TOP"},
)


def pair_finding(rule, measure, severity, pair, value, limit, unit="mm"):
    """A finding about a pair, already in order."""
    first, second = pair
    return {
        "rule": rule,
        "measure": measure,
        "severity": severity,
        "side": first.side,
        "part": first.part_name,
        "face": first.face,
        "holes": [first.hole, second.hole],
        "components": sorted({*first.owners, *second.owners}),
        "station_mm": min(first.station, second.station),
        "value": value,
        "limit": limit,
        "unit": unit,
    }


def pairs(features, limits):
    """hole-spacing, duplicate-hole, size-conflict and washer-seat washer: all pairs of a part of a side."""
    groups = {}
    for f in features:
        if not f.is_mark:
            groups.setdefault((f.side, f.part_name), []).append(f)
    found = []
    for group in groups.values():
        group.sort(key=lambda f: f.order_key)
        reaches = [_reach(f, limits) for f in group]
        for i, first in enumerate(group):
            for j in range(i + 1, len(group)):
                second = group[j]
                # two features further apart than any limit of either cannot break one
                apart = abs(first.centre[0] - second.centre[0])
                if apart > reaches[i] + reaches[j]:
                    continue
                found += _pair(first, second, limits)
    return found


def _reach(f, limits):
    """Half a feature's extent, its washer and its greatest limit of pairs: beyond that nothing breaks."""
    figures = [COINCIDENT]
    for key in (("hole-spacing", "centre"), ("hole-spacing", "ligament"), ("washer-seat", "washer")):
        for direction in ("along", "across"):
            figures += [limit for limit in limits.of_feature(*key, f, direction) if limit is not None]
    slack = 60.0  # a turned web strip lies a little elsewhere in the finished part than in the blank
    return f.half_extent(0) + f.d / 2.0 + (f.washer_radius or 0.0) + max(figures) + slack


def _pair(first, second, limits):
    panels = {first.panel, second.panel}
    if panels <= {"WEB", "TOP"} and _slit_between(first, second):
        return []
    if len(panels) == 1:
        conflict, found = _conflict(first, second, limits)
        if conflict:
            return found
        return _spacing(first, second, first.blank, second.blank, limits) + _washers(first, second, limits)
    if panels in ACROSS_A_BEND:
        return _spacing(first, second, first.blank, second.blank, limits)
    if panels == {"WEB", "TAIL_WEB"} and _joined_by_steel(first, second):
        return _spacing(first, second, first.finished, second.finished, limits)
    return []


def _slit_between(first, second):
    """Whether the line between two centres in the blank meets the taper's slit, behind the apex."""
    taper = first.part.taper
    if taper is None:
        return False
    apex_u, slit_v = first.part.blank("WEB", taper.apex)
    (ax, ay), (bx, by) = first.centre, second.centre
    if (ay - slit_v) * (by - slit_v) >= 0.0:
        return False
    return ax + (bx - ax) * (slit_v - ay) / (by - ay) > apex_u


def _conflict(first, second, limits):
    """Whether two features of one panel coincide or overlap, and the finding about it."""
    apart = _centre_to_centre(first.centre, second.centre)
    ligament = distance(first.blank, second.blank) - first.rho - second.rho
    if apart < COINCIDENT - TOLERANCE:
        if _alike(first, second):
            return True, _hold(limits, "duplicate-hole", "pair", first, second, apart)
        return True, _hold(limits, "size-conflict", "pair", first, second, ligament)
    if ligament < -TOLERANCE:
        return True, _hold(limits, "size-conflict", "pair", first, second, ligament)
    return False, []


def _alike(first, second):
    return (
        first.shape == second.shape
        and abs(first.d - second.d) <= TOLERANCE
        and abs(first.length - second.length) <= TOLERANCE
        and first.fastener == second.fastener
    )


def _spacing(first, second, core, other, limits):
    """Centre distance and ligament of two cores in one plane."""
    direction = _direction(core, other)
    ligament = distance(core, other) - first.rho - second.rho
    centre = _held_centre_distance(first, second, core, other)
    found = _hold(limits, "hole-spacing", "centre", first, second, centre, direction)
    return found + _hold(limits, "hole-spacing", "ligament", first, second, ligament, direction)


def _held_centre_distance(first, second, core, other):
    """Slots from their nearest end-radius centre; a rectangle by its edge, d/2 inside it."""
    one, two = first.shape == "rectangle", second.shape == "rectangle"
    if not one and not two:
        return least_between(core, other)
    apart = distance(core, other)
    if one and two:
        return max(0.0, apart - first.rho - second.rho) + first.d / 2.0 + second.d / 2.0
    rectangle = first if one else second
    points, outline = (other, core) if one else (core, other)
    to_outline = min(max(0.0, distance([point], outline) - rectangle.rho) for point in points)
    return to_outline + rectangle.d / 2.0


def _direction(core, other):
    (ax, ay), (bx, by) = _middle(core), _middle(other)
    return "along" if abs(bx - ax) >= abs(by - ay) else "across"


def _washers(first, second, limits):
    if first.part_name != "rail" or first.washer_radius is None or second.washer_radius is None:
        return []
    apart = least_between(first.blank, second.blank) - first.washer_radius - second.washer_radius
    return _hold(limits, "washer-seat", "washer", first, second, apart)


def _joined_by_steel(first, second):
    """Whether the line between the finished centres crosses the bisector, and not below the apex."""
    taper = first.part.taper
    a, b = _middle(first.finished), _middle(second.finished)
    side_a, side_b = _past_bisector(taper, a), _past_bisector(taper, b)
    if (side_a > 0.0) == (side_b > 0.0):
        return False
    share = side_a / (side_a - side_b)
    return a[1] + share * (b[1] - a[1]) >= taper.apex[1] - 1e-9


def _past_bisector(taper, point):
    dx, dz = point[0] - taper.hinge[0], point[1] - taper.hinge[1]
    return dx * taper.behind[0] + dz * taper.behind[1]


def _middle(core):
    return (sum(p[0] for p in core) / len(core), sum(p[1] for p in core) / len(core))


def _centre_to_centre(a, b):
    return math.hypot(a[0] - b[0], a[1] - b[1])


def _hold(limits, rule, measure, first, second, value, direction=None):
    verdict = broken(rule, measure, value, limits.of_pair(rule, measure, first, second, direction))
    if verdict is None:
        return []
    return [pair_finding(rule, measure, verdict[0], (first, second), value, verdict[1])]


def pair_match(features, limits, library):
    """Features of mated LH and RH components: same station and height."""
    right = {}
    for f in features:
        if f.side == "RH" and f.part_name == "rail" and not f.is_mark:
            component, instance, name = f.hole.split(".")
            mates = library["components"][component]["mates"]
            if mates:
                right[mates, instance, name] = (component, f)
    found = []
    for f in features:
        if f.side != "LH" or f.part_name != "rail" or f.is_mark:
            continue
        component, instance, name = f.hole.split(".")
        mates = library["components"][component]["mates"]
        partner = right.get((mates, instance, name)) if mates else None
        if partner is None or partner[0] == component:
            continue
        found += _match(f, partner[1], limits)
    return found


def _match(left, right, limits):
    found = []
    for measure, value in (
        ("station", abs(left.station - right.station)),
        ("height", abs(left.across - right.across)),
    ):
        verdict = broken("pair-match", measure, value, limits.of_pair("pair-match", measure, left, right))
        if verdict is not None:
            entry = pair_finding("pair-match", measure, verdict[0], (left, right), value, verdict[1])
            found.append({**entry, "side": "LH", "station_mm": left.station, "face": left.face})
    return found
