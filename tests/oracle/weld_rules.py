"""The rules of welds, of the liner's ends, and of web holes on one line."""

from __future__ import annotations

from .geometry import distance, least_signed
from .limits import broken
from .pair_rules import pair_finding
from .placed import station_reach
from .rail_rules import runs_of_lines
from .rules import hold


def weld_clearance(features, limits):
    """Holes to the taper's seam; studs to holes and tangents; no stud on a flange."""
    found = []
    rail = [f for f in features if f.part_name == "rail"]
    for f in rail:
        if f.is_mark and f.has_fastener:
            _stud(found, f, limits)
        elif not f.is_mark and f.face == "web" and f.part.taper is not None:
            taper = f.part.taper
            edge = taper.lower_cut() if f.panel == "WEB" else taper.seam()
            hold(found, limits, "weld-clearance", "hole", f, distance(f.core, edge) - f.rho)
    for f in rail:
        for other in rail:
            if f.is_mark and f.has_fastener and not other.is_mark:
                found += _stud_hole(f, other, limits)
    return found


def _stud(found, f, limits):
    hold(found, limits, "weld-clearance", "stud-tangent", f, least_signed(f.part.tangents(f.panel), f.core))
    if f.face != "web":
        hold(found, limits, "weld-clearance", "flange", f, 1.0, "violations")


def _stud_hole(stud, hole, limits):
    if (stud.side, stud.panel) != (hole.side, hole.panel):
        return []
    value = distance(stud.blank, hole.blank) - hole.rho
    verdict = broken("weld-clearance", "stud-hole", value, limits.of_pair("weld-clearance", "stud-hole", stud, hole))
    if verdict is None:
        return []
    pair = sorted((stud, hole), key=lambda f: f.order_key)
    return [pair_finding("weld-clearance", "stud-hole", verdict[0], pair, value, verdict[1])]


def liner_edge(features, order, limits):
    """Holes of the rail and their washers to the ends of the liner."""
    liner = order["liner"]
    if liner is None:
        return []
    found = []
    for f in features:
        if f.part_name != "rail" or f.is_mark:
            continue
        if f.face != "web" and f.across - f.half_extent(1) >= liner.inset + liner.channel.flange:
            continue
        core, whole = station_reach(f)
        to_end = min(abs(f.station - liner.front), abs(f.station - liner.rear))
        hold(found, limits, "liner-edge", "hole", f, to_end - whole)
        if f.has_fastener:
            hold(found, limits, "liner-edge", "washer", f, to_end - core - f.washer_radius)
    return found


def holes_in_line(features, limits):
    """More web holes on one transverse line than allowed, once by extents and once by centres."""
    found = []
    for side in ("LH", "RH"):
        web = [f for f in features if f.side == side and f.part_name == "rail" and f.face == "web" and not f.is_mark]
        for counted in ("extents", "centres"):
            spans = []
            for f in web:
                half = station_reach(f)[1] if counted == "extents" else f.d / 4.0
                spans.append((f.station - half, f.station + half))
            found += runs_of_lines("holes-in-line", web, spans, limits, counted)
    return found
