"""Punching force against published figures, and the force of each feature's hit by hand."""

from __future__ import annotations

from math import pi

import numpy as np
import pytest
from builders import STEEL, Hole, rail_shape, rail_table

from railgen.shop.punching import highest_shear_strength, hit_forces, punching_force

INCH = 25.4
PSI = 6.894757e-3  # MPa
US_TON = 8896.443  # N


def test_tonnage_chart_of_a_hand_tool_maker() -> None:
    # A 1/4 in round through 0.1345 in of 60 000 psi shear takes 3.2 US tons (hand-tool maker's chart, read).
    force = punching_force(pi * 0.25 * INCH, 0.1345 * INCH, 60_000 * PSI)
    assert float(force) / US_TON == pytest.approx(3.2, abs=0.05)


@pytest.mark.parametrize(("shear", "factor"), [(65_000, 102), (85_000, 134)])
def test_factors_of_a_punch_makers_catalogue(shear: float, factor: float) -> None:
    # Round holes, inches: diameter x thickness x factor gives US tons (punch maker's catalogue, read).
    diameter, thickness = 0.625, 0.25
    force = punching_force(pi * diameter * INCH, thickness * INCH, shear * PSI)
    assert float(force) / US_TON == pytest.approx(diameter * thickness * factor, rel=0.005)


def test_public_worked_example() -> None:
    # A 10 mm round in 3 mm of 350 MPa shear: 32.99 kN (public worked example, read).
    assert float(punching_force(pi * 10, 3, 350)) == pytest.approx(32_990, abs=10)


def test_shear_strength_is_three_quarters_of_the_highest_tensile_unless_given() -> None:
    assert highest_shear_strength(STEEL) == 0.75 * 950
    assert highest_shear_strength(STEEL.model_copy(update={"shear_strength": 500.0})) == 500.0


def test_hits_of_every_shape() -> None:
    holes = [
        Hole(0, 150, 20.0),
        Hole(200, 150, 18.0, shape="slot", length=40.0),
        Hole(400, 150, 30.0, shape="rectangle", length=50.0, corner_radius=6.0),
        Hole(600, 150, 20.0, operation="drill"),
        Hole(800, 150, shape="mark", operation="stud"),
        Hole(1000, 150, shape="mark"),
    ]
    table = rail_table(rail_shape(), [Hole(**{**vars(hole), "sides": ("LH",)}) for hole in holes])
    shear = 0.75 * 950
    edges = [pi * 20, pi * 18 + 2 * 22, 2 * (50 - 12) + 2 * (30 - 12) + pi * 12, 0, 0, 0]
    forces = hit_forces(table, np.full(6, 9.5), STEEL)
    assert forces == pytest.approx([edge * 9.5 * shear for edge in edges], rel=1e-12)
