"""What closed stations depend on beside the stations themselves, and everything remembered for it.

Orders with one section, steel, liner section and limit set share a setting: a rail whose ends are far off, without
taper, zones or named stations. On it stand all components of the catalogue, each at station 0, the right way round and
turned where it may be. They meet each other there: once for each pair on one side, and once for each frame width
between the sides.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

from railgen.frame.liner import LinerShape
from railgen.frame.rail import RailShape
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import ResolvedOrder
from railgen.placing.bodies import Bodies, Key
from railgen.placing.pair_sources import PairSpans, own_clashes, pair_spans
from railgen.placing.problem import Relative
from railgen.placing.reach import REACHING, SPACE, greatest_reach
from railgen.placing.spans import Spans
from railgen.placing.tree import Solution
from railgen.rules.limits import limit_table

FAR = 100_000.0
"""mm; half the length of a setting's rail."""


@dataclass(frozen=True)
class Setting(Bodies):
    """All components on one rail, and what has been found out about their pairs.

    relative and solved: what has been found out about floats, by all that it depends on (see floats).
    """

    relative: dict[Hashable, Relative] = field(default_factory=dict, repr=False)
    solved: dict[Hashable, Solution] = field(default_factory=dict, repr=False)
    _pairs: dict[tuple[Key, Key, float | None], PairSpans] = field(default_factory=dict, repr=False)
    _clashes: dict[Key, tuple[Spans, Spans]] = field(default_factory=dict, repr=False)

    def pairs(self, a: Key, others: Sequence[Key], frame_width: float | None = None) -> list[PairSpans]:
        """A component against some others on its own side or, with a frame width (mm), on the opposite one."""
        missing = [b for b in dict.fromkeys(others) if (a, b, frame_width) not in self._pairs]
        if missing:
            met = pair_spans(self, self.bodies[a], [self.bodies[b] for b in missing], frame_width)
            self._pairs.update(((a, b, frame_width), pair) for b, pair in zip(missing, met, strict=True))
        return [self._pairs[a, b, frame_width] for b in others]

    def clashes(self, key: Key) -> tuple[Spans, Spans]:
        """Features of one instance that are in error against each other, in the rail and in a liner."""
        if key not in self._clashes:
            self._clashes[key] = own_clashes(self, self.bodies[key])
        return self._clashes[key]


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
    reach = max(greatest_reach(order, key.catalogue, limits, rules) for rules in (REACHING, SPACE))
    return Setting(plain, key.catalogue, limits, reach)
