"""Laying measured holes on nominal ones, against a general-purpose library's alignment and brute force."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from inspection_cases import turned
from scipy.linalg import orthogonal_procrustes
from scipy.optimize import minimize
from scipy.spatial.transform import Rotation

from railgen.records.inspect_fit import Rigid, best_rigid, least_worst, stretch_of


@settings(max_examples=60, deadline=None)
@given(st.integers(3, 40), st.integers(0, 10_000), st.floats(-3.1, 3.1), st.booleans())
def test_best_fit_is_that_of_a_general_purpose_alignment(count: int, seed: int, turn: float, weighted: bool) -> None:
    rng = np.random.default_rng(seed)
    nominal = rng.uniform(-1000, 5000, (count, 2))
    measured = turned(nominal, turn, (30.0, -7.0)) + rng.normal(0, 0.5, (count, 2))
    weights = rng.uniform(0.1, 3, count) if weighted else np.ones(count)
    motion = best_rigid(measured, nominal, weights)
    share = weights / weights.sum()
    flat = [np.column_stack([points - share @ points, np.zeros(count)]) for points in (nominal, measured)]
    rotation, _ = Rotation.align_vectors(flat[0], flat[1], weights=weights)
    # Vectors in a plane may also be aligned by turning over; what is compared is the motion within the plane.
    expected = rotation.apply(flat[1])[:, :2] + share @ nominal
    assert motion(measured) == pytest.approx(expected, abs=1e-6)


def test_best_fit_is_procrustes_without_reflection() -> None:
    rng = np.random.default_rng(3)
    nominal = rng.uniform(-1000, 5000, (50, 2))
    measured = turned(nominal, 0.01, (4.0, 5.0)) + rng.normal(0, 0.3, (50, 2))
    matrix, _ = orthogonal_procrustes(measured - measured.mean(0), nominal - nominal.mean(0))
    assert np.linalg.det(matrix) == pytest.approx(1.0)
    expected = (measured - measured.mean(0)) @ matrix + nominal.mean(0)
    assert best_rigid(measured, nominal)(measured) == pytest.approx(expected, abs=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.floats(-0.5, 0.5), st.floats(-2000, 2000), st.floats(-50, 50))
def test_a_known_motion_is_undone(turn: float, along: float, across: float) -> None:
    nominal = np.random.default_rng(1).uniform(-1000, 5000, (20, 2))
    measured = turned(nominal, turn, (along, across))
    motion = best_rigid(measured, nominal)
    assert motion(measured) == pytest.approx(nominal, abs=1e-6)
    assert motion.turn == pytest.approx(-turn, abs=1e-9)


def test_one_point_is_shifted_and_none_is_refused() -> None:
    motion = best_rigid(np.array([[1.0, 2.0]]), np.array([[4.0, 6.0]]))
    assert (motion.turn, motion.shift.tolist()) == (0.0, [3.0, 4.0])
    with pytest.raises(ValueError, match="at least one point"):
        best_rigid(np.zeros((0, 2)), np.zeros((0, 2)))


@settings(max_examples=25, deadline=None)
@given(st.integers(3, 9), st.integers(0, 1000))
def test_the_least_worst_place_is_about_as_good_as_a_search_finds(count: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    nominal = rng.uniform(-100, 100, (count, 2))
    measured = nominal + rng.normal(0, 0.5, (count, 2))
    allowed = rng.uniform(0.5, 2.0, count)

    def worst(values: np.ndarray) -> float:
        motion = Rigid(float(values[0]), values[1:])
        return float((np.hypot(*(motion(measured) - nominal).T) / allowed).max())

    ours = least_worst(measured, nominal, allowed)
    found = worst(np.array([ours.turn, *ours.shift]))
    start = best_rigid(measured, nominal)
    searched = min(
        minimize(
            worst,
            np.array([start.turn, *start.shift]) + jitter,
            method="Nelder-Mead",
            options={"maxiter": 3000, "xatol": 1e-9, "fatol": 1e-9},
        ).fun
        for jitter in np.random.default_rng(0).normal(0, 1e-3, (3, 3))
    )
    assert found <= worst(np.array([start.turn, *start.shift])) + 1e-12
    assert found <= searched * 1.02


def test_stretch_is_the_slope_of_stations() -> None:
    nominal = np.random.default_rng(2).uniform(-1000, 5000, (50, 2))
    assert stretch_of(nominal * [1.0003, 1.0] + [7.0, 0.0], nominal) == pytest.approx(0.3, abs=1e-9)
    assert stretch_of(nominal[:1], nominal[:1]) == 0.0
