"""What closed stations depend on beside the stations themselves, and everything remembered for it.

Orders with one section, steel, liner section and limit set share a setting: a rail whose ends are far off, without
taper, zones or named stations. On it stand all components of the catalogue, each at station 0, the right way round and
turned where it may be. They meet each other there: once for each pair on one side, and once for each frame width
between the sides.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
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
from railgen.placing.boxes import Boxes, box_spans, boxes_of
from railgen.placing.fasteners import Fasteners, fasteners_near_feet, fasteners_of, lengths_before_boxes
from railgen.placing.feet import Prints, foot_spans, prints_of
from railgen.placing.foot_terms import closed_feet
from railgen.placing.holes import Holes, hole_spans, holes_of, shared_spans, stud_spans, studs_of
from railgen.placing.problem import Relative
from railgen.placing.reach import REACHING, SPACE, greatest_reach
from railgen.placing.spans import Spans, joined, split, union
from railgen.placing.tail import blank_velocity
from railgen.placing.tree import Solution
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

    low, high: how far it reaches, mm; low_steel, high_steel: how far its features and feet do; inboard: how far across
    the frame it fills the space or needs it for a wrench, from its own web; alone: where it may not stand whatever
    stands beside it; on_rail, in_liner: its holes by their rows in the setting's; studs, feet, fasteners, boxes: those
    by theirs.
    """

    key: Key
    low: float
    high: float
    low_steel: float
    high_steel: float
    inboard: float
    alone: EndSpans
    on_rail: IntArray
    in_liner: IntArray
    studs: IntArray
    feet: IntArray
    fasteners: IntArray
    boxes: IntArray


@dataclass(frozen=True)
class Dependent:
    """Relative stations closed only where one of two components goes through a liner, or only where it does not.

    of_first: whether it is the first of the two; inside: whether they are closed within the liner.
    """

    spans: Spans
    closed: Union
    of_first: bool
    inside: bool


@dataclass(frozen=True)
class PairSpans:
    """Relative stations closed to the first of two components: all reasons, and their union.

    in_liner: what is closed where both go through a liner; liner: the union of it, None where that is nothing more;
    dependent: what is closed where one of them does, or does not; shared: where the two have holes that are validly
    one, whose owners the intervals do not know.
    """

    spans: Spans
    closed: Union
    in_liner: Spans
    liner: Union | None
    dependent: tuple[Dependent, ...] = ()
    shared: Union | None = None

    @cached_property
    def closes(self) -> bool:
        """Whether anything is closed at all."""
        return bool(len(self.spans) or len(self.in_liner) or self.dependent or self.shared)


@dataclass(frozen=True)
class Setting:
    """All components on one rail, and what has been found out about their pairs.

    reach: how far apart two components can be at most and yet break a limit, mm; relative and solved: what has been
    found out about floats, by all that it depends on (see floats).
    """

    order: ResolvedOrder
    catalogue: Catalogue
    limits: LimitTable
    reach: float
    relative: dict[Hashable, Relative] = field(default_factory=dict, repr=False)
    solved: dict[Hashable, Solution] = field(default_factory=dict, repr=False)
    _pairs: dict[tuple[Key, Key, float | None], PairSpans] = field(default_factory=dict, repr=False)
    _opposite: dict[float, Boxes] = field(default_factory=dict, repr=False)
    _clashes: dict[Key, tuple[Spans, Spans]] = field(default_factory=dict, repr=False)

    def pairs(self, a: Key, others: Sequence[Key], frame_width: float | None = None) -> list[PairSpans]:
        """A component against some others on its own side or, with a frame width (mm), on the opposite one."""
        missing = [b for b in dict.fromkeys(others) if (a, b, frame_width) not in self._pairs]
        if missing:
            self._meet(self.bodies[a], [self.bodies[b] for b in missing], frame_width)
        return [self._pairs[a, b, frame_width] for b in others]

    def clashes(self, key: Key) -> tuple[Spans, Spans]:
        """Features of one instance that are in error against each other, in the rail and in a liner."""
        if key not in self._clashes:
            body = self.bodies[key]
            i, j, _ = _every_pair(body.studs, [body.on_rail])
            studs = _studs_and_holes(self.studs, self.on_rail, i, j)[0].holding(0.0)
            self._clashes[key] = (
                joined([_own_clashes(self.on_rail, body.on_rail), studs]),
                _own_clashes(self.in_liner, body.in_liner),
            )
        return self._clashes[key]

    def _meet(self, a: Body, others: list[Body], frame_width: float | None) -> None:
        if frame_width is None:
            found = list(zip(*(source(self, a, others) for source in PAIR_SOURCES), strict=True))
            in_liner = _hole_pairs(self.in_liner, a.in_liner, [b.in_liner for b in others])
            shared = _shared(self, a, others)
        else:
            found = [(spans,) for spans in _box_pairs(self, a, others, self.boxes_opposite(frame_width))]
            in_liner, shared = [NO_SPANS] * len(others), [None] * len(others)
        lengths = _lengths(self, a, others, frame_width)
        for b, parts, liner, at_wrench, one in zip(others, found, in_liner, lengths, shared, strict=True):
            spans = joined([*parts, at_wrench[0]])
            closed = union(spans.low, spans.high)
            both = union(np.concatenate([closed[0], liner.low]), np.concatenate([closed[1], liner.high]))
            more = _length(both) > _length(closed) + 1e-6
            in_liner_too = union(liner.low, liner.high) if more else None
            self._pairs[a.key, b.key, frame_width] = PairSpans(spans, closed, liner, in_liner_too, at_wrench[1], one)

    @cached_property
    def pattern(self) -> Pattern:
        """Features, feet and envelopes of all components, those that may be turned twice."""
        rows = [(index, LH, 1, 0.0, 1.0) for index in range(len(self.catalogue.names.components))]
        turned = [row for row, c in enumerate(self.catalogue.library.components.values()) if c.side == "turned"]
        rows += [(index, RH, 1, 0.0, -1.0) for index in turned]
        stands = placements(rows)
        table = with_liner(self.order, rail_features(self.order, self.catalogue, stands))
        return Pattern(self.order, table, self.limits, stands)

    @cached_property
    def on_rail(self) -> Holes:
        """All holes in the rail."""
        return self._holes(RAIL)

    @cached_property
    def in_liner(self) -> Holes:
        """All holes that a liner would have."""
        return self._holes(LINER)

    @cached_property
    def studs(self) -> Holes:
        """All studs."""
        return studs_of(self.pattern, self._along)

    def _holes(self, part: int) -> Holes:
        return holes_of(self.pattern, np.flatnonzero(self.pattern.table.part == part), self._along)

    @cached_property
    def _along(self) -> FloatArray:
        return blank_velocity(self.order.rail, self.pattern.table)

    @cached_property
    def prints(self) -> Prints:
        """All feet."""
        return prints_of(self.pattern)

    @cached_property
    def fasteners(self) -> tuple[Fasteners, Fasteners]:
        """All screws and studs, where there is no liner and where there is."""
        within = fasteners_of(self.pattern)
        if self.order.rail.liner is None:
            return within, within
        table = self.pattern.table
        bare = replace(self.order, rail=replace(self.order.rail, liner=None))
        rail_rows = table.rows(table.part == RAIL)
        return fasteners_of(Pattern(bare, rail_rows, self.limits, self.pattern.placements)), within

    @cached_property
    def boxes(self) -> Boxes:
        """All envelopes, as the rail sees them that carries their components."""
        return boxes_of(self.pattern)

    def boxes_opposite(self, frame_width: float) -> Boxes:
        """All envelopes, as the opposite rail sees them."""
        if frame_width not in self._opposite:
            self._opposite[frame_width] = self.boxes.across_from(frame_width)
        return self._opposite[frame_width]

    @cached_property
    def bodies(self) -> dict[Key, Body]:
        """All components by key."""
        table, along = self.pattern.table, self.pattern.reach[0]
        count = len(self.catalogue.names.components)
        number = table.component + count * (table.side == RH)
        stands = self.pattern.placements
        of_box = (stands.component + count * (stands.side == RH))[self.boxes.placement]
        feet = self.prints.feet
        of_foot = (stands.component + count * (stands.side == RH))[feet.placement]
        low, high = np.zeros(2 * count), np.zeros(2 * count)
        for numbers, least, most in (
            (number, table.station - along, table.station + along),
            (of_foot, feet.low[:, 0], feet.high[:, 0]),
        ):
            np.minimum.at(low, numbers, least)
            np.maximum.at(high, numbers, most)
        low_steel, high_steel = low.copy(), high.copy()
        np.minimum.at(low, of_box, self.boxes.low[:, 0])
        np.maximum.at(high, of_box, self.boxes.high[:, 0])
        marks = marks_of(self.order)
        of_rows = closed_alone(self.pattern, self._along).moved(-marks).split(number, 2 * count)
        of_feet = closed_feet(self.pattern).moved(-marks).split(of_foot, 2 * count)
        alone = [rows.with_feet(feet) for rows, feet in zip(of_rows, of_feet, strict=True)]
        parts = (
            split(numbers, 2 * count)
            for numbers in (
                number[self.on_rail.row],
                number[self.in_liner.row],
                number[self.studs.row],
                of_foot,
                number[self.fasteners[0].row],
                of_box,
            )
        )
        ends = [
            array.tolist() for array in (low, high, low_steel, high_steel, self._inboard(number, of_box, 2 * count))
        ]
        keys = [(index, direction) for direction in (1, -1) for index in range(count)]
        rows = zip(keys, *ends, alone, *parts, strict=True)
        return {row[0]: Body(*row) for row in rows}

    def _inboard(self, number: IntArray, of_box: IntArray, count: int) -> FloatArray:
        """How far inboard each component fills the space, or needs it to turn its screws, mm."""
        inboard = np.zeros(count)
        np.maximum.at(inboard, of_box, self.boxes.high[:, 1])
        for fasteners in self.fasteners:
            far = np.where(fasteners.face == 0, 0.0, fasteners.place[:, 1] + fasteners.half[:, 1] + fasteners.radius)
            np.maximum.at(inboard, number[fasteners.row], far)
            np.maximum.at(inboard, number[fasteners.row], fasteners.seats[:, 1] + fasteners.length[:, 1])
        return inboard

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


def _envelopes(setting: Setting, a: Body, others: list[Body]) -> list[Spans]:
    return _box_pairs(setting, a, others, setting.boxes)


def _studs(setting: Setting, a: Body, others: list[Body]) -> list[Spans]:
    found: list[list[Spans]] = [[] for _ in others]
    for mine, theirs, one, other in (
        (a.studs, [b.on_rail for b in others], setting.studs, setting.on_rail),
        (a.on_rail, [b.studs for b in others], setting.on_rail, setting.studs),
    ):
        i, j, number = _every_pair(mine, theirs)
        if not len(i):
            continue
        spans, pair = _studs_and_holes(one, other, i, j)
        for parts, rows in zip(found, split(number[pair], len(others)), strict=True):
            parts.append(spans.at(rows))
    return [joined(parts) for parts in found]


def _studs_and_holes(one: Holes, other: Holes, i: IntArray, j: IntArray) -> tuple[Spans, IntArray]:
    return stud_spans(one, other, i, j, one.velocity[i])


def _feet(setting: Setting, a: Body, others: list[Body]) -> list[Spans]:
    i, j, number = _every_pair(a.feet, [b.feet for b in others])
    found = foot_spans(setting.pattern, setting.prints, setting.prints, i, j) if len(i) else NO_SPANS
    return _told_apart(found, found.second, j, number, len(others))


def _fasteners_and_feet(setting: Setting, a: Body, others: list[Body]) -> list[Spans]:
    fasteners, feet = setting.fasteners[0], setting.prints.feet
    i, j, number = _every_pair(a.fasteners, [b.feet for b in others])
    mine = fasteners_near_feet(setting.pattern, fasteners, feet, i, j) if len(i) else NO_SPANS
    found = _told_apart(mine, mine.second, j, number, len(others))
    i, j, number = _every_pair(a.feet, [b.fasteners for b in others])
    theirs = fasteners_near_feet(setting.pattern, fasteners, feet, j, i).seen_from_other() if len(i) else NO_SPANS
    more = _told_apart(theirs, theirs.second, j, number, len(others))
    return [joined(both) for both in zip(found, more, strict=True)]


PAIR_SOURCES: tuple[PairSource, ...] = (_rail_holes, _studs, _envelopes, _feet, _fasteners_and_feet)
"""Everything that closes stations by how two components on one side stand to each other, whatever lies inside."""

NO_SPANS = joined([])


def _box_pairs(setting: Setting, a: Body, others: list[Body], theirs: Boxes) -> list[Spans]:
    i, j, number = _every_pair(a.boxes, [b.boxes for b in others])
    found = box_spans(setting.pattern, setting.boxes, theirs, i, j) if len(i) else NO_SPANS
    return _told_apart(found, found.second, j, number, len(others))


def _told_apart(found: Spans, second: IntArray, j: IntArray, number: IntArray, count: int) -> list[Spans]:
    """Intervals of each of some others by what they meet there, which is no row of a table."""
    if not len(found):
        return [NO_SPANS] * count
    number_of = np.full(int(j.max()) + 1, -1)
    number_of[j] = number
    nothing = np.full(len(found), -1)
    spans = Spans(found.low, found.high, found.reason, nothing, nothing)
    return [spans.at(rows) for rows in split(number_of[second], count)]


def _lengths(
    setting: Setting, a: Body, others: list[Body], frame_width: float | None
) -> list[tuple[Spans, tuple[Dependent, ...]]]:
    """Where envelopes leave too little length before screws, and where only in a liner or only beside one."""
    boxes = setting.boxes if frame_width is None else setting.boxes_opposite(frame_width)
    found: list[tuple[list[Spans], list[Dependent]]] = [([], []) for _ in others]
    for of_first in (True, False):
        screws, theirs = ("fasteners", "boxes") if of_first else ("boxes", "fasteners")
        i, j, number = _every_pair(getattr(a, screws), [getattr(b, theirs) for b in others])
        if not len(i):
            continue
        bare, within = setting.fasteners
        always = _before_boxes(setting, bare, boxes, i, j, of_first)
        depending = []
        if within is not bare:
            in_liner = _before_boxes(setting, within, boxes, i, j, of_first)
            one, other = (closed.first * (int(j.max()) + 1) + closed.second for closed in (always, in_liner))
            depending = [(always.at(~np.isin(one, other)), False), (in_liner.at(~np.isin(other, one)), True)]
            always = always.at(np.isin(one, other))
        for (spans, _), mine in zip(found, _told_apart(always, always.second, j, number, len(others)), strict=True):
            spans.append(mine)
        for closed, inside in depending:
            parts = _told_apart(closed, closed.second, j, number, len(others))
            for (_, dependent), mine in zip(found, parts, strict=True):
                if len(mine):
                    dependent.append(Dependent(mine, union(mine.low, mine.high), of_first, inside))
    return [(joined(spans), tuple(dependent)) for spans, dependent in found]


def _before_boxes(
    setting: Setting, fasteners: Fasteners, boxes: Boxes, i: IntArray, j: IntArray, of_first: bool
) -> Spans:
    """Where envelopes are before screws, of which the first of two components has one kind and the second the other."""
    if of_first:
        return lengths_before_boxes(setting.pattern, fasteners, boxes, i, j)
    return lengths_before_boxes(setting.pattern, fasteners, boxes, j, i).seen_from_other()


def _shared(setting: Setting, a: Body, others: list[Body]) -> list[Union | None]:
    """Where two components have holes that are validly one."""
    i, j, number = _every_pair(a.on_rail, [b.on_rail for b in others])
    low, high, pair = shared_spans(setting.on_rail, setting.on_rail, i, j)
    if not len(pair):
        return [None] * len(others)
    rows = split(number[pair], len(others))
    return [union(low[some], high[some]) if len(some) else None for some in rows]


def _every_pair(mine: IntArray, theirs: list[IntArray]) -> tuple[IntArray, IntArray, IntArray]:
    """Rows of one body against rows of each other, and the other's number."""
    counts = [len(rows) for rows in theirs]
    together = np.concatenate(theirs)
    number = np.repeat(np.arange(len(theirs)), counts)
    return np.repeat(mine, len(together)), np.tile(together, len(mine)), np.tile(number, len(mine))


def _hole_pairs(holes: Holes, mine: IntArray, theirs: list[IntArray]) -> list[Spans]:
    """Spans of some holes against those of each other component."""
    i, j, number = _every_pair(mine, theirs)
    spans, pair = hole_spans(holes, holes, i, j)
    return [spans.at(rows) for rows in split(number[pair], len(theirs))]


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
    reach = max(greatest_reach(order, key.catalogue, limits, rules) for rules in (REACHING, SPACE))
    return Setting(plain, key.catalogue, limits, reach)


def marks_of(order: ResolvedOrder) -> FloatArray:
    """Stations of the ends of rail and liner as ``alone`` counts them, mm."""
    rail = order.rail
    start, end = (rail.liner.start, rail.liner.end) if rail.liner else (0.0, 0.0)
    return np.array([0.0, rail.front, rail.rear, start, end])
