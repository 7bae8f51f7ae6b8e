"""What random components put beside the rail: feet, envelopes, plies, stacks, head sides; and odd plant and limits.

The draws are made from a generator of their own, so that the holes of a random library stay those of its seed.
"""

from __future__ import annotations

import math
import random
import shutil
import tomllib
from pathlib import Path
from typing import Any

from random_orders import as_toml

Table = dict[str, Any]
CLASSES = ("static", "service", "motion", "tyre", "heat")
FLUSH: Table = {
    "kind": "flush screw",
    "diameter": 12.0,
    "pitch": 1.25,
    "stress_area": 92.1,
    "proof_stress": 580.0,
    "clamp": 40.1,
    "torque": 77.0,
    "friction": 0.16,
    "washer_outside": 24.0,
    "washer_thickness": 4.0,
    "socket_outside": 28.0,
    "nut_height": 12.0,
    "holes": {"fine": 13.0, "medium": 13.5, "coarse": 14.5},
    "lengths": [30.0, 40.0, 50.0, 60.0],
    "source": "invented",
}
FASTENERS: Table = {
    "Deep flush": FLUSH | {"head_height": 4.5, "countersink": {"diameter": 26.0, "angle": 90.0}},
    "High flush": FLUSH | {"head_height": 9.0, "countersink": {"diameter": 27.5, "angle": 100.0}},
}
"""Flush screws whose heads lie deep in their seat, or stand out of it."""


def furnish(rng: random.Random, components: list[Table]) -> None:
    """Give each component of a library feet, envelopes and whatever else stands beside the rail."""
    names = [component["id"] for component in components]
    for component in components:
        component["head"] = rng.choice(("outside", "outside", "inside"))
        component["plies"] = [_ply(rng) for _ in range(rng.choice((0, 1, 1, 2)))]
        component["stacks_onto"] = rng.sample(names, rng.choice((0, 0, 1, 2)))
        component["footprints"] = [_footprint(rng, component) for _ in range(rng.choice((0, 1, 1, 2)))]
        component["envelopes"] = [_envelope(rng) for _ in range(rng.choice((0, 0, 1, 2)))]
        if "mates" not in component and rng.random() < 0.2:
            _put_on_ramp(rng, component)


def rate(rng: random.Random, components: list[Table]) -> None:
    """Give some components rated loads in any direction, along axes too, on odd groups of bolts or on a lone one."""
    for component in components:
        component["shank_in_shear"] = rng.random() < 0.3
        count = rng.choice((0, 0, 1, 2))
        component["loads"] = [_load(rng) for _ in range(count)]


def _load(rng: random.Random) -> Table:
    axis = rng.choice(([1, 0, 0], [0, -1, 0], [0, 0, 1], [0, 0, -1], [-1, -1, 0]))
    odd = [round(rng.uniform(-1.0, 1.0), 3), round(rng.uniform(-1.0, 1.0), 3), rng.choice((-0.5, 0.25))]
    return {
        "force": round(rng.uniform(0.5, 40.0), 2),
        "direction": rng.choice((axis, odd)),
        "station": round(rng.uniform(-120.0, 120.0), 1),
        "across": round(rng.uniform(-80.0, 80.0), 1),
        "height": round(rng.uniform(0.0, 300.0), 1),
    }


def _ply(rng: random.Random) -> Table:
    return {"thickness": round(rng.uniform(2.0, 25.0), 2), "surface": rng.choice(("outside", "inside"))}


def _footprint(rng: random.Random, component: Table) -> Table:
    """A foot near the holes of a group or somewhere else: a rectangle, an L or a star, on round figures or not."""
    group = rng.choice(component["groups"])
    face = group["face"] if rng.random() < 0.8 else rng.choice(("web", "top", "bottom"))
    foot: Table = {"face": face, "surface": rng.choice(("outside", "inside"))}
    foot["datum"] = rng.choice(("bottom", "middle", "top") if face == "web" else ("web", "edge"))
    inward = -1.0 if foot["datum"] in ("top", "edge") else 1.0
    reach = {"bottom": 150.0, "top": 150.0, "middle": 0.0, "web": 45.0, "edge": 45.0}[foot["datum"]]
    wide, high = rng.uniform(20.0, 110.0), rng.uniform(15.0, 110.0 if face == "web" else 40.0)
    corners = rng.choice((_rectangle, _rectangle, _ell, _star))(rng, wide, high)
    at = (rng.uniform(-60.0, 90.0), inward * (reach + rng.uniform(-40.0, 40.0) * (1.0 if face == "web" else 0.5)))
    decimals = rng.choice((0, 0, 3))
    foot["polygon"] = [[round(x + at[0], decimals), round(y + at[1], decimals)] for x, y in corners]
    if rng.random() < 0.15 and "repeat" not in component and "floating" not in component:
        ends = [x for x, _ in foot["polygon"]]  # instances whose feet touch, or nearly so
        pitch = max(ends) - min(ends) + rng.choice((0.0, 0.0, 1.0, 2.0, 3.0))
        component["repeat"] = {"pitch": pitch, "count": 3}
    return foot


def _rectangle(_: random.Random, wide: float, high: float) -> list[tuple[float, float]]:
    return [(-wide / 2, -high / 2), (wide / 2, -high / 2), (wide / 2, high / 2), (-wide / 2, high / 2)]


def _ell(rng: random.Random, wide: float, high: float) -> list[tuple[float, float]]:
    """An L with its notch at any of the four corners."""
    x, y = wide * rng.uniform(0.25, 0.7), high * rng.uniform(0.25, 0.7)
    corners = [(0.0, 0.0), (wide, 0.0), (wide, y), (x, y), (x, high), (0.0, high)]
    ways = rng.choice((1.0, -1.0)), rng.choice((1.0, -1.0))
    return [(ways[0] * (a - wide / 2), ways[1] * (b - high / 2)) for a, b in corners]


def _star(rng: random.Random, wide: float, high: float) -> list[tuple[float, float]]:
    """A polygon whose corners lie at rising angles about its middle, near it and far from it by turns."""
    count = rng.randint(5, 9)
    corners = []
    for number in range(count):
        angle = 2.0 * math.pi * (number + rng.uniform(-0.3, 0.3)) / count
        share = rng.uniform(0.5, 1.0) * (0.5 if number % 2 else 1.0)
        corners.append((wide * share * math.cos(angle), high * share * math.sin(angle)))
    return corners


def _envelope(rng: random.Random) -> Table:
    """A box beside either face of the web or above a flange, now and then one that reaches over to the other rail."""
    clearance = rng.choice(CLASSES)
    start = rng.uniform(-80.0, 80.0)
    across = rng.choice(((-300.0, -1.0), (-220.0, -30.0), (9.5, 140.0), (60.0, 400.0), (20.0, 830.0), (-10.0, 120.0)))
    low = across[0] + rng.uniform(0.0, 30.0)
    bottom = rng.choice((0.0, 40.0, 120.0, -130.0, 290.0, 320.0)) + rng.uniform(-20.0, 20.0)
    decimals = rng.choice((0, 3))
    box = {
        "station": (start, start + rng.uniform(20.0, 240.0)),
        "across": (low, max(low + 5.0, across[1] + rng.uniform(-30.0, 30.0))),
        "height": (bottom, bottom + rng.uniform(20.0, 150.0)),
    }
    ends = {name: [round(end, decimals) for end in pair] for name, pair in box.items()}
    shielded = clearance == "heat" and rng.random() < 0.5
    return {"clearance": clearance, "shielded": shielded, "datum": rng.choice(("bottom", "middle"))} | ends


def _put_on_ramp(rng: random.Random, component: Table) -> None:
    """Move a component to the tail with screws on its top flange, flush ones among them."""
    component.pop("repeat", None)
    component.pop("floating", None)
    component["position"] = {"anchor": "rail_rear", "offset": -round(rng.uniform(60.0, 700.0), 1)}
    screw = rng.choice((*FASTENERS, "Flush M12x1.25", "M12x1.25", "M16x1.5"))
    operation = "countersink" if "lush" in screw else "drill"
    features = [{"id": f"r{number}", "station": 45.0 * number} for number in range(rng.randint(1, 2))]
    group = {"face": "top", "datum": "web", "across": round(rng.uniform(35.0, 60.0), 1)}
    group |= {"fastener": screw, "operation": operation, "features": features}
    component["groups"] = [*component["groups"], group]
    if rng.random() < 0.5:
        corners = [(-30.0, 25.0), (70.0, 25.0), (70.0, 80.0), (-30.0, 80.0)]
        foot = {"face": "top", "surface": "outside", "datum": "web", "polygon": corners}
        component["footprints"] = [*component["footprints"], foot]


def write_odd_plant(rng: random.Random, folder: Path) -> None:
    """A weak press, many clamps, half a crib, some for strings; racks, tank and oven too short for some rails."""
    presses = sorted((folder / "presses").glob("*.toml"))
    table = tomllib.loads(rng.choice(presses).read_text(encoding="utf-8"))
    unit = 25.4 if table.get("units") == "in" else 1.0
    tools = [tool for tool in table["tools"] if tool["shape"] == "mark" or rng.random() < 0.6]
    tools = [tool | {"strings": tool["shape"] != "mark" and place % 3 == 0} for place, tool in enumerate(tools)]
    table |= {
        "id": "odd-press",
        "force": rng.uniform(500.0, 1500.0),
        "longest_blank": rng.uniform(4500.0, 7500.0) / unit,
        "widest_blank": rng.uniform(380.0, 560.0) / unit,
        "thickest_blank": rng.choice((5.0, 8.0, 12.0)) / unit,
        "reach": rng.uniform(250.0, 480.0) / unit,
        "gauge_edge": rng.choice(("bottom", "top")),
        "gauge_end": rng.choice(("front", "rear")),
        "clamp_dead_zone": rng.choice((10.0, 25.0, 60.0)) / unit,
        "clamp_shifts": [shift / unit for shift in rng.sample((0.0, 60.0, -150.0, 200.0), rng.randint(1, 3))],
        "clamps": [_clamp(rng, unit) for _ in range(rng.choice((0, 3, 5, 9)))],
        "tools": tools,
    }
    table.pop("post", None)
    (folder / "presses" / "odd-press.toml").write_text(as_toml(table), encoding="utf-8")
    about = tomllib.loads((folder / "library.toml").read_text(encoding="utf-8"))
    (folder / "library.toml").write_text(as_toml(about | {"press": "odd-press"}), encoding="utf-8")
    finishing = tomllib.loads((folder / "finishing.toml").read_text(encoding="utf-8"))
    for name in ("longest_part", "tank_length", "oven_length"):
        finishing["rack"][name] = rng.uniform(4500.0, 7500.0)
    finishing["coating"] |= {"friction": 0.18, "film_embedding": 0.25}
    (folder / "finishing.toml").write_text(as_toml(finishing), encoding="utf-8")
    (folder / "fasteners-random.toml").write_text(as_toml({"fasteners": FASTENERS}), encoding="utf-8")


def _clamp(rng: random.Random, unit: float) -> Table:
    station, width = rng.uniform(0.0, 7500.0), rng.uniform(60.0, 300.0)
    clamp = {"station": station / unit, "width": width / unit}
    return clamp | ({"depth": rng.uniform(20.0, 160.0) / unit} if rng.random() < 0.7 else {})


def copy_stock(folder: Path, stock: Path, left_out: tuple[str, ...]) -> None:
    """Copy the files of a library, but for some of its folders."""
    for path in sorted(stock.iterdir()):
        if path.is_dir() and path.name not in left_out:
            shutil.copytree(path, folder / path.name)
        elif path.is_file():
            shutil.copy(path, folder / path.name)


def odd_limits(name: str, scale: float) -> Table:
    """A set after the house one in which most of what stands beside the rail breaks something."""
    rows: list[Table] = []

    def row(rule: str, measure: str, error: float | None, warning: float | None = None, **keys: Any) -> None:
        entry: Table = {"rule": rule, "measure": measure, "source": "invented"}
        figures = {"error": error, "warning": warning}
        rows.append(entry | {key: figure * scale for key, figure in figures.items() if figure is not None} | keys)

    row("wrench-access", "radial", 6.0, 18.0)
    row("wrench-access", "nut-length", 150.0, 260.0)
    row("wrench-access", "head-length", 100.0, when={"bolt": {"least": 14.0}})
    row("wrench-access", "head-length", 3.0, 12.0, of="bolt")
    row("weld-clearance", "hole", 40.0, 90.0)
    row("weld-clearance", "stud-hole", 50.0, 80.0)
    row("weld-clearance", "stud-hole", 2.0, of="hole")
    row("weld-clearance", "stud-tangent", 3.0, 6.0, of="t")
    row("liner-edge", "hole", 6.0, 12.0, of="liner t")
    row("liner-edge", "hole", 1.5, of="hole", when={"depth": {"below": 290.0}})
    row("liner-edge", "washer", 30.0, 60.0)
    row("footprint-clash", "feet", 8.0, 40.0)
    row("footprint-clash", "feet", 20.0, when={"zone": "behind_last_axle"})
    row("footprint-clash", "tangent", 2.0, 1.5, of="t")
    row("footprint-clash", "washer", 8.0, 25.0)
    row("footprint-clash", "end", 30.0, 80.0)
    for clearance, error in (("static", 40.0), ("service", 70.0), ("motion", 70.0), ("tyre", 90.0)):
        row("space-clash", clearance, error, 2.5 * error)
    row("space-clash", "motion", None, 0.5, of="depth")
    row("space-clash", "heat", 70.0, when={"shielded": True})
    row("space-clash", "heat", 120.0, 200.0, when={"shielded": False})
    row("ramp-flush", "recess", 4.0, 0.5)
    row("press-limit", "force", 0.3, 0.2, unit="ratio")
    row("press-limit", "clamp", 20.0, 60.0)
    row("joint", "utilisation", 0.3, 0.02, unit="ratio")
    row("grip", "bolt-diameters", 1.2, 2.5, unit="ratio")
    lines = (
        {"counted": "extents"},
        {"counted": "extents", "when": {"depth": {"below": 260.0}}},
        {"counted": "centres"},
    )
    for keys, error in zip(lines, (3, 2, 2), strict=True):
        entry = {"rule": "holes-in-line", "measure": "count", "error": error, "unit": "count", "source": "invented"}
        rows.append(entry | keys | ({"warning": 1} if keys == {"counted": "centres"} else {}))
    rows.extend(_ratio_rows())
    return {"id": name, "name": "Odd limits", "source": "invented", "inherits": "house", "rows": rows}


def _ratio_rows() -> list[Table]:
    """Shares of the section modulus that hold by depth, by zone and everywhere."""
    plain: Table = {"rule": "net-section", "unit": "ratio", "source": "invented"}
    return [
        plain | {"measure": "rail", "error": 0.8, "warning": 0.93},
        plain | {"measure": "rail", "error": 0.9, "warning": 0.97, "when": {"depth": {"below": 230.0}}},
        plain | {"measure": "rail", "error": 0.88, "when": {"zone": "cab"}},
        plain | {"measure": "with-liner", "error": 0.86, "warning": 0.96},
        plain | {"measure": "with-liner", "error": 0.9, "when": {"zone": "ahead_of_front_hanger"}},
    ]
