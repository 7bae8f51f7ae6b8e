"""Plans made up for the tests of the drawing: crowded rails, findings about their holes, no library file read."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
from builders import Hole, rail_shape, rail_table, resolved_order
from shop_plans import FAMILY, shop_library

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.frame.rail import RailShape
from railgen.holes.table import FACES, PARTS, SIDES, HoleTable
from railgen.layout.plan import Placements, SerialPlan

ANCHORS = {"rail_front": -1000.0, "front_axle": 0.0, "midship": 1800.0, "rear_axle": 3600.0, "rail_rear": 5000.0}
DIMENSIONS = {"wheelbase": 3600.0, "axle_spread": 0.0, "frame_width": 800.0}
_WORDS = ("front", "rear", "spring", "tank", "hanger", "bracket", "cross", "member", "valve", "plate", "shackle")
_SIZES = (13.0, 15.5, 17.5, 20.0, 9.0)
_SHAPES = ("round",) * 6 + ("slot", "rectangle", "mark")


def made_plan(
    seed: int,
    components: int = 30,
    findings: int = 15,
    rail: RailShape | None = None,
    span: tuple[float, float] = (-950.0, 4950.0),
) -> SerialPlan:
    """A plan with components at random stations within a span, and random findings about their holes."""
    rng = random.Random(seed)
    rail = rail or rail_shape()
    names = [f"{rng.choice(_WORDS)}-{rng.choice(_WORDS)}-{number}" for number in range(components)]
    holes = [hole for name in names for hole in _component(rng, rail, name, rng.uniform(*span))]
    table = rail_table(rail, holes)
    return plan_of(rail, table, tuple(_finding(rng, table) for _ in range(findings)))


def plan_of(rail: RailShape, table: HoleTable, findings: tuple[Finding, ...] = ()) -> SerialPlan:
    """The plan of a hole table: every component stands amid its first owner's features."""
    components = {name: component_of(name) for name in table.names.components}
    library = replace(shop_library(), components=components)
    order = replace(resolved_order(rail, library=library), family=FAMILY, anchors=ANCHORS, dimensions=DIMENSIONS)
    return SerialPlan(order, placements_of(table), table, findings)


def placements_of(table: HoleTable) -> Placements:
    """One placement for each side, component and instance, at the middle of its features."""
    keys = np.unique(np.stack([table.component, table.side, table.instance], axis=-1), axis=0)
    stations = [
        table.station[(table.component == c) & (table.side == s) & (table.instance == i)].mean() for c, s, i in keys
    ]
    return Placements(keys[:, 0], keys[:, 1], keys[:, 2], np.array(stations), np.ones(len(keys)))


def component_of(name: str) -> Component:
    """A component with one foot on the web, its corner at the rear cut off."""
    foot = {
        "face": "web",
        "surface": "outside" if len(name) % 2 else "inside",
        "datum": "middle",
        "polygon": [[-60.0, -60.0], [40.0, -60.0], [60.0, -40.0], [60.0, 50.0], [-60.0, 50.0]],
    }
    return Component.model_validate(
        {
            "id": name,
            "name": f"What {name} is",
            "options": ["OPT10"],
            "kind": "bracket",
            "side": "both",
            "position": {"anchor": "front_axle"},
            "footprints": [foot],
        }
    )


def finding(holes: tuple[str, ...], severity: str = "error", side: str = "LH", **changes: object) -> Finding:
    """A finding about holes of a rail's web, for a test to change."""
    made = Finding(
        rule="hole-spacing",
        measure="centre",
        severity=severity,  # type: ignore[arg-type]
        side=side,
        part="rail",
        face="web",
        holes=holes,
        components=tuple(hole.split(".")[0] for hole in holes),
        station_mm=0.0,
        value=12.5,
        limit=30.0,
        unit="mm",
        source="common practice",
        message=f"{' and '.join(holes)} are too near",
        remedy="Move it.",
    )
    return replace(made, **changes)


def _component(rng: random.Random, rail: RailShape, name: str, station: float) -> list[Hole]:
    """One or two instances of up to six features, most of them on the web."""
    tangent, size, shape = rail.section.tangent, rng.choice(_SIZES), rng.choice(_SHAPES)
    base, sides = rng.uniform(tangent + 15, rail.section.depth - tangent - 95), rng.choice((SIDES, ("LH",), ("RH",)))
    operation = "stud" if shape == "mark" else "drill" if size == 9.0 else "punch"
    made = []
    for instance in range(1, rng.randint(1, 2) + 1):
        for number in range(rng.randint(1, 6)):
            face = "web" if rng.random() < 0.95 else rng.choice(("top", "bottom"))
            in_flange = rng.uniform(tangent + 12, rail.section.flange - 15)
            made.append(
                Hole(
                    station=station + 300 * (instance - 1) + 60 * (number // 2),
                    across=base + 60 * (number % 2) if face == "web" else in_flange,
                    diameter=size,
                    face=face,
                    shape=shape,
                    length=size + 15 if shape in ("slot", "rectangle") else float("nan"),
                    angle=rng.choice((0.0, 30.0, 90.0)) if shape in ("slot", "rectangle") else 0.0,
                    component=name,
                    instance=instance,
                    feature=f"h{number}",
                    fastener="M8 stud" if shape == "mark" else "",
                    operation=operation,
                    sides=sides,
                )
            )
    return [hole for hole in made if hole.station < rail.rear - 30]


def _finding(rng: random.Random, table: HoleTable) -> Finding:
    rows = rng.sample(range(len(table)), rng.choice((1, 1, 2)))
    first = rows[0]
    rows = [row for row in rows if table.side[row] == table.side[first] and table.part[row] == table.part[first]]
    holes = tuple(table.hole_id(row) for row in rows)
    return finding(
        holes,
        rng.choice(("error", "warning", "note")),
        SIDES[table.side[first]],
        rule=rng.choice(("hole-spacing", "edge-distance", "bend-clearance")),
        part=PARTS[table.part[first]],
        face=FACES[table.face[first]],
        station_mm=float(table.station[first]),
        value=rng.uniform(0, 50),
        message=f"{' and '.join(holes)} are too near to something" + " and to something else" * rng.randint(0, 8),
        remedy=rng.choice(("", "Move it by as much as is missing, or ask for a zone.")),
    )
