"""The rule of envelopes: every pair of boxes of different components, on either side."""

from __future__ import annotations

import math

from .limits import TOLERANCE
from .placed import CLASSES, boxes_of, stack


def space_clash(placed, order, limits, library):
    """All findings of space-clash."""
    boxes = boxes_of(placed, order, library)
    needs = [_need(box, order, limits) for box in boxes]
    meetings = {}
    for i, first in enumerate(boxes):
        for j in range(i + 1, len(boxes)):
            second = boxes[j]
            if first.component == second.component or stack(first.component, second.component, library):
                continue
            met = _meeting(first, second, needs[i], needs[j])
            if met is not None:
                meetings.setdefault((first.placement, second.placement, met["measure"]), []).append(met)
    return [_worst(group) for group in meetings.values()]


def _need(box, order, limits):
    """(error, warning) that a box asks around itself."""
    place = limits.place_beside(order["rail"], box.station) | {"shielded": box.shielded}
    return limits.at("space-clash", box.clearance, place)


def _meeting(first, second, need, other_need):
    """The finding about two boxes that stand too near, or None."""
    value = box_distance(first.ends, second.ends)
    for severity, figure, other in zip(("error", "warning"), need, other_need, strict=True):
        given = [limit for limit in (figure, other) if limit is not None]
        if not given or max(given) - value <= TOLERANCE:
            continue
        limit = max(given)
        asking = [box.clearance for box, own in ((first, figure), (second, other)) if own == limit]
        return {
            "rule": "space-clash",
            "measure": min(asking, key=CLASSES.index),
            "severity": severity,
            "side": "LH" if "LH" in (first.side, second.side) else "RH",
            "part": "rail",
            "face": "",
            "holes": [],
            "components": sorted({first.component, second.component}),
            "station_mm": min(first.station, second.station),
            "value": value,
            "limit": limit,
            "unit": "mm",
        }
    return None


def box_distance(ends, other):
    """Distance of two boxes; where they overlap the least shift along one axis that parts them, negative."""
    gaps = [max(b[0] - a[1], a[0] - b[1]) for a, b in zip(ends, other, strict=True)]
    if max(gaps) <= 0.0:
        return max(gaps)
    return math.sqrt(sum(max(gap, 0.0) ** 2 for gap in gaps))


def _worst(group):
    """Of the findings of two placements and a measure: errors first, then the greatest lack, then the foremost."""
    errors = [met for met in group if met["severity"] == "error"]
    group = errors or group
    most = max(met["limit"] - met["value"] for met in group)
    worst = [met for met in group if met["limit"] - met["value"] >= most - TOLERANCE]
    return min(worst, key=lambda met: met["station_mm"])
