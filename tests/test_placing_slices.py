"""Where sliding shapes come near each other: ends of intervals against shapely's distances."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from railgen.placing.slices import generators, near_spans

SIZES = st.floats(0.0, 60.0).map(lambda size: round(size, 6))
# Sizes to a nanometre: shapely's distance of shapes thinner than any number it squares is no oracle.
ANGLES = st.one_of(st.sampled_from((0.0, 45.0, 90.0, 135.0)), st.floats(0.0, 179.9).map(lambda angle: round(angle, 6)))
HEIGHTS = st.floats(-150.0, 150.0).map(lambda height: round(height, 6))


def core(x: float, y: float, length: float, width: float, angle: float) -> shapely.Geometry:
    """A rectangle of half sizes about a point, however thin."""
    box = shapely.MultiPoint([(a, b) for a in (-length, length) for b in (-width, width)]).convex_hull
    return shapely.affinity.translate(shapely.affinity.rotate(box, angle, origin=(0, 0)), x, y)


@settings(max_examples=150, deadline=None)
@given(
    st.tuples(SIZES, SIZES, ANGLES),
    st.tuples(SIZES, SIZES, ANGLES),
    HEIGHTS,
    st.floats(0.1, 80.0),
)
def test_ends_lie_at_the_distance_and_nothing_nearer_lies_outside(
    one: tuple[float, float, float], other: tuple[float, float, float], height: float, distance: float
) -> None:
    sides = np.concatenate([generators(*(np.array([v]) for v in sizes)) for sizes in (one, other)], axis=1)
    low, high = near_spans(np.array([height]), sides, np.array([distance]))
    still = core(0.0, 0.0, *other)

    def apart(x: float) -> float:
        return float(shapely.distance(core(x, height, *one), still))

    if low[0] > high[0]:
        assert min(apart(x) for x in np.linspace(-200.0, 200.0, 81)) >= distance - 1e-9
        return
    assert apart(low[0]) == pytest.approx(distance, abs=1e-7)
    assert apart(high[0]) == pytest.approx(distance, abs=1e-7)
    assert apart((low[0] + high[0]) / 2) < distance + 1e-9
    for outside in (low[0] - 1.0, low[0] - 30.0, high[0] + 1.0, high[0] + 30.0):
        assert apart(outside) > distance - 1e-9


def test_holes_one_beside_the_other_give_the_root_of_the_squares() -> None:
    low, high = near_spans(np.array([30.0]), np.zeros((1, 4, 2)), np.array([50.0]))
    assert (low[0], high[0]) == (-40.0, 40.0)


def test_holes_too_far_apart_across_the_rail_never_meet() -> None:
    low, high = near_spans(np.array([50.0]), np.zeros((1, 4, 2)), np.array([50.0]))
    assert low[0] > high[0]
