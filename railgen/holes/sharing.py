"""Shared holes: features of several components that are one hole, merged with all their owners kept."""

from __future__ import annotations

import numpy as np

from railgen.holes.neighbours import close_pairs
from railgen.holes.table import MARK, BoolArray, FloatArray, HoleTable, IntArray

SHARED_WITHIN = 0.01
"""mm between the centres of features that may be one hole."""


def may_share(table: HoleTable, first: IntArray, second: IntArray, distance: FloatArray) -> BoolArray:
    """Whether pairs of rows are validly one hole.

    Both owners must allow it, the centres agree within 0.01 mm, and shape, sizes, angle, fastener and operation be the
    same.
    """

    def same(column: np.ndarray) -> BoolArray:
        return np.asarray(column[first] == column[second])

    length = np.nan_to_num(table.length)
    alike = same(table.shape) & same(table.fastener) & same(table.operation) & same(table.angle)
    sized = (np.abs(table.diameter[first] - table.diameter[second]) <= 1e-6) & (
        np.abs(length[first] - length[second]) <= 1e-6
    )
    allowed = table.shareable[first] & table.shareable[second] & (table.shape[first] != MARK)
    return np.asarray(alike & sized & allowed & (distance <= SHARED_WITHIN + 1e-9))


def merge_shared(table: HoleTable) -> HoleTable:
    """One row for each set of features that are one hole; the first row stays and takes all the owners."""
    first, second = close_pairs(table.station, table.side * 8 + table.part * 4 + table.face, SHARED_WITHIN + 1e-6)
    near = table.panel[first] == table.panel[second]
    first, second = first[near], second[near]
    distance = np.hypot(table.u[first] - table.u[second], table.v[first] - table.v[second])
    valid = may_share(table, first, second, distance)
    if not valid.any():
        return table
    kept = np.arange(len(table))
    for low, high in sorted(zip(np.minimum(first, second)[valid], np.maximum(first, second)[valid], strict=True)):
        kept[high] = min(kept[high], kept[low])
    while not np.array_equal(kept, kept[kept]):
        kept = kept[kept]
    return _with_owners(table, kept)


def _with_owners(table: HoleTable, kept: IntArray) -> HoleTable:
    """The rows that keep themselves, each with the owners of all rows kept by it, first owner first."""
    row_of_owner = kept[np.repeat(np.arange(len(table)), np.diff(table.owner_start))]
    order = np.argsort(row_of_owner, kind="stable")
    counts = np.bincount(row_of_owner, minlength=len(table))
    stays = kept == np.arange(len(table))
    locating = np.zeros(len(table), dtype=np.bool_)
    np.logical_or.at(locating, kept, table.locating)
    strings = np.ones(len(table), dtype=np.bool_)
    np.logical_and.at(strings, kept, table.strings)
    merged = table.with_columns(locating=locating, strings=strings).rows(stays)
    start = np.concatenate(([0], np.cumsum(counts[stays])))
    return merged.with_columns(owner_start=start, owners=table.owners[order])
