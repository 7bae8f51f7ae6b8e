"""The legend of an elevation sheet: hole symbols with their counts, and what the lines mean."""

from __future__ import annotations

import numpy as np

from railgen.holes.table import RAIL, SIDES, IntArray
from railgen.papers.elevation_layout import ElevationLayout
from railgen.papers.feet import FOOT_FILL, INSIDE_FOOT, OUTSIDE_FOOT
from railgen.papers.fonts import SMALL, fitted, printable, text_width, wrapped
from railgen.papers.rings import FINDING_PENS
from railgen.papers.sheet import (
    AXIS,
    BLACK,
    DIMENSION,
    EDGE,
    FRAME,
    FRAME_BOTTOM,
    FRAME_LEFT,
    HIDDEN,
    MATCH,
    TANGENT,
    THIN,
    Figures,
    Item,
    Text,
    circles,
    moved,
    rectangle,
    segments,
)
from railgen.papers.stretches import SCALE
from railgen.papers.subject import Subject
from railgen.papers.symbols import HoleClass, locating_squares, symbols
from railgen.papers.title_block import BLOCK_LEFT, STRIP_TOP
from railgen.papers.views import WELD_GREY
from railgen.papers.wording import say

_MOST_COLUMNS = 3
_ROW, _LINE_ROW = 4.4, 3.35
_ROWS = 9
_LINES_LEFT = FRAME_LEFT + 150.0
_GREATEST_SYMBOL = 3.6
"""Larger symbols are shown reduced in a legend, mm."""


def legend(subject: Subject, layout: ElevationLayout) -> list[Item]:
    """The strip along the foot of an elevation sheet, left of the title block."""
    items: list[Item] = [
        rectangle(FRAME_LEFT, FRAME_BOTTOM, BLOCK_LEFT, STRIP_TOP, FRAME),
        segments([[(_LINES_LEFT, FRAME_BOTTOM), (_LINES_LEFT, STRIP_TOP)]], THIN),
    ]
    return items + _hole_legend(subject, layout) + _line_legend(subject, layout)


def sheet_counts(subject: Subject, layout: ElevationLayout) -> tuple[IntArray, IntArray]:
    """Features of each class that belong to this sheet, and to its part altogether."""
    holes, chart = subject.holes, subject.chart
    part = layout.part.part
    own = (holes.side == layout.side) & (holes.part == part) & layout.stretch.holds(holes.station)
    here = np.bincount(chart.row_class[own], minlength=len(chart.classes))
    return here, chart.counts[:, layout.side, part]


def _hole_legend(subject: Subject, layout: ElevationLayout) -> list[Item]:
    here, all_of_side = sheet_counts(subject, layout)
    shown = np.flatnonzero(here).tolist()
    part = say(f"part.{layout.part.name}", side=SIDES[layout.side])
    title = say("legend.holes", part=part)
    items: list[Item] = [Text(FRAME_LEFT + 2, STRIP_TOP - 3.6, title, SMALL, bold=True)]
    columns = min(max(-(-len(shown) // _ROWS), 2), _MOST_COLUMNS)
    width = (_LINES_LEFT - FRAME_LEFT) / columns
    if len(shown) > columns * _ROWS:
        kept = columns * _ROWS - 1
        rest = say("legend.more", count=len(shown) - kept)
        items.append(Text(*_place(kept, width), fitted(rest, SMALL, width - 5), SMALL))
        shown = shown[:kept]
    for place, index in enumerate(shown):
        x, y = _place(place, width)
        items += legend_symbol(subject.chart.classes[index], subject.chart.fills[index], x, y + SMALL / 2)
        count = f"{here[index]} / {all_of_side[index]}"
        name = printable(subject.chart.classes[index].name_in(subject.style))
        words = fitted(name, SMALL, width - 12 - text_width(count, SMALL))
        items += [Text(x + 4, y, words, SMALL), Text(x + width - 7, y, count, SMALL, "right")]
    return items


def _place(place: int, width: float) -> tuple[float, float]:
    """x of the symbol's middle and baseline of an entry, filled column by column."""
    column, row = divmod(place, _ROWS)
    return FRAME_LEFT + column * width + 4.5, STRIP_TOP - 3.8 - _ROW * (row + 1)


def legend_symbol(hole_class: HoleClass, fill: int, x: float, y: float) -> list[Item]:
    """A symbol as on the elevation sheets, about (x, y), reduced where it is larger than its row."""
    size = max(hole_class.length, hole_class.diameter, hole_class.countersink)
    scale = min(1 / SCALE, _GREATEST_SYMBOL / size) if size else 1 / SCALE
    return symbols(hole_class, fill, np.array([[x, y]]), np.zeros(1), scale)


def _line_legend(subject: Subject, layout: ElevationLayout) -> list[Item]:
    items: list[Item] = []
    x, y = _LINES_LEFT + 2.0, STRIP_TOP - 3.4
    for words, sample in _line_samples(subject, layout):
        items += [moved(figures, x, y) for figures in sample]
        items.append(Text(x + 12, y - SMALL / 2, words, SMALL))
        y -= _LINE_ROW
    return items


def _line_samples(subject: Subject, layout: ElevationLayout) -> list[tuple[str, list[Figures]]]:
    """What lines and areas mean, each with a sample 10 mm long about y = 0; only those that this sheet can have."""
    line, middle = [[(0, 0), (10, 0)]], [(5, 0)]
    rail, of_rail = subject.plan.order.rail, layout.part.part == RAIL
    samples = [("tangent", [segments(line, TANGENT)]), ("anchor", [segments(line, AXIS)])]
    samples.append(("origin", [segments(line, DIMENSION), circles(middle, 0.8, DIMENSION)]))
    if of_rail:
        samples.append(("foot_outside", [rectangle(0, -1, 10, 1, OUTSIDE_FOOT, FOOT_FILL)]))
        samples.append(("foot_inside", [rectangle(0, -1, 10, 1, INSIDE_FOOT)]))
    if subject.holes.locating.any():
        square = locating_squares(np.array([0.8]), np.array(middle, dtype=np.float64))
        samples.append(("locating", [circles(middle, 0.8, EDGE), *square]))
    if of_rail and rail.liner:
        samples.append(("liner", [segments(line, HIDDEN)]))
    if of_rail and rail.taper:
        samples.append(("weld", [rectangle(0, -0.4, 10, 0.4, THIN, WELD_GREY)]))
        samples.append(("fold", [segments(line, THIN)]))
    if np.isfinite([layout.stretch.start, layout.stretch.end]).any():
        samples.append(("match", [segments(line, MATCH)]))
    present = {finding.severity for finding in subject.findings}
    rings = [
        (say(f"legend.{name}"), [circles(middle, 1.3, pen)]) for name, pen in FINDING_PENS.items() if name in present
    ]
    return [(say(f"legend.{key}"), figures) for key, figures in samples] + rings


def notes(subject: Subject, right: float = BLOCK_LEFT) -> list[Item]:
    """How to read the drawing, on sheets without an elevation; in the strip left of the title block, up to `right`."""
    items: list[Item] = [rectangle(FRAME_LEFT, FRAME_BOTTOM, BLOCK_LEFT, STRIP_TOP, FRAME)]
    items.append(Text(FRAME_LEFT + 2, STRIP_TOP - 3.6, say("notes.title"), SMALL, bold=True))
    y = STRIP_TOP - 7.6
    values = {"units": subject.style.unit_name, "projection": say(f"notes.{subject.style.projection}_angle")}
    for key in _NOTES:
        for index, line in enumerate(wrapped(say(f"notes.{key}", **values), SMALL, right - FRAME_LEFT - 8)):
            items += [] if index else [circles([(FRAME_LEFT + 3, y + SMALL / 2)], 0.35, None, BLACK)]
            items.append(Text(FRAME_LEFT + 5, y, line, SMALL))
            y -= 2.8
        y -= 0.4
    return items


_NOTES = ("lengths", "finished", "views", "holes", "tolerances", "findings")
"""How to read the drawing, in order."""
