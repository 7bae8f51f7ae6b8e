"""Reads a library folder with nothing but tomllib. Everything comes out in mm; nothing is validated."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

INCH = 25.4


def read_library(folder):
    """Everything the checks need of a library folder, as plain dicts by name."""
    folder = Path(folder)
    return {
        "sections": _tables(folder, "sections*.toml", "sections", _section),
        "steels": _tables(folder, "steels*.toml", "steels", _steel),
        "fasteners": _tables(folder, "fasteners*.toml", "fasteners", _fastener),
        "limits": _items(folder / "limits", "id", _limit_set),
        "families": _items(folder / "families", "id", _family),
        "options": _items(folder / "options", "code", _option),
        "components": _items(folder / "components", "id", _component),
        "press": _press(folder),
        "rack": _rack(folder),
        "coating": _coating(folder),
    }


def scale_of(table):
    """Millimetres in one unit of length of a file."""
    return INCH if table.get("units", "mm") == "in" else 1.0


def _tables(folder, pattern, key, convert):
    found = {}
    for path in sorted(folder.glob(pattern)):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        for name, entry in table[key].items():
            found[name] = convert(entry, scale_of(table))
    return found


def _items(folder, key, convert):
    found = {}
    for path in sorted(folder.glob("**/*.toml")):
        table = tomllib.loads(path.read_text(encoding="utf-8"))
        found[table[key]] = convert(table, scale_of(table))
    return found


def _section(entry, scale):
    return {
        "depth": entry["depth"] * scale,
        "flange": entry["flange"] * scale,
        "thickness": entry["thickness"] * scale,
        "radius": entry["inside_radius"] * scale,
        "neutral_line": entry.get("neutral_line"),
    }


def _steel(entry, scale):
    bands = []
    for band in entry["bands"]:
        bands.append(
            {
                "above": band.get("thickness_above", 0.0) * scale,
                "to": band["thickness_to"] * scale,
                "yield": band["yield_strength"],
                "tensile": band["tensile_least"],
                "shear": band.get("shear_strength", 0.75 * band["tensile_least"]),
                "shear_most": band.get("shear_strength", 0.75 * band["tensile_most"]),
            }
        )
    return bands


def band_of(steel, thickness):
    """The band of a steel that holds for a thickness."""
    for band in steel:
        if band["above"] < thickness <= band["to"] + 1e-9:
            return band
    raise ValueError(f"the steel has no band for {thickness} mm")


def _fastener(entry, scale):
    holes = entry.get("holes")
    return {
        "kind": entry.get("kind", "screw"),
        "diameter": entry["diameter"] * scale,
        "washer": entry["washer_outside"] * scale if "washer_outside" in entry else None,
        "socket": entry["socket_outside"] * scale if "socket_outside" in entry else None,
        "fine": holes["fine"] * scale if holes else None,
        "coarse": holes["coarse"] * scale if holes else None,
        "countersink": entry["countersink"]["diameter"] * scale if "countersink" in entry else None,
        "countersink_angle": entry["countersink"]["angle"] if "countersink" in entry else None,
        **{name: entry.get(name, 0.0) * scale for name in ("washer_thickness", "head_height", "nut_height")},
        "is_inch": entry.get("thread", "metric") == "unified",
        "pitch": entry["pitch"] * scale,
        "stress_area": entry["stress_area"],
        "tensile": entry.get("tensile_strength", 1.2 * entry["proof_stress"]),
        "clamp": entry["clamp"] * 1000.0,
        "lengths": sorted(length * scale for length in entry.get("lengths", [])),
    }


def _press(folder):
    """The press that the library names."""
    name = tomllib.loads((folder / "library.toml").read_text(encoding="utf-8"))["press"]
    table = tomllib.loads(next((folder / "presses").glob(f"**/{name}.toml")).read_text(encoding="utf-8"))
    scale = scale_of(table)
    lengths = ("longest_blank", "widest_blank", "thickest_blank", "reach")
    return {
        "force": table["force"],
        **{key: table[key] * scale for key in lengths},
        "gauge_edge": table.get("gauge_edge", "bottom"),
        "gauge_end": table.get("gauge_end", "front"),
        "clamp_dead_zone": table["clamp_dead_zone"] * scale if "clamp_dead_zone" in table else 25.0,
        "clamp_shifts": [shift * scale for shift in table["clamp_shifts"]] if "clamp_shifts" in table else [0.0, 200.0],
        "clamps": [
            {
                "station": clamp["station"] * scale,
                "width": clamp["width"] * scale,
                "depth": clamp["depth"] * scale if "depth" in clamp else 40.0,
            }
            for clamp in table.get("clamps", [])
        ],
        "tools": {
            tool["id"]: {
                "shape": tool["shape"],
                **{key: tool[key] * scale if key in tool else None for key in ("diameter", "length", "corner_radius")},
            }
            for tool in table.get("tools", [])
        },
    }


def _rack(folder):
    """Lengths that racks, tank and oven take."""
    table = tomllib.loads((folder / "finishing.toml").read_text(encoding="utf-8"))
    scale = scale_of(table)
    return {name: table["rack"][name] * scale for name in ("longest_part", "tank_length", "oven_length")}


def _coating(folder):
    """How coated faces in a joint slide and settle: friction, and mm by which one face settles."""
    entry = tomllib.loads((folder / "finishing.toml").read_text(encoding="utf-8"))["coating"]
    settling = entry["film_most"] * entry.get("film_embedding", 0.1) / 1000.0
    return {"friction": entry.get("friction", 0.15), "settling": settling}


def _limit_set(table, scale):
    return {
        "inherits": table.get("inherits"),
        "rows": [limit_row(row, scale) for row in table.get("rows", [])],
    }


def limit_row(raw, scale):
    """A row of a limit set or of an order's zone with its figures in mm."""
    unit = raw.get("unit", "in" if scale == INCH else "mm")
    factor = INCH if unit == "in" else 1.0
    figure = 1.0 if raw.get("of") else factor
    when = {}
    for name, condition in raw.get("when", {}).items():
        if name in ("thickness", "depth", "hole", "bolt"):
            condition = {bound: number * scale for bound, number in condition.items()}
        when[name] = condition
    return {
        "rule": raw["rule"],
        "measure": raw["measure"],
        "error": raw["error"] * figure if "error" in raw else None,
        "warning": raw["warning"] * figure if "warning" in raw else None,
        "table": [(size * factor, value * factor) for size, value in raw.get("table", [])],
        "unit": "mm" if unit == "in" else unit,
        "of": raw.get("of"),
        "when": when,
        "counted": raw.get("counted", "extents"),
        "source": raw["source"],
    }


def _linear(form, scale):
    return {
        "anchor": form.get("anchor"),
        "offset": form.get("offset", 0.0) * scale,
        "per": dict(form.get("per", {})),
    }


def _family(table, scale):
    zones = {}
    for name, zone in table.get("zones", {}).items():
        zones[name] = (_linear(zone["from"], scale), _linear(zone["to"], scale))
    return {
        "drive": table["drive"],
        "section": table["section"],
        "steel": table["steel"],
        "dimensions": {name: entry["default"] * scale for name, entry in table["dimensions"].items()},
        "anchors": {name: _linear(form, scale) for name, form in table["anchors"].items()},
        "zones": zones,
    }


def _option(table, scale):
    return {
        "families": table["families"],
        "requires": table.get("requires", []),
        "excludes": table.get("excludes", []),
        "parameters": {name: entry["default"] * scale for name, entry in table.get("parameters", {}).items()},
        "valid_from": table.get("valid_from"),
        "valid_to": table.get("valid_to"),
    }


def _component(table, scale):
    radii, places = {}, []
    for group in table.get("groups", []):
        for feature in group["features"]:
            along = group.get("station", 0.0) + feature.get("station", 0.0)
            places.append((group["face"], along * scale))
            if "corner_radius" in feature:
                radii[feature["id"]] = feature["corner_radius"] * scale
    return {
        "kind": table.get("kind"),
        "mass": table.get("mass", 0.0),
        "flange_holes": table.get("flange_holes", False),
        "mates": table.get("mates"),
        "corner_radii": radii,
        "head": table.get("head", "outside"),
        "stacks_onto": table.get("stacks_onto", []),
        "plies": [(ply["thickness"] * scale, ply["surface"]) for ply in table.get("plies", [])],
        "footprints": [
            {**foot, "polygon": [(x * scale, y * scale) for x, y in foot["polygon"]]}
            for foot in table.get("footprints", [])
        ],
        "envelopes": [_envelope(box, scale) for box in table.get("envelopes", [])],
        "places": places,
        "shank_in_shear": table.get("shank_in_shear", False),
        "loads": [_load(load, scale) for load in table.get("loads", [])],
    }


def _load(load, scale):
    """A rated load: its vector in N, and its point of attack."""
    x, y, z = load["direction"]
    size = math.sqrt(x * x + y * y + z * z)
    point = (load.get("station", 0.0) * scale, load.get("across", 0.0) * scale, load["height"] * scale)
    return {"vector": [load["force"] * 1000.0 * part / size for part in (x, y, z)], "point": point}


def _envelope(box, scale):
    ends = {name: tuple(end * scale for end in box[name]) for name in ("station", "height", "across")}
    return {
        "clearance": box["clearance"],
        "shielded": box.get("shielded", False),
        "datum": box.get("datum", "bottom"),
        **ends,
    }
