"""A part with four bolts on the web, its rated load, and what is worked out of it."""

from __future__ import annotations

from typing import Any

import numpy as np
from strength_cases import Table, component, web_holes

from railgen.data.findings import Finding
from railgen.layout.plan import SerialPlan
from railgen.rules.pattern import Pattern, pattern_of
from railgen.rules.strength import Strength, joint
from railgen.shop.stacks import Stacks
from railgen.strength.joints import BoltData, JointCheck, bolt_data
from railgen.strength.rated import BoltForces, rated_bolts

SQUARE = ((-50.0, 40.0), (-50.0, -40.0), (50.0, 40.0), (50.0, -40.0))
OUTSIDE = [{"thickness": 12, "surface": "outside"}]
INSIDE = [{"thickness": 12, "surface": "inside"}]
FOOT = {
    "face": "web",
    "surface": "outside",
    "datum": "middle",
    "polygon": [[-70, -60], [70, -60], [70, 60], [-70, 60]],
}


def load(force: float, direction: tuple[float, float, float], **entries: float) -> Table:
    return {"force": force, "direction": list(direction), "height": 150.0} | entries


def pin(station: float = 2000.0, **entries: Any) -> Table:
    """A part with four bolts on the web's outside face, 100 x 80 mm, its datum and its middle at mid-depth."""
    plain = {"kind": "recovery point", "groups": [web_holes(*SQUARE)], "plies": OUTSIDE}
    return component("pin", station, **(plain | entries))


def pattern(serial: SerialPlan) -> Pattern:
    return pattern_of(serial.order, serial.holes, serial.placements)


def stacks(under: Pattern) -> Stacks:
    return Strength(under).stacks


def check(serial: SerialPlan) -> JointCheck:
    return Strength(pattern(serial)).joints


def findings(serial: SerialPlan) -> list[Finding]:
    return list(joint(pattern(serial), check(serial)))


def forces(serial: SerialPlan) -> BoltForces:
    return rated_bolts(serial.order, serial.placements, serial.holes)


def data(serial: SerialPlan) -> BoltData:
    return bolt_data(forces(serial), serial.holes, serial.order.library, stacks(pattern(serial)))


def on_side(serial: SerialPlan, side: int) -> np.ndarray:
    return serial.holes.side[forces(serial).row] == side
