"""What closed stations depend on beside the stations themselves, and everything remembered for it.

Orders with one section, steel, liner section and limit set share a setting: a rail whose ends are far off, without
taper, zones or named stations. On it stand all components of the catalogue, each at station 0, the right way round and
turned where it may be. They meet each other there: once for each pair.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np

from railgen.frame.liner import LinerShape
from railgen.frame.rail import RailShape
from railgen.holes.table import LH, LINER, RAIL, RH, FloatArray, IntArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import rail_features, with_liner
from railgen.layout.place import placements
from railgen.layout.plan import ResolvedOrder
from railgen.placing.alone import EndSpans, closed_alone
from railgen.placing.holes import Holes, hole_spans, holes_of
from railgen.placing.reach import greatest_reach
from railgen.placing.spans import Spans, joined, split, union
from railgen.placing.tail import blank_velocity
from railgen.rules.limits import LimitTable, limit_table
from railgen.rules.pattern import Pattern
from railgen.rules.spacing import COINCIDENT

FAR = 100_000.0
"""mm; half the length of a setting's rail."""
Key = tuple[int, int]
"""A component by its row in the catalogue, and its direction: 1 the right way round, -1 turned."""
Union = tuple[FloatArray, FloatArray]


@dataclass(frozen=True)
class Body:
    """A component at station 0.

    low, high: how far its features reach, mm; alone: where it may not stand whatever stands beside it; on_rail,
    in_liner: its holes by their rows in the setting's.
    """

    key: Key
    low: float
    high: float
    alone: EndSpans
    on_rail: IntArray
    in_liner: IntArray


@dataclass(frozen=True)
class PairSpans:
    """Relative stations closed to the first of two components: all reasons, and their union.

    in_liner: what is closed where both go through a liner; liner: the union of it, None where that is nothing more.
    """

    spans: Spans
    closed: Union
    in_liner: Spans
    liner: Union | None


@dataclass(frozen=True)
class Setting:
    """All components on one rail, and what has been found out about their pairs."""

    order: ResolvedOrder
    catalogue: Catalogue
    limits: LimitTable
    reach: float
    _pairs: dict[tuple[Key, Key], PairSpans] = field(default_factory=dict, repr=False)
    _clashes: dict[Key, tuple[Spans, Spans]] = field(default_factory=dict, repr=False)

    def pairs(self, a: Key, others: Sequence[Key]) -> list[PairSpans]:
        """A component against some others."""
        missing = [b for b in dict.fromkeys(others) if (a, b) not in self._pairs]
        if missing:
            self._meet(self.bodies[a], [self.bodies[b] for b in missing])
        return [self._pairs[a, b] for b in others]

    def clashes(self, key: Key) -> tuple[Spans, Spans]:
        """Features of one instance that are in error against each other, in the rail and in a liner."""
        if key not in self._clashes:
            body = self.bodies[key]
            self._clashes[key] = (
                _own_clashes(self.on_rail, body.on_rail),
                _own_clashes(self.in_liner, body.in_liner),
            )
        return self._clashes[key]

    def _meet(self, a: Body, others: list[Body]) -> None:
        found = zip(*(source(self, a, others) for source in PAIR_SOURCES), strict=True)
        in_liner = _hole_pairs(self.in_liner, a.in_liner, [b.in_liner for b in others])
        for b, parts, liner in zip(others, found, in_liner, strict=True):
            spans = joined(parts)
            closed = union(spans.low, spans.high)
            both = union(np.concatenate([closed[0], liner.low]), np.concatenate([closed[1], liner.high]))
            more = _length(both) > _length(closed) + 1e-6
            in_liner_too = union(liner.low, liner.high) if more else None
            self._pairs[a.key, b.key] = PairSpans(spans, closed, liner, in_liner_too)

    @cached_property
    def pattern(self) -> Pattern:
        """Features of all components, those that may be turned twice."""
        rows = [(index, LH, 1, 0.0, 1.0) for index in range(len(self.catalogue.names.components))]
        turned = [row for row, c in enumerate(self.catalogue.library.components.values()) if c.side == "turned"]
        rows += [(index, RH, 1, 0.0, -1.0) for index in turned]
        table = with_liner(self.order, rail_features(self.order, self.catalogue, placements(rows)))
        return Pattern(self.order, table, self.limits)

    @cached_property
    def on_rail(self) -> Holes:
        """All holes in the rail."""
        return self._holes(RAIL)

    @cached_property
    def in_liner(self) -> Holes:
        """All holes that a liner would have."""
        return self._holes(LINER)

    def _holes(self, part: int) -> Holes:
        return holes_of(self.pattern, np.flatnonzero(self.pattern.table.part == part), self._along)

    @cached_property
    def _along(self) -> FloatArray:
        return blank_velocity(self.order.rail, self.pattern.table)

    @cached_property
    def bodies(self) -> dict[Key, Body]:
        """All components by key."""
        table, along = self.pattern.table, self.pattern.reach[0]
        count = len(self.catalogue.names.components)
        number = table.component + count * (table.side == RH)
        low, high = np.zeros(2 * count), np.zeros(2 * count)
        np.minimum.at(low, number, table.station - along)
        np.maximum.at(high, number, table.station + along)
        alone = closed_alone(self.pattern, self._along).moved(-marks_of(self.order)).split(number, 2 * count)
        on_rail, in_liner = (split(number[holes.row], 2 * count) for holes in (self.on_rail, self.in_liner))
        keys = [(index, direction) for direction in (1, -1) for index in range(count)]
        return {
            key: Body(key, float(low[n]), float(high[n]), alone[n], on_rail[n], in_liner[n])
            for n, key in enumerate(keys)
        }

    @cached_property
    def is_exact(self) -> bool:
        """Whether overlapping holes are in error everywhere, as the intervals take for granted."""
        return all(
            any(
                entry.row.error is not None and entry.row.error >= least and entry.row.when is None
                for entry in self.limits.rows.get((rule, "pair"), ())
            )
            for rule, least in (("duplicate-hole", COINCIDENT - 1e-9), ("size-conflict", 0.0))
        )


PairSource = Callable[[Setting, Body, list[Body]], list[Spans]]
"""Where a body may not stand, seen from each of some others: in error under some rules on every rail."""


def _rail_holes(setting: Setting, a: Body, others: list[Body]) -> list[Spans]:
    return _hole_pairs(setting.on_rail, a.on_rail, [b.on_rail for b in others])


PAIR_SOURCES: tuple[PairSource, ...] = (_rail_holes,)
"""Everything that closes stations by how two components stand to each other."""


def _hole_pairs(holes: Holes, mine: IntArray, theirs: list[IntArray]) -> list[Spans]:
    """Spans of some holes against those of each other component."""
    counts = [len(rows) for rows in theirs]
    together = np.concatenate(theirs)
    i = np.repeat(mine, len(together))
    j = np.tile(np.arange(len(together)), len(mine))
    spans, pair = hole_spans(holes, holes, i, together[j])
    number = np.repeat(np.arange(len(theirs)), counts)[j[pair]]
    return [spans.at(rows) for rows in split(number, len(theirs))]


def _own_clashes(holes: Holes, rows: IntArray) -> Spans:
    i, j = np.triu_indices(len(rows), 1)
    return hole_spans(holes, holes, rows[i], rows[j])[0].holding(0.0)


def _length(closed: Union) -> float:
    return float(np.sum(closed[1] - closed[0]))


@dataclass(frozen=True, eq=False)
class _Same:
    """What a setting depends on, as a key: the catalogue by identity; the order is any of those that share it."""

    catalogue: Catalogue
    rest: tuple[object, ...]
    order: ResolvedOrder

    def __hash__(self) -> int:
        return hash((id(self.catalogue), self.rest))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.catalogue is self.catalogue and other.rest == self.rest


def setting_of(order: ResolvedOrder, catalogue: Catalogue) -> Setting:
    """The setting that an order shares with others."""
    liner = order.rail.liner
    steels = (order.rail_steel, order.liner_steel)
    rest = (order.limit_set, order.rail.section, liner.section if liner else None, *map(repr, steels))
    return _setting(_Same(catalogue, rest, order))


@lru_cache(maxsize=64)
def _setting(key: _Same) -> Setting:
    order = key.order
    liner = order.rail.liner
    inner = LinerShape(-FAR / 2, FAR / 2, liner.section, order.rail.section) if liner else None
    endless = RailShape(order.rail.section, -FAR, FAR, None, inner)
    limits = limit_table(order.library, order.limit_set)
    plain = replace(order, rail=endless, zones={}, components=())
    return Setting(plain, key.catalogue, limits, greatest_reach(order, key.catalogue, limits))


def marks_of(order: ResolvedOrder) -> FloatArray:
    """Stations of the ends of rail and liner as ``alone`` counts them, mm."""
    rail = order.rail
    start, end = (rail.liner.start, rail.liner.end) if rail.liner else (0.0, 0.0)
    return np.array([0.0, rail.front, rail.rear, start, end])
