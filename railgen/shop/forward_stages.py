"""Passes and stages of a blank whose feed cannot go back: every hit lies at or behind the one before it.

The blank runs from its gauged end to the other. Locating holes that do not all lie ahead of the other hits take a
pass of their own, after which the blank is loaded anew; so do tools that are mounted later. Clamps move on the way,
each time as late as they can.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from railgen.holes.table import IntArray
from railgen.shop.hits import Hits
from railgen.shop.press_stages import Stage, Stages, blocks_of

SAME_STATION = 1e-3
"""mm along the blank within which the feed stands still: no program is written more finely."""


@dataclass
class _Run:
    """The run of a blank so far: stages that are over, and the one that is on, with the shifts still open to it."""

    stages: list[Stage] = field(default_factory=list)
    groups: list[IntArray] = field(default_factory=list)
    group_stage: list[int] = field(default_factory=list)
    feed_pass: int = 1
    mounting: int = 1
    shifts: set[int] = field(default_factory=lambda: {0})

    def close(self, shifts: set[int]) -> None:
        """End the stage that is on, if it has hits, at the least shift open to it; ``shifts`` are open to the next."""
        if self.group_stage and self.group_stage[-1] == len(self.stages):
            self.stages.append(Stage(self.feed_pass, self.mounting, min(self.shifts)))
        self.shifts = shifts

    def take(self, waiting: list[int], clear: list[set[int]]) -> list[int]:
        """Take the hits that one shift of the clamps still open leaves clear together; the others wait."""
        taken: list[int] = []
        left: list[int] = []
        for hit in waiting:
            common = self.shifts & clear[hit]
            (taken if common else left).append(hit)
            self.shifts = common or self.shifts
        if taken:
            self.groups.append(np.array(taken, dtype=np.int64))
            self.group_stage.append(len(self.stages))
        return left


def forward_stages(hits: Hits) -> tuple[Stages, list[IntArray]]:
    """The stages of all hits, and groups of hits in the order in which the feed reaches them.

    A group is hit at one place of the feed in one stage, in any order.
    """
    station = np.round(hits.lie.from_stop(hits.x) / SAME_STATION)
    clear = [set(np.flatnonzero(row).tolist()) for row in hits.clear]
    every = set(range(hits.clear.shape[1]))
    run, reached = _Run(), -np.inf
    for mounting, rows in blocks_of(hits):
        if station[rows].min() < reached:
            run.close({0})
            run.feed_pass += 1
        elif mounting != run.mounting:
            run.close({min(run.shifts)})
        run.mounting, reached = mounting, float(station[rows].max())
        for place in np.unique(station[rows]).tolist():
            waiting = run.take(rows[station[rows] == place].tolist(), clear)
            while waiting:
                run.close(every)
                waiting = run.take(waiting, clear)
    run.close(every)
    stage = np.zeros(len(hits), dtype=np.int64)
    for group, number in zip(run.groups, run.group_stage, strict=True):
        stage[group] = number
    return Stages(tuple(run.stages), stage, stage, np.arange(len(hits))), run.groups
