"""What stands on one side of a frame while it fills up, and what of it is near a stretch of the rail."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from typing import NamedTuple

from railgen.placing.bodies import Body, Key


class Standing(NamedTuple):
    """A component's instance at its station; low, high: how far it reaches along the rail, inboard: across; mm."""

    station: float
    key: Key
    low: float
    high: float
    inboard: float


class Side:
    """Instances on one side, kept in order of their stations from the first time that they are asked for."""

    def __init__(self) -> None:
        self._rows: list[Standing] = []
        self._stations: list[float] | None = None
        self._ahead = self._behind = 0.0
        self._inboard = -float("inf")

    def copy(self) -> Side:
        """The same once more; what is added to one does not stand on the other."""
        other = Side()
        other._rows, other._stations = self._rows[:], self._stations
        other._ahead, other._behind, other._inboard = self._ahead, self._behind, self._inboard
        return other

    def add(self, body: Body, station: float) -> None:
        """Stands an instance at a station."""
        self._rows.append(Standing(station, body.key, station + body.low, station + body.high, body.inboard))
        self._stations = None
        self._ahead, self._behind = max(self._ahead, -body.low), max(self._behind, body.high)
        self._inboard = max(self._inboard, body.inboard)

    def near(self, low: float, high: float, reach: float, inboard: float) -> Iterator[Standing]:
        """Those that lie no further from a stretch than reach along the rail, and reach so far inboard, mm."""
        if inboard > self._inboard:
            return
        if self._stations is None:
            self._rows.sort()
            self._stations = [row.station for row in self._rows]
        # A micrometre more on either side: each is asked itself.
        first = bisect_left(self._stations, low - reach - self._behind - 1e-3)
        last = bisect_right(self._stations, high + reach + self._ahead + 1e-3)
        for row in self._rows[first:last]:
            if row.high + reach > low and row.low - reach < high and row.inboard >= inboard:
                yield row
