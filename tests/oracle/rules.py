"""The rules that look at one feature at a time, each a plain loop over all features."""

from __future__ import annotations

from .geometry import depth, distance, least_signed
from .limits import TOLERANCE, broken


def finding(rule, measure, severity, feature, value, limit, unit="mm"):
    """A finding about one feature."""
    return {
        "rule": rule,
        "measure": measure,
        "severity": severity,
        "side": feature.side,
        "part": feature.part_name,
        "face": feature.face,
        "holes": [feature.hole],
        "components": sorted(set(feature.owners)),
        "station_mm": feature.station,
        "value": value,
        "limit": limit,
        "unit": unit,
    }


def hold(found, limits, rule, measure, feature, value, unit="mm"):
    """Hold a feature's value against its limits and note a finding where one is broken."""
    verdict = broken(rule, measure, value, limits.of_feature(rule, measure, feature))
    if verdict is not None:
        found.append(finding(rule, measure, verdict[0], feature, value, verdict[1], unit))


def off_rail(features, limits):
    """Any part of a feature outside its panel; the only rule that marks enter."""
    found = []
    for f in features:
        lines = [*f.part.tangents(f.panel), *f.part.ends(f.panel)]
        if f.face != "web":
            lines += f.part.free_edges(f.panel)
        outside = f.rho - least_signed(lines, f.core)
        if f.part.taper is not None:
            outside = max([outside, *_outside_of_tail(f, f.part.taper)])
        if outside > TOLERANCE:
            hold(found, limits, "off-rail", "outside", f, outside)
    return found


def _outside_of_tail(f, taper):
    """How far a web feature reaches past the taper's own boundaries."""
    if f.panel == "WEB":
        return [
            f.rho - distance(f.core, taper.wedge_region()) + depth((f.station, f.across), taper.wedge_region()),
            f.rho + taper.relief_radius - distance(f.core, [taper.apex]),
        ]
    if f.panel == "TAIL_WEB":
        (x, z), (nx, nz) = taper.hinge, taper.turned_behind
        boundary = (x + taper.upset * nx, z + taper.upset * nz)
        lines = [("seam", (0.0, taper.slit), (0.0, 1.0)), ("upset", boundary, (nx, nz))]
        return [
            f.rho - least_signed(lines, f.core),
            f.rho + taper.relief_radius - distance(f.core, [taper.turned_apex]),
        ]
    return []


def edge_clearance(f):
    """From a feature's core to the nearest free edge of its own part."""
    edges = [least_signed(f.part.free_edges(f.panel), f.core)]
    return min(edges + f.part.cut_clearances(f.panel, f.core))


def edge_distance(features, limits):
    """Centre to the nearest free edge of the part, and of a rail to its ends alone."""
    found = []
    for f in features:
        if f.is_mark:
            continue
        hold(found, limits, "edge-distance", "edge", f, edge_clearance(f) - f.rho + f.d / 2.0)
        if f.part_name == "rail":
            to_end = least_signed(f.part.ends(f.panel), f.core)
            hold(found, limits, "edge-distance", "rail-end", f, to_end - f.rho + f.d / 2.0)
    return found


def bend_clearance(features, limits):
    """Hole edge to the tangents of the bends, and to the inside faces of the flanges."""
    found = []
    for f in features:
        if f.is_mark:
            continue
        to_tangent = least_signed(f.part.tangents(f.panel), f.core) - f.rho
        hold(found, limits, "bend-clearance", "tangent", f, to_tangent)
        if f.face == "web":
            to_flange = least_signed(_inside_faces(f), f.core) - f.rho
            hold(found, limits, "bend-clearance", "flange-inside", f, to_flange)
    return found


def _inside_faces(f):
    """Inside faces of the flanges that a web feature's panel runs to."""
    channel, taper = f.part.channel, f.part.taper
    lower = ("flange", (0.0, channel.thickness), (0.0, 1.0))
    upper = ("flange", (0.0, channel.depth - channel.thickness), (0.0, -1.0))
    if f.panel == "TAIL_WEB":
        return [upper]
    if taper is not None and f.station > taper.apex[0]:
        return [lower]
    return [lower, upper]


def washer_seat(features, limits):
    """The washer on flat steel: to the bends' tangents and to free edges. The next washer: see pair_rules."""
    lined = {(f.side, f.face, f.hole): f for f in features if f.part_name == "liner"}
    found = []
    for f in features:
        if f.is_mark or f.washer_radius is None or f.part_name != "rail":
            continue
        to_tangent = least_signed(f.part.tangents(f.panel), f.core)
        inner = lined.get((f.side, f.face, f.hole))
        if inner is not None and inner.part.front - 1e-9 <= f.station <= inner.part.rear + 1e-9:
            to_tangent = min(to_tangent, least_signed(inner.part.tangents(inner.panel), inner.core))
        hold(found, limits, "washer-seat", "tangent", f, to_tangent - f.washer_radius)
        hold(found, limits, "washer-seat", "edge", f, edge_clearance(f) - f.washer_radius)
    return found


def flange_hole(features, limits, library):
    """Features in flanges: where none is allowed, and too large. How many on a line: see rail_rules."""
    found = []
    for f in features:
        if f.is_mark or f.face == "web" or f.part_name != "rail":
            continue
        found += _flange_zone(f, limits, library)
        hold(found, limits, "flange-hole", "size", f, f.d)
    return found


def _flange_zone(f, limits, library):
    """No flange holes in a zone of the set; and none at all of a component that may not have any."""
    verdict = broken("flange-hole", "zone", 1.0, limits.of_feature("flange-hole", "zone", f))
    if verdict is None:
        lacking = [name for name in f.owners if not library["components"][name]["flange_holes"]]
        if lacking and limits.rows_at("flange-hole", "zone", f.station):
            verdict = ("error", 0.0)
    if verdict is None:
        return []
    return [finding("flange-hole", "zone", verdict[0], f, 1.0, verdict[1], "violations")]


def hole_size(features, limits):
    """Least punched diameter, punch stress, largest fastener hole, and web passages against the depth."""
    found = []
    for f in features:
        if f.is_mark:
            continue
        if f.operation == "punch":
            hold(found, limits, "hole-size", "least", f, f.d)
            stress = 4.0 * f.part.band["shear"] * f.part.channel.thickness / f.d
            hold(found, limits, "hole-size", "punch-stress", f, stress, "MPa")
        if f.has_fastener:
            hold(found, limits, "hole-size", "largest", f, f.d)
        elif f.face == "web":
            hold(found, limits, "hole-size", "passage", f, 2.0 * f.half_extent(1))
    return found
