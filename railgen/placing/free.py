"""Free stations of a component on a rail: exact intervals, and what closes each of their ends."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from railgen.data.component import Component
from railgen.holes.sharing import merge_shared
from railgen.holes.table import SIDES, FloatArray, HoleTable, IntArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import rail_features, with_liner
from railgen.layout.place import sides_of
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.placing.alone import closed_alone
from railgen.placing.free_parts import closed_by_parts, moving_parts
from railgen.placing.meeting import closed_among, closed_beside
from railgen.placing.moving import Moving, moving
from railgen.placing.press_terms import closed_at_press
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

    hole: the moving component's hole, empty where a foot or an envelope closes them; other: the hole that it meets,
    empty where it meets none; components: its owners, or whose foot or envelope is met.
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
    return FreeStations(component.id, span, {side: _free(span, found) for side, found in closed.items()})


class Closed(NamedTuple):
    """Stations closed to a component on one side: spans, whose rows are of the moved table and of what stands still.

    A row is -1 where a foot or an envelope closes them, or is met; owner: the component whose foot or envelope is met,
    by its row in the catalogue, -1 where none is.
    """

    spans: Spans
    moved: HoleTable
    still: HoleTable
    owner: IntArray

    def bounds(self, rows: IntArray) -> Iterator[tuple[int, str, str, tuple[str, ...]]]:
        """Reason, hole, hole met and owners of what is met, of some of the intervals."""
        names = self.moved.names.components
        for index in rows.tolist():
            first, second, owner = (int(a[index]) for a in (self.spans.first, self.spans.second, self.owner))
            hole = self.moved.hole_id(first) if first >= 0 else ""
            other, owners = (self.still.hole_id(second), self.still.owners_of(second)) if second >= 0 else ("", ())
            yield int(self.spans.reason[index]), hole, other, (names[owner],) if owner >= 0 else owners


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
    everything = Pattern(order, table, limits, others)
    sides: dict[str, Closed] = {}
    own: Spans | None = None
    for side in sides_of(component, order.drive):
        moved = moving(component, side, window, order, catalogue, limits)
        # Both rails have one shape: what a component has closed by itself on one it has on the other, unless turned.
        own = _closed_to_itself(moved) if own is None or component.side == "turned" else own
        near = _near(table, side, moved, window, reach)
        still = Pattern(order, table.rows(near), limits)
        closed = joined([own, _closed_beside(moved, still, reach)])
        # Rows of what is near as those of all that stands.
        closed = replace(closed, second=np.where(closed.second >= 0, near[closed.second], -1))
        parts = moving_parts(component, side, window, moved.pattern, limits)
        met = closed_by_parts(moved, parts, everything, side)
        velocity = blank_velocity(order.rail, moved.pattern.table)
        press = _at_stations(moved, closed_at_press(moved.pattern, velocity))
        spans = joined([closed, press, closed_by_mates(moved, order, table), met.spans])
        nobody = np.full(len(spans) - len(met.spans), -1)
        sides[SIDES[side]] = Closed(spans, moved.pattern.table, table, np.concatenate([nobody, met.owner]))
    return sides


def without(standing: Placements, component: int) -> Placements:
    """Placements without those of one component, by its row in the catalogue."""
    kept = standing.component != component
    columns = (getattr(standing, name)[kept] for name in Placements.__dataclass_fields__)
    return Placements(*columns)


def _near(table: HoleTable, side: int, moved: Moving, window: Interval, reach: float) -> IntArray:
    """Rows of what stands on a side so near to the window that the component could meet it."""
    x = moved.pattern.table.station - moved.at
    low, high = window[0] + x.min(initial=0.0) - 2 * reach, window[1] + x.max(initial=0.0) + 2 * reach
    return np.flatnonzero((table.side == side) & (table.station >= low) & (table.station <= high))


def _closed_to_itself(moved: Moving) -> Spans:
    """Stations closed to the component whatever stands beside it, each interval by one feature or by two of its own."""
    velocity = blank_velocity(moved.pattern.rail, moved.pattern.table)
    alone = _at_stations(moved, closed_alone(moved.pattern, velocity).spans)
    found = joined([alone, closed_among(moved, velocity)])
    return found.at(found.low < found.high)


def _closed_beside(moved: Moving, still: Pattern, reach: float) -> Spans:
    """Stations closed to the component by what stands beside it, each interval by one pair or by holes on one line."""
    velocity = blank_velocity(moved.pattern.rail, moved.pattern.table)
    pairs = _at_stations(moved, closed_beside(moved, still, velocity, reach))
    found = joined([pairs, closed_on_lines(moved, still, velocity)])
    return found.at(found.low < found.high)


def _at_stations(moved: Moving, steps: Spans) -> Spans:
    """Steps from where each row stands as stations of the component, as far as the row is good for."""
    row = steps.first
    low = np.maximum(steps.low + moved.at[row], moved.low[row])
    high = np.minimum(steps.high + moved.at[row], moved.high[row])
    return Spans(low, high, steps.reason, row, steps.second)


def _free(window: Interval, told: Closed) -> tuple[FreeInterval, ...]:
    """What is left of a window, and what closes its ends: the first of the rules in order, then of the holes."""
    closed = told.spans
    some = np.flatnonzero(closed.low < closed.high)
    low, high = union(closed.low[some], closed.high[some])
    starts, ends = np.concatenate([[window[0]], high]), np.concatenate([low, [window[1]]])
    starts, ends = np.maximum(starts, window[0]), np.minimum(ends, window[1])

    def bound(at: float, edges: FloatArray) -> Bound | None:
        found = list(told.bounds(some[np.abs(edges[some] - at) <= 1e-9]))
        if not found:
            return None
        reason, hole, other, owners = min(found)
        return Bound(*REASONS[reason], hole, other, owners)

    return tuple(
        FreeInterval(start, end, bound(start, closed.high), bound(end, closed.low))
        for start, end in zip(starts.tolist(), ends.tolist(), strict=True)
        if start < end
    )


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
