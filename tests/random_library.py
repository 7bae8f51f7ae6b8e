"""A random library from a seed: odd components that no engineer would draw, so that every rule meets every shape.

Sections, steels, fasteners, press, finishing and limit sets are copied from a library that is there; families, options
and components are made up.
"""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

from random_bodies import copy_stock, furnish, odd_limits, rate, write_odd_plant
from random_loads import weigh
from random_orders import as_toml

Table = dict[str, Any]
FAMILIES = ("short-frame", "long-frame")
ANCHORS = ("front_axle", "rear_axle", "rail_front", "rail_rear", "front_hanger", "last_axle", "bogie")
MADE_HERE = ("families", "options", "components")
ODD_SETS = {"odd": 1.0, "very-odd": 2.2}
SCREWS = ("M12x1.25", "M14x1.5", "M16x1.5", "M18x1.5", "M20x1.5", "1/2-20", "5/8-18", "3/4-16")
SECTIONS: Table = {
    "T270x90x8": {"depth": 270.0, "flange": 90.0, "thickness": 8.0, "inside_radius": 8.0},
    "T250x80x6": {"depth": 250.0, "flange": 80.0, "thickness": 6.0, "inside_radius": 5.0},
}
"""Bends too tight for a weld nearby, and for a liner or in a rail."""


def write_random_library(folder: Path, seed: int, stock: Path) -> Path:
    """Write a library into ``folder``: stock files from the library ``stock``, all else random from the seed."""
    rng, beside = random.Random(seed), random.Random(f"beside {seed}")
    copy_stock(folder, stock, MADE_HERE)
    write_odd_plant(beside, folder)
    for name, scale in ODD_SETS.items():
        _write(folder, "limits", name, odd_limits(name, scale))
    (folder / "sections-random.toml").write_text(as_toml({"sections": SECTIONS}), encoding="utf-8")
    for number, name in enumerate(FAMILIES):
        _write(folder, "families", name, _family(rng, name, number))
    codes = [f"RND{number:02d}" for number in range(1, 31)]
    for code in codes:
        _write(folder, "options", code, _option(rng, code, codes))
    components = _components(rng, codes)
    furnish(beside, components)
    rate(random.Random(f"rated {seed}"), components)
    weigh(random.Random(f"masses {seed}"), components)
    for component in components:
        _write(folder, "components", component["id"], component)
    return folder


def _write(folder: Path, under: str, name: str, table: Table) -> None:
    path = folder / under / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(as_toml(table), encoding="utf-8")


def _family(rng: random.Random, name: str, number: int) -> Table:
    def dimension(least: float, most: float, step: float) -> Table:
        return {"least": least, "most": most, "step": step, "default": least + step}

    return {
        "id": name,
        "name": f"Random {name}",
        "serial_prefix": "RL"[number],
        "drive": rng.choice(("left", "right", "dual")),
        "section": ("C270x90x8", "C300x90x9.5")[number],
        "steel": "S700MC",
        "dimensions": {
            "wheelbase": dimension(2600.0, 3400.0, 25.0),
            "axle_spread": dimension(1300.0, 1450.0, 10.0),
            "front_overhang": dimension(700.0, 1000.0, 5.0),
            "rear_overhang": dimension(1500.0, 2100.0, 10.0),
            "frame_width": dimension(800.0, 900.0, 10.0),
        },
        "anchors": {
            "front_hanger": {"offset": -410.0},
            "last_axle": {"per": {"wheelbase": 1.0, "axle_spread": 0.5}},
            "bogie": {"offset": 35.5, "per": {"wheelbase": 1.0, "axle_spread": -0.25}},
        },
        "zones": {
            "cab": {
                "from": {"anchor": "front_axle", "offset": -250.0},
                "to": {"anchor": "front_axle", "offset": 900.0},
            }
        },
    }


def _option(rng: random.Random, code: str, codes: list[str]) -> Table:
    """An option; what it requires comes later in the alphabet, so that nothing requires itself in a circle."""
    later = [other for other in codes if other > code]
    option: Table = {"code": code, "name": f"Random option {code}", "place": "anywhere"}
    option["families"] = rng.sample(FAMILIES, rng.choice((1, 2, 2)))
    requires = rng.sample(later, 1) if later and rng.random() < 0.2 else []
    option["requires"] = requires
    others = [other for other in codes if other != code and other not in requires]
    option["excludes"] = rng.sample(others, 1) if rng.random() < 0.15 else []
    if rng.random() < 0.2:
        option["parameters"] = {"length": {"least": 300.0, "most": 900.0, "step": 12.5, "default": 500.0}}
    if rng.random() < 0.1:
        option["valid_to"] = f"{rng.choice('RL')}-{rng.randint(1, 4200)}"
    return option


def _components(rng: random.Random, codes: list[str]) -> list[Table]:
    components: list[Table] = []
    for number in range(60):
        code = rng.choice(codes)
        component = _component(rng, f"part-{number:02d}", code)
        components.append(component)
        draw = rng.random()
        if draw < 0.15:
            components += _mates(rng, component)
        elif draw < 0.35:
            components.append(_sharing(rng, component, codes))
    return components


def _component(rng: random.Random, name: str, code: str) -> Table:
    anchor = rng.choice(ANCHORS)
    offset = rng.uniform(0.0, 900.0) if anchor == "rail_front" else rng.uniform(-900.0, 900.0)
    offset = -offset if anchor == "rail_rear" and offset > 0.0 else offset
    component: Table = {
        "id": name,
        "name": f"Random {name}",
        "options": [code],
        "kind": "bracket",
        "side": rng.choice(("LH", "RH", "both", "both", "both", "turned", "driver", "passenger")),
        "flange_holes": rng.random() < 0.6,
        "shared_holes": rng.random() < 0.5,
        "position": {"anchor": anchor, "offset": round(offset, rng.choice((0, 1, 3)))},
    }
    if rng.random() < 0.2:
        component["position"]["per"] = {"wheelbase": round(rng.uniform(-0.2, 0.2), 3)}
    component["groups"] = [_group(rng, f"g{index}") for index in range(rng.choice((1, 1, 2)))]
    draw = rng.random()
    if draw < 0.1:
        component["repeat"] = {"pitch": rng.uniform(30.0, 300.0), "count": rng.randint(2, 5)}
    elif draw < 0.15:
        span = component["position"] | {"offset": round(offset, 3) + rng.uniform(200.0, 900.0)}
        component["repeat"] = {"greatest_pitch": rng.uniform(120.0, 250.0), "to": span}
    elif draw < 0.2:
        middle = component["position"]["offset"]
        component["floating"] = {"least": middle - 150.0, "most": middle + 150.0, "pitch": 25.0}
    return component


def _mates(rng: random.Random, component: Table) -> list[Table]:
    """Makes a component the LH one of a mated pair and returns the RH one, a little off now and then."""
    component.pop("floating", None)
    component["mates"] = f"mates-{component['id']}"
    component["side"] = "LH"
    off = rng.choice((0.0, 0.0, 0.03, 0.2, 1.0))
    position = component["position"] | {"offset": component["position"]["offset"] + off}
    return [component | {"id": f"{component['id']}-mate", "side": "RH", "position": position}]


def _sharing(rng: random.Random, component: Table, codes: list[str]) -> Table:
    """A component with the same holes at the same place, or not quite, which may or may not share them."""
    off = rng.choice((0.0, 0.0, 0.004, 0.03, 0.3))
    position = component["position"] | {"offset": component["position"]["offset"] + off}
    changes: Table = {"id": f"{component['id']}-again", "options": [rng.choice(codes)], "position": position}
    if rng.random() < 0.7:
        changes["shared_holes"] = component["shared_holes"]
    return component | changes


def _group(rng: random.Random, name: str) -> Table:
    face = rng.choice(("web", "web", "web", "top", "bottom"))
    group: Table = {"face": face, "station": round(rng.uniform(-60.0, 60.0), 2)}
    if face == "web":
        group["datum"] = rng.choice(("bottom", "middle", "top"))
        group["across"] = {"bottom": 1.0, "middle": 0.0, "top": -1.0}[group["datum"]] * rng.uniform(30.0, 150.0)
        rows = rng.randint(1, 3)
    else:
        group["datum"] = rng.choice(("web", "edge"))
        group["across"] = {"web": 1.0, "edge": -1.0}[group["datum"]] * rng.uniform(15.0, 60.0)
        rows = 1
    features = []
    for column in range(rng.randint(1, 3)):
        for row in range(rows):
            feature = _feature(rng, f"{name}-{column}-{row}")
            feature["station"] = round(column * rng.uniform(25.0, 90.0), 3)
            feature["across"] = round((row - (rows - 1) / 2.0) * rng.uniform(20.0, 70.0), 3)
            features.append(feature)
    group["features"] = features
    return group


def _feature(rng: random.Random, name: str) -> Table:
    kind = rng.choice(("bolt", "bolt", "bolt", "hole", "slot", "rectangle", "stud", "mark", "flush"))
    angle = rng.choice((0.0, 90.0, 45.0, round(rng.uniform(0.0, 179.0), 1)))
    if kind == "stud":
        return {"id": name, "shape": "mark", "fastener": "M8 stud", "operation": "stud"}
    if kind == "mark":
        return {"id": name, "shape": "mark"}
    if kind == "flush":
        return {"id": name, "fastener": "Flush M12x1.25", "operation": "countersink"}
    feature: Table = {"id": name, "operation": rng.choice(("punch", "punch", "drill"))}
    fastened = kind == "bolt" or (kind in ("slot", "rectangle") and rng.random() < 0.4)
    if fastened:
        feature |= {"fastener": rng.choice(SCREWS), "fit": rng.choice(("fine", "medium", "coarse"))}
    else:
        feature["diameter"] = round(rng.choice((rng.uniform(6.0, 30.0), rng.uniform(20.0, 70.0))), 2)
    if kind in ("slot", "rectangle"):
        width = feature.get("diameter", 25.0)
        feature |= {"shape": kind, "length": round(width + rng.uniform(1.0, 40.0), 2), "angle": angle}
    if kind == "rectangle" and rng.random() < 0.4:
        feature["corner_radius"] = round(rng.uniform(1.0, 20.0), 2)
    return feature
