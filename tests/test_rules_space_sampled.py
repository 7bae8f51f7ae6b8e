"""Rule space-clash against points: of every pair of boxes the nearest of many points in one to the other."""

from __future__ import annotations

import random

import numpy as np
import pytest
from clearance_cases import FRAME_WIDTH, Placed, box, component, found, pattern, row

LIMIT = 60.0
POINTS = 5
Span = tuple[float, float]


def drawn(rng: random.Random) -> tuple[Span, Span, Span]:
    """Ends of a box along, across from its own web, and up, on round figures now and then so that boxes touch."""
    spans = []
    for low, high in ((-300.0, 300.0), (-200.0, 500.0), (-150.0, 400.0)):
        start = rng.uniform(low, high)
        ends = start, start + rng.uniform(20.0, 200.0)
        spans.append((float(round(ends[0], -1)), float(round(ends[1], -1))) if rng.random() < 0.5 else ends)
    return spans[0], spans[1], spans[2]


def in_common_axes(spans: tuple[Span, Span, Span], station: float, side: str) -> np.ndarray:
    """Ends (3, 2) along, across from the LH web, and up."""
    along, across, up = spans
    if side == "RH":
        across = FRAME_WIDTH - across[1], FRAME_WIDTH - across[0]
    return np.array([(along[0] + station, along[1] + station), across, up])


def nearest(first: np.ndarray, second: np.ndarray) -> float:
    """Least distance of points of the first box to the second: even ones, and those level with the second's ends."""
    lines = [
        np.union1d(np.linspace(*ends, POINTS), np.clip(other, *ends)) for ends, other in zip(first, second, strict=True)
    ]
    points = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1).reshape(-1, 3)
    off = points - np.clip(points, second[:, 0], second[:, 1])
    return float(np.sqrt((off**2).sum(axis=1)).min())


@pytest.mark.parametrize("seed", range(25))
def test_boxes_of_both_sides_against_points(seed: int) -> None:
    rng = random.Random(seed)
    boxes = [(drawn(rng), rng.uniform(500.0, 1500.0), rng.choice(("LH", "RH"))) for _ in range(8)]
    placed = [
        Placed(component(f"part-{number}", envelopes=[box(*spans[0], spans[1], spans[2])]), station, (side,))
        for number, (spans, station, side) in enumerate(boxes)
    ]
    rows = [row("space-clash", "static", LIMIT)]
    values = {f.components: f.value for f in found(pattern(placed, rows=rows), "space-clash", "static")}
    ends = [in_common_axes(*entry) for entry in boxes]
    for first in range(len(boxes)):
        for second in range(first + 1, len(boxes)):
            distance = nearest(ends[first], ends[second])
            value = values.pop((f"part-{first}", f"part-{second}"), None)
            if distance >= LIMIT - 1e-6:
                assert value is None
            elif distance > 0:
                assert value == pytest.approx(distance, abs=1e-9)
            else:
                assert value is not None
                assert value <= 0
                _is_parted(ends[first], ends[second], -value)
    assert not values


def _is_parted(first: np.ndarray, second: np.ndarray, shift: float) -> None:
    """Shifted so far along some axis, one way, the boxes meet no more; by less along none."""
    steps = [sign * np.eye(3)[axis][:, None] for axis in range(3) for sign in (1.0, -1.0)]

    def overlap(move: np.ndarray) -> bool:
        low, high = np.maximum(first[:, 0], (second + move)[:, 0]), np.minimum(first[:, 1], (second + move)[:, 1])
        return bool((high - low > 1e-9).all())

    assert not all(overlap(step * (shift + 1e-6)) for step in steps)
    if shift > 1e-6:
        assert all(overlap(step * (shift - 1e-6)) for step in steps)
