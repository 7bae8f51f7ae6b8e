"""The hole chart: every kind of hole with its symbol and its number on each part."""

from __future__ import annotations

from railgen.holes.table import LINER, RAIL, IntArray
from railgen.papers.legend import legend_symbol
from railgen.papers.sheet import FRAME_LEFT, Figures, Item
from railgen.papers.subject import Subject
from railgen.papers.tables import Column, Row, table_pages

_RAIL_COLUMNS = (
    Column("symbol", 15),
    Column("size", 46),
    Column("operation", 40),
    Column("LH rail", 17, right=True),
    Column("RH rail", 17, right=True),
)
_LINER_COLUMNS = (Column("LH liner", 17, right=True), Column("RH liner", 17, right=True))
_ALL = Column("all", 17, right=True)


def hole_chart_pages(subject: Subject, top: float, bottom: float) -> tuple[tuple[Item, ...], ...]:
    """The hole chart from y = `top` down to `bottom` (mm) at the sheet's left, and as many pages more as it takes."""
    has_liner = subject.plan.order.rail.liner is not None
    columns = (*_RAIL_COLUMNS, *(_LINER_COLUMNS if has_liner else ()), _ALL)
    counts = subject.chart.counts
    rows = []
    for index, hole_class in enumerate(subject.chart.classes):
        drawn = legend_symbol(hole_class, subject.chart.fills[index], 0.0, 0.0)
        figures = tuple(item for item in drawn if isinstance(item, Figures))
        cells = ("", hole_class.size, hole_class.work or "punched", *_numbers(counts[index], has_liner))
        rows.append(Row(cells, symbol=figures))
    rows.append(Row(("", "all", "", *_numbers(counts.sum(axis=0), has_liner)), bold=True))
    return table_pages(columns, rows, FRAME_LEFT, top, bottom)


def _numbers(counts: IntArray, has_liner: bool) -> tuple[str, ...]:
    """Counts by side and part in the table's order, and their sum."""
    parts = (RAIL, LINER) if has_liner else (RAIL,)
    shown = [int(counts[side, part]) for part in parts for side in (0, 1)]
    return tuple(str(count) for count in (*shown, sum(shown)))
