"""One order's rails while they fill up: which stations of a component's grid are closed, and by what."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from railgen.data.component import Component
from railgen.holes.table import LINER, RAIL, BoolArray, FloatArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.place import place_one, sides_of
from railgen.layout.plan import ResolvedOrder
from railgen.placing.reach import REACHING, greatest_reach
from railgen.placing.setting import Key, PairSpans, Setting, Union, marks_of, setting_of
from railgen.placing.spans import REASONS, Spans, covered
from railgen.rules.limits import limit_table

Row = tuple[int, int, int, float, float]
"""Component, side, instance, station, direction: a row of Placements."""
Blocked = tuple[str, str]
"""Rule, and the other component (empty where a feature breaks it alone)."""


@dataclass
class _Side:
    """What stands on one side: keys, stations and how far each reaches, mm."""

    keys: list[Key] = field(default_factory=list)
    stations: list[float] = field(default_factory=list)
    lows: list[float] = field(default_factory=list)
    highs: list[float] = field(default_factory=list)


class Ground:
    """An order's rails and what has been placed on them so far."""

    def __init__(self, order: ResolvedOrder, catalogue: Catalogue) -> None:
        self.order, self.catalogue = order, catalogue
        self.setting: Setting = setting_of(order, catalogue)
        self.rows: list[Row] = []
        self._sides = (_Side(), _Side())
        self._marks = marks_of(order)
        self._unsure = _unsure_spans(order, self.setting)

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

    def closed(self, component: Component, stations: FloatArray) -> tuple[BoolArray, BoolArray]:
        """Which stations (ascending) are closed to a component, and for which intervals cannot tell."""
        closed, unsure = np.zeros((2, len(stations)), dtype=np.bool_)
        met: set[tuple[Key, float, bool, Key, float]] = set()
        for key, side, offset in self._instances(component):
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
            closed |= covered(at, np.concatenate(lows), np.concatenate(highs))
            for low, high in self._unsure:
                unsure |= (at + body.high_steel > low) & (at + body.low_steel < high)
            clashes = self.setting.clashes(key)
            if len(clashes[LINER]) and not len(clashes[RAIL]):
                unsure |= ~self._beside(key, at)
        if not self.setting.is_exact:
            unsure[:] = True
        return closed | bool(self._own_clashes(component)), unsure

    def blocked_by(self, component: Component, station: float) -> set[Blocked]:
        """What closes a station to a component: rules and the other components."""
        found = {(reason, "") for reason in self._own_clashes(component)}
        names = self.catalogue.names.components
        for key, side, offset in self._instances(component):
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
        for opposite in (False, True):
            near = self._near(side, opposite, first + body.low, last + body.high)
            pairs = self.setting.pairs(key, [other for other, _ in near], width if opposite else None)
            for (other, station), pair in zip(near, pairs, strict=True):
                if pair.closes:
                    yield other, station, opposite, pair

    def _holding(self, pair: PairSpans, key: Key, other: Key, at: float, where: float) -> tuple[Spans, ...]:
        through = self._through(key, np.array([at])) & self._through(other, np.array([where]))
        return (pair.spans, pair.in_liner) if through[0] else (pair.spans,)

    def _instances(self, component: Component) -> list[tuple[Key, int, float]]:
        """Key, side, and station from the first instance's, of every instance of a floating component."""
        index, repeat = self.catalogue.index[component.id], component.repeat
        count, pitch = (repeat.count or 1, repeat.pitch or 0.0) if repeat else (1, 0.0)
        turned = component.side == "turned"
        return [
            ((index, -1 if turned and side else 1), side, number * pitch)
            for side in sides_of(component, self.order.drive)
            for number in range(count)
        ]

    def _near(self, side: int, opposite: bool, low: float, high: float) -> list[tuple[Key, float]]:
        """What stands on a side, or opposite it, so near to a stretch that some limit could reach it."""
        standing, reach = self._sides[1 - side if opposite else side], self.setting.reach
        return [
            (key, station)
            for key, station, first, last in zip(
                standing.keys, standing.stations, standing.lows, standing.highs, strict=True
            )
            if last + reach > low and first - reach < high
        ]

    def _own_clashes(self, component: Component) -> set[int]:
        """Reasons that a component's own features are in error against each other, wherever it stands."""
        instances = self._instances(component)
        found: set[int] = set()
        for key, side, offset in instances:
            found |= set(self.setting.clashes(key)[RAIL].reason.tolist())
            for _, other_side, other in instances:
                if side == other_side and other < offset:
                    pair = self.setting.pairs(key, [key])[0]
                    found |= set(pair.spans.holding(offset - other).reason.tolist())
        return found

    def _through(self, key: Key, at: FloatArray) -> BoolArray:
        """Where a component lies wholly within the liner's length."""
        liner, body = self.order.rail.liner, self.setting.bodies[key]
        if liner is None:
            return np.zeros(len(at), dtype=np.bool_)
        return (at + body.low_steel >= liner.start) & (at + body.high_steel <= liner.end)

    def _beside(self, key: Key, at: FloatArray) -> BoolArray:
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
        inside = self._through(key, at) & self._through(other, there)
        outside = self._beside(key, at) | self._beside(other, there)
        closed |= hit & inside
        unsure |= hit & ~inside & ~outside


def _unsure_spans(order: ResolvedOrder, setting: Setting) -> list[tuple[float, float]]:
    """Stretches of the rail, with what their limits may reach, where the setting's intervals do not hold."""
    affected = REACHING | {"hole-size"}
    zones = [zone for zone in order.order.limits.zones if affected & {row.rule for row in zone.rows}]
    reach = setting.steel_reach
    if zones:
        limits = limit_table(order.library, order.limit_set, tuple(zones))
        reach = greatest_reach(order, setting.catalogue, limits)
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
