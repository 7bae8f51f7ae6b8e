"""CSV files that people fill in: rows with their lines, headers held to the columns asked for, numbers in cells."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Sequence
from math import isfinite

from railgen.data.messages import InputError, Problem, nearest, one_of, shown
from railgen.data.reading import Source, decoded

MOST_PROBLEMS = 50
"""Of one file, as many as are named at once."""


def csv_rows(source: Source) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """The header's cells, and the cells of each row that is not empty with its line; spaces around them stripped.

    Raises InputError where the file is no CSV in UTF-8.
    """
    try:
        lines = list(csv.reader(decoded(source, "text").splitlines(), strict=True))
    except csv.Error as error:
        raise InputError([Problem(source.file, "", str(error), "comma-separated values")]) from None
    stripped = [[cell.strip() for cell in cells] for cells in lines]
    header = stripped[0] if stripped else []
    return header, [(number, cells) for number, cells in enumerate(stripped[1:], 2) if any(cells)]


def checked_rows(
    source: Source,
    columns: Sequence[str],
    row_problems: Callable[[str, int, list[str]], Iterator[Problem]],
    needed: str,
) -> list[list[str]]:
    """The cells of all rows of a file that must have these columns and at least one row (``needed`` says of what).

    row_problems: of the file, a line and its cells, as many as there are columns. Raises InputError, naming line and
    column, for all that is wrong (the first 50).
    """
    header, rows = csv_rows(source)
    problems = list(header_problems(source.file, header, columns))
    if not problems:
        for line, cells in rows:
            if len(cells) == len(columns):
                problems += row_problems(source.file, line, cells)
            else:
                problems.append(Problem(source.file, f"line {line}", f"{len(cells)} cells", f"{len(columns)} cells"))
    if not problems and not rows:
        problems = [Problem(source.file, "", "no rows", needed)]
    if problems:
        raise InputError(problems[:MOST_PROBLEMS])
    return [cells for _, cells in rows]


def header_problems(file: str, names: Sequence[str], columns: Sequence[str]) -> Iterator[Problem]:
    """What is wrong with a header that must name these columns in this order."""
    if list(names) == list(columns):
        return
    if sorted(names) == sorted(columns):
        yield Problem(file, "line 1", ",".join(names), "the columns in the order " + ",".join(columns))
        return
    for name in columns:
        if name not in names:
            yield Problem(file, f"line 1, column {name}", "nothing", "this column is required")
    for number, name in enumerate(names, 1):
        if name not in columns:
            yield Problem(
                file, f"line 1, column {number}", shown(name), one_of(columns, len(columns)), nearest(name, columns)
            )
        elif list(names).index(name) != number - 1:
            yield Problem(file, f"line 1, column {number}", f"{name} again", "each column once")


def cell_number(cell: str) -> float:
    """The number in a cell, NaN where there is none."""
    try:
        value = float(cell)
    except ValueError:
        return float("nan")
    return value if isfinite(value) else float("nan")
