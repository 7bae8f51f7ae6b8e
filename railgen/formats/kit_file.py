"""``kit.csv``: the fastener kit of a serial, one row for each item, size, length and set of components, and back."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from math import isfinite

from railgen.data.messages import InputError, Problem, nearest, one_of, shown
from railgen.data.reading import Source, decoded
from railgen.shop.kit import CAP_SCREW, FLUSH_SCREW, ITEMS, KitLine

COLUMNS = ("item", "size", "length_mm", "count", "components")
_MOST_PROBLEMS = 50


def kit_csv(lines: Sequence[KitLine]) -> bytes:
    """A kit as CSV. The length of washers and nuts, and of screws that no listed length fits, is an empty cell.

    Components that share their holes stand joined by ``;``; the counts of one item, size and length add up.
    """
    # Every name is free of commas, quotes and line ends by its data model, so nothing needs quoting.
    rows = [",".join(COLUMNS)]
    for line in lines:
        rows.append(",".join((line.item, line.size, _length(line), str(line.count), ";".join(line.components))))
    return "\n".join([*rows, ""]).encode()


def _length(line: KitLine) -> str:
    return "" if line.length is None else f"{line.length:.6f}".rstrip("0").rstrip(".")


def kit_rows(source: Source) -> tuple[KitLine, ...]:
    """The lines of a kit.csv; raises InputError, naming line and column, for all that is wrong (the first 50)."""
    try:
        lines = list(csv.reader(decoded(source, "text").splitlines(), strict=True))
    except csv.Error as error:
        raise InputError([Problem(source.file, "", str(error), "comma-separated values")]) from None
    header = lines[0] if lines else []
    if header != list(COLUMNS):
        raise InputError([Problem(source.file, "line 1", shown(",".join(header)), "the columns " + ",".join(COLUMNS))])
    numbered = list(enumerate(lines[1:], 2))
    problems = [problem for number, cells in numbered for problem in _problems(source.file, number, cells)]
    if problems:
        raise InputError(problems[:_MOST_PROBLEMS])
    return tuple(_line(cells) for _, cells in numbered)


def _problems(file: str, number: int, cells: list[str]) -> Iterator[Problem]:
    if len(cells) != len(COLUMNS):
        yield Problem(file, f"line {number}", f"{len(cells)} cells", f"{len(COLUMNS)} cells")
        return
    item, size, length, count, components = cells
    place = f"line {number}, column "
    if item not in ITEMS:
        yield Problem(file, place + "item", shown(item), one_of(ITEMS), nearest(item, ITEMS))
    if not size:
        yield Problem(file, place + "size", shown(size), "the name of a fastener")
    if length and not (item in (CAP_SCREW, FLUSH_SCREW) and _is_length(length)):
        yield Problem(file, place + "length_mm", shown(length), "a number above 0 for a screw, else an empty cell")
    if not (count.isascii() and count.isdigit() and int(count) > 0):
        yield Problem(file, place + "count", shown(count), "a whole number above 0")
    if not all(components.split(";")):
        yield Problem(file, place + "components", shown(components), "names joined by ;")


def _is_length(cell: str) -> bool:
    try:
        return isfinite(float(cell)) and float(cell) > 0
    except ValueError:
        return False


def _line(cells: list[str]) -> KitLine:
    item, size, length, count, components = cells
    return KitLine(item, size, float(length) if length else None, int(count), tuple(components.split(";")))
