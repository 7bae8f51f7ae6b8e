"""Labels beside a view: flags on staffs that never overlap, moved as little as they can be.

A label stands beside a view like a flag: a staff at some x, the words to the right of its upper end, or to the left
near the sheet's right edge. Labels keep the order of their targets. They are gathered into groups; within a group the
staffs are close together and the rows fall away from the staffs' side, so that no staff crosses another's words; the
next group begins behind the longest words of this one. All of this is a chain of least steps between neighbouring
staffs, and the least total movement under such a chain is an isotonic regression, solved exactly by pooling adjacent
violators (Ayer et al. 1955, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray

STAFF_STEP = 1.6
"""Least distance (mm) between two staffs of one group."""
WORD_GAP = 1.6
"""Least distance (mm) from the end of words to the next group's first staff."""
SMALL_MOVE = 9.0
"""A row more is taken only where it keeps some label from moving further than this, mm."""


@dataclass(frozen=True, eq=False)
class Placing:
    """Staffs of n labels, x in mm in the order given; the row of each, 0 next to the view; which fly to the left."""

    staff: FloatArray
    row: IntArray
    leftward: BoolArray

    @property
    def rows(self) -> int:
        """Number of rows taken."""
        return int(self.row.max()) + 1 if len(self.row) else 0


def place_labels(targets: FloatArray, widths: FloatArray, left: float, right: float, most_rows: int) -> Placing | None:
    """Place labels between x = left and x = right; None where `most_rows` rows do not hold them.

    `targets` (n,) x of what each label points at, ascending; `widths` (n,) from staff to the end of the words. The
    fewest rows are taken that keep every label within a small move, else those that move the farthest one least.
    """
    if not len(targets):
        return Placing(np.empty(0), np.empty(0, dtype=np.int64), np.empty(0, dtype=np.bool_))
    best, best_move = None, np.inf
    for rows in range(1, most_rows + 1):
        placing = _place_in(targets, widths, left, right, rows)
        if placing is None:
            continue
        move = float(np.abs(placing.staff - targets).max())
        if move < best_move - 1e-9:
            best, best_move = placing, move
        if move <= SMALL_MOVE:
            break
    return best


def _place_in(targets: FloatArray, widths: FloatArray, left: float, right: float, rows: int) -> Placing | None:
    groups = _groups(targets, widths, rows)
    row, leftward = np.zeros(len(targets), dtype=np.int64), np.zeros(len(targets), dtype=np.bool_)
    step = np.full(len(targets), STAFF_STEP)
    step[0] = 0.0
    before = 0.0
    for first, end in groups:
        own, place = widths[first:end], np.arange(end - first)
        # Words that would run off the sheet fly to the left of their staffs instead.
        leftward[first:end] = bool((targets[first:end] + own > right).any())
        row[first:end] = place if leftward[first] else place[::-1]
        ahead = float((own - STAFF_STEP * place).max()) if leftward[first] else 0.0
        if first:
            step[first] = max(before + ahead + WORD_GAP, STAFF_STEP)
        before = 0.0 if leftward[first] else float((own - STAFF_STEP * place[::-1]).max())
    offset = np.cumsum(step)
    lowest = np.maximum.accumulate(left + np.where(leftward, widths, 0.0) - offset)
    highest = np.minimum.accumulate((right - np.where(leftward, 0.0, widths) - offset)[::-1])[::-1]
    if (lowest > highest).any():
        return None
    return Placing(np.clip(isotonic(targets - offset), lowest, highest) + offset, row, leftward)


def _groups(targets: FloatArray, widths: FloatArray, rows: int) -> list[tuple[int, int]]:
    """First label and end of each group: labels whose words would run into each other, at most `rows` of them."""
    groups, first, reach = [], 0, float(targets[0] + widths[0])
    for label in range(1, len(targets)):
        if label - first >= rows or targets[label] >= reach + WORD_GAP:
            groups.append((first, label))
            first, reach = label, -np.inf
        reach = max(reach, float(targets[label] + widths[label]))
    return [*groups, (first, len(targets))]


def spread(targets: FloatArray, sizes: FloatArray, least: float, most: float) -> FloatArray | None:
    """Places of n labels in one row between `least` and `most`; None where they are too many.

    `targets` (n,) what each points at, ascending; `sizes` (n,) how much of the row each takes, its place in the middle.
    No two overlap, none passes another, and the sum of the squares of their moves is the least that can be.
    """
    if not len(targets):
        return np.empty(0)
    offset = np.concatenate([[0.0], np.cumsum((sizes[:-1] + sizes[1:]) / 2)])
    low, high = least + sizes[0] / 2, most - sizes[-1] / 2 - offset[-1]
    if low > high:
        return None
    return np.asarray(np.clip(isotonic(targets - offset), low, high) + offset)


def isotonic(values: FloatArray) -> FloatArray:
    """The non-decreasing numbers nearest to `values` (n,) in the sum of squares."""
    means: list[float] = []
    counts: list[int] = []
    for value in values:
        mean, count = float(value), 1
        while means and means[-1] >= mean:
            last, weight = means.pop(), counts.pop()
            mean, count = (mean * count + last * weight) / (count + weight), count + weight
        means.append(mean)
        counts.append(count)
    return np.repeat(np.array(means, dtype=np.float64), counts)
