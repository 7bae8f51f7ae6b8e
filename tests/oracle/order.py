"""Reads an order and fills in what it leaves out: parts, stations, zones, limits. Lengths come out in mm."""

from __future__ import annotations

import tomllib
from pathlib import Path

from .geometry import Channel, Part, Taper
from .library import band_of, limit_row, scale_of


def read_order(order):
    """An order as a dict: a dict as it is; text with a line break is TOML; anything else is a path."""
    if isinstance(order, dict):
        return order
    if isinstance(order, str) and "\n" in order:
        return tomllib.loads(order)
    return tomllib.loads(Path(order).read_text(encoding="utf-8"))


def resolve(order, library, limit_set=None):
    """What the checks need of an order, as a dict."""
    raw = read_order(order)
    scale = scale_of(raw)
    family = library["families"][raw["family"]]
    dimensions = _dimensions(raw, scale, family, library)
    front = -dimensions["front_overhang"]
    rear = dimensions["wheelbase"] + dimensions["rear_overhang"]
    rail, liner = _parts(raw, scale, family, library, front, rear)
    limits = raw.get("limits", {})
    return {
        "serial": raw["serial"],
        "build_date": raw["build_date"],
        "family": raw["family"],
        "options": list(raw.get("options", [])),
        "rail": rail,
        "liner": liner,
        "frame_width": dimensions["frame_width"],
        "wheelbase": dimensions["wheelbase"],
        "axle_spread": dimensions["axle_spread"],
        "loads": _loads(raw, scale),
        "zones": _zones(family, dimensions, front, rear),
        "limit_set": limit_set or limits.get("set", "house"),
        "order_zones": [_order_zone(zone, scale) for zone in limits.get("zones", [])],
    }


def _loads(raw, scale):
    """The order's loads, or None; masses in kg, axle loads in kN."""
    if "loads" not in raw:
        return None
    given = {"body_mass": 0.0, "front_axle_load": None, "rear_axle_load": None, **raw["loads"]}
    for name in ("body_start", "body_end"):
        if name in given:
            given[name] *= scale
    return given


def _dimensions(raw, scale, family, library):
    dimensions = dict(family["dimensions"])
    for name in dimensions:
        if name in raw:
            dimensions[name] = raw[name] * scale
    for code, option in library["options"].items():
        for name, default in option["parameters"].items():
            dimensions[f"{code}.{name}"] = default
    for code, given in raw.get("parameters", {}).items():
        for name, value in given.items():
            dimensions[f"{code}.{name}"] = value * scale
    return dimensions


def _parts(raw, scale, family, library, front, rear):
    section = library["sections"][raw.get("section", family["section"])]
    band = band_of(library["steels"][raw.get("steel", family["steel"])], section["thickness"])
    channel = Channel(section)
    taper = None
    if "taper" in raw:
        taper = Taper(channel, rear, {k: v * scale for k, v in raw["taper"].items() if k != "wedge"})
    rail = Part("rail", channel, front, rear, 0.0, 0.0, taper, band)
    if "liner" not in raw:
        return rail, None
    entry = raw["liner"]
    inner = library["sections"][entry["section"]]
    inner_band = band_of(library["steels"][entry["steel"]], inner["thickness"])
    lift = (channel.depth - inner["depth"]) / 2.0  # the gap H - 2 t - depth is split equally above and below
    liner = Part(
        "liner",
        Channel(inner),
        entry["start"] * scale,
        entry["end"] * scale,
        lift,
        channel.thickness,
        None,
        inner_band,
    )
    return rail, liner


def _station(form, anchors, dimensions):
    value = form["offset"]
    if form["anchor"] is not None:
        value += anchors[form["anchor"]]
    for name, coefficient in form["per"].items():
        value += coefficient * dimensions[name]
    return value


def _zones(family, dimensions, front, rear):
    anchors = {
        "front_axle": 0.0,
        "rear_axle": dimensions["wheelbase"],
        "rail_front": front,
        "rail_rear": rear,
    }
    for name, form in family["anchors"].items():
        anchors[name] = _station(form, {}, dimensions)
    zones = {
        "ahead_of_front_hanger": (front, anchors["front_hanger"]),
        "between_front_hanger_and_last_axle": (anchors["front_hanger"], anchors["last_axle"]),
        "ahead_of_last_axle": (front, anchors["last_axle"]),
        "behind_last_axle": (anchors["last_axle"], rear),
    }
    for name, (start, end) in family["zones"].items():
        zones[name] = (_station(start, anchors, dimensions), _station(end, anchors, dimensions))
    return zones


def _order_zone(zone, scale):
    return {
        "from": zone["from"] * scale,
        "to": zone["to"] * scale,
        "reason": zone["reason"],
        "approver": zone["approver"],
        "rows": [limit_row(row, scale) for row in zone["rows"]],
    }
