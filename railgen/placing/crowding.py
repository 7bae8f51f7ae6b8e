"""What pairs of components cannot decide, bounded over all that may stand near: floats, and lines across the rail.

A float is certain to settle where a station of its grid is never closed by anything, in any order. A line across the
rail meets no more holes, and loses no more steel, than those of the component on it and of all that can reach its line
together, of those that exclude each other the worst one only.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.frame.panels import Panel
from railgen.frame.section import properties
from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.placing.bodies import Key
from railgen.placing.catalogue_proof import ComponentClash, Proof
from railgen.placing.component_pairs import Standing
from railgen.placing.forms import Stations, form_range
from railgen.placing.spans import union
from railgen.rules.limits import within


@dataclass(frozen=True)
class Room:
    """A floating component: how many stations its grid has, and how many of them nothing ever closes."""

    component: str
    stations: int
    always_free: int

    @property
    def is_certain(self) -> bool:
        """Whether it settles in every order."""
        return self.always_free > 0


@dataclass(frozen=True)
class LineBound:
    """A rule over lines across the rail, for the lines of one component: what it comes to at the worst, and the limit.

    others: the components counted in at the worst wheelbase. least: whether the limit is a least one.
    """

    rule: str
    component: str
    bound: float
    limit: float
    least: bool
    others: tuple[str, ...]

    @property
    def is_kept(self) -> bool:
        """Whether the limit is kept whatever stands beside the component."""
        if self.least:
            return self.bound >= self.limit - VALUE_TOLERANCE
        return self.bound <= self.limit + VALUE_TOLERANCE


@dataclass(frozen=True)
class Crowding:
    """All floats and all line bounds of some components."""

    rooms: tuple[Room, ...]
    lines: tuple[LineBound, ...]


def line_bounds(proof: Proof, standing: Sequence[Standing]) -> list[LineBound]:
    """Bounds for the lines of some components."""
    return _Lines(proof).bounds(standing)


def rooms_of(standing: Sequence[Standing], clashes: Iterable[ComponentClash]) -> dict[str, Room]:
    """Room of each floating component."""
    free = {
        one.component.id: np.ones(len(one.stations.shift), dtype=np.bool_) for one in standing if one.component.floating
    }
    for met in clashes:
        for part, axis in ((met.first, 1), (met.second, 0)):
            if part is not None and part.id in free:
                free[part.id] &= ~met.found.closed.any(axis=axis)
    return {name: Room(name, len(left), int(left.sum())) for name, left in free.items()}


@dataclass(frozen=True)
class _Load:
    """What one component has at most on a line: holes, and area (mm2), first and second moment about mid-depth."""

    count: float
    area: float
    first: float
    second: float

    @property
    def row(self) -> tuple[float, float, float, float]:
        return self.count, self.area, self.first, self.second


class _Lines:
    """Bounds of the rules over lines, for a proof's components."""

    def __init__(self, proof: Proof) -> None:
        self._proof = proof
        pattern = proof.setting.pattern
        self._along = pattern.finished_reach[0]
        self._loads: dict[int, _Load] = {}

    def bounds(self, standing: Sequence[Standing]) -> list[LineBound]:
        """Both rules for each component that has holes."""
        limits = {rule: self._limit(rule, least) for rule, least in (("holes-in-line", False), ("net-section", True))}
        found = []
        for one in standing:
            if not len(self._holes((one.index, 1))):
                continue
            others = self._others(one)
            worst = {rule: self._worst(rule, one, others) for rule, limit in limits.items() if limit is not None}
            for rule, (bound, names) in worst.items():
                limit = limits[rule]
                assert limit is not None
                found.append(LineBound(rule, one.component.id, bound, limit, rule == "net-section", names))
        return found

    def _limit(self, rule: str, least: bool) -> float | None:
        """The strictest error of all rows of a rule that can hold on the section."""
        held = [
            entry.row
            for (name, measure), rows in self._proof.setting.limits.rows.items()
            if name == rule and measure != "with-liner"
            for entry in rows
        ]
        depth = self._proof.order.rail.section.depth
        asked = [(row.when.depth if row.when else None, row.error) for row in held]
        figures = [
            error
            for bounds, error in asked
            if error is not None and (bounds is None or within(bounds, np.array([depth]))[0])
        ]
        return (max(figures) if least else min(figures)) if figures else None

    def _holes(self, key: Key) -> IntArray:
        """Rows of a component's holes in the rail."""
        return np.asarray(self._proof.setting.on_rail.row[self._proof.setting.bodies[key].on_rail])

    def _others(self, one: Standing) -> list[tuple[Standing, BoolArray]]:
        """Components that may stand on a line of this one, with the wheelbases (a flag for each) at which they may.

        All other dimensions are taken as free between their least and most, repeats as standing anywhere between the
        first and the last: more than can be, never less.
        """
        proof, found = self._proof, []
        for other in proof.neighbours(one):
            reach = self._apart(one.stations, other.stations)
            flags = np.zeros(len(reach[0]), dtype=np.bool_)
            for first, second in proof.directions(one.component, other.component):
                low, high = self._on_one_line((one.index, first), (other.index, second))
                flags |= np.logical_or.reduce((reach[0][:, None] < high) & (reach[1][:, None] > low), axis=1)
            if flags.any():
                found.append((other, flags & self._present(one) & self._present(other)))
        return found

    def _apart(self, a: Stations, b: Stations) -> tuple[FloatArray, FloatArray]:
        """Least and greatest difference of two stations at every wheelbase, floats settled anywhere."""
        shift = a.shift[:, None] - b.shift
        ends = []
        for mine, theirs, margin in ((0, -1, float(shift.min())), (-1, 0, float(shift.max()))):
            offset, per = a.offset[mine] - b.offset[theirs] + margin, a.per[mine] - b.per[theirs]
            rest = np.where(np.arange(len(per)) == 0, 0.0, per)
            ends.append((offset, per[0], rest))
        values = self._values
        low = form_range(np.array([ends[0][0]]), ends[0][2][None, :], self._proof.dimensions)[0]
        high = form_range(np.array([ends[1][0]]), ends[1][2][None, :], self._proof.dimensions)[1]
        return low + ends[0][1] * values, high + ends[1][1] * values

    def _present(self, one: Standing) -> BoolArray:
        """Wheelbases at which a component is there."""
        present = one.stations.present
        if present is None or not present[0].per[0]:
            return np.ones(len(self._values), dtype=np.bool_)
        return (self._values > present[1]) & (self._values < present[2])

    @property
    def _values(self) -> FloatArray:
        """Every wheelbase; the ends where it has no step."""
        wheelbase = self._proof.dimensions.each[0]
        return np.array([wheelbase.least, wheelbase.most]) if wheelbase.values is None else wheelbase.values

    def _on_one_line(self, a: Key, b: Key) -> tuple[FloatArray, FloatArray]:
        """Relative stations (ends of intervals) at which any two holes of two components overlap along the rail."""
        mine, theirs = (self._extents(key) for key in (a, b))
        low = (theirs[0][None, :] - mine[1][:, None]).ravel()
        high = (theirs[1][None, :] - mine[0][:, None]).ravel()
        return union(low, high)

    def _extents(self, key: Key) -> tuple[FloatArray, FloatArray]:
        rows = self._holes(key)
        station = self._proof.setting.pattern.table.station[rows]
        return station - self._along[rows], station + self._along[rows]

    def _worst(
        self, rule: str, one: Standing, others: Sequence[tuple[Standing, BoolArray]]
    ) -> tuple[float, tuple[str, ...]]:
        """The worst value over all wheelbases, and the components counted in there."""
        total = np.tile(np.array(self._load(one).row), (len(self._values), 1))
        groups = self._groups([other for other, _ in others])
        flags = {other.index: met for other, met in others}
        for group in groups:
            loads = np.array([self._load(other).row for other in group])
            there = np.array([flags[other.index] for other in group])
            total += np.max(there[:, :, None] * loads[:, None, :], axis=0)
        values = total[:, 0] if rule == "holes-in-line" else self._ratios(total)
        worst = int(np.argmax(values) if rule == "holes-in-line" else np.argmin(values))
        names = tuple(other.component.id for other, met in others if met[worst])
        return float(values[worst]), names

    def _groups(self, others: Sequence[Standing]) -> list[list[Standing]]:
        """Components in groups of which no order has two."""
        meets = self._proof.meets
        groups: list[tuple[list[Standing], BoolArray]] = []
        for other in others:
            number = self._proof.number[other.component.id]
            for group, met in groups:
                if not met[number]:
                    group.append(other)
                    met |= meets[number]
                    break
            else:
                groups.append(([other], meets[number].copy()))
        return [group for group, _ in groups]

    def _load(self, one: Standing) -> _Load:
        if one.index not in self._loads:
            self._loads[one.index] = self._loaded(one)
        return self._loads[one.index]

    def _loaded(self, one: Standing) -> _Load:
        """The most that any line meets of one instance, or of all of them where they may overlap."""
        proof, pattern = self._proof, self._proof.setting.pattern
        rows = self._holes((one.index, 1))
        if not len(rows):
            return _Load(0.0, 0.0, 0.0, 0.0)
        section, table = proof.order.rail.section, pattern.table
        low, high = self._extents((one.index, 1))
        ends = np.unique(np.concatenate([low, high]))
        middle = (ends[1:] + ends[:-1]) / 2
        on_line = (low < middle[:, None]) & (high > middle[:, None])
        wide = 2 * pattern.finished_reach[1][rows]
        web = table.panel[rows] == Panel.WEB
        height = np.where(web, np.abs(table.across[rows] - section.depth / 2), section.depth / 2)
        area = wide * section.thickness
        second = area * height**2 + np.where(web, wide**2, section.thickness**2) * area / 12
        each = np.stack([web.astype(np.float64), area, area * height, second], axis=-1)
        most = (on_line @ each).max(axis=0) * (self._instances_on_line(one, float(high.max() - low.min())))
        return _Load(*most.tolist())

    def _instances_on_line(self, one: Standing, length: float) -> int:
        """How many instances of a component may overlap along the rail at most."""
        repeat, stations = one.component.repeat, one.stations
        if repeat is None or int(stations.count.max()) < 2:
            return 1
        if repeat.pitch is not None:
            return min(int(length // repeat.pitch) + 1, int(stations.count.max()))
        # Two or more equal gaps are more than half the greatest pitch each; a single one may be as short as it likes.
        shortest = (repeat.greatest_pitch or length) / 2
        return min(max(int(length // shortest) + 1, 2), int(stations.count.max()))

    def _ratios(self, total: FloatArray) -> FloatArray:
        """Least ratios of net to gross modulus that such losses can leave."""
        gross = properties(self._proof.order.rail.section)
        half = self._proof.order.rail.section.depth / 2
        area = np.maximum(gross.area - total[:, 1], 1e-6)
        moved = total[:, 2] / area
        inertia = gross.ixx - total[:, 3] - area * moved**2
        return np.asarray(np.maximum(inertia, 0.0) / (half + moved) / (gross.ixx / half))


def settled(rooms: Mapping[str, Room], met: ComponentClash) -> bool:
    """Whether every floating component of a clash is certain to settle clear of everything."""
    floats = [part.id for part in (met.first, met.second) if part is not None and part.floating]
    return bool(floats) and all(name in rooms and rooms[name].is_certain for name in floats)
