"""Free stations of a component on a rail: exact intervals, and what closes each of their ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from railgen.data.component import Component
from railgen.holes.sharing import merge_shared
from railgen.holes.table import SIDES, FloatArray, HoleTable
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import rail_features, with_liner
from railgen.layout.place import sides_of
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.placing.alone import closed_alone
from railgen.placing.meeting import closed_among, closed_beside
from railgen.placing.moving import Moving, moving
from railgen.placing.reach import greatest_reach
from railgen.placing.spans import REASONS, Spans, joined, union
from railgen.placing.tail import blank_velocity
from railgen.placing.whole import closed_by_mates, closed_on_lines
from railgen.rules.limits import LimitTable, limit_table
from railgen.rules.pattern import Pattern

Interval = tuple[float, float]


@dataclass(frozen=True)
class Bound:
    """What closes the stations beyond an end of a free interval.

    hole: the moving component's hole; other: the hole that it meets, empty where it meets none; components: its owners.
    """

    rule: str
    measure: str
    hole: str
    other: str
    components: tuple[str, ...]

    @property
    def words(self) -> str:
        """Rule and measure, the component's own hole, and what it meets."""
        between = " against ".join(part for part in (self.hole, self.other or " and ".join(self.components)) if part)
        return f"{self.rule} {self.measure}" + (f": {between}" if between else "")


@dataclass(frozen=True)
class FreeInterval:
    """Free stations from start to end (mm); ahead and behind: what closes those beyond, None at the window's end."""

    start: float
    end: float
    ahead: Bound | None
    behind: Bound | None


@dataclass(frozen=True)
class FreeStations:
    """Where a component could stand within a window: on each side it belongs on, and on all of them at once."""

    component: str
    window: Interval
    sides: dict[str, tuple[FreeInterval, ...]]

    @property
    def together(self) -> tuple[Interval, ...]:
        """Stations free on all sides."""
        return intersected([[(i.start, i.end) for i in found] for found in self.sides.values()])

    def nearest(self, wanted: float) -> float | None:
        """The station free on all sides that is nearest to the wanted one, the rearward of two; None without any."""
        return nearest_in(self.together, wanted)


def free_stations(
    component: Component,
    order: ResolvedOrder,
    catalogue: Catalogue,
    standing: Placements,
    window: Interval | None = None,
) -> FreeStations:
    """Free stations of a component's first instance beside everything that stands on an order's rails.

    standing: placements of the order; those of the component itself are left out. window: the rail's length by default.
    Limits of pairs that multiply the local depth are taken as in the middle of each stretch without another change.
    Raises ValueError for a component that repeats up to a station.
    """
    span = window or (order.rail.front, order.rail.rear)
    closed = closed_stations(component, order, catalogue, standing, span)
    return FreeStations(component.id, span, {side: _free(span, *found) for side, found in closed.items()})


class Closed(NamedTuple):
    """Stations closed to a component on one side: spans, whose rows are of the moved table and of what stands still."""

    spans: Spans
    moved: HoleTable
    still: HoleTable


def closed_stations(
    component: Component,
    order: ResolvedOrder,
    catalogue: Catalogue,
    standing: Placements,
    window: Interval,
    limits: LimitTable | None = None,
) -> dict[str, Closed]:
    """Stations of a window that are closed to a component's first instance, by side; limits: the order's by default.

    Raises ValueError for a component that repeats up to a station.
    """
    if limits is None:
        limits = limit_table(order.library, order.limit_set, order.order.limits.zones)
    others = without(standing, catalogue.index[component.id])
    table = with_liner(order, merge_shared(rail_features(order, catalogue, others)))
    reach = greatest_reach(order, catalogue, limits)
    sides = {}
    for side in sides_of(component, order.drive):
        moved = moving(component, side, window, order, catalogue, limits)
        still = Pattern(order, _near(table, side, moved, window, reach), limits)
        closed = joined([_closed(moved, still, reach), closed_by_mates(moved, order, table)])
        sides[SIDES[side]] = Closed(closed, moved.pattern.table, still.table)
    return sides


def without(standing: Placements, component: int) -> Placements:
    """Placements without those of one component, by its row in the catalogue."""
    kept = standing.component != component
    columns = (getattr(standing, name)[kept] for name in Placements.__dataclass_fields__)
    return Placements(*columns)


def _near(table: HoleTable, side: int, moved: Moving, window: Interval, reach: float) -> HoleTable:
    """What stands on a side so near to the window that the component could meet it."""
    x = moved.pattern.table.station - moved.at
    low, high = window[0] + x.min(initial=0.0) - 2 * reach, window[1] + x.max(initial=0.0) + 2 * reach
    return table.rows((table.side == side) & (table.station >= low) & (table.station <= high))


def _closed(moved: Moving, still: Pattern, reach: float) -> Spans:
    """Stations closed to the component, each interval by one feature alone or by one pair."""
    velocity = blank_velocity(moved.pattern.rail, moved.pattern.table)
    alone = closed_alone(moved.pattern, velocity).spans
    parts = [alone, closed_beside(moved, still, velocity, reach)]
    steps = joined(parts)
    row = steps.first
    low, high = (
        np.maximum(steps.low + moved.at[row], moved.low[row]),
        np.minimum(steps.high + moved.at[row], moved.high[row]),
    )
    clipped = Spans(low, high, steps.reason, row, steps.second)
    found = joined([clipped, closed_among(moved, velocity), closed_on_lines(moved, still, velocity)])
    return found.at(found.low < found.high)


def _free(window: Interval, closed: Spans, table: HoleTable, still: HoleTable) -> tuple[FreeInterval, ...]:
    """What is left of a window, and what closes its ends."""
    closed = closed.at(closed.low < closed.high)
    low, high = union(closed.low, closed.high)
    starts, ends = np.concatenate([[window[0]], high]), np.concatenate([low, [window[1]]])
    starts, ends = np.maximum(starts, window[0]), np.minimum(ends, window[1])

    def bound(at: float, edges: FloatArray, window_end: float) -> Bound | None:
        rows = np.flatnonzero(np.abs(edges - at) <= 1e-9)
        if not len(rows):
            return None
        return _bound(closed.at(rows), table, still)

    return tuple(
        FreeInterval(start, end, bound(start, closed.high, window[0]), bound(end, closed.low, window[1]))
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True)
        if start < end
    )


def _bound(closing: Spans, table: HoleTable, still: HoleTable) -> Bound:
    """The first of the reasons that close an end, in the order of the rules, then of the holes."""

    def told(index: int) -> tuple[int, str, str, tuple[str, ...]]:
        second = int(closing.second[index])
        other, owners = (still.hole_id(second), still.owners_of(second)) if second >= 0 else ("", ())
        return int(closing.reason[index]), table.hole_id(int(closing.first[index])), other, owners

    reason, hole, other, owners = min(told(index) for index in range(len(closing)))
    return Bound(*REASONS[reason], hole, other, owners)


def intersected(unions: Sequence[Sequence[Interval]]) -> tuple[Interval, ...]:
    """Stations that lie in every one of some unions of intervals (each ascending and apart)."""
    if not unions:
        return ()
    common = list(unions[0])
    for found in unions[1:]:
        both = [(max(a, c), min(b, d)) for a, b in common for c, d in found]
        common = sorted(interval for interval in both if interval[0] <= interval[1])
    return tuple(common)


def nearest_in(intervals: Sequence[Interval], wanted: float) -> float | None:
    """The station of some intervals nearest to a wanted one, the rearward one of two equally near."""
    nearest = [min(max(wanted, start), end) for start, end in intervals]
    return min(nearest, key=lambda station: (abs(station - wanted), -station), default=None)
