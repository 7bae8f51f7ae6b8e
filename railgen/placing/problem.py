"""Floats to be settled together, and nothing else: allowed stations, weights, and relative stations that are closed."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import ceil, floor, gcd

from railgen.placing.network import NEAR, Cost

Closed = tuple[tuple[float, ...], tuple[float, ...]]
"""Low and high ends of open intervals of relative stations, ascending and apart, mm."""
Box = tuple[tuple[int, int, int], ...]
"""Floats with the first and last of their stations, by place: not all of them may stand so at once."""
_FINEST = 1e6
"""Parts of a millimetre that grids are compared in."""
PLAIN, THROUGH, CROSSING, UNSURE = range(4)
"""Kinds of stations: off the liner, through it, across its end, or where no intervals of pairs hold."""
OPEN: Closed = (), ()


@dataclass(frozen=True)
class Float:
    """One float: the stations of its grid that are free to it, ascending, what it departs from, and at what price.

    kinds: where given, a number for each station; what is closed to a pair may differ between them.
    """

    name: str
    stations: tuple[float, ...]
    wanted: float
    pitch: float
    weight: float
    kinds: tuple[int, ...] = ()

    def cost(self, station: float) -> float:
        """Weighted departure, mm."""
        return self.weight * abs(station - self.wanted)

    @cached_property
    def by_cost(self) -> tuple[int, ...]:
        """Places of the stations, the nearest to the wanted one first, the rearward of two."""
        return tuple(sorted(range(len(self.stations)), key=lambda k: (abs(self.stations[k] - self.wanted), -k)))

    @cached_property
    def convex(self) -> Cost:
        """The greatest convex cost that is nowhere above that of the stations."""
        weight, behind = self.weight, bisect_left(self.stations, self.wanted - NEAR)
        last = len(self.stations) - 1
        if behind > last or behind == 0 or self.stations[behind] <= self.wanted + NEAR:
            best = self.stations[min(behind, last)]
            return Cost((best,), (-weight, weight), self.cost(best))
        ahead_at, behind_at = self.stations[behind - 1], self.stations[behind]
        ahead, beyond = self.cost(ahead_at), self.cost(behind_at)
        slope = (beyond - ahead) / (behind_at - ahead_at)
        return Cost((ahead_at, behind_at), (-weight, slope, weight), min(ahead, beyond))

    def place_of(self, station: float) -> int:
        """Place of a station, -1 where it is none of them."""
        k = bisect_left(self.stations, station - NEAR)
        return k if k < len(self.stations) and self.stations[k] <= station + NEAR else -1

    def kind(self, place: int) -> int:
        """The kind of a station."""
        return self.kinds[place] if self.kinds else 0

    def run(self, place: int) -> tuple[int, int]:
        """First and last of the stations of one kind round one."""
        if not self.kinds:
            return 0, len(self.stations) - 1
        first, last = place, place
        while first and self.kinds[first - 1] == self.kinds[place]:
            first -= 1
        while last + 1 < len(self.kinds) and self.kinds[last + 1] == self.kinds[place]:
            last += 1
        return first, last


@dataclass(frozen=True)
class Pair:
    """Relative stations, of float a from float b, that are closed: everywhere, or by the kinds of their stations."""

    a: int
    b: int
    closed: Closed
    by_kind: Mapping[tuple[int, int], Closed] | None = None

    def closed_at(self, kinds: tuple[int, int]) -> Closed:
        """What is closed to stations of two kinds."""
        return self.by_kind.get(kinds, self.closed) if self.by_kind else self.closed


@dataclass(frozen=True)
class Relative:
    """Stations of one float from another's that are closed to both, mm; others: where their kinds make a difference."""

    closed: Closed
    others: tuple[tuple[tuple[int, int], Closed], ...] = ()

    def by_kind(self, careful: bool) -> dict[tuple[int, int], Closed]:
        """What is closed to two kinds of stations, where it is not what is closed elsewhere.

        careful: intervals are believed where they need not hold, too.
        """
        found = dict(self.others)
        for kind in () if careful else range(4):
            found[UNSURE, kind] = found[kind, UNSURE] = OPEN
        return found


@dataclass(frozen=True)
class Problem:
    """Floats, their pairs, and what else they may not do at once."""

    floats: tuple[Float, ...]
    pairs: tuple[Pair, ...]
    boxes: tuple[Box, ...] = ()

    def cost(self, places: Sequence[int]) -> float:
        """Weighted departure of all floats at their stations, mm."""
        return sum(f.cost(f.stations[k]) for f, k in zip(self.floats, places, strict=True))

    @cached_property
    def beside(self) -> tuple[tuple[Pair, ...], ...]:
        """The pairs of each float."""
        return tuple(tuple(p for p in self.pairs if k in (p.a, p.b)) for k in range(len(self.floats)))

    def stands(self, k: int, places: Sequence[int]) -> bool:
        """Whether a float may stand so beside the others; one without a place, -1, does not stand yet."""
        clashes = any(
            places[pair.a] >= 0 and places[pair.b] >= 0 and self.clash(pair, places) for pair in self.beside[k]
        )
        return not clashes and not any(all(low <= places[j] <= high for j, low, high in box) for box in self.boxes)

    def clash(self, pair: Pair, places: Sequence[int]) -> bool:
        """Whether two floats stand at relative stations that are closed."""
        a, b = self.floats[pair.a], self.floats[pair.b]
        i, j = places[pair.a], places[pair.b]
        return holding(pair.closed_at((a.kind(i), b.kind(j))), a.stations[i] - b.stations[j]) is not None

    def only(self, kept: Sequence[int]) -> Problem:
        """Some of the floats, with what they share."""
        new = {k: n for n, k in enumerate(kept)}
        pairs = tuple(Pair(new[p.a], new[p.b], p.closed, p.by_kind) for p in self.pairs if p.a in new and p.b in new)
        boxes = tuple(
            tuple((new[k], first, last) for k, first, last in box)
            for box in self.boxes
            if all(k in new for k, _, _ in box)
        )
        return Problem(tuple(self.floats[k] for k in kept), pairs, boxes)


def holding(closed: Closed, at: float) -> tuple[float, float] | None:
    """The interval that a relative station lies in, None where it is open."""
    lows, highs = closed
    k = bisect_left(lows, at - NEAR) - 1
    return (lows[k], highs[k]) if k >= 0 and at < highs[k] - NEAR else None


def on_grid(closed: Closed, a: Float, b: Float) -> Closed:
    """Intervals as wide as no relative station of two grids lies nearer to them, those that then overlap as one."""
    step, offset = _common(a.pitch, b.pitch), a.wanted - b.wanted
    lows: list[float] = []
    highs: list[float] = []
    for low, high in zip(*closed, strict=True):
        outer_low = offset + step * floor((low - offset + NEAR) / step) if low > -1e9 else low
        outer_high = offset + step * ceil((high - offset - NEAR) / step) if high < 1e9 else high
        if highs and outer_low < highs[-1] - NEAR:
            highs[-1] = max(highs[-1], outer_high)
        else:
            lows.append(outer_low)
            highs.append(outer_high)
    return tuple(lows), tuple(highs)


def _common(a: float, b: float) -> float:
    """The widest grid that holds two grids, mm."""
    return gcd(round(a * _FINEST), round(b * _FINEST)) / _FINEST
