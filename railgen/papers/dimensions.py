"""Linear dimensions with arrowheads and extension lines, leaders with words (ISO 129-1, from memory)."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from railgen.holes.table import FloatArray
from railgen.papers.fonts import SMALL, text_width
from railgen.papers.sheet import BLACK, DIMENSION, Anchor, Figures, Item, Text, polyline, segments

_HEAD, _HALF_HEAD = 2.2, 0.37
"""Arrowheads: length and half width, mm."""
_TAIL = 2.0
_CLEAR, _PAST = 0.8, 1.2
"""Extension lines begin so far from what they point at and end so far past the dimension line, mm."""
_LIFT = 0.8
"""Distance (mm) of words from the dimension line below them."""


def level_dimension(
    left: float,
    right: float,
    y: float,
    words: str,
    *,
    short: str = "",
    beyond: Anchor = "middle",
    passing: Sequence[float] = (),
) -> list[Item]:
    """A dimension line from x = `left` to `right` with its words above; `short` where the words are too long for it.

    `passing`: x of lines that cross it; the words stand in the widest stretch that is free of them. Words too long even
    so stand beside the line: at its right end, or with `beyond` "right" at its left end.
    """
    items = _line_and_heads(np.array([left, right]), y, across=False)
    marks = [left, *sorted(x for x in passing if left < x < right), right]
    low, high = max(pairwise(marks), key=lambda ends: round(ends[1] - ends[0], 6))
    shown = next(
        (text for text in (words, short) if text and text_width(text, SMALL) <= high - low - 1.0), short or words
    )
    if text_width(shown, SMALL) <= high - low - 1.0 or beyond == "middle":
        return [*items, Text((low + high) / 2, y + _LIFT, shown, SMALL, "middle")]
    outside = _TAIL + _HEAD if right - left < 2 * _HEAD + 1 else 0.0
    x, anchor = (left - outside - 1.0, beyond) if beyond == "right" else (right + outside + 1.0, beyond)
    return [*items, Text(x, y - SMALL / 2, shown, SMALL, anchor)]


def upright_dimension(low: float, high: float, x: float, words: str, *, short: str = "") -> list[Item]:
    """A dimension line from y = `low` to `high`, its words at its left, read from the right; `short` as above.

    Where the line is too short for arrowheads inside, the words stand level at its right.
    """
    items = _line_and_heads(np.array([low, high]), x, across=True)
    middle = (low + high) / 2
    if high - low < 2 * _HEAD + 1:
        return [*items, Text(x + 1.6, middle - SMALL / 2, short or words, SMALL)]
    shown = words if text_width(words, SMALL) <= high - low - 1.0 else short or words
    return [*items, Text(x - _LIFT, middle, shown, SMALL, "middle", angle=90)]


def extensions(ends: Sequence[tuple[tuple[float, float], tuple[float, float]]]) -> Figures:
    """Extension lines from points of a part past the ends of dimension lines, clear of the part."""
    lines = np.array(ends, dtype=np.float64).reshape(-1, 2, 2)
    run = lines[:, 1] - lines[:, 0]
    way = run / np.maximum(np.linalg.norm(run, axis=1), 1e-9)[:, None]
    return segments(np.stack([lines[:, 0] + _CLEAR * way, lines[:, 1] + _PAST * way], axis=1), DIMENSION)


def leader(points: Sequence[tuple[float, float]], words: str, *, leftward: bool = False) -> list[Item]:
    """A leader with an arrowhead at its first point; its words stand behind the last one, right or left of it."""
    line = np.array(points, dtype=np.float64)
    end, side = points[-1], -1.0 if leftward else 1.0
    anchor: Anchor = "right" if leftward else "left"
    words_at = Text(end[0] + side * 0.8, end[1] - SMALL / 2, words, SMALL, anchor)
    return [polyline(line, DIMENSION), _heads(line[None, 0], line[None, 0] - line[None, 1]), words_at]


def _line_and_heads(ends: FloatArray, at: float, across: bool) -> list[Item]:
    """A dimension line between two places with its arrowheads, from outside where they find no room inside."""
    room = ends[1] - ends[0] >= 2 * _HEAD + 1
    line = ends if room else ends + np.array([-1.0, 1.0]) * (_HEAD + _TAIL)
    tips = np.stack([ends, np.full(2, at)], axis=-1)
    ways = np.array([[-1.0, 0.0], [1.0, 0.0]]) * (1 if room else -1)
    points = np.stack([line, np.full(2, at)], axis=-1)
    if across:
        tips, ways, points = tips[:, ::-1], ways[:, ::-1], points[:, ::-1]
    return [segments(points[None], DIMENSION), _heads(tips, ways)]


def _heads(tips: FloatArray, ways: FloatArray) -> Figures:
    """Filled arrowheads at `tips` (k, 2), pointing along `ways` (k, 2)."""
    way = ways / np.linalg.norm(ways, axis=1)[:, None]
    beside = np.stack([-way[:, 1], way[:, 0]], axis=-1)
    back = tips - _HEAD * way
    points = np.stack([tips, back + _HALF_HEAD * beside, back - _HALF_HEAD * beside], axis=1)
    return Figures("MLLZ", points, None, BLACK)
