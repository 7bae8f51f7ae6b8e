"""What closed stations depend on beside the stations themselves, and everything remembered for it.

Orders with one section, steel, liner section and limit set share a setting: a rail whose ends are far off, without
taper, zones or named stations. On it each component is compiled once, and each pair of components met once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from railgen.frame.liner import LinerShape
from railgen.frame.rail import RailShape
from railgen.holes.table import LH, LINER, RAIL, RH, FloatArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import rail_features, with_liner
from railgen.layout.place import placements
from railgen.layout.plan import ResolvedOrder
from railgen.placing.alone import EndSpans, closed_alone
from railgen.placing.holes import Holes, hole_spans, holes_of
from railgen.placing.reach import greatest_reach
from railgen.placing.spans import Spans, union
from railgen.rules.limits import LimitTable, limit_table
from railgen.rules.pattern import Pattern
from railgen.rules.spacing import COINCIDENT

FAR = 100_000.0
"""mm; half the length of a setting's rail."""
Union = tuple[FloatArray, FloatArray]


@dataclass(frozen=True)
class Body:
    """A component at station 0, the right way round (direction 1) or turned (-1).

    low, high: how far its features reach, mm; alone: where it may not stand whatever stands beside it; clashes: pairs
    of its own features that are in error, (rail, liner) as intervals about 0.
    """

    component: int
    pattern: Pattern
    low: float
    high: float
    alone: EndSpans
    on_rail: Holes
    in_liner: Holes
    clashes: tuple[Spans, Spans]


PairSource = Callable[[Body, Body], Spans]
"""Where the first body may not stand, seen from the second one: in error under some rules on every rail."""


def _rail_holes(a: Body, b: Body) -> Spans:
    return _hole_pairs(a.on_rail, b.on_rail)


def _hole_pairs(a: Holes, b: Holes) -> Spans:
    i, j = np.indices((len(a.row), len(b.row))).reshape(2, -1)
    return hole_spans(a, b, i, j)


def _own_clashes(holes: Holes) -> Spans:
    i, j = np.triu_indices(len(holes.row), 1)
    return hole_spans(holes, holes, i, j).holding(0.0)


PAIR_SOURCES: tuple[PairSource, ...] = (_rail_holes,)
"""Everything that closes stations by how two components stand to each other."""


@dataclass(frozen=True)
class PairSpans:
    """Relative stations closed to the first of two components: all reasons, and their union.

    liner: what is closed besides where both go through a liner, None where that is nothing more.
    """

    sources: tuple[Spans, ...]
    closed: Union
    in_liner: Spans
    liner: Union | None


@dataclass(frozen=True)
class Setting:
    """Bodies and pairs of components, made when first asked for."""

    order: ResolvedOrder
    catalogue: Catalogue
    limits: LimitTable
    reach: float
    _bodies: dict[tuple[int, int], Body]
    _pairs: dict[tuple[int, int, int, int], PairSpans]

    def body(self, component: int, direction: int) -> Body:
        """A component by its row in the catalogue."""
        key = (component, direction)
        if key not in self._bodies:
            self._bodies[key] = self._compiled(component, direction)
        return self._bodies[key]

    def pair(self, a: tuple[int, int], b: tuple[int, int]) -> PairSpans:
        """Two components, each by row and direction."""
        key = (*a, *b)
        if key not in self._pairs:
            self._pairs[key] = self._met(self.body(*a), self.body(*b))
        return self._pairs[key]

    def _compiled(self, component: int, direction: int) -> Body:
        side = LH if direction > 0 else RH
        at_zero = placements([(component, side, 1, 0.0, float(direction))])
        table = with_liner(self.order, rail_features(self.order, self.catalogue, at_zero))
        pattern = Pattern(self.order, table, self.limits)
        along = pattern.reach[0]
        still = np.tile([1.0, 0.0], (len(table), 1))
        rail, liner = (holes_of(pattern, np.flatnonzero(table.part == part), still) for part in (RAIL, LINER))
        low = float(np.min(table.station - along, initial=0.0))
        high = float(np.max(table.station + along, initial=0.0))
        clashes = _own_clashes(rail), _own_clashes(liner)
        return Body(component, pattern, low, high, closed_alone(pattern), rail, liner, clashes)

    def _met(self, a: Body, b: Body) -> PairSpans:
        sources = tuple(source(a, b) for source in PAIR_SOURCES)
        closed = union(*(np.concatenate([getattr(s, end) for s in sources]) for end in ("low", "high")))
        in_liner = _hole_pairs(a.in_liner, b.in_liner)
        both = union(np.concatenate([closed[0], in_liner.low]), np.concatenate([closed[1], in_liner.high]))
        more = _length(both) > _length(closed) + 1e-6
        return PairSpans(sources, closed, in_liner, union(in_liner.low, in_liner.high) if more else None)

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


def _length(closed: Union) -> float:
    return float(np.sum(closed[1] - closed[0]))


@dataclass(frozen=True, eq=False)
class _Same:
    """A value as a key of a cache by identity, with what else it depends on."""

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
    return Setting(plain, key.catalogue, limits, greatest_reach(order, key.catalogue, limits), {}, {})


def marks_of(order: ResolvedOrder) -> FloatArray:
    """Stations of the ends of rail and liner as ``alone.EndSpans`` asks for them, mm."""
    rail = order.rail
    start, end = (rail.liner.start, rail.liner.end) if rail.liner else (0.0, 0.0)
    return np.array([0.0, rail.front, rail.rear, start, end])
