"""Rule ``off-rail`` in the tail: nothing, not even a mark, lies in what the taper takes from the web."""

from __future__ import annotations

from math import cos
from pathlib import Path

import pytest
from builders import Hole, rail_shape, rail_table, resolved_order

from railgen.data.library import load_library
from railgen.rules.edges import off_rail
from railgen.rules.limits import limit_table
from railgen.rules.pattern import Pattern

LIBRARY = load_library(Path(__file__).parent.parent / "hole_libraries")
RAIL = rail_shape("after-forming")
TAPER = RAIL.taper


def outside(station: float, across: float) -> list[float]:
    """How far a mark there lies outside its panel, for each side that breaks the rule."""
    table = rail_table(RAIL, [Hole(station, across, shape="mark", diameter=float("nan"))])
    order = resolved_order(RAIL, library=LIBRARY)
    broken = off_rail(Pattern(order, table, limit_table(LIBRARY, "basics")))
    return [value for found in broken for value in found.value.tolist()]


def test_a_mark_in_the_root_gap_is_off_the_rail_by_its_depth() -> None:
    assert TAPER
    station = (TAPER.start + TAPER.rear) / 2
    middle = float(TAPER.seam_z(station) + TAPER.lower_cut_z(station)) / 2
    assert outside(station, middle) == pytest.approx([TAPER.root_gap / 2] * 2, abs=1e-9)


def test_a_mark_in_upset_steel_ahead_of_the_bisector_is_off_the_rail_by_its_depth() -> None:
    assert TAPER
    height = TAPER.apex[1] + 0.3 * (TAPER.hinge[1] - TAPER.apex[1])
    reach = TAPER.upset_half_width / 2
    bisector = TAPER.start - (TAPER.hinge[1] - height) * (TAPER.start - TAPER.apex[0]) / TAPER.hinge_height
    station = bisector - reach / cos(TAPER.slope / 2)
    assert outside(station, height) == pytest.approx([reach] * 2, abs=1e-9)


def test_a_mark_on_the_web_below_the_seam_is_on_the_rail() -> None:
    assert TAPER
    station = (TAPER.start + TAPER.rear) / 2
    assert outside(station, float(TAPER.lower_cut_z(station)) - 1e-3) == []
