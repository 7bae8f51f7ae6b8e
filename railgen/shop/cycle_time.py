"""Cycle time of a blank on the press, from one blank's loading to the next, and its parts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import FloatArray, IntArray
from railgen.shop.hits import Hits
from railgen.shop.motion import move_times, step_times
from railgen.shop.press_stages import Stages


@dataclass(frozen=True)
class CycleTime:
    """Parts of a cycle time, s: loading, moves, what changes of tool add to them, hits, clamps moved, tools mounted."""

    load: float
    moves: float
    changes: float
    hits: float
    repositions: float
    mountings: float

    @property
    def total(self) -> float:
        """The whole, s."""
        return self.load + self.moves + self.changes + self.hits + self.repositions + self.mountings

    @property
    def ordered(self) -> float:
        """What depends on the order: moves and changes, s."""
        return self.moves + self.changes


def cycle_time(hits: Hits, stages: Stages, order: IntArray) -> CycleTime:
    """The cycle time of hits (indices, n) in an order.

    The axes start at the gauge corner, where blanks are loaded, and are back there for the next one; a feed that
    cannot go back runs each pass out to the blank's other end. The first tool is brought while the blank is
    loaded; clamps are moved and tools mounted while the axes stand.
    """
    press = hits.press
    x, y, station = path_of(hits, stages, order)
    moves = move_times(np.diff(x), np.diff(y), press)
    changed = (station[1:] != station[:-1]) & (station[1:] >= 0) & (station[:-1] >= 0)
    steps = step_times(moves, changed, press)
    # Between two passes the blank is brought back: that is loading, not a move.
    carried = np.isnan(moves)
    moves, steps = np.where(carried, 0.0, moves), np.where(carried, 0.0, steps)
    return CycleTime(
        load=press.load_time * stages.passes,
        moves=float(moves.sum()),
        changes=float((steps - moves).sum()),
        hits=press.hit_time * len(order),
        repositions=press.reposition_time * stages.repositions,
        mountings=press.mount_time * stages.mountings,
    )


def path_of(hits: Hits, stages: Stages, order: IntArray) -> tuple[FloatArray, FloatArray, IntArray]:
    """x, y (mm) and tool station of every stop in order, loading place and run-out included (station -1).

    Passes are parted by a stop at NaN.
    """
    stop = hits.lie.stop_x
    far = stop if hits.press.feed_may_return else hits.lie.length - stop
    x, y, station = [stop], [0.0], [-1]
    pass_of = stages.pass_of[stages.first[order]]
    columns = zip(
        hits.x[order].tolist(), hits.y[order].tolist(), hits.station[order].tolist(), pass_of.tolist(), strict=True
    )
    now = 1
    for hit_x, hit_y, hit_station, number in columns:
        if number != now:
            x, y, station = [*x, far, np.nan, stop], [*y, 0.0, np.nan, 0.0], [*station, -1, -1, -1]
            now = number
        x.append(hit_x)
        y.append(hit_y)
        station.append(hit_station)
    return (
        np.array([*x, far], dtype=np.float64),
        np.array([*y, 0.0], dtype=np.float64),
        np.array([*station, -1], dtype=np.int64),
    )
