"""The symbol of a weld: arrow, reference lines, elementary symbol, length and procedure (ISO 2553, from memory)."""

from __future__ import annotations

from railgen.papers.dimensions import leader
from railgen.papers.fonts import SMALL, text_width, wrapped
from railgen.papers.sheet import DIMENSION, HIDDEN, Item, Text, segments

_RISE, _RUN, _MARK = 9.0, 7.0, 2.6
_LINE, _LEAST_WIDTH = 2.9, 30.0
_IDENTIFICATION = 0.9
"""Distance (mm) of the dashed identification line below the reference line (system A)."""


def weld_symbol(at: tuple[float, float], length: str, procedure: str, right: float) -> list[Item]:
    """A square butt weld, the arrow's tip on its seam at `at`, the words below it, up to x = `right` where they can."""
    start = at[0] + _RUN, at[1] - _RISE
    marks = start[0] + 2.0, start[0] + 2.0 + 0.9
    end = start[0] + 2.0 + 0.9 + 1.4 + text_width(length, SMALL) + 2.0
    line = start[1]
    symbol = [[(x, line), (x, line + _MARK)] for x in marks]
    tail = [[(end + 1.6, line + 1.6), (end, line)], [(end, line), (end + 1.6, line - 1.6)]]
    return [
        *leader([at, start], ""),
        segments([[start, (end, line)], *symbol, *tail], DIMENSION),
        segments([[(start[0], line - _IDENTIFICATION), (end - 1.0, line - _IDENTIFICATION)]], HIDDEN),
        Text(marks[1] + 1.4, line + 0.7, length, SMALL),
        *_procedure(procedure, end + 2.4, line, right),
    ]


def _procedure(words: str, left: float, middle: float, right: float) -> list[Item]:
    lines = wrapped(words, SMALL, max(right - left, _LEAST_WIDTH))
    first = middle - SMALL / 2 + _LINE * (len(lines) - 1) / 2
    return [Text(left, first - _LINE * n, line, SMALL) for n, line in enumerate(lines)]
