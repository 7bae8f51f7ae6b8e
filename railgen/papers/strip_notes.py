"""Notes in the strip left of the title block, on sheets that are no part of the drawing set."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from railgen.papers.fonts import SMALL, wrapped
from railgen.papers.sheet import BLACK, FRAME, FRAME_BOTTOM, FRAME_LEFT, Figures, Item, Text, circles, moved, rectangle
from railgen.papers.title_block import BLOCK_LEFT, STRIP_TOP
from railgen.papers.wording import say


def strip_notes(lines: Sequence[str], key: Sequence[tuple[str, list[Figures]]] = ()) -> Iterator[Item]:
    """What a sheet is computed from, a point a line; key: what is drawn how, with samples 10 mm long about y = 0."""
    yield rectangle(FRAME_LEFT, FRAME_BOTTOM, BLOCK_LEFT, STRIP_TOP, FRAME)
    yield Text(FRAME_LEFT + 2, STRIP_TOP - 3.6, say("strip.notes"), SMALL, bold=True)
    y = STRIP_TOP - 7.8
    for words in (*lines, say("strip.checks")):
        yield circles([(FRAME_LEFT + 3, y + SMALL / 2)], 0.35, None, BLACK)
        for line in wrapped(words, SMALL, BLOCK_LEFT - FRAME_LEFT - 8):
            yield Text(FRAME_LEFT + 5, y, line, SMALL)
            y -= 2.9
        y -= 0.7
    x = FRAME_LEFT + 5.0
    for words, sample in key:
        yield from (moved(figures, x, FRAME_BOTTOM + 3.4) for figures in sample)
        yield Text(x + 12, FRAME_BOTTOM + 3.4 - SMALL / 2, words, SMALL)
        x += 70.0
