"""A catalogue from a seed, as large as a maker's: options with components as engineers draw them, spread over a truck.

Sections, steels, fasteners, press, finishing and limit sets are copied from a library that is there.
"""

from __future__ import annotations

import random
import shutil
from pathlib import Path
from typing import Any

from random_library import MADE_HERE
from random_orders import as_toml

Table = dict[str, Any]
FAMILY = "long-frame"
SCREWS = ("M14x1.5", "M16x1.5", "M18x1.5")
PLACES = ("axles", "body", "cab", "energy", "frame", "front end", "harness", "power unit", "rear end")
ANCHORS: dict[str, Table] = {
    "front_hanger": {"offset": -800.0},
    "cab_rear": {"offset": 600.0},
    "gearbox": {"offset": 1200.0},
    "midship": {"offset": 500.0, "per": {"wheelbase": 0.5, "axle_spread": -0.25}},
    "rear_group": {"offset": -650.0, "per": {"wheelbase": 1.0, "axle_spread": -0.5}},
    "last_axle": {"per": {"wheelbase": 1.0, "axle_spread": 0.5}},
}
STARTS = ("front_hanger", "front_axle", "cab_rear", "gearbox", "midship", "rear_group", "rear_axle", "last_axle")


def write_catalogue(folder: Path, seed: int, options: int, stock: Path) -> Path:
    """Write a library of one family with so many options into ``folder``."""
    rng = random.Random(seed)
    for path in sorted(stock.iterdir()):
        if path.is_dir() and path.name not in MADE_HERE:
            shutil.copytree(path, folder / path.name)
        elif path.is_file():
            shutil.copy(path, folder / path.name)
    _write(folder, "families", FAMILY, _family())
    codes = [f"{letters}{number:02d}" for letters in ("ABX", "CDX", "EFX", "GHX") for number in range(10, 90)][:options]
    components: list[Table] = []
    for code in codes:
        option = _option(rng, code, codes)
        _write(folder, "options", code, option)
        for number in range(rng.choice((1, 1, 2, 3))):
            components.append(_component(rng, f"{code.lower()}-{number}", code, "parameters" in option))
    _furnish(random.Random(f"beside {seed}"), components)
    for component in components:
        _write(folder, "components", component["id"], component)
    return folder


def _furnish(rng: random.Random, components: list[Table]) -> None:
    """Feet, plies, studs, slots and flange screws, each for some of the components."""
    for before, component in zip([None, *components], components, strict=False):
        component["head"] = rng.choice(("outside", "outside", "inside"))
        if rng.random() < 0.35:
            surface = rng.choice(("outside", "inside"))
            component["footprints"] = [_foot(rng, component["groups"][0], surface)]
            component["plies"] = [{"thickness": float(rng.choice((6, 8, 10))), "surface": surface}]
            if before is not None and rng.random() < 0.1:
                component["stacks_onto"] = [before["id"]]
        if rng.random() < 0.1:
            first = component["groups"][0]["features"][0]
            first |= {"shape": "slot", "length": 30.0, "angle": float(rng.choice((0, 45, 90)))}
        if rng.random() < 0.06:
            stud = {"id": "s0", "shape": "mark", "station": -40.0, "fastener": "M8 stud", "operation": "stud"}
            place = {"face": "web", "datum": "middle", "across": float(rng.randrange(-60, 65, 20))}
            component["groups"].append(place | {"features": [stud]})
        if rng.random() < 0.06:
            face, screw = rng.choice(("top", "bottom")), rng.choice(SCREWS)
            group = {"face": face, "datum": "web", "across": float(rng.randrange(40, 60, 5)), "fastener": screw}
            component["groups"].append(group | {"features": [{"id": "f0", "station": 20.0}]})
            component["flange_holes"] = rng.random() < 0.8


def _foot(rng: random.Random, group: Table, surface: str) -> Table:
    """A plate about the holes of a group."""
    stations = [feature["station"] for feature in group["features"]]
    acrosses = [feature["across"] for feature in group["features"]]
    beyond = float(rng.randrange(25, 45, 5))
    left, right = min(stations) - beyond, max(stations) + beyond
    low, high = (group["across"] + end for end in (min(acrosses) - beyond, max(acrosses) + beyond))
    corners = [[left, low], [right, low], [right, high], [left, high]]
    return {"face": "web", "surface": surface, "datum": group["datum"], "polygon": corners}


def _write(folder: Path, under: str, name: str, table: Table) -> None:
    path = folder / under / f"{name}.toml"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(as_toml(table), encoding="utf-8")


def _family() -> Table:
    return {
        "id": FAMILY,
        "name": "Long frame",
        "serial_prefix": "L",
        "drive": "left",
        "section": "C300x90x9.5",
        "steel": "S700MC",
        "dimensions": {
            "wheelbase": {"least": 3800.0, "most": 6800.0, "step": 50.0, "default": 4800.0},
            "axle_spread": {"least": 1310.0, "most": 1450.0, "default": 1370.0, "choices": [1310.0, 1370.0, 1450.0]},
            "front_overhang": {"least": 1300.0, "most": 1700.0, "step": 50.0, "default": 1500.0},
            "rear_overhang": {"least": 1500.0, "most": 2400.0, "step": 50.0, "default": 1700.0},
            "frame_width": {"least": 780.0, "most": 860.0, "step": 20.0, "default": 800.0},
        },
        "anchors": ANCHORS,
    }


def _option(rng: random.Random, code: str, codes: list[str]) -> Table:
    later = [other for other in codes if other > code]
    option: Table = {"code": code, "name": f"Option {code}", "place": rng.choice(PLACES), "families": [FAMILY]}
    draw = rng.random()
    if draw < 0.1 and later:
        option["requires"] = [rng.choice(later)]
    elif draw < 0.3:
        # Options that exclude each other lie near each other, as variants of one thing do; none is required by another.
        number = codes.index(code)
        near = [other for other in codes[max(number - 3, 0) : number + 4] if other < code]
        option["excludes"] = near[-1:]
    if rng.random() < 0.08:
        option["parameters"] = {"length": {"least": 600.0, "most": 1400.0, "step": 200.0, "default": 800.0}}
    return option


def _component(rng: random.Random, name: str, code: str, by_length: bool) -> Table:
    anchor = rng.choice(STARTS)
    offset = float(rng.randrange(-400, 1200, 5))
    position: Table = {"anchor": anchor, "offset": offset}
    if by_length and rng.random() < 0.5:
        position["per"] = {f"{code}.length": 1.0}
    component: Table = {
        "id": name,
        "name": f"Part {name}",
        "options": [code],
        "kind": "bracket",
        "side": rng.choice(("LH", "RH", "both", "both", "both", "turned", "driver", "passenger")),
        "shared_holes": rng.random() < 0.3,
        "position": position,
        "groups": [_group(rng)],
    }
    if rng.random() < 0.2:
        component["envelopes"] = [_envelope(rng)]
    draw = rng.random()
    if draw < 0.15:
        middle = offset
        component["floating"] = {"least": middle - 300.0, "most": middle + 300.0, "pitch": 25.0}
    elif draw < 0.2:
        to = {"anchor": "rail_rear", "offset": -float(rng.randrange(200, 600, 10))}
        component["position"] = {"anchor": "gearbox", "offset": offset}
        component["repeat"] = {"greatest_pitch": float(rng.randrange(400, 900, 50)), "to": to}
    elif draw < 0.25:
        component["repeat"] = {"pitch": float(rng.randrange(200, 500, 25)), "count": rng.randint(2, 4)}
    elif draw < 0.3:
        component["present"] = {"dimension": "wheelbase", "least": float(rng.randrange(4200, 6000, 100))}
    return component


def _envelope(rng: random.Random) -> Table:
    """A box beside the rail, now and then one that reaches far toward the other rail."""
    outside = rng.random() < 0.6
    start, bottom = float(rng.randrange(-200, 0, 10)), float(rng.randrange(-150, 150, 10))
    inboard = float(rng.choice((300, 420, 700)))
    return {
        "clearance": rng.choice(("static", "static", "service", "motion", "heat")),
        "station": [start, start + rng.randrange(200, 600, 20)],
        "height": [bottom, bottom + rng.randrange(100, 300, 20)],
        "across": [-400.0, -20.0] if outside else [20.0, inboard],
    }


def _group(rng: random.Random) -> Table:
    datum = rng.choice(("bottom", "middle", "top"))
    across = {"bottom": 80.0, "middle": 0.0, "top": -80.0}[datum] + rng.randrange(-20, 25, 5)
    columns, rows = rng.choice(((1, 1), (2, 1), (2, 2), (3, 2))) if datum == "middle" else (rng.choice((1, 2, 3)), 1)
    pitch = float(rng.randrange(60, 130, 5))
    features = [
        {"id": f"h{column}{row}", "station": column * pitch, "across": (row - (rows - 1) / 2) * 70.0}
        for column in range(columns)
        for row in range(rows)
    ]
    return {"face": "web", "datum": datum, "across": across, "fastener": rng.choice(SCREWS), "features": features}
