"""Labels beside a view: never overlapping, never crossed, in order, moved as little as may be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.papers.labels import SMALL_MOVE, STAFF_STEP, Placing, isotonic, place_labels

LEFT, RIGHT = 0.0, 380.0
labels = st.lists(st.tuples(st.floats(5, 375), st.floats(3, 60)), min_size=1, max_size=40)


def placed(drawn: list[tuple[float, float]], rows: int) -> tuple[np.ndarray, np.ndarray, Placing | None]:
    targets, widths = np.array(sorted(drawn)).T
    return targets, widths, place_labels(targets, widths, LEFT, RIGHT, rows)


def words(placing: Placing, widths: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Left and right end of each label's words."""
    staff = placing.staff
    return np.where(placing.leftward, staff - widths, staff), np.where(placing.leftward, staff, staff + widths)


@settings(max_examples=150, deadline=None)
@given(labels, st.integers(1, 14))
def test_no_words_overlap_and_no_staff_crosses_words(drawn: list[tuple[float, float]], rows: int) -> None:
    _, widths, placing = placed(drawn, rows)
    if placing is None:
        return
    starts, ends = words(placing, widths)
    for i in range(len(widths)):
        for j in range(len(widths)):
            if i != j and placing.row[i] == placing.row[j]:
                assert ends[i] < starts[j] or ends[j] < starts[i]
            # A staff goes from the view through every row up to its own.
            if i != j and placing.row[i] >= placing.row[j]:
                assert not starts[j] + 1e-9 < placing.staff[i] < ends[j] - 1e-9


@settings(max_examples=150, deadline=None)
@given(labels, st.integers(1, 14))
def test_labels_stay_within_the_sheet_in_order_and_in_the_rows_allowed(
    drawn: list[tuple[float, float]], rows: int
) -> None:
    _, widths, placing = placed(drawn, rows)
    if placing is None:
        return
    starts, ends = words(placing, widths)
    assert starts.min() >= LEFT - 1e-9
    assert ends.max() <= RIGHT + 1e-9
    assert (np.diff(placing.staff) >= STAFF_STEP - 1e-9).all()
    assert placing.rows <= rows


def test_labels_far_apart_are_not_moved() -> None:
    targets = np.array([20.0, 120.0, 240.0])
    placing = place_labels(targets, np.array([30.0, 30.0, 30.0]), LEFT, RIGHT, 5)
    assert placing is not None
    assert placing.staff == pytest.approx(targets)
    assert placing.rows == 1


def test_a_label_at_the_right_edge_flies_to_the_left() -> None:
    placing = place_labels(np.array([370.0]), np.array([30.0]), LEFT, RIGHT, 5)
    assert placing is not None
    assert placing.leftward.tolist() == [True]
    assert placing.staff == pytest.approx([370.0])


def test_crowded_labels_take_more_rows_instead_of_moving_far() -> None:
    targets = np.linspace(100, 130, 8)
    widths = np.full(8, 30.0)
    few, many = (place_labels(targets, widths, LEFT, RIGHT, rows) for rows in (2, 10))
    assert few is not None
    assert many is not None
    assert np.abs(many.staff - targets).max() <= SMALL_MOVE
    assert np.abs(many.staff - targets).max() < np.abs(few.staff - targets).max()


def test_labels_that_cannot_go_in_are_refused() -> None:
    targets = np.linspace(10, 370, 30)
    assert place_labels(targets, np.full(30, 40.0), LEFT, RIGHT, 1) is None


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(-100, 100), min_size=1, max_size=25))
def test_isotonic_regression_is_the_one_of_the_min_max_formula(values: list[float]) -> None:
    # Robertson, Wright, Dykstra 1988, from memory: max over j <= i of min over k >= i of the mean of values j..k.
    means = [[np.mean(values[j : k + 1]) if k >= j else np.nan for k in range(len(values))] for j in range(len(values))]
    expected = [max(min(means[j][i:]) for j in range(i + 1)) for i in range(len(values))]
    assert isotonic(np.array(values)) == pytest.approx(expected, abs=1e-9)
