"""Stages of a blank on the press: what must be hit before what, and where clamps and tools stand meanwhile.

Locating holes come first; hits in a clamp's dead zone wait until the clamps stand elsewhere; tools that do not fit in
the press wait until they are mounted. A stage is a time in which nothing of that changes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise, permutations

import numpy as np

from railgen.holes.table import NONE, BoolArray, IntArray
from railgen.shop.hits import Hits


@dataclass(frozen=True)
class Stage:
    """A time between changes: which pass of the blank, which mounting of tools, which of the clamps' shifts."""

    feed_pass: int
    mounting: int
    shift: int


@dataclass(frozen=True, eq=False)
class Stages:
    """The stages of one blank in order; hit i may be made in stages ``first[i]`` to ``last[i]``.

    ``chain`` (n,): hits with one number are made one after the other, in their order; a string whose hits need
    clamps in different places is several chains.
    """

    stages: tuple[Stage, ...]
    first: IntArray
    last: IntArray
    chain: IntArray

    @property
    def repositions(self) -> int:
        """How often the clamps are moved."""
        moves, now, number = 0, 0, 1
        for stage in self.stages:
            now = now if stage.feed_pass == number else 0  # loaded anew, the clamps stand at the first shift
            moves += stage.shift != now
            now, number = stage.shift, stage.feed_pass
        return moves

    @property
    def mountings(self) -> int:
        """How often tools are mounted after the blank was loaded."""
        mounted = [stage.mounting for stage in self.stages]
        return sum(a != b for a, b in pairwise(mounted))

    @property
    def pass_of(self) -> IntArray:
        """The pass of each stage, from 1."""
        return np.array([stage.feed_pass for stage in self.stages], dtype=np.int64)

    @property
    def passes(self) -> int:
        """How often the blank goes through the press."""
        return max((stage.feed_pass for stage in self.stages), default=1)


def press_stages(hits: Hits) -> Stages:
    """The stages of a blank whose feed may return, with the fewest moves of the clamps.

    Every hit is clear of the clamps in all stages that it may be made in.
    """
    chain = _chains(hits)
    blocks = list(blocks_of(hits))
    stands = _fewest_moves([_covers(_chain_clear(hits.clear, chain, rows)) for _, rows in blocks])
    stages: list[Stage] = []
    first, last = np.zeros(len(hits), dtype=np.int64), np.zeros(len(hits), dtype=np.int64)
    for (mounting, rows), shifts in zip(blocks, stands, strict=True):
        clear = _chain_clear(hits.clear, chain, rows)[:, list(shifts)]
        begin = clear.argmax(axis=1)
        # A later stage may make the hit too, as long as no stage between holds it under a clamp.
        held = ~clear & (np.arange(len(shifts)) >= begin[:, None])
        end = np.where(held.any(axis=1), held.argmax(axis=1), len(shifts)) - 1
        first[rows], last[rows] = len(stages) + begin, len(stages) + end
        stages += [Stage(1, mounting, shift) for shift in shifts]
    return Stages(tuple(stages), first, last, chain)


def blocks_of(hits: Hits) -> Iterator[tuple[int, IntArray]]:
    """Locating holes, then the rest, each by mounting, beginning with the tools that are in the press; with indices."""
    mountings = np.array([station.mounting for station in hits.stations], dtype=np.int64)[hits.station]
    now = 1
    for locating in (True, False):
        chosen = hits.locating == locating
        found = np.unique(mountings[chosen]).tolist()
        for mounting in sorted(found, key=lambda number: (number != now, number)):
            yield mounting, np.flatnonzero(chosen & (mountings == mounting))
            now = mounting


def _chains(hits: Hits) -> IntArray:
    """Number of each hit's chain: its own, or that of its string's hits which one place of the clamps leaves clear."""
    chain, common, number = np.empty(len(hits), dtype=np.int64), np.zeros(0, dtype=np.bool_), -1
    for hit in range(len(hits)):
        joined = hit > 0 and hits.string[hit] != NONE and hits.string[hit] == hits.string[hit - 1]
        both = common & hits.clear[hit] if joined else hits.clear[hit]
        if not joined or not both.any():
            number, both = number + 1, hits.clear[hit]
        chain[hit], common = number, both
    return chain


def _chain_clear(clear: BoolArray, chain: IntArray, rows: IntArray) -> BoolArray:
    """Of each of some hits, the shifts at which its whole chain is clear, (len(rows), shifts)."""
    whole = np.ones((int(chain.max(initial=-1)) + 1, clear.shape[1]), dtype=np.bool_)
    np.logical_and.at(whole, chain, clear)
    return whole[chain[rows]]


def _covers(clear: BoolArray) -> list[tuple[int, ...]]:
    """The shortest sequences of shifts in which every hit is clear at one of them."""
    shifts = range(clear.shape[1])
    for count in range(1, clear.shape[1] + 1):
        found = [row for row in permutations(shifts, count) if clear[:, list(row)].any(axis=1).all()]
        if found:
            return found
    raise ValueError("a hit is under a clamp at every shift")


def _fewest_moves(choices: list[list[tuple[int, ...]]]) -> list[tuple[int, ...]]:
    """One sequence a block, so that the clamps, at shift 0 when loaded, move least often."""
    best: dict[int, tuple[int, list[tuple[int, ...]]]] = {0: (0, [])}
    for block in choices:
        reached: dict[int, tuple[int, list[tuple[int, ...]]]] = {}
        for now, (moves, taken) in best.items():
            for shifts in block:
                total = moves + (shifts[0] != now) + len(shifts) - 1
                if shifts[-1] not in reached or total < reached[shifts[-1]][0]:
                    reached[shifts[-1]] = (total, [*taken, shifts])
        best = reached
    return min(best.values(), key=lambda found: found[0])[1]
