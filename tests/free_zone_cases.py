"""Random places against free zones: half of them anywhere on the rail and a little beyond it, half beside a border."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import shapely

from railgen.frame.panel_shapes import panel_corners, panels
from railgen.frame.panels import FACE_OF_PANEL
from railgen.holes.table import FACES, SIDES
from railgen.layout.plan import SerialPlan
from railgen.placing.added_hole import AddedHole, Adding
from railgen.placing.free_zone import FreeZone, free_zone

BORDER = 0.1
"""mm beside a border within which verdicts may differ."""


class Place(NamedTuple):
    """Where a hole is tried, as indices of side and face, and mm."""

    side: int
    face: int
    station: float
    across: float


def random_places(plan: SerialPlan, zone: FreeZone, count: int, seed: int) -> Iterator[Place]:
    draw, rail = np.random.default_rng(seed), plan.order.rail
    every = panels(rail)
    for number in range(count):
        if number % 2 and zone.areas:
            area = zone.areas[int(draw.integers(len(zone.areas)))]
            border = area.polygon.exterior
            point = border.interpolate(draw.uniform(0, border.length))
            x, y = np.array([point.x, point.y]) + draw.normal(0, 1.0, 2)
            yield Place(SIDES.index(area.side), FACES.index(area.face), float(x), float(y))
        else:
            panel = every[int(draw.integers(len(every)))] if number % 4 else every[0]
            corners = panel_corners(rail, panel)
            x, y = draw.uniform(corners.min(axis=0) - 5, corners.max(axis=0) + 5)
            yield Place(int(draw.integers(2)), int(FACE_OF_PANEL[panel]), float(x), float(y))


def disagreements(
    plan: SerialPlan, hole: AddedHole, count: int, seed: int, warnings: bool = False
) -> tuple[list[str], int]:
    """Places where the zone and the real check of all rules differ, in words, and how many places are free."""
    zone = free_zone(plan, hole, warnings=warnings)
    adding = Adding(plan, hole)
    wrong, free = [], 0
    for place in random_places(plan, zone, count, seed):
        found = [f for f in adding.findings(*place) if f.severity == "error" or warnings]
        free += not found
        areas = [a.polygon for a in zone.areas if (a.side, a.face) == (SIDES[place.side], FACES[place.face])]
        point = shapely.Point(place.station, place.across)
        inside = any(area.covers(point) for area in areas)
        near = min((area.boundary.distance(point) for area in areas), default=np.inf)
        if inside == bool(found) and near > BORDER:
            rules = ", ".join(f"{f.rule} {f.measure} {f.value}" for f in found)
            wrong.append(f"{plan.serial} {hole} {place}: {'free' if inside else 'closed'}, the check says: {rules}")
    return wrong, free
