"""Neighbour search: pairs of features near each other along the rail, by one sorted sweep."""

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
    second = _runs(np.arange(1, len(ordered) + 1), count)
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
    return np.repeat(np.arange(len(key)), count), order[_runs(start, count)]


def _keys(position: FloatArray, group: IntArray, reach: float) -> FloatArray:
    low = position.min()
    return np.asarray((position - low) + group * (position.max() - low + 4 * reach + 1.0))


def _runs(start: IntArray, count: IntArray) -> IntArray:
    """start[i], start[i] + 1, ... count[i] numbers of each, one after the other."""
    ends = np.cumsum(count)
    total = int(ends[-1]) if len(ends) else 0
    return np.arange(total) - np.repeat(ends - count, count) + np.repeat(start, count)
