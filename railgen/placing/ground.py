"""One order's rails while they fill up: which stations of a component's grid are closed, and by what."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, fields

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
from railgen.placing.spans import REASONS, Spans, covered
from railgen.rules.limits import limit_table

Row = tuple[int, int, int, float, float]
"""Component, side, instance, station, direction: a row of Placements."""
Blocked = tuple[str, str]
"""Rule, and the other component (empty where a feature breaks it alone)."""


@dataclass
class _Side:
    """What stands on one side: keys, stations and how far each reaches along the rail and inboard, mm."""

    keys: list[Key] = field(default_factory=list)
    stations: list[float] = field(default_factory=list)
    lows: list[float] = field(default_factory=list)
    highs: list[float] = field(default_factory=list)
    inboards: list[float] = field(default_factory=list)


class Ground:
    """An order's rails and what has been placed on them so far."""

    def __init__(self, order: ResolvedOrder, catalogue: Catalogue) -> None:
        self.order, self.catalogue = order, catalogue
        self.setting: Setting = setting_of(order, catalogue)
        self.rows: list[Row] = []
        self._sides = (_Side(), _Side())
        self._marks = marks_of(order)
        self.unsure = _unsure_spans(order, self.setting)

    def copy(self) -> Ground:
        """The same once more; what is added to one does not stand on the other."""
        other = Ground(self.order, self.catalogue)
        other.rows = self.rows[:]
        for mine, theirs in zip(self._sides, other._sides, strict=True):
            for column in fields(_Side):
                getattr(theirs, column.name).extend(getattr(mine, column.name))
        return other

    def add(self, component: Component, station: float) -> None:
        """Stands a component, all its instances, at a station."""
        rows = place_one(component, station, self.order, self.catalogue)
        self.rows += rows
        for index, side, _, at, direction in rows:
            body = self.setting.bodies[index, int(direction)]
            standing = self._sides[side]
            standing.keys.append((index, int(direction)))
            standing.stations.append(at)
            standing.lows.append(at + body.low)
            standing.highs.append(at + body.high)
            standing.inboards.append(body.inboard)

    def closed(self, component: Component, stations: FloatArray) -> tuple[BoolArray, BoolArray]:
        """Which stations (ascending) are closed to a component, and for which intervals cannot tell."""
        closed, unsure = np.zeros((2, len(stations)), dtype=np.bool_)
        met: set[tuple[Key, float, bool, Key, float]] = set()
        for key, side, offset in self.instances(component):
            at = stations + offset
            body = self.setting.bodies[key]
            alone = body.alone.moved(self._marks).spans
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

    def blocked_by(self, component: Component, station: float) -> set[Blocked]:
        """What closes a station to a component: rules and the other components."""
        found = {(reason, "") for reason in self._own_clashes(component)}
        names = self.catalogue.names.components
        for key, side, offset in self.instances(component):
            at = station + offset
            alone = self.setting.bodies[key].alone.moved(self._marks).spans
            found |= {(reason, "") for reason in alone.holding(at).reason.tolist()}
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
            near = self._near(1 - side if opposite else side, first + body.low, last + body.high, least)
            pairs = self.setting.pairs(key, [other for other, _ in near], width if opposite else None)
            for (other, station), pair in zip(near, pairs, strict=True):
                if pair.closes:
                    yield other, station, opposite, pair

    def _holding(self, pair: PairSpans, key: Key, other: Key, at: float, where: float) -> tuple[Spans, ...]:
        first, second = self.through(key, np.array([at]))[0], self.through(other, np.array([where]))[0]
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

    def _near(self, side: int, low: float, high: float, inboard: float) -> list[tuple[Key, float]]:
        """What stands on a side, reaching so far inboard, so near to a stretch that some limit could reach it."""
        standing, reach = self._sides[side], self.setting.reach
        return [
            (key, station)
            for key, station, first, last, across in zip(
                standing.keys, standing.stations, standing.lows, standing.highs, standing.inboards, strict=True
            )
            if last + reach > low and first - reach < high and across >= inboard
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
