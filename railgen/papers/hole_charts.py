"""The hole charts: every kind of hole with its number on each part, in all and of each component."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from railgen.holes.table import LINER, PARTS, RAIL, SIDES, IntArray
from railgen.papers.fonts import MIDDLE, printable
from railgen.papers.legend import legend_symbol
from railgen.papers.sheet import FRAME_LEFT, FRAME_RIGHT, FRAME_TOP, Figures, Item, Text
from railgen.papers.subject import Subject
from railgen.papers.tables import Column, Rest, Row, shifted, table_pages, table_width
from railgen.papers.title_block import STRIP_TOP
from railgen.papers.wording import say

_SYMBOL, _SIZE, _MADE, _COUNT = 14.0, 33.0, 30.0, 11.0
_NAME, _NARROW = 44.0, 10.0
_LEFT, _RIGHT, _TOP, _BOTTOM = FRAME_LEFT + 3.0, FRAME_RIGHT - 3.0, FRAME_TOP - 9.0, STRIP_TOP + 2.0
_TITLE = FRAME_TOP - 6.0
_GAP = 6.0


@dataclass(frozen=True, eq=False)
class _Table:
    """One table, or a page of it: its title, its width, its items from x = 0."""

    title: str
    width: float
    items: tuple[Item, ...]


def hole_chart_pages(subject: Subject) -> tuple[tuple[Item, ...], ...]:
    """Both charts, their tables beside one another, as many sheets as they take."""
    return _laid([*_by_size(subject), *_by_component(subject)])


def beside_one_another(rests: Sequence[Rest]) -> tuple[tuple[Item, ...], ...]:
    """What tables of other sheets have no room for, as many sheets as it takes."""
    return _laid([table for rest in rests for table in _tables(say("rest.title"), rest.columns, rest.rows)])


def _laid(tables: Sequence[_Table]) -> tuple[tuple[Item, ...], ...]:
    pages: list[list[Item]] = []
    x = _RIGHT
    for table in tables:
        if x + table.width > _RIGHT:
            pages.append([])
            x = _LEFT
        pages[-1] += [Text(x, _TITLE, table.title, MIDDLE, bold=True), *shifted(table.items, x)]
        x += table.width + _GAP
    return tuple(tuple(page) for page in pages)


def _by_size(subject: Subject) -> list[_Table]:
    """Holes by size: a row a kind of hole."""
    columns = [Column(say("chart.symbol"), _SYMBOL), Column(say("chart.size"), _SIZE), Column(say("chart.made"), _MADE)]
    columns += _count_columns(subject, _COUNT)
    chart, style = subject.chart, subject.style
    rows = []
    for index, hole_class in enumerate(chart.classes):
        words = hole_class.size_in(style), hole_class.work_in(style) or say("chart.punched")
        rows.append(Row(("", *words, *_numbers(chart.counts[index], subject)), symbol=_symbol(subject, index)))
    rows.append(Row(("", say("chart.all"), "", *_numbers(chart.counts.sum(axis=0), subject)), bold=True))
    return _tables(say("chart.by_size"), columns, rows)


def _by_component(subject: Subject) -> list[_Table]:
    """Holes by component: a row a kind of hole of each component; a shared hole counts for each of its owners."""
    columns = [Column(say("chart.component"), _NAME), Column(say("chart.symbol"), _SYMBOL)]
    columns += [Column(say("chart.size"), _SIZE + 4.0), *_count_columns(subject, _NARROW)]
    counts = _counts_by_component(subject)
    rows = []
    for name in sorted(counts):
        for place, (index, own) in enumerate(sorted(counts[name].items())):
            words = "" if place else printable(name), "", printable(subject.chart.classes[index].name_in(subject.style))
            rows.append(Row((*words, *_numbers(own, subject)), symbol=_symbol(subject, index), symbol_column=1))
    return _tables(say("chart.by_component"), columns, rows)


def _counts_by_component(subject: Subject) -> dict[str, dict[int, IntArray]]:
    """Counts (2, 2) by side and part, of each kind of hole of each component."""
    holes = subject.holes
    counts: dict[str, dict[int, IntArray]] = {}
    rows = np.repeat(np.arange(len(holes)), np.diff(holes.owner_start))
    for row, owner in sorted(set(zip(rows.tolist(), holes.owners.tolist(), strict=True))):
        of_component = counts.setdefault(holes.names.components[owner], {})
        kind = int(subject.chart.row_class[row])
        own = of_component.setdefault(kind, np.zeros((len(SIDES), len(PARTS)), dtype=np.int64))
        own[holes.side[row], holes.part[row]] += 1
    return counts


def _tables(title: str, columns: Sequence[Column], rows: Sequence[Row]) -> list[_Table]:
    pages = table_pages(columns, rows, 0.0, _TOP, _BOTTOM)
    return [_Table(title, table_width(columns), page) for page in pages]


def _parts(subject: Subject) -> tuple[int, ...]:
    return (RAIL, LINER) if subject.plan.order.rail.liner else (RAIL,)


def _count_columns(subject: Subject, width: float) -> list[Column]:
    names = [say(f"part.{PARTS[part]}", side=side) for part in _parts(subject) for side in SIDES]
    return [Column(name, width, right=True) for name in (*names, say("chart.all"))]


def _numbers(counts: IntArray, subject: Subject) -> tuple[str, ...]:
    """Counts by side and part in the table's order, and their sum."""
    shown = [int(counts[side, part]) for part in _parts(subject) for side in range(len(SIDES))]
    return tuple(str(count) if count else "-" for count in (*shown, sum(shown)))


def _symbol(subject: Subject, index: int) -> tuple[Figures, ...]:
    drawn = legend_symbol(subject.chart.classes[index], subject.chart.fills[index], 0.0, 0.0)
    return tuple(item for item in drawn if isinstance(item, Figures))
