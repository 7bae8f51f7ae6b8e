"""Tables on sheets: columns with wrapped text, as many pages as the rows need."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

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
    """A row: a text a column; bold for totals; `symbol` items drawn about the middle of the cell `symbol_column`."""

    cells: tuple[str, ...]
    bold: bool = False
    colour: str = BLACK
    symbol: tuple[Figures, ...] = field(default=(), compare=False)
    symbol_column: int = 0


def table_pages(
    columns: Sequence[Column], rows: Sequence[Row], left: float, top: float, bottom: float, height: float = SMALL
) -> tuple[tuple[Item, ...], ...]:
    """The table between y = `top` and y = `bottom` from x = `left`, mm; the items of each page it takes.

    `height`: of capitals. A row stays on one page unless it is longer than a page.
    """
    head_height = _height(_lines(columns, Row(tuple(column.heading for column in columns), bold=True), height), height)
    pages: list[list[Item]] = []
    y = bottom
    room = int((top - bottom - head_height - 2 * _PADDING) / _line(height))
    for row in rows:
        for part, lines in enumerate(_parts(_lines(columns, row, height), room)):
            row_height = _height(lines, height)
            if y - row_height < bottom - 1e-9:
                pages.append(list(_head(columns, left, top, head_height, height)))
                y = top - head_height
            pages[-1] += _row(columns, row, lines, left, y, height, with_symbol=part == 0)
            y -= row_height
    if not pages:
        pages.append(list(_head(columns, left, top, head_height, height)))
    return tuple(tuple(page) for page in pages)


@dataclass(frozen=True)
class Rest:
    """A table's rows that its sheet has no room for."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]


def table_on_sheet(
    columns: Sequence[Column], rows: Sequence[Row], left: float, top: float, bottom: float
) -> tuple[list[Item], tuple[Rest, ...]]:
    """The table's rows that go between y = `top` and y = `bottom`, mm, and the rest of it where there is any."""
    kept = len(rows)
    while kept and table_height(columns, rows[:kept]) > top - bottom + 1e-9:
        kept -= 1
    items = list(table_pages(columns, rows[:kept], left, top, bottom)[0]) if kept else []
    return items, (Rest(tuple(columns), tuple(rows[kept:])),) if kept < len(rows) else ()


def shifted(items: Sequence[Item], by: float) -> tuple[Item, ...]:
    """A table's items moved by x = `by`."""
    return tuple(_shifted(item, by) for item in items)


def _shifted(item: Item, by: float) -> Item:
    return moved(item, by, 0.0) if isinstance(item, Figures) else replace(item, x=item.x + by)


def table_height(columns: Sequence[Column], rows: Sequence[Row], height: float = SMALL) -> float:
    """Height (mm) of the whole table on one page; `height`: of capitals."""
    head = Row(tuple(column.heading for column in columns), bold=True)
    return sum(_height(_lines(columns, row, height), height) for row in (head, *rows))


def table_width(columns: Sequence[Column]) -> float:
    """Width of the table, mm."""
    return sum(column.width for column in columns)


_Lines = list[tuple[str, ...]]


def _line(height: float) -> float:
    """Distance (mm) between two lines of a cell whose capitals are `height` mm high."""
    return LINE * height / SMALL


def _lines(columns: Sequence[Column], row: Row, height: float) -> _Lines:
    return [
        wrapped(printable(cell), height, column.width - 2 * _PADDING, row.bold)
        for column, cell in zip(columns, row.cells, strict=True)
    ]


def _parts(lines: _Lines, room: int) -> Iterator[_Lines]:
    """The lines of a row in pieces of at most `room` lines."""
    longest = max(len(cell) for cell in lines)
    for first in range(0, max(longest, 1), room):
        yield [cell[first : first + room] for cell in lines]


def _height(lines: _Lines, height: float) -> float:
    return max(1, *(len(cell) for cell in lines)) * _line(height) + _PADDING


def _head(columns: Sequence[Column], left: float, top: float, tall: float, height: float) -> Iterator[Item]:
    width = table_width(columns)
    head = Row(tuple(column.heading for column in columns), bold=True)
    yield rectangle(left, top - tall, left + width, top, None, HEAD_FILL)
    yield from _row(columns, head, _lines(columns, head, height), left, top, height, with_symbol=False)
    yield segments([[(left, top), (left + width, top)], [(left, top - tall), (left + width, top - tall)]], EDGE)


def _row(
    columns: Sequence[Column], row: Row, lines: _Lines, left: float, top: float, height: float, with_symbol: bool
) -> Iterator[Item]:
    x, tall = left, _height(lines, height)
    if with_symbol:
        before = table_width(columns[: row.symbol_column]) + columns[row.symbol_column].width / 2
        for figures in row.symbol:
            yield moved(figures, left + before, top - tall / 2)
    for column, cell in zip(columns, lines, strict=True):
        at, anchor = (x + column.width - _PADDING, "right") if column.right else (x + _PADDING, "left")
        for index, words in enumerate(cell):
            baseline = top - _PADDING / 2 - _line(height) * index - (_line(height) + height) / 2
            if words:
                yield Text(at, baseline, words, height, "right" if anchor == "right" else "left", row.bold, row.colour)
        x += column.width
    yield segments([[(left, top - tall), (x, top - tall)]], EDGE if row.bold else _RULE)
