"""Elastic bolt group: published worked examples in the plane, statics out of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.strength.bolt_group import share_load

Points = list[tuple[float, float, float]]


def rectangle(width: float, height: float) -> np.ndarray:
    """Four bolts on a web, (x, y, z)."""
    return np.array([(x, 0.0, z) for x in (-width / 2, width / 2) for z in (-height / 2, height / 2)])


def shear(force: np.ndarray) -> np.ndarray:
    return np.hypot(force[:, 0], force[:, 2])


def test_four_bolts_of_an_eccentric_bracket() -> None:
    # A public guide's worked example, read: 100 x 100 mm, 100 kN at 200 mm: 90.1 kN at the worst bolt.
    shared = share_load(rectangle(100, 100), np.array([0, 0, -100e3]), np.array([200.0, 0, 0]))
    assert shear(shared.force).max() == pytest.approx(90.1e3, rel=1e-3)


def test_four_bolts_of_a_textbook_bar() -> None:
    # Shigley, mechanical engineering design, bolts loaded in eccentric shear, from memory: 16 kN, 425 mm from the
    # centroid of bolts 150 x 120 mm; 21.0 kN on the two near the load, 14.8 kN on the others.
    shared = share_load(rectangle(150, 120), np.array([0, 0, -16e3]), np.array([425.0, 0, 0]))
    assert sorted(shear(shared.force)) == pytest.approx([14.8e3, 14.8e3, 21.0e3, 21.0e3], rel=2e-3)


def test_four_bolts_of_an_examination_question() -> None:
    # A public question bank, read: 10 kN at 100 mm, bolts 60 x 80 mm apart: 7.16 kN at the worst bolt. (Its angle of
    # 36.9 degrees between both shears puts the force across the long side.)
    shared = share_load(rectangle(80, 60), np.array([0, 0, -10e3]), np.array([100.0, 0, 0]))
    assert shear(shared.force).max() == pytest.approx(7.16e3, rel=1e-3)


def test_a_load_through_the_centroid_is_shared_alike() -> None:
    shared = share_load(rectangle(100, 60), np.array([3e3, -8e3, 4e3]), np.zeros(3))
    assert shared.force == pytest.approx(np.tile([750.0, -2000.0, 1000.0], (4, 1)))
    assert np.linalg.norm(shared.left) == pytest.approx(0)


def test_a_load_out_of_the_plane_pulls_by_distance_from_the_centroid() -> None:
    # T = M c / sum(d2) with the neutral axis through the centroid (AISC Manual part 7 case II, from memory): rows 60
    # above, at, and 60 below; 12 kN down at 100 mm outboard.
    rows = np.array([(x, 0.0, z) for x in (-40.0, 40.0) for z in (-60.0, 0.0, 60.0)])
    shared = share_load(rows, np.array([0, 0, -12e3]), np.array([0, -100.0, 0]))
    tension = -shared.force[:, 1]
    assert tension == pytest.approx(12e3 * 100 * rows[:, 2] / (4 * 60**2))
    assert shared.force[:, 2] == pytest.approx([-2000.0] * 6)


def test_bolts_on_one_line_have_no_arms_about_it() -> None:
    line = np.array([(x, 0.0, 0.0) for x in (-50.0, 0.0, 50.0)])
    shared = share_load(line, np.array([0, 0, -9e3]), np.array([0, -80.0, 0]))
    assert shared.left == pytest.approx([9e3 * 80, 0, 0])
    assert shared.force[:, 1] == pytest.approx([0, 0, 0])


def test_one_bolt_has_no_arms_at_all() -> None:
    shared = share_load(np.array([(10.0, 0.0, 20.0)]), np.array([0, -5e3, 0]), np.array([40.0, 0, 20.0]))
    assert shared.force == pytest.approx(np.array([[0, -5e3, 0]]))
    assert np.linalg.norm(shared.left) == pytest.approx(5e3 * 30)


coordinate = st.integers(-200, 200).map(float)
vector = st.tuples(coordinate, coordinate, coordinate)


@settings(max_examples=80, deadline=None)
@given(st.lists(vector, min_size=1, max_size=8), vector, vector)
def test_what_the_bolts_bear_balances_the_load(
    bolts: Points, force: tuple[float, ...], point: tuple[float, ...]
) -> None:
    position, load, at = np.array(bolts), np.array(force), np.array(point)
    shared = share_load(position, load, at)
    assert shared.force.sum(axis=0) == pytest.approx(load, abs=1e-6)
    moment = np.cross(position, shared.force).sum(axis=0) + shared.left
    assert moment == pytest.approx(np.cross(at, load), abs=1e-3)
