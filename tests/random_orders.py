"""Random orders over a library, from a seed: every one can be used, many of them with something wrong in them.

Nothing here knows the demo library by name: families, options, sections and limit sets are those that are there.
"""

from __future__ import annotations

import datetime
import random
from collections.abc import Mapping, Sequence
from typing import Any

from random_loads import put_loads

from railgen.data.component import ORDER_DIMENSIONS, Family, Option, Parameter
from railgen.data.library import Library
from railgen.data.stock import SectionEntry
from railgen.data.values import MM_PER_INCH

Table = dict[str, Any]


def random_orders(count: int, seed: int, library: Library, loaded: bool = False) -> list[str]:
    """TOML text of ``count`` orders, some of them with loads if asked for; the same seed and library, the same text."""
    rng, beside = random.Random(seed), random.Random(f"loads {seed}")
    orders = [random_order(rng, library, number) for number in range(count)]
    if loaded:
        for order in orders:
            put_loads(beside, order, library)
    return [as_toml(order) for order in orders]


def random_order(rng: random.Random, library: Library, number: int) -> Table:
    """One order as a table, lengths in the units that it names."""
    family = library.families[rng.choice(sorted(library.families))]
    section = _section(rng, library, family)
    order: Table = {
        "serial": f"{family.serial_prefix}-{rng.choice((0, 4000, 900_000)) + number}",
        "family": family.id,
        "build_date": datetime.date(2025, 1, 1) + datetime.timedelta(days=rng.randrange(900)),
        "units": rng.choice(("mm", "mm", "in")),
        "options": _options(rng, library, family),
    }
    if rng.random() < 0.4:
        order["drive"] = rng.choice(("left", "right", "dual"))
    if section != family.section:
        order["section"] = section
    dimensions = _dimensions(rng, family)
    order |= dimensions
    defaults = {name: family.dimensions[name].default for name in ORDER_DIMENSIONS}
    sizes = defaults | dimensions
    front, rear = -sizes["front_overhang"], sizes["wheelbase"] + sizes["rear_overhang"]
    shape = library.sections[section]
    behind = rear
    if rng.random() < 0.4:
        order["taper"] = _taper(rng, shape, sizes["wheelbase"], rear)
        behind = order["taper"]["start"] - 300.0
    inner = _liner_sections(library, shape)
    if inner and rng.random() < 0.4:
        order["liner"] = _liner(rng, library, inner, front, behind)
    order["limits"] = {"set": _limit_set(rng, library), "zones": _zones(rng, front, rear)}
    order["parameters"] = _parameters(rng, library, order["options"])
    return order if order["units"] == "mm" else _in_inches(order)


def _section(rng: random.Random, library: Library, family: Family) -> str:
    """The family's section, now and then another one of about its size in which its steel comes."""
    own = library.sections[family.section]
    steel = library.steels[family.steel]
    others = [
        name
        for name, entry in library.sections.items()
        if abs(entry.depth - own.depth) < 60.0 and entry.flange > 70.0 and steel.band(entry.thickness)
    ]
    return rng.choice(sorted(others)) if others and rng.random() < 0.3 else family.section


def _dimensions(rng: random.Random, family: Family) -> Table:
    """Some order dimensions at odd allowed values; the others are left to the family's defaults."""
    chosen = [name for name in ORDER_DIMENSIONS if rng.random() < 0.6]
    return {name: _value(rng, family.dimensions[name]) for name in chosen}


def _value(rng: random.Random, allowed: Parameter) -> float:
    if allowed.choices:
        return rng.choice(allowed.choices)
    if allowed.step is None:
        return round(rng.uniform(allowed.least, allowed.most), 3)
    steps = int((allowed.most - allowed.least) / allowed.step + 1e-6)
    return allowed.least + rng.randint(0, steps) * allowed.step


def _options(rng: random.Random, library: Library, family: Family) -> list[str]:
    """A crowd of options, mostly consistent; now and then one is missing, excluded, of another family, or outdated."""
    sold = sorted(code for code, option in library.options.items() if family.id in option.families)
    share = rng.uniform(0.2, 0.9)
    chosen = [code for code in sold if rng.random() < share]
    chosen = _with_required(chosen, library.options)
    if rng.random() < 0.8:
        chosen = _without_excluded(rng, chosen, library.options)
    if chosen and rng.random() < 0.15:
        chosen.remove(rng.choice(chosen))
    foreign = sorted(set(library.options) - set(sold) - set(chosen))
    if foreign and rng.random() < 0.1:
        chosen.append(rng.choice(foreign))
    rng.shuffle(chosen)
    return chosen


def _with_required(chosen: Sequence[str], options: Mapping[str, Option]) -> list[str]:
    closed = list(chosen)
    for code in closed:  # grows while it is walked: what a required option requires is met in its turn
        closed += [needed for needed in options[code].requires if needed not in closed]
    return closed


def _without_excluded(rng: random.Random, chosen: list[str], options: Mapping[str, Option]) -> list[str]:
    kept: list[str] = []
    for code in rng.sample(chosen, len(chosen)):
        clash = any(code in options[other].excludes or other in options[code].excludes for other in kept)
        if not clash:
            kept.append(code)
    return kept


def _parameters(rng: random.Random, library: Library, codes: Sequence[str]) -> Table:
    values: Table = {}
    for code in sorted(codes):
        for name, allowed in library.options[code].parameters.items():
            if rng.random() < 0.6:
                values.setdefault(code, {})[name] = _value(rng, allowed)
    return values


def _taper(rng: random.Random, section: SectionEntry, wheelbase: float, rear: float) -> Table:
    """A taper behind the rear axle whose slit stays clear of both bends."""
    tangent = section.inside_radius + section.thickness
    length = rng.uniform(0.35, 0.9) * (rear - wheelbase)
    slit_depth = tangent + rng.uniform(6.0, 45.0)
    lowest = slit_depth + tangent + 25.0
    return {
        "start": round(rear - length, 1),
        "end_depth": round(rng.uniform(lowest, max(lowest + 1.0, section.depth - 20.0)), 1),
        "slit_depth": round(slit_depth, 1),
        "root_gap": rng.choice((0.0, 2.0, 3.0)),
        "trim": rng.choice((0.0, 10.0, 15.0)),
        "relief_diameter": rng.choice((8.0, 14.0, 20.0, 40.0)),
        "wedge": rng.choice(("after-forming", "in-blank")),
    }


def _liner_sections(library: Library, outer: SectionEntry) -> list[str]:
    """Sections that go into another one, some of them not quite."""
    return sorted(
        name
        for name, inner in library.sections.items()
        if 0.0 <= outer.depth - 2 * outer.thickness - inner.depth < 40.0
    )


def _liner(rng: random.Random, library: Library, inner: list[str], front: float, behind: float) -> Table:
    section = rng.choice(inner)
    thickness = library.sections[section].thickness
    steels = sorted(name for name, steel in library.steels.items() if steel.band(thickness))
    start = round(rng.uniform(front + 200.0, front + 0.5 * (behind - front)), 1)
    end = round(rng.uniform(start + 400.0, behind), 1)
    return {"start": start, "end": end, "section": section, "steel": rng.choice(steels)}


def _limit_set(rng: random.Random, library: Library) -> str:
    """Any set; half the time one of the odd ones, where there are some."""
    odd = sorted(name for name in library.limit_sets if "odd" in name)
    drawn = rng.choice(sorted(set(library.limit_sets) - set(odd)))
    return rng.choice(odd) if odd and rng.random() < 0.5 else drawn


_ZONE_ROWS: tuple[Table, ...] = (
    {"rule": "hole-spacing", "measure": "centre", "error": 3.0, "warning": 6.0, "of": "hole"},
    {"rule": "hole-spacing", "measure": "centre", "error": 2.0, "of": "bolt"},
    {"rule": "hole-spacing", "measure": "ligament", "error": 40.0},
    {"rule": "edge-distance", "measure": "edge", "error": 3.0, "warning": 5.0, "of": "hole"},
    {"rule": "edge-distance", "measure": "rail-end", "error": 60.0, "warning": 90.0},
    {"rule": "bend-clearance", "measure": "tangent", "error": 2.5, "warning": 4.0, "of": "t"},
    {"rule": "bend-clearance", "measure": "flange-inside", "error": 0.25, "of": "depth"},
    {"rule": "washer-seat", "measure": "tangent", "warning": 20.0},
    {"rule": "washer-seat", "measure": "edge", "error": 15.0},
    {"rule": "washer-seat", "measure": "washer", "error": 10.0, "warning": 25.0},
    {"rule": "flange-hole", "measure": "zone", "error": 0, "unit": "violations"},
    {"rule": "flange-hole", "measure": "size", "error": 12.0, "when": {"depth": {"above": 200.0}}},
    {"rule": "flange-hole", "measure": "count", "error": 2, "warning": 1, "unit": "count"},
    {"rule": "hole-size", "measure": "least", "error": 1.5, "of": "t", "when": {"thickness": {"most": 8.0}}},
    {"rule": "hole-size", "measure": "punch-stress", "warning": 1500.0, "unit": "MPa"},
    {"rule": "hole-size", "measure": "largest", "error": 16.0, "when": {"bolt": {"least": 14.0}}},
    {"rule": "hole-size", "measure": "passage", "error": 0.1, "of": "depth"},
    {"rule": "pair-match", "measure": "station", "error": 0.01},
    {"rule": "wrench-access", "measure": "radial", "error": 4.0, "warning": 15.0},
    {"rule": "wrench-access", "measure": "nut-length", "error": 180.0},
    {"rule": "wrench-access", "measure": "head-length", "error": 5.0, "warning": 9.0, "of": "bolt"},
    {"rule": "net-section", "measure": "rail", "error": 0.9, "warning": 0.97, "unit": "ratio"},
    {"rule": "net-section", "measure": "with-liner", "error": 0.93, "unit": "ratio"},
    {"rule": "holes-in-line", "measure": "count", "error": 2, "warning": 1, "unit": "count"},
    {"rule": "holes-in-line", "measure": "count", "error": 1, "unit": "count", "counted": "centres"},
    {"rule": "weld-clearance", "measure": "hole", "error": 12.0, "warning": 20.0, "of": "t"},
    {"rule": "weld-clearance", "measure": "stud-hole", "error": 60.0},
    {"rule": "weld-clearance", "measure": "stud-tangent", "error": 0.1, "of": "depth"},
    {"rule": "liner-edge", "measure": "hole", "error": 3.0, "warning": 8.0, "of": "liner t"},
    {"rule": "liner-edge", "measure": "washer", "error": 25.0},
    {"rule": "footprint-clash", "measure": "feet", "error": 5.0, "warning": 30.0},
    {"rule": "footprint-clash", "measure": "tangent", "error": 3.0, "of": "t"},
    {"rule": "footprint-clash", "measure": "washer", "error": 12.0},
    {"rule": "footprint-clash", "measure": "end", "warning": 150.0},
    {"rule": "space-clash", "measure": "static", "error": 60.0, "warning": 90.0},
    {"rule": "space-clash", "measure": "heat", "error": 60.0, "warning": 160.0},
    {"rule": "space-clash", "measure": "tyre", "error": 0.5, "of": "depth"},
    {"rule": "ramp-flush", "measure": "proud", "error": 6.0, "warning": 0.0},
    {"rule": "ramp-flush", "measure": "recess", "error": 2.5},
    {"rule": "press-limit", "measure": "force", "error": 0.4, "warning": 0.1, "unit": "ratio"},
    {"rule": "press-limit", "measure": "clamp", "error": 45.0, "warning": 70.0},
)
"""Rows that a zone of a random order may hold; lengths in mm."""


_STRENGTH_ROWS: tuple[Table, ...] = (
    {"rule": "joint", "measure": "utilisation", "error": 0.5, "warning": 0.001, "unit": "ratio"},
    {"rule": "grip", "measure": "bolt-diameters", "warning": 3.0, "unit": "ratio"},
)
"""Rows that every zone holds, so that joints which bear their loads are looked at, too."""


def _zones(rng: random.Random, front: float, rear: float) -> list[Table]:
    """None to three zones, apart or over one another, each with a few rows."""
    zones = []
    for number in range(rng.choice((0, 0, 1, 2, 3))):
        start = round(rng.uniform(front, rear - 100.0), 1)
        rows = [*rng.sample(_ZONE_ROWS, rng.randint(1, 5)), *_STRENGTH_ROWS]
        zones.append(
            {
                "from": start,
                "to": round(rng.uniform(start + 50.0, rear), 1),
                "reason": f"trial {number + 1}",
                "approver": "chassis engineer",
                "rows": [row | {"unit": row.get("unit", "mm"), "source": "common practice"} for row in rows],
            }
        )
    return zones


def _in_inches(order: Table) -> Table:
    """The same order with its lengths in inches; zone rows keep their own unit, and lengths in ``when`` follow."""
    lengths = {name: order[name] / MM_PER_INCH for name in ORDER_DIMENSIONS if name in order}
    for name in ("taper", "liner"):
        if name in order:
            lengths[name] = _scaled(order[name])
    zones = []
    for zone in order["limits"]["zones"]:
        rows = [{**row, "when": _scaled_when(row["when"])} if "when" in row else row for row in zone["rows"]]
        zones.append({**_scaled(zone), "rows": rows})
    parameters = {code: _scaled(values) for code, values in order["parameters"].items()}
    return order | lengths | {"limits": order["limits"] | {"zones": zones}, "parameters": parameters}


def _scaled(table: Table) -> Table:
    return {key: value / MM_PER_INCH if isinstance(value, float) else value for key, value in table.items()}


def _scaled_when(when: Table) -> Table:
    return {key: _scaled(bounds) for key, bounds in when.items()}


def as_toml(table: Table) -> str:
    """A table as TOML text, one key a line, inner tables inline."""
    return "".join(f"{key} = {_toml_value(value)}\n" for key, value in table.items())


def _toml_value(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f'"{key}" = {_toml_value(entry)}' for key, entry in value.items()) + " }"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml_value(entry) for entry in value) + "]"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime.date):
        return value.isoformat()
    return repr(value)
