"""One order's rails while they fill up: which stations of a component's grid are closed, and by what."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from copy import copy

import numpy as np

from railgen.data.component import Component
from railgen.holes.table import LINER, RAIL, BoolArray, FloatArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.place import place_one, sides_of
from railgen.layout.plan import ResolvedOrder
from railgen.placing.bodies import Key, marks_of
from railgen.placing.pair_sources import Dependent, PairSpans, Union
from railgen.placing.reach import REACHING, SPACE, greatest_reach
from railgen.placing.setting import Setting, setting_of
from railgen.placing.spans import REASONS, Spans, covered, holds
from railgen.placing.standing import Side
from railgen.rules.limits import limit_table

Row = tuple[int, int, int, float, float]
"""Component, side, instance, station, direction: a row of Placements."""
Blocked = tuple[str, str]
"""Rule, and the other component (empty where a feature breaks it alone)."""


class Ground:
    """An order's rails and what has been placed on them so far."""

    def __init__(self, order: ResolvedOrder, catalogue: Catalogue) -> None:
        self.order, self.catalogue = order, catalogue
        self.setting: Setting = setting_of(order, catalogue)
        self.unsure = _unsure_spans(order, self.setting)
        self.rows: list[Row] = []
        self._sides = (Side(), Side())
        self._marks = marks_of(order)
        self._alone: dict[Key, Spans] = {}

    def copy(self) -> Ground:
        """The same once more; what is added to one does not stand on the other."""
        other = copy(self)
        other.rows = self.rows[:]
        other._sides = (self._sides[0].copy(), self._sides[1].copy())
        return other

    def without(self, component: Component) -> Ground:
        """The same without one component."""
        other = Ground(self.order, self.catalogue)
        index = self.catalogue.index[component.id]
        other._stand(row for row in self.rows if row[0] != index)
        return other

    def add(self, component: Component, station: float) -> None:
        """Stands a component, all its instances, at a station."""
        self._stand(place_one(component, station, self.order, self.catalogue))

    def _stand(self, rows: Iterable[Row]) -> None:
        for row in rows:
            index, side, _, at, direction = row
            self.rows.append(row)
            self._sides[side].add(self.setting.bodies[index, int(direction)], at)

    def alone(self, key: Key) -> Spans:
        """Where a component may not stand whatever stands beside it."""
        if key not in self._alone:
            self._alone[key] = self.setting.bodies[key].alone.moved(self._marks).spans
        return self._alone[key]

    def closed(self, component: Component, stations: FloatArray) -> tuple[BoolArray, BoolArray]:
        """Which stations (ascending) are closed to a component, and for which intervals cannot tell."""
        closed, unsure = np.zeros((2, len(stations)), dtype=np.bool_)
        met: set[tuple[Key, float, bool, Key, float]] = set()
        for key, side, offset in self.instances(component):
            at = stations + offset
            body = self.setting.bodies[key]
            alone = self.alone(key)
            lows, highs = [alone.low], [alone.high]
            for other, station, opposite, pair in self._pairs(key, side, float(at[0]), float(at[-1])):
                there = (key, offset, opposite, other, station)
                if there in met:
                    continue
                met.add(there)
                lows.append(pair.closed[0] + station)
                highs.append(pair.closed[1] + station)
                if pair.liner:
                    self._in_liner(key, other, station, at, pair.liner, closed, unsure)
                for dependent in pair.dependent:
                    self._depending(key, other, station, at, dependent, closed, unsure)
                if pair.shared:
                    unsure |= covered(at, pair.shared[0] + station, pair.shared[1] + station)
            closed |= covered(at, np.concatenate(lows), np.concatenate(highs))
            for low, high in self.unsure:
                unsure |= (at + body.high > low) & (at + body.low < high)
            clashes = self.setting.clashes(key)
            if len(clashes[LINER]) and not len(clashes[RAIL]):
                unsure |= ~self.beside(key, at)
        if not self.setting.is_exact:
            unsure[:] = True
        return closed | bool(self._own_clashes(component)), unsure

    def closed_at(self, component: Component, station: float) -> tuple[bool, bool]:
        """As ``closed``, of one station: whether it is closed, and whether intervals cannot tell."""
        closed, unsure = bool(self._own_clashes(component)), not self.setting.is_exact
        for key, side, offset in self.instances(component):
            at, body = station + offset, self.setting.bodies[key]
            alone = self.alone(key)
            closed = closed or bool(((alone.low < at) & (at < alone.high)).any())
            for other, where, _, pair in self._pairs(key, side, at, at):
                closed = closed or holds(pair.ends, at, where)
                if pair.is_plain:
                    continue
                hit, doubtful = self._depending_at(pair, key, other, at, where)
                closed, unsure = closed or hit, unsure or doubtful
            unsure = unsure or any(at + body.high > low and at + body.low < high for low, high in self.unsure)
            clashes = self.setting.clashes(key)
            if len(clashes[LINER]) and not len(clashes[RAIL]):
                unsure = unsure or not self._lies(key, at)[1]
        return closed, unsure

    def _depending_at(self, pair: PairSpans, key: Key, other: Key, at: float, where: float) -> tuple[bool, bool]:
        """What a liner, or holes that are validly one, make of a station: whether closed, and whether unsure."""
        through, beside = zip(self._lies(key, at), self._lies(other, where), strict=True)
        closed = unsure = False
        if pair.liner and holds(pair.liner, at, where):
            closed = all(through)
            unsure = not closed and not any(beside)
        for dependent in pair.dependent:
            if holds(dependent.closed, at, where):
                which = 0 if dependent.of_first else 1
                closed = closed or (through if dependent.inside else beside)[which]
                unsure = unsure or not (through[which] or beside[which])
        return closed, unsure or bool(pair.shared and holds(pair.shared, at, where))

    def blocked_by(self, component: Component, station: float) -> set[Blocked]:
        """What closes a station to a component: rules and the other components."""
        found = {(reason, "") for reason in self._own_clashes(component)}
        names = self.catalogue.names.components
        for key, side, offset in self.instances(component):
            at = station + offset
            found |= {(reason, "") for reason in self.alone(key).holding(at).reason.tolist()}
            for other, where, _, pair in self._pairs(key, side, at, at):
                for spans in self._holding(pair, key, other, at, where):
                    found |= {(reason, names[other[0]]) for reason in spans.holding(at - where).reason.tolist()}
        return {(REASONS[reason][0], name) for reason, name in found}

    def _pairs(self, key: Key, side: int, first: float, last: float) -> Iterator[tuple[Key, float, bool, PairSpans]]:
        """What closes stations from first to last to a component: keys, stations, whether opposite, and intervals."""
        body, width = self.setting.bodies[key], self.order.dimensions["frame_width"]
        # Those opposite that reach over to it.
        inboard = width - body.inboard - self.setting.reach
        for opposite, least in ((False, -np.inf), (True, inboard)):
            there = self._sides[1 - side if opposite else side]
            near = there.near(first + body.low, last + body.high, self.setting.reach, least)
            # A component is no neighbour of its own: what its instances do to each other is told apart.
            standing = [row for row in near if row.key[0] != key[0]]
            if not standing:
                continue
            pairs = self.setting.pairs(key, [row.key for row in standing], width if opposite else None)
            for row, pair in zip(standing, pairs, strict=True):
                if pair.closes:
                    yield row.key, row.station, opposite, pair

    def _holding(self, pair: PairSpans, key: Key, other: Key, at: float, where: float) -> tuple[Spans, ...]:
        first, second = self._lies(key, at)[0], self._lies(other, where)[0]
        holding = [pair.spans, pair.in_liner] if first and second else [pair.spans]
        holding += [d.spans for d in pair.dependent if (first if d.of_first else second) == d.inside]
        return tuple(holding)

    def instances(self, component: Component) -> list[tuple[Key, int, float]]:
        """Key, side, and station from the first instance's, of every instance of a floating component."""
        index, repeat = self.catalogue.index[component.id], component.repeat
        count, pitch = (repeat.count or 1, repeat.pitch or 0.0) if repeat else (1, 0.0)
        turned = component.side == "turned"
        return [
            ((index, -1 if turned and side else 1), side, number * pitch)
            for side in sides_of(component, self.order.drive)
            for number in range(count)
        ]

    def _own_clashes(self, component: Component) -> set[int]:
        """Reasons that a component's own features are in error against each other, wherever it stands."""
        instances = self.instances(component)
        found: set[int] = set()
        for key, side, offset in instances:
            found |= set(self.setting.clashes(key)[RAIL].reason.tolist())
            for _, other_side, other in instances:
                if side == other_side and other < offset:
                    pair = self.setting.pairs(key, [key])[0]
                    found |= set(pair.spans.holding(offset - other).reason.tolist())
        return found

    def through(self, key: Key, at: FloatArray) -> BoolArray:
        """Where a component lies wholly within the liner's length."""
        liner, body = self.order.rail.liner, self.setting.bodies[key]
        if liner is None:
            return np.zeros(len(at), dtype=np.bool_)
        return (at + body.low_steel >= liner.start) & (at + body.high_steel <= liner.end)

    def beside(self, key: Key, at: FloatArray) -> BoolArray:
        """Where a component lies wholly off the liner's length."""
        liner, body = self.order.rail.liner, self.setting.bodies[key]
        if liner is None:
            return np.ones(len(at), dtype=np.bool_)
        return (at + body.high_steel <= liner.start) | (at + body.low_steel >= liner.end)

    def _lies(self, key: Key, at: float) -> tuple[bool, bool]:
        """Whether a component at one station lies wholly within the liner's length, and whether wholly off it."""
        liner, body = self.order.rail.liner, self.setting.bodies[key]
        if liner is None:
            return False, True
        low, high = at + body.low_steel, at + body.high_steel
        return low >= liner.start and high <= liner.end, high <= liner.start or low >= liner.end

    def _in_liner(
        self, key: Key, other: Key, station: float, at: FloatArray, liner: Union, closed: BoolArray, unsure: BoolArray
    ) -> None:
        """Marks stations that only the liner's pairs close; where one of the two crosses its end they are unsure."""
        there = np.array([station])
        hit = covered(at, liner[0] + station, liner[1] + station)
        inside = self.through(key, at) & self.through(other, there)
        outside = self.beside(key, at) | self.beside(other, there)
        closed |= hit & inside
        unsure |= hit & ~inside & ~outside

    def _depending(
        self,
        key: Key,
        other: Key,
        station: float,
        at: FloatArray,
        dependent: Dependent,
        closed: BoolArray,
        unsure: BoolArray,
    ) -> None:
        """Marks stations that are closed only where one of two goes through the liner, or only where it does not."""
        whose, where = (key, at) if dependent.of_first else (other, np.array([station]))
        hit = covered(at, dependent.closed[0] + station, dependent.closed[1] + station)
        through, beside = self.through(whose, where), self.beside(whose, where)
        closed |= hit & (through if dependent.inside else beside)
        unsure |= hit & ~through & ~beside


def _unsure_spans(order: ResolvedOrder, setting: Setting) -> list[tuple[float, float]]:
    """Stretches of the rail, with what their limits may reach, where the setting's intervals do not hold."""
    affected = REACHING | SPACE | {"hole-size"}
    zones = [zone for zone in order.order.limits.zones if affected & {row.rule for row in zone.rows}]
    reach = setting.reach
    if zones:
        limits = limit_table(order.library, order.limit_set, tuple(zones))
        reach = max(greatest_reach(order, setting.catalogue, limits, rules) for rules in (REACHING, SPACE))
    named = {
        entry.row.when.zone
        for (rule, _), held in setting.limits.rows.items()
        for entry in held
        if entry.row.when and entry.row.when.zone and rule in affected
    }
    spans = [(zone.start, zone.end) for zone in zones]
    spans += [order.zones[name] for name in sorted(named) if name in order.zones]
    if order.rail.taper:
        spans.append((order.rail.taper.front, np.inf))
    return [(low - reach, high + reach) for low, high in spans]
