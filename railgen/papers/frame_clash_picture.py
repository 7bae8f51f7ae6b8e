"""Two components that meet across the frame, seen from above: both rails, envelopes and what is screwed. SVG."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

import numpy as np

from railgen.holes.table import LH, SIDES
from railgen.placing.clash_example import Example, Part

FIRST, SECOND, HIT = "#24476b", "#a8651a", "#b8352c"
"""Colours of the two components and of what is too near."""
_MARGIN, _NARROWEST, _BESIDE = 120.0, 700.0, 120.0
"""mm drawn along the rail either side of what meets, at least in all, and outboard of the rails."""
_WEB = 10.0
"""mm drawn for a web seen from above."""


def frame_picture(example: Example, names: Sequence[str]) -> str:
    """The frame from above, LH rail at the bottom, around two components on opposite rails."""
    parts = ((example.first, FIRST), (example.second, SECOND))
    sides = [SIDES.index(side) for side in example.side.split("-")]
    ends = [x for part, _ in parts for x in _stations(part)]
    middle, half = (min(ends) + max(ends)) / 2, max(max(ends) - min(ends) + 2 * _MARGIN, _NARROWEST) / 2
    low, high = middle - half, middle + half
    outboard = max([_BESIDE, *(-box.across[0] + 20.0 for part, _ in parts for box in part.boxes)])
    height = example.frame_width + 2 * outboard

    def down(side: int, across: float) -> float:
        """Place in the picture of something so far inboard of the outside of a side's web."""
        return height - outboard - across if side == LH else outboard + across

    drawn = list(_rails(example, low, high, [down(side, 0.0) for side in range(len(SIDES))]))
    for (part, colour), side in zip(parts, sides, strict=True):
        for box in part.boxes:
            edges = sorted(down(side, end) for end in box.across)
            x, length = box.station[0] - low, box.station[1] - box.station[0]
            drawn.append(
                f'<rect x="{x:.2f}" y="{edges[0]:.2f}" width="{length:.2f}" '
                f'height="{edges[1] - edges[0]:.2f}" fill="{colour}" fill-opacity=".14" stroke="{colour}" '
                'stroke-width="1.6" stroke-dasharray="9 5" />'
            )
        for x in part.table.station.tolist():
            at = down(side, 0.0)
            drawn.append(
                f'<line x1="{x - low:.2f}" y1="{at - 22:.2f}" x2="{x - low:.2f}" y2="{at + 22:.2f}" stroke="{colour}" '
                'stroke-width="2" />'
            )
    drawn += ruler(low, high, height)
    size = 0.03 * (high - low)
    view = f"{-size:.1f} {-size:.1f} {high - low + 2 * size:.1f} {height + 3.4 * size:.1f}"
    return f'<svg viewBox="{view}" role="img" aria-label="{escape(" and ".join(names))}">{"".join(drawn)}</svg>'


def _stations(part: Part) -> Iterator[float]:
    yield from (end for box in part.boxes for end in box.station)
    if not part.boxes:
        yield from part.table.station.tolist()


def _rails(example: Example, low: float, high: float, webs: Sequence[float]) -> Iterator[str]:
    """Both webs as far as the rails reach in the picture, with their sides' names."""
    start, end = max(example.ends[0], low) - low, min(example.ends[1], high) - low
    size = 0.032 * (high - low)
    for side, at in enumerate(webs):
        inboard = at - _WEB if side == LH else at
        yield (
            f'<rect x="{start:.2f}" y="{inboard:.2f}" width="{max(end - start, 0.0):.2f}" height="{_WEB}" '
            'fill="#d9dee4" stroke="#5f6770" />'
        )
        name = at + 1.5 * size if side == LH else at - 0.7 * size
        yield f'<text x="{start + 4:.2f}" y="{name:.2f}" font-size="{size:.1f}" fill="#5f6770">{SIDES[side]}</text>'


def ruler(low: float, high: float, height: float) -> Iterator[str]:
    """Stations under a picture so high, from low to high, mm."""
    step = next((step for step in (50.0, 100.0, 200.0, 500.0) if (high - low) / step <= 12), 1000.0)
    size = 0.03 * (high - low)
    # No figure so near to the picture's edge that it would be cut off.
    first = np.ceil((low + size / 2) / step) * step
    for station in np.arange(first, high - size / 2, step).tolist():
        x = station - low
        yield f'<line x1="{x:.2f}" y1="{height:.2f}" x2="{x:.2f}" y2="{height + 6:.2f}" stroke="#5f6770" />'
        yield (
            f'<text x="{x:.2f}" y="{height + 1.6 * size:.2f}" text-anchor="middle" font-size="{size:.1f}" '
            f'fill="#5f6770">{station:g}</text>'
        )
