"""Transverse lines: how many features they meet, and the longest runs of lines that meet too many."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.holes.table import FloatArray


@dataclass(frozen=True)
class Run:
    """A run of lines along the rail on each of which more than the allowed number of extents lie."""

    start: float
    end: float
    greatest: int


def crowded_runs(low: FloatArray, high: FloatArray, allowed: float) -> Iterator[Run]:
    """Longest runs of lines x with more than ``allowed`` of the extents [low, high] (n each, mm) on them.

    Extents that only touch, within 1e-6 mm, do not count as lying on one line.
    """
    shrunk = np.maximum(high - VALUE_TOLERANCE, low)
    position = np.concatenate([low, shrunk])
    change = np.concatenate([np.ones(len(low), dtype=np.int64), np.full(len(high), -1)])
    # Where extents begin and end at one place, those that begin count first: extents are closed.
    order = np.lexsort((-change, position))
    count = np.cumsum(change[order])
    position = position[order]
    crowded = count > allowed + VALUE_TOLERANCE
    starts = np.flatnonzero(crowded & ~np.concatenate(([False], crowded[:-1])))
    for start in starts:
        after = np.flatnonzero(~crowded[start:])
        end = start + int(after[0])
        yield Run(float(position[start]), float(position[end]), int(count[start:end].max()))
