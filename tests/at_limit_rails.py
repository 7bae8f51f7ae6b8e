"""Random rails of a seed, each with a limit, and what is put on them to be held to it."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass
from typing import Any

from builders import FRONT, REAR
from clearance_cases import Placed, component, pattern, row

from railgen.data.component import Component
from railgen.frame.liner import LinerShape
from railgen.frame.rail import RailShape
from railgen.frame.section import Section, neutral_line_factor
from railgen.frame.taper import TaperShape
from railgen.rules.pattern import Pattern

WASHER, SOCKET, FIT = 15.0, 19.0, 17.5  # of an M16 screw: radii of washer and socket, hole of medium fit
STUD = {"fastener": "M8 stud", "operation": "stud"}
Table = dict[str, Any]


@dataclass(frozen=True)
class Asked:
    """A row of a limit set as it stands there, what it asks for on the rail, and the hole or screw that it is of."""

    row: Table
    figure: float
    size: float


@dataclass(frozen=True)
class Draw:
    """What a random rail is: its shape, a side, a station far from everything else, a severity, and a limit.

    asked: the row of a limit set that holds in place of the random limit.
    """

    rng: random.Random
    rail: RailShape
    side: str
    station: float
    severity: str
    limit: float
    asked: Asked | None = None

    def held_to(self, more: float = 0.0) -> float:
        """The limit: that of the row asked, else the random one and so much more."""
        return self.limit + more if self.asked is None else self.asked.figure

    def width(self, plain: float) -> float:
        """Diameter of the hole: the one that the row asked is of, else a plain one."""
        return self.asked.size if self.asked and self.asked.size else plain

    def turn(self) -> float:
        """A direction in radians, from 0 along the rail to pi; where the row has a direction, one of its."""
        named = self.asked.row.get("when", {}).get("direction") if self.asked else None
        low, high = {"along": (0.0, 0.24), "across": (0.26, 0.5)}.get(named, (0.0, 1.0))
        return math.pi * self.rng.uniform(low, high)

    @property
    def section(self) -> Section:
        return self.rail.section

    @property
    def middle(self) -> float:
        """Mid-depth."""
        return self.section.depth / 2

    def of(self, measure: str, *parts: Component | Placed, limit: float | None = None, **keys: Any) -> Pattern:
        """The pattern of components at the draw's station, held to its limit alone: "rule measure" and a row's keys."""
        rule, name = measure.split()
        placed = [Placed(part, self.station, (self.side,)) if isinstance(part, Component) else part for part in parts]
        own = row(rule, name, **{self.severity: self.limit if limit is None else limit}, **keys)
        held = own if self.asked is None else self.asked.row
        return pattern(placed, self.rail, [held])


def draw(seed: int, taper: bool = False, liner: bool = False) -> Draw:
    """A random rail and limit of a seed."""
    rng = random.Random(seed)
    t = rng.uniform(6.0, 10.0)
    radius = t * rng.uniform(1.0, 2.2)
    section = Section(rng.uniform(260.0, 330.0), rng.uniform(84.0, 100.0), t, radius, neutral_line_factor(radius, t))
    tail = tail_of(rng, section) if taper else None
    inner = liner_of(rng, section) if liner else None
    severity, side = rng.choice(("error", "warning")), rng.choice(("LH", "RH"))
    station = rng.uniform(600.0, 2000.0)
    return Draw(rng, RailShape(section, FRONT, REAR, tail, inner), side, station, severity, rng.uniform(4.0, 12.0))


def tail_of(rng: random.Random, section: Section, relief: float = 30.0, slit: float | None = None) -> TaperShape:
    return TaperShape(
        start=3800.0,
        end_depth=section.depth - rng.uniform(40.0, 80.0),
        slit_depth=section.tangent + rng.uniform(30.0, 40.0) if slit is None else slit,
        root_gap=rng.choice((0.0, 3.0)),
        trim=15.0,
        relief_diameter=relief,
        in_blank=rng.random() < 0.5,
        depth=section.depth,
        thickness=section.thickness,
        tangent=section.tangent,
        rear=REAR,
    )


def liner_of(rng: random.Random, section: Section, flange: float = 70.0, gap: float = 1.0) -> LinerShape:
    t = rng.uniform(5.0, 7.0)
    depth = section.depth - 2 * section.thickness - gap
    inner = Section(depth, flange, t, 16.0, neutral_line_factor(16.0, t))
    return LinerShape(500.0, 2500.0, inner, section)


def holes(*places: tuple[float, float], face: str = "web", **keys: Any) -> Table:
    """A group of holes at (station, across)."""
    features = [{"id": f"h{number}", "station": x, "across": y} | keys for number, (x, y) in enumerate(places)]
    return {"face": face, "datum": "bottom" if face == "web" else "web", "features": features}


def bolts(*places: tuple[float, float], face: str = "web", **keys: Any) -> Table:
    """A group of M16 screws at (station, across)."""
    return holes(*places, face=face, **keys) | {"fastener": "M16x1.5"}


def part(name: str, *groups: Table, **keys: Any) -> Component:
    return component(name, groups=list(groups), **keys)
