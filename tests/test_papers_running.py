"""Running dimensions: words that never overlap, in order, moved as little as may be; lengths as drawings write them."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.papers.fonts import SMALL
from railgen.papers.labels import spread
from railgen.papers.running import PITCH, SLOT, Way, running, running_items, unique_values
from railgen.papers.sheet import Figures, Text
from railgen.papers.style import DrawingStyle, inches, number

ENDS = (0.0, 300.0)
places = st.lists(st.floats(0, 300), min_size=1, max_size=60)


@settings(max_examples=120, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 300), st.floats(0.5, 9)), min_size=1, max_size=40))
def test_labels_of_a_row_keep_order_and_distance_and_stay_between_the_ends(drawn: list[tuple[float, float]]) -> None:
    targets, sizes = np.array(sorted(drawn)).T
    placed = spread(targets, sizes, *ENDS)
    if placed is None:
        assert sizes.sum() > ENDS[1] - ENDS[0]
        return
    assert (np.diff(placed) >= (sizes[:-1] + sizes[1:]) / 2 - 1e-9).all()
    assert placed[0] - sizes[0] / 2 >= ENDS[0] - 1e-9
    assert placed[-1] + sizes[-1] / 2 <= ENDS[1] + 1e-9


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 300), st.floats(0.5, 9)), min_size=1, max_size=25), st.integers(0, 2**31))
def test_no_other_places_in_reach_move_the_labels_less(drawn: list[tuple[float, float]], seed: int) -> None:
    # The sum of squares is convex and so is what is allowed: where no step toward another allowed row helps, none does.
    targets, sizes = np.array(sorted(drawn)).T
    placed = spread(targets, sizes, *ENDS)
    if placed is None:
        return
    rng = np.random.default_rng(seed)
    other = spread(np.sort(targets + rng.normal(0, 10, len(targets))), sizes, *ENDS)
    assert other is not None
    least = ((placed - targets) ** 2).sum()
    for share in (0.01, 0.1, 1.0):
        moved = placed + share * (other - placed)
        assert ((moved - targets) ** 2).sum() >= least - 1e-6


@settings(max_examples=80, deadline=None)
@given(places, places)
def test_words_and_the_leaders_between_them_never_cross(at: list[float], leaders: list[float]) -> None:
    words = [f"{value:.1f}" for value in at]
    made = running(np.array(at), np.zeros(len(at)), words, ENDS, 0.0, np.array(leaders))
    assert len(made.words) + made.left_out == len(at)
    assert made.left_out == max(len(at) - int((300 - SLOT * len(leaders)) / PITCH + 1e-9), 0)
    before = np.concatenate([made.at, leaders])
    after = np.concatenate([made.place, made.slots])
    sizes = np.concatenate([np.full(len(made.at), PITCH), np.full(len(leaders), SLOT)])
    order = np.lexsort((after, before))
    assert (np.diff(after[order]) >= (sizes[order][:-1] + sizes[order][1:]) / 2 - 1e-9).all()


@pytest.mark.parametrize("way", ["below", "above", "left", "right"])
def test_the_printed_words_do_not_overlap_on_any_side_of_a_view(way: Way) -> None:
    at = np.sort(np.random.default_rng(5).uniform(100, 160, 20))
    made = running(at, np.full(20, 4.0), [f"{value:.2f}" for value in at], ENDS)
    items = running_items(made, way, 150.0, 90.0)
    boxes = np.array([item.box for item in items if isinstance(item, Text)])
    assert len(boxes) == 20
    left, bottom, right, top = boxes.T
    over = (left[:, None] < right) & (left < right[:, None]) & (bottom[:, None] < top) & (bottom < top[:, None])
    assert over.sum() == 20  # each with itself
    depth = (boxes - 150.0)[:, [0, 2] if way in ("left", "right") else [1, 3]]
    outward = depth * (1 if way in ("above", "right") else -1)
    assert outward.min() > 0
    assert outward.max() <= made.depth + 1e-9


def test_extension_lines_reach_into_the_view_and_end_at_their_words() -> None:
    made = running(np.array([120.0, 20.0]), np.array([30.0, 12.0]), ["120", "20"], ENDS, 10.0)
    items = running_items(made, "below", 50.0, 10.0)
    lines = next(item for item in items if isinstance(item, Figures) and item.commands == "MLLL")
    assert made.words == ("20", "120")
    assert lines.points[:, 0].tolist() == [[20.0, 62.0], [120.0, 80.0]]
    words = [item for item in items if isinstance(item, Text)]
    assert [text.x - SMALL / 2 for text in words] == pytest.approx(lines.points[:, -1, 0].tolist())
    assert all(text.angle == 90 for text in words)


def test_arrowheads_point_away_from_the_origin_and_dots_stand_where_there_is_no_room() -> None:
    made = running(np.array([20.0, 60.0, 61.0]), np.zeros(3), ["a", "b", "c"], ENDS, 10.0)
    heads = [i for i in running_items(made, "above", 0.0, 10.0) if isinstance(i, Figures) and i.commands == "MLLZ"]
    assert heads[0].points[:, 0, 0].tolist() == [20.0, 60.0]
    assert (heads[0].points[:, 1:, 0] < heads[0].points[:, :1, 0]).all()


def test_equal_positions_are_dimensioned_once_as_far_as_the_farthest() -> None:
    values, reach = unique_values(np.array([5.0, 5.004, 7.25, 5.0]), np.array([1.0, 9.0, 2.0, 3.0]))
    assert values.tolist() == [5.0, 7.25]
    assert reach.tolist() == [9.0, 2.0]


# Lengths


@pytest.mark.parametrize(
    ("value", "millimetres", "in_inches"),
    [
        (0.0, "0", "0"),
        (-0.004, "0", "0"),
        (25.4, "25.4", "1.000"),
        (1866.2549, "1866.25", "73.475"),
        (-1500, "-1500", "-59.055"),
    ],
)
def test_lengths_as_drawings_write_them(value: float, millimetres: str, in_inches: str) -> None:
    assert DrawingStyle("mm").length(value) == millimetres
    assert DrawingStyle("in").length(value) == in_inches
    both = millimetres if value > -0.01 and value < 0.01 else f"{millimetres} [{in_inches}]"
    assert DrawingStyle("both").length(value) == both


def test_sizes_made_in_inches_keep_the_decimals_that_they_need() -> None:
    assert DrawingStyle("mm").size(9.525) == "9.525"
    assert DrawingStyle("in").size(7.9375) == "0.3125"
    assert DrawingStyle("in").size(9.525) == "0.375"
    assert DrawingStyle("both").size(17.5) == "17.5 [0.689]"


@given(st.floats(-20000, 20000))
def test_what_is_written_is_the_length_to_half_of_its_last_decimal(value: float) -> None:
    assert abs(float(number(value)) - value) <= 0.005 + 1e-9
    assert abs(float(inches(value)) * 25.4 - value) <= 0.0005 * 25.4 + 1e-9
    assert re.fullmatch(r"-?\d+(\.\d{3})?", inches(value))
