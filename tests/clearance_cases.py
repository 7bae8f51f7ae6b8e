"""Patterns made by hand for the rules about sections, welds, feet, spaces, wrenches and the press.

Components stand where a test puts them on the plain rails of ``builders``; stock, press and house limits are the demo
library's, which are those of ``hole_libraries``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from builders import FRONT, REAR, rail_shape, resolved_order

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.data.library import Library, load_library
from railgen.data.limit_sets import LimitRow
from railgen.data.order import OrderLimits, Zone
from railgen.frame.rail import RailShape
from railgen.holes.table import SIDES
from railgen.layout.catalogue import compile_catalogue
from railgen.layout.features import hole_table
from railgen.layout.place import placements
from railgen.rules.clearances import clearance_findings
from railgen.rules.pattern import Pattern, pattern_of

FRAME_WIDTH = 860.0
LAST_AXLE = 4000.0
ZONES = {
    "ahead_of_front_hanger": (FRONT, -700.0),
    "between_front_hanger_and_last_axle": (-700.0, LAST_AXLE),
    "ahead_of_last_axle": (FRONT, LAST_AXLE),
    "behind_last_axle": (LAST_AXLE, REAR),
}


@cache
def demo() -> Library:
    """The demo library, read once."""
    return load_library(Path(__file__).parent.parent / "hole_libraries")


@dataclass(frozen=True)
class Placed:
    """A component and where it stands: its datum's station on the sides named; direction -1 where it is turned."""

    component: Component
    station: float = 0.0
    sides: tuple[str, ...] = ("LH",)
    direction: float = 1.0


def component(name: str = "bracket", **keys: Any) -> Component:
    """A component with what the test is about, the rest as plain as can be."""
    plain: dict[str, Any] = {
        "id": name,
        "name": name,
        "options": ["AAA01"],
        "kind": "bracket",
        "side": "both",
        "position": {"anchor": "front_axle"},
    }
    return Component.model_validate(plain | keys)


def screws(*places: tuple[float, float], face: str = "web", **keys: Any) -> dict[str, Any]:
    """A hole group of M16 screws at (station, across): z on the web, y on a flange."""
    features = [{"id": f"f{number}", "station": x, "across": y} for number, (x, y) in enumerate(places)]
    datum = "bottom" if face == "web" else "web"
    return {"face": face, "datum": datum, "fastener": "M16x1.5", "features": features} | keys


def foot(*corners: tuple[float, float], face: str = "web", surface: str = "outside") -> dict[str, Any]:
    """A footprint with corners at (station, across)."""
    return {"face": face, "surface": surface, "datum": "bottom" if face == "web" else "web", "polygon": corners}


def box(
    low: float, high: float, across: tuple[float, float], height: tuple[float, float], **keys: Any
) -> dict[str, Any]:
    """An envelope from low to high along the rail."""
    return {"clearance": "static", "station": (low, high), "height": height, "across": across} | keys


def pattern(
    placed: Sequence[Placed],
    rail: RailShape | None = None,
    rows: Sequence[dict[str, Any]] = (),
    limit_set: str = "house",
) -> Pattern:
    """The pattern of placed components; rows: limit rows that stand in for the set's own, over the whole rail."""
    rail = rail or rail_shape()
    parts = {place.component.id: place.component for place in placed}
    library = replace(demo(), components=parts)
    order = resolved_order(rail, library=library)
    limits = OrderLimits(set=limit_set)
    if rows:
        held = tuple(LimitRow.model_validate({"source": "test", **row}) for row in rows)
        whole = Zone(start=FRONT - 1, end=REAR + 1, reason="test", approver="test", rows=held)
        limits = OrderLimits(set=limit_set, zones=(whole,))
    order = replace(
        order,
        order=order.order.model_copy(update={"limits": limits}),
        limit_set=limit_set,
        zones=ZONES,
        dimensions={"frame_width": FRAME_WIDTH, "wheelbase": LAST_AXLE},
        components=tuple(parts.values()),
    )
    catalogue = compile_catalogue(library)
    names = [place.component.id for place in placed]
    positions = [
        (catalogue.index[name], SIDES.index(side), names[: row + 1].count(name), place.station, place.direction)
        for row, (name, place) in enumerate(zip(names, placed, strict=True))
        for side in place.sides
    ]
    where = placements(positions)
    return pattern_of(order, hole_table(order, catalogue, where), where)


def found(made: Pattern, rule: str, measure: str) -> list[Finding]:
    """The findings of one measure, in order of station."""
    chosen = [f for f in clearance_findings(made) if (f.rule, f.measure) == (rule, measure)]
    return sorted(chosen, key=lambda f: (f.side, f.station_mm or 0.0))


def row(rule: str, measure: str, error: float | None = None, **keys: Any) -> dict[str, Any]:
    """A limit row."""
    given = {} if error is None else {"error": error}
    return {"rule": rule, "measure": measure} | given | keys


def sampled(polygon: Sequence[tuple[float, float]], step: float = 0.25) -> np.ndarray:
    """Points along a polygon's edges, no further apart than a step."""
    corners = np.array([*polygon, polygon[0]], dtype=np.float64)
    pieces = []
    for first, second in pairwise(corners):
        count = max(int(np.ceil(np.hypot(*(second - first)) / step)), 1)
        share = np.arange(count)[:, None] / count
        pieces.append(first + share * (second - first))
    return np.concatenate(pieces)
