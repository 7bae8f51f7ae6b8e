"""Tables on sheets: columns with wrapped text, as many pages as the rows need."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from railgen.papers.fonts import SMALL, printable, wrapped
from railgen.papers.sheet import BLACK, EDGE, GREY, Figures, Item, Pen, Text, moved, rectangle, segments

LINE = 3.1
"""Distance (mm) between two lines of a cell."""
_PADDING = 1.3
HEAD_FILL = "#e4e4e4"
_RULE = Pen(0.1, GREY)


@dataclass(frozen=True)
class Column:
    """A column: its heading and width, mm; numbers stand at its right edge."""

    heading: str
    width: float
    right: bool = False


@dataclass(frozen=True)
class Row:
    """A row: a text a column; bold for totals; `symbol` items drawn about the middle of its first cell."""

    cells: tuple[str, ...]
    bold: bool = False
    colour: str = BLACK
    symbol: tuple[Figures, ...] = field(default=(), compare=False)


def table_pages(
    columns: Sequence[Column], rows: Sequence[Row], left: float, top: float, bottom: float
) -> tuple[tuple[Item, ...], ...]:
    """The table between y = `top` and y = `bottom` from x = `left`, mm; the items of each page it takes.

    A row stays on one page unless it is longer than a page.
    """
    head_height = _height(_lines(columns, Row(tuple(column.heading for column in columns), bold=True)))
    pages: list[list[Item]] = []
    y = bottom
    room = int((top - bottom - head_height - 2 * _PADDING) / LINE)
    for row in rows:
        for part, lines in enumerate(_parts(_lines(columns, row), room)):
            height = _height(lines)
            if y - height < bottom - 1e-9:
                pages.append(list(_head(columns, left, top, head_height)))
                y = top - head_height
            pages[-1] += _row(columns, row, lines, left, y, with_symbol=part == 0)
            y -= height
    if not pages:
        pages.append(list(_head(columns, left, top, head_height)))
    return tuple(tuple(page) for page in pages)


def table_width(columns: Sequence[Column]) -> float:
    """Width of the table, mm."""
    return sum(column.width for column in columns)


_Lines = list[tuple[str, ...]]


def _lines(columns: Sequence[Column], row: Row) -> _Lines:
    return [
        wrapped(printable(cell), SMALL, column.width - 2 * _PADDING, row.bold)
        for column, cell in zip(columns, row.cells, strict=True)
    ]


def _parts(lines: _Lines, room: int) -> Iterator[_Lines]:
    """The lines of a row in pieces of at most `room` lines."""
    longest = max(len(cell) for cell in lines)
    for first in range(0, max(longest, 1), room):
        yield [cell[first : first + room] for cell in lines]


def _height(lines: _Lines) -> float:
    return max(1, *(len(cell) for cell in lines)) * LINE + _PADDING


def _head(columns: Sequence[Column], left: float, top: float, height: float) -> Iterator[Item]:
    width = table_width(columns)
    head = Row(tuple(column.heading for column in columns), bold=True)
    yield rectangle(left, top - height, left + width, top, None, HEAD_FILL)
    yield from _row(columns, head, _lines(columns, head), left, top, with_symbol=False)
    yield segments([[(left, top), (left + width, top)], [(left, top - height), (left + width, top - height)]], EDGE)


def _row(
    columns: Sequence[Column], row: Row, lines: _Lines, left: float, top: float, with_symbol: bool
) -> Iterator[Item]:
    x, height = left, _height(lines)
    if with_symbol:
        for figures in row.symbol:
            yield moved(figures, left + columns[0].width / 2, top - height / 2)
    for column, cell in zip(columns, lines, strict=True):
        at, anchor = (x + column.width - _PADDING, "right") if column.right else (x + _PADDING, "left")
        for index, words in enumerate(cell):
            baseline = top - _PADDING / 2 - LINE * index - (LINE + SMALL) / 2
            if words:
                yield Text(at, baseline, words, SMALL, "right" if anchor == "right" else "left", row.bold, row.colour)
        x += column.width
    yield segments([[(left, top - height), (x, top - height)]], EDGE if row.bold else _RULE)
