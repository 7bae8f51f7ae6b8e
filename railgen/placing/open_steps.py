"""Whole steps from a component's station: those that closed stations leave, and the nearest of them that holds."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor

from railgen.placing.free import Interval

_TOLERANCE = 1e-9
"""Of a step: one that ends an interval lies in it."""
_FARTHEST = 50.0
"""mm between two stations tried where only trying tells; twice the way of the last one up to that."""
Holds = Callable[[int], bool]
"""Whether the component may stand so many steps rearward (forward below 0)."""
Past = Callable[[int, int], int | None]
"""From a step that does not hold, and a way (1 or -1), the next that might; None where only trying tells."""


@dataclass(frozen=True)
class Steps:
    """Steps of a pitch (mm) from a station (mm) within intervals of stations, which are ascending and apart."""

    at: float
    pitch: float
    intervals: tuple[Interval, ...]

    def next_open(self, step: int, way: int) -> int | None:
        """The first step at or beyond one, rearward (way 1) or forward (-1), that lies in an interval."""
        ranges = self._rearward if way > 0 else self._forward
        for first, last in ranges[bisect_left(ranges, step * way, key=lambda found: found[1]) :]:
            if first <= last:
                return way * max(first, step * way)
        return None

    @cached_property
    def _rearward(self) -> list[tuple[int, int]]:
        return self._ranges(1)

    @cached_property
    def _forward(self) -> list[tuple[int, int]]:
        return self._ranges(-1)

    def _ranges(self, way: int) -> list[tuple[int, int]]:
        """First and last step of each interval, counted the way; the last before the first where none lies in it."""
        found = []
        for interval in self.intervals[::way]:
            ends = sorted(way * (end - self.at) / self.pitch for end in interval)
            found.append((ceil(ends[0] - _TOLERANCE), floor(ends[1] + _TOLERANCE)))
        return found

    def least(self, holds: Holds, past: Past) -> int | None:
        """The step of the least size, other than 0, that is open and holds; of two equal ones the rearward."""
        best: int | None = None
        ways = {way: first for way in (1, -1) if (first := self.next_open(way, way)) is not None}
        for way in sorted(ways, key=lambda way: (abs(ways[way]), -way)):
            found = self._first(ways[way], way, best, holds, past)
            best = best if found is None else found
        return best

    def _first(self, step: int | None, way: int, beyond: int | None, holds: Holds, past: Past) -> int | None:
        """The first step the way that holds, if it is nearer than another one."""
        while step is not None and (beyond is None or (abs(step), -step) < (abs(beyond), -beyond)):
            if holds(step):
                return step
            following = past(step, way)
            step = self._tried(step, way, holds) if following is None else self.next_open(following, way)
        return None

    def _tried(self, step: int, way: int, holds: Holds) -> int | None:
        """The step beyond one at which trying, ever further on and then closing in, finds the component to stand."""
        stride, last = 1, step
        while (following := self.next_open(last + way * stride, way)) is not None:
            if holds(following):
                return self._closed_in(last, following, holds)
            last, stride = following, max(min(2 * stride, floor(_FARTHEST / self.pitch)), 1)
        return None

    def _closed_in(self, fails: int, stands: int, holds: Holds) -> int:
        while abs(stands - fails) > 1:
            middle = (fails + stands) // 2
            if self.next_open(middle, 1) == middle and holds(middle):
                stands = middle
            else:
                fails = middle
        return stands
