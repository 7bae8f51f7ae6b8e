"""Neighbour search: pairs of features, or of what they are near to, along the rail, by one sorted sweep."""

from __future__ import annotations

import numpy as np

from railgen.holes.table import FloatArray, IntArray


def close_pairs(position: FloatArray, group: IntArray, reach: float) -> tuple[IntArray, IntArray]:
    """Index pairs (i, j), each once, of the same group whose positions differ by at most reach.

    position and group have length n; groups are set far apart so that one sweep serves all of them.
    """
    if len(position) == 0:
        empty = np.zeros(0, dtype=np.int64)
        return empty, empty
    key = _keys(position, group, reach)
    order = np.argsort(key, kind="stable")
    ordered = key[order]
    last = np.searchsorted(ordered, ordered + reach, side="right")
    count = last - np.arange(len(ordered)) - 1
    first = np.repeat(np.arange(len(ordered)), count)
    second = runs(np.arange(1, len(ordered) + 1), count)
    return order[first], order[second]


def close_to(
    position: FloatArray, group: IntArray, others: FloatArray, other_group: IntArray, reach: float
) -> tuple[IntArray, IntArray]:
    """Index pairs (i, j) of rows i and other rows j of the same group whose positions differ by at most reach."""
    if len(position) == 0 or len(others) == 0:
        empty = np.zeros(0, dtype=np.int64)
        return empty, empty
    both = _keys(np.concatenate([position, others]), np.concatenate([group, other_group]), reach)
    key, other_key = both[: len(position)], both[len(position) :]
    order = np.argsort(other_key, kind="stable")
    ordered = other_key[order]
    start = np.searchsorted(ordered, key - reach, side="left")
    count = np.searchsorted(ordered, key + reach, side="right") - start
    return np.repeat(np.arange(len(key)), count), order[runs(start, count)]


def _keys(position: FloatArray, group: IntArray, reach: float) -> FloatArray:
    low = position.min()
    return np.asarray((position - low) + group * (position.max() - low + 4 * reach + 1.0))


def runs(start: IntArray, count: IntArray) -> IntArray:
    """start[i], start[i] + 1, ... count[i] numbers of each, one after the other."""
    ends = np.cumsum(count)
    total = int(ends[-1]) if len(ends) else 0
    return np.arange(total) - np.repeat(ends - count, count) + np.repeat(start, count)


def overlapping(low: FloatArray, high: FloatArray, group: IntArray, reach: float) -> tuple[IntArray, IntArray]:
    """Index pairs (i, j), each once, of the same group whose spans [low, high] lie no further apart than reach."""
    if len(low) == 0:
        empty = np.zeros(0, dtype=np.int64)
        return empty, empty
    both = _keys(np.concatenate([low, high]), np.concatenate([group, group]), reach)
    order = np.argsort(both[: len(low)], kind="stable")
    starts, ends = both[: len(low)][order], both[len(low) :][order]
    count = np.searchsorted(starts, ends + reach, side="right") - np.arange(len(order)) - 1
    first = np.repeat(np.arange(len(order)), count)
    second = runs(np.arange(1, len(order) + 1), count)
    return order[first], order[second]


def within(
    position: FloatArray, group: IntArray, low: FloatArray, high: FloatArray, span_group: IntArray, reach: float
) -> tuple[IntArray, IntArray]:
    """Index pairs (span i, position j) of one group where the position is no further than reach from [low, high]."""
    if len(position) == 0 or len(low) == 0:
        empty = np.zeros(0, dtype=np.int64)
        return empty, empty
    keys = _keys(np.concatenate([position, low, high]), np.concatenate([group, span_group, span_group]), reach)
    key, start, end = np.split(keys, [len(position), len(position) + len(low)])
    order = np.argsort(key, kind="stable")
    ordered = key[order]
    first = np.searchsorted(ordered, start - reach, side="left")
    count = np.searchsorted(ordered, end + reach, side="right") - first
    return np.repeat(np.arange(len(low)), count), order[runs(first, count)]
