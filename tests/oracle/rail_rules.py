"""The rules about the rail as a whole: flange holes on one line, taper, liner, options."""

from __future__ import annotations

import itertools
import math

from .limits import TOLERANCE, broken

COLD_BENDS = ((25.0, math.inf), (10.0, 16.0), (3.0, 12.0), (2.0, 10.0), (1.5, 8.0), (1.0, 4.0))
"""r/t and the greatest thickness up to which EN 1993-1-8 table 4.2 allows a weld near a cold bend, fatigue
predominating; 10 mm and 8 mm read, the others from memory."""


def whole(rule, measure, severity, side, part, station, value, limit, unit="mm"):
    """A finding about a part and no feature of it."""
    return {
        "rule": rule,
        "measure": measure,
        "severity": severity,
        "side": side,
        "part": part,
        "face": "web",
        "holes": [],
        "components": [],
        "station_mm": station,
        "value": value,
        "limit": limit,
        "unit": unit,
    }


def flange_count(features, limits):
    """More features on one line across a flange than allowed; one finding per longest run of such lines."""
    flanges = {}
    for f in features:
        if f.part_name == "rail" and f.face != "web" and not f.is_mark:
            flanges.setdefault((f.side, f.panel), []).append(f)
    found = []
    for group in flanges.values():
        found += runs_of_lines("flange-hole", group, [_extent(f) for f in group], limits)
    return found


def _extent(f):
    half = f.half_extent(0)
    return f.centre[0] - half, f.centre[0] + half


def runs_of_lines(rule, group, spans, limits, counted=None):
    """Findings of a rule's measure count, one per longest run of lines that too many of a group's spans meet."""
    found = []
    for run in _runs(rule, list(zip(group, spans, strict=True)), limits, counted):
        found.append(_count_finding(rule, run, group, spans))
    return found


def _runs(rule, group, limits, counted):
    """Longest runs of lines whose count breaks a limit, as dicts of from, to, count and verdict."""
    breaks = sorted({end for _, span in group for end in span})
    runs = []
    for start, end in itertools.pairwise(breaks):
        if end - start <= TOLERANCE:
            continue
        middle = (start + end) / 2.0
        on_line = [f for f, (low, high) in group if low < middle < high]
        verdict = _count_verdict(rule, on_line, limits, counted)
        if verdict is None:
            continue
        if runs and start - runs[-1]["to"] <= TOLERANCE:
            runs[-1]["to"] = end
            runs[-1]["lines"].append((len(on_line), verdict))
        else:
            runs.append({"from": start, "to": end, "lines": [(len(on_line), verdict)]})
    return runs


def _count_verdict(rule, on_line, limits, counted):
    """The worst verdict of the features on one line, each with its own limits."""
    verdicts = []
    for f in on_line:
        verdict = broken(rule, "count", len(on_line), limits.of_feature(rule, "count", f, counted=counted))
        if verdict is not None:
            verdicts.append(verdict)
    return min(verdicts, key=lambda v: (v[0] != "error", v[1])) if verdicts else None


def _count_finding(rule, run, group, spans):
    inside = []
    for f, (start, end) in zip(group, spans, strict=True):
        if min(end, run["to"]) - max(start, run["from"]) > TOLERANCE:
            inside.append(f)
    inside.sort(key=lambda f: f.order_key)
    severity, limit = min((verdict for _, verdict in run["lines"]), key=lambda v: (v[0] != "error", v[1]))
    return {
        "rule": rule,
        "measure": "count",
        "severity": severity,
        "side": inside[0].side,
        "part": "rail",
        "face": inside[0].face,
        "holes": [f.hole for f in inside],
        "components": sorted({name for f in inside for name in f.owners}),
        "station_mm": inside[0].station,
        "value": float(max(count for count, _ in run["lines"])),
        "limit": limit,
        "unit": "count",
    }


def taper_shape(order, limits):
    """The relief hole, the seam beside the bends, and the upset steel, once a side."""
    rail = order["rail"]
    taper = rail.taper
    if taper is None:
        return []
    place = limits.place_on(rail, taper.start)
    found = []
    for side in ("LH", "RH"):
        error, warning = limits.at("taper-shape", "relief", place)
        least = max(taper.h * taper.sin, error if error is not None else 0.0)
        verdict = broken("taper-shape", "relief", taper.relief_radius, (least, warning))
        if verdict is not None:
            entry = ("taper-shape", "relief", verdict[0], side, "rail", taper.start)
            found.append(whole(*entry, taper.relief_radius, verdict[1]))
        found += _seam_bend(rail, side, limits, place)
        found.append(whole("taper-shape", "upset", "note", side, "rail", taper.start, _upset_area(taper), None, "mm2"))
    return found


def _seam_bend(rail, side, limits, place):
    channel, taper = rail.channel, rail.taper
    for ratio, thickest in COLD_BENDS:
        if channel.radius / channel.thickness >= ratio - 1e-9 and channel.thickness <= thickest + 1e-9:
            return []
    at_the_end = taper.turn_down(taper.seam()[1])[1]
    value = min(channel.depth - channel.tangent - taper.slit, at_the_end - channel.tangent)
    verdict = broken("taper-shape", "seam-bend", value, limits.at("taper-shape", "seam-bend", place))
    if verdict is None:
        return []
    return [whole("taper-shape", "seam-bend", verdict[0], side, "rail", taper.start, value, verdict[1])]


def _upset_area(taper):
    """Of the band within h tan(alpha/2) of the bisector, from the hinge down to the apex."""
    return 2.0 * taper.upset * taper.h / math.cos(taper.alpha / 2.0)


def liner_fit(order, limits):
    """Whether the liner clears the rail's bends, and whether its flanges stand proud, once a side."""
    rail, liner = order["rail"], order["liner"]
    if liner is None:
        return []
    place = limits.place_on(liner, liner.front)
    proud = rail.channel.thickness + liner.channel.flange - rail.channel.flange
    found = []
    for side in ("LH", "RH"):
        for measure, value in (("interference", _interference(rail.channel, liner)), ("proud", proud)):
            verdict = broken("liner-fit", measure, value, limits.at("liner-fit", measure, place))
            if verdict is not None:
                entry = ("liner-fit", measure, verdict[0], side, "liner", liner.front)
                found.append(whole(*entry, value, verdict[1]))
    return found


def _interference(outer, liner):
    """How far the liner reaches into the rail's steel: at the flanges, or where its corner meets the bend."""
    gap = liner.lift - outer.thickness
    radius = liner.channel.tangent
    # centre of the liner's outside corner from the centre of the rail's inside radius
    inboard, up = radius - outer.radius, radius + gap - outer.radius
    corner = 0.0
    if inboard < 0.0 and up < 0.0:
        corner = math.hypot(inboard, up) + radius - outer.radius
    return max(-gap, corner)


def option_rule(order, limits, library):
    """Required options missing, excluded pairs, options not of the family or not valid for the serial."""
    chosen = order["options"]
    broken_by = []
    for code in chosen:
        option = library["options"][code]
        broken_by += [("requires", {code, needed}) for needed in option["requires"] if needed not in chosen]
        if order["family"] not in option["families"]:
            broken_by.append(("family", {code}))
        if not _is_valid(option, order):
            broken_by.append(("validity", {code}))
    for i, code in enumerate(chosen):
        for other in chosen[i + 1 :]:
            names_it = other in library["options"][code]["excludes"]
            if names_it or code in library["options"][other]["excludes"]:
                broken_by.append(("excludes", {code, other}))
    found = []
    for measure, codes in broken_by:
        found += _option_finding(measure, codes, limits, order)
    return found


def _option_finding(measure, codes, limits, order):
    nowhere = limits.place_on(order["rail"], math.nan)
    verdict = broken("option-rule", measure, 1.0, limits.at("option-rule", measure, nowhere))
    if verdict is None:
        return []
    entry = whole("option-rule", measure, verdict[0], "", "", None, 1.0, verdict[1], "violations")
    return [{**entry, "face": "", "components": sorted(codes)}]


def _is_valid(option, order):
    start, end = option["valid_from"], option["valid_to"]
    return (start is None or _compare(order, start) >= 0) and (end is None or _compare(order, end) <= 0)


def _compare(order, bound):
    """-1, 0 or 1 as the order lies before, at or after a bound, which is a serial or a build date."""
    if isinstance(bound, str):
        mine, other = _serial_key(order["serial"]), _serial_key(bound)
    else:
        mine, other = order["build_date"], bound
    return (mine > other) - (mine < other)


def _serial_key(serial):
    prefix, _, number = serial.rpartition("-")
    return prefix, int(number)
