"""Lines across the rail with holes of three components or more, bounded over all orders of a family.

Every line is one of some component's. For each value of the order dimensions that matter to it the fixed components
that reach it are known exactly; of those that no order has together, or that are in error against each other there,
the one that takes most counts. Floats do not: a float is placed clear of every rule, of lines too, where it has room.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.frame.panels import Panel
from railgen.frame.section import properties
from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.placing.bodies import Key
from railgen.placing.catalogue_proof import DRIVES, ComponentClash, Proof
from railgen.placing.component_pairs import Standing
from railgen.placing.forms import Dimensions, Form, Stations, form_range
from railgen.placing.regions import Region
from railgen.rules.limits import within

_MOST_WORK = 40_000
"""Sets of values of order dimensions, times components, looked at one by one; dimensions beyond are taken as free."""
RULES = (("holes-in-line", False), ("net-section", True))
"""The rules over lines, and whether their limit is a least one."""


@dataclass(frozen=True)
class LineBound:
    """A rule over lines across the rail, for the lines of one component: what it comes to at the worst, and the limit.

    others: the components counted in there. least: whether the limit is a least one.
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
class _Strips:
    """Stretches along a component at station 0, with what a line in each takes at most.

    low, high (n,): mm; load (n, 5): holes of the web, area (mm2), first moments above and below
    mid-depth, and second moment.
    """

    low: FloatArray
    high: FloatArray
    load: FloatArray


@dataclass(frozen=True)
class Cells:
    """Sets of values of some dimensions, m of them.

    taken (d,): which dimensions; values (m, d); free (D,): those left free; single (D,): the value of those that have
    only one; place: of each taken one by its name, where among its values each cell stands.
    """

    taken: IntArray
    values: FloatArray
    free: BoolArray
    single: FloatArray
    place: dict[str, IntArray]

    def __len__(self) -> int:
        return len(self.values)

    def range(self, dimensions: Dimensions, form: Form) -> tuple[FloatArray, FloatArray]:
        """Least and greatest value of a form in each cell."""
        at = form.offset + form.per @ self.single + self.values @ form.per[self.taken]
        ends = np.stack([form.per * dimensions.least, form.per * dimensions.most])[:, self.free]
        return at + ends.min(axis=0).sum(), at + ends.max(axis=0).sum()

    def of(self, found: Region) -> BoolArray:
        """Which cells lie in a region for certain."""
        axes = found.axes
        if found.all:
            return np.ones(len(self), dtype=np.bool_)
        if any(name not in self.place for name in axes.names):
            return np.zeros(len(self), dtype=np.bool_)
        sizes = [len(_values(axes.dimensions, name)) for name in axes.names]
        return np.asarray(found.sure_cells.reshape(sizes)[tuple(self.place[name] for name in axes.names)])


def _values(dimensions: Dimensions, name: str) -> FloatArray:
    values = dimensions.each[dimensions.names.index(name)].values
    return np.empty(0) if values is None else values


def cells_of(dimensions: Dimensions, used: BoolArray, most: int) -> Cells:
    """Cells over the dimensions used (D,), the wheelbase and those with fewest values first, so many at most.

    Dimensions of a single value are in every cell.
    """
    each, names = dimensions.each, dimensions.names
    single = dimensions.least == dimensions.most
    stepped = [i for i in np.flatnonzero(used & ~single).tolist() if each[i].values is not None]
    taken, count = [], 1
    for index in sorted(stepped, key=lambda i: (i > 0, len(_values(dimensions, names[i])))):
        if count * len(_values(dimensions, names[index])) <= most:
            taken.append(index)
            count *= len(_values(dimensions, names[index]))
    grids = np.indices([len(_values(dimensions, names[i])) for i in taken]).reshape(len(taken), count)
    place = dict(zip((names[index] for index in taken), grids, strict=True))
    columns = [_values(dimensions, name)[grid] for name, grid in place.items()]
    values = np.stack(columns, axis=-1) if columns else np.zeros((1, 0))
    free = ~single
    free[taken] = False
    return Cells(np.array(taken, dtype=np.int64), values, free, np.where(single, dimensions.least, 0.0), place)


@dataclass(frozen=True, eq=False)
class Lines:
    """Bounds of the rules over lines, for the components of a proof; clashes: of all of them."""

    proof: Proof
    clashes: Sequence[ComponentClash]

    def bounds(self, standing: Iterable[Standing]) -> list[LineBound]:
        """Both rules for each component that has holes."""
        found = []
        for one in standing:
            if len(self._strips((one.index, 1)).low):
                found += self._bounds_of(one)
        return found

    @cached_property
    def limits(self) -> dict[str, float]:
        """The strictest error of each rule that can hold on the section."""
        depth, found = self.proof.order.rail.section.depth, {}
        for rule, least in RULES:
            held = [
                entry.row
                for (name, measure), rows in self.proof.setting.limits.rows.items()
                if name == rule and measure != "with-liner"
                for entry in rows
            ]
            asked = [(row.when.depth if row.when else None, row.error) for row in held]
            figures = [
                error
                for bounds, error in asked
                if error is not None and (bounds is None or within(bounds, np.array([depth]))[0])
            ]
            if figures:
                found[rule] = max(figures) if least else min(figures)
        return found

    @cached_property
    def certain(self) -> dict[frozenset[str], list[Region]]:
        """Orders in which two components are in error against each other, whatever the drive."""
        found: dict[frozenset[str], list[Region]] = {}
        for met in self.clashes:
            if met.second is not None and len(met.drives) == len(DRIVES) and met.found.forced.any:
                found.setdefault(frozenset((met.first.id, met.second.id)), []).append(met.found.forced)
        return found

    def _bounds_of(self, one: Standing) -> list[LineBound]:
        proof = self.proof
        others = [] if one.component.floating else [o for o in proof.neighbours(one) if not o.component.floating]
        others = [other for other in others if len(self._strips((other.index, 1)).low)]
        stations = [one.stations, *(other.stations for other in others)]
        used = np.any([s.per.any(axis=0) | (s.span.per != 0) for s in stations], axis=0)
        cells = cells_of(proof.dimensions, used, _MOST_WORK // (len(others) + 1))
        worst: dict[str, tuple[float, tuple[str, ...]]] = dict.fromkeys(self.limits, (-np.inf, ()))
        for direction in sorted({first for first, _ in proof.directions(one.component, one.component)}):
            loads = _OnLines(self, one, direction, cells)
            told = [(other, self._load_of(one, other, direction, loads, cells)) for other in others]
            told = [(other, load) for other, load in told if load.any()]
            own = loads.own
            for rule, limit in self.limits.items():
                found = self._worst(rule, limit, own, one, told, cells)
                worst[rule] = max(worst[rule], found, key=lambda pair: pair[0])
        return [
            LineBound(rule, one.component.id, (-value if least else value) + 0.0, self.limits[rule], least, names)
            for rule, least in RULES
            if rule in worst
            for value, names in (worst[rule],)
        ]

    def _load_of(self, one: Standing, other: Standing, direction: int, loads: _OnLines, cells: Cells) -> FloatArray:
        """(m, lines, 5) what another component takes of each line at most, 0 where the two clash or never meet."""
        keys = [second for first, second in self.proof.directions(one.component, other.component) if first == direction]
        each = [loads.taken_by(other, self._strips((other.index, second))) for second in keys]
        found = np.max(each, axis=0) if each else np.zeros((len(cells), loads.count, 5))
        for region in self.certain.get(frozenset((one.component.id, other.component.id)), ()):
            found[cells.of(region)] = 0.0
        return np.asarray(found)

    def _worst(
        self,
        rule: str,
        limit: float,
        own: FloatArray,
        one: Standing,
        told: Sequence[tuple[Standing, FloatArray]],
        cells: Cells,
    ) -> tuple[float, tuple[str, ...]]:
        """The worst value, greater is worse, and the components counted in there."""
        total = own + np.sum([load for _, load in told], axis=0) if told else own
        values = self._values(rule, total)
        bad = -limit + VALUE_TOLERANCE if rule == "net-section" else limit + VALUE_TOLERANCE
        cell, line = np.nonzero(values > bad)
        best = float(values[values <= bad].max(initial=-np.inf))
        if not len(cell):
            return best, self._named(values, told)
        worst, names = self._in_groups(rule, own[cell, line], [(o, load[cell, line]) for o, load in told], cell, cells)
        return (worst, names) if worst > best else (best, self._named(np.where(values <= bad, values, -np.inf), told))

    def _in_groups(
        self,
        rule: str,
        own: FloatArray,
        told: Sequence[tuple[Standing, FloatArray]],
        cell: IntArray,
        cells: Cells,
    ) -> tuple[float, tuple[str, ...]]:
        """The worst value of some lines (q, 5), with those that are never there together counted once."""
        if not told:
            return float(self._values(rule, own).max()), ()
        loads = np.stack([load for _, load in told], axis=1)
        _, pattern = np.unique(np.packbits(loads.any(axis=2), axis=1), axis=0, return_inverse=True)
        found = []
        for number in range(int(pattern.max()) + 1):
            rows = np.flatnonzero(pattern.ravel() == number)
            # Lines with the same components together: of each the most, apart only what is apart on all of them.
            load = loads[rows].max(axis=0)
            here = np.flatnonzero(load.any(axis=1))
            met = [told[index][0] for index in here.tolist()]
            total = own[rows].max(axis=0) + _groups(load[here], self._apart(met, cell[rows], cells))
            found.append((float(self._values(rule, total)), tuple(other.component.id for other in met)))
        return max(found, key=lambda pair: pair[0])

    def _named(self, values: FloatArray, told: Sequence[tuple[Standing, FloatArray]]) -> tuple[str, ...]:
        cell, line = np.unravel_index(int(np.argmax(values)), values.shape)
        return tuple(other.component.id for other, load in told if load[cell, line].any())

    def _apart(self, others: Sequence[Standing], cell: IntArray, cells: Cells) -> BoolArray:
        """(n, n) which of some components are never clear of each other in some cells: none has both, or they clash."""
        number = [self.proof.number[other.component.id] for other in others]
        found = ~self.proof.meets[np.ix_(number, number)]
        for i, first in enumerate(others):
            for j, second in enumerate(others[:i]):
                regions = self.certain.get(frozenset((first.component.id, second.component.id)), ())
                if regions and np.logical_or.reduce([self._in_cells(region, cells)[cell] for region in regions]).all():
                    found[i, j] = found[j, i] = True
        return found

    def _in_cells(self, found: Region, cells: Cells) -> BoolArray:
        key = id(cells), id(found)
        if key not in self._cells_of:
            self._cells_of[key] = cells.of(found), cells, found
        return self._cells_of[key][0]

    @cached_property
    def _cells_of(self) -> dict[tuple[int, int], tuple[BoolArray, Cells, Region]]:
        return {}

    def _values(self, rule: str, total: FloatArray) -> FloatArray:
        """What such loads (..., 5) come to, greater is worse: holes on a line, or less of the modulus left."""
        if rule == "holes-in-line":
            return np.asarray(total[..., 0])
        gross = properties(self.proof.order.rail.section)
        half = self.proof.order.rail.section.depth / 2
        area = np.maximum(gross.area - total[..., 1], 1e-6)
        moved = np.maximum(total[..., 2], total[..., 3]) / area
        inertia = gross.ixx - total[..., 4] - area * moved**2
        return np.asarray(-np.maximum(inertia, 0.0) / (half + moved) / (gross.ixx / half))

    def _strips(self, key: Key) -> _Strips:
        if key not in self._made:
            self._made[key] = self._made_strips(key)
        return self._made[key]

    @cached_property
    def _made(self) -> dict[Key, _Strips]:
        return {}

    def _made_strips(self, key: Key) -> _Strips:
        """The stretches between all ends of a component's holes."""
        setting = self.proof.setting
        pattern, section = setting.pattern, self.proof.order.rail.section
        rows = setting.on_rail.row[setting.bodies[key].on_rail]
        station, along = pattern.table.station[rows], pattern.finished_reach[0][rows]
        ends = np.unique(np.concatenate([station - along, station + along]))
        middle = (ends[1:] + ends[:-1]) / 2
        on_line = (station - along < middle[:, None]) & (station + along > middle[:, None])
        wide = 2 * pattern.finished_reach[1][rows]
        web = pattern.table.panel[rows] == Panel.WEB
        top = pattern.table.panel[rows] == Panel.TOP
        flange = np.where(top, section.depth / 2, -section.depth / 2)
        height = np.where(web, pattern.table.across[rows] - section.depth / 2, flange)
        area = wide * section.thickness
        second = area * height**2 + np.where(web, wide**2, section.thickness**2) * area / 12
        above, below = area * np.maximum(height, 0.0), area * np.maximum(-height, 0.0)
        load = on_line @ np.stack([web.astype(np.float64), area, above, below, second], axis=-1)
        kept = np.flatnonzero(load.any(axis=1))
        return _Strips(ends[:-1][kept], ends[1:][kept], load[kept])


def _groups(load: FloatArray, apart: BoolArray) -> FloatArray:
    """The most that some components (n, 5) take together, of those apart from each other (n, n) the most of one."""
    groups: list[list[int]] = []
    for one in np.flatnonzero(load.any(axis=1)).tolist():
        for group in groups:
            if apart[one, group].all():
                group.append(one)
                break
        else:
            groups.append([one])
    return np.sum([load[group].max(axis=0) for group in groups], axis=0) if groups else np.zeros(load.shape[1])


class _OnLines:
    """The lines of one component in one direction, instance by instance, over some cells."""

    def __init__(self, lines: Lines, one: Standing, direction: int, cells: Cells) -> None:
        self._dimensions, self._one, self._cells = lines.proof.dimensions, one, cells
        self._strips = lines._strips((one.index, direction))
        self.count = len(one.stations.offset) * len(self._strips.low)
        load = np.tile(self._strips.load, (len(one.stations.offset), 1))
        there = np.repeat(self._there(one.stations), len(self._strips.low), axis=1)
        self.own = np.where(there[:, :, None], load, 0.0)
        if len(one.stations.offset) > 1:
            self.own = self.own + self.taken_by(one, self._strips)

    def _there(self, stations: Stations) -> BoolArray:
        """(m, rows) which stations there are in each cell, as far as that is known."""
        found = np.ones((len(self._cells), len(stations.offset)), dtype=np.bool_)
        if stations.pieces:
            low, high = self._cells.range(self._dimensions, stations.span)
            found &= (high[:, None] > stations.low) & (low[:, None] < stations.high)
        if stations.present is not None:
            form, least, most = stations.present
            low, high = self._cells.range(self._dimensions, form)
            found &= ((high > least) & (low < most))[:, None]
        return found

    def taken_by(self, other: Standing, strips: _Strips) -> FloatArray:
        """(m, lines, 5) what a component's instances take of each line at most; the line's own instance apart."""
        found = np.zeros((len(self._cells), self.count, 5))
        mine, theirs, width = self._one.stations, other.stations, len(self._strips.low)
        here, there = self._there(mine), self._there(theirs)
        low_end, high_end = float(self._strips.low.min()), float(self._strips.high.max())
        for i, j in self._reached(other, strips, low_end, high_end):
            form = Form(mine.offset[i] - theirs.offset[j], mine.per[i] - theirs.per[j])
            low, high = self._cells.range(self._dimensions, form)
            near = (low + low_end < strips.high.max()) & (high + high_end > strips.low.min())
            both = np.flatnonzero(here[:, i] & there[:, j] & near)
            for line in range(width) if len(both) else ():
                over = (low[both, None] + self._strips.low[line] < strips.high) & (
                    high[both, None] + self._strips.high[line] > strips.low
                )
                most = np.max(np.where(over[:, :, None], strips.load, 0.0), axis=1)
                found[both, i * width + line] += most
        return found

    def _reached(self, other: Standing, strips: _Strips, low_end: float, high_end: float) -> Iterator[tuple[int, int]]:
        """Stations of both that come so near to each other in some order, the line's own instance left out."""
        mine, theirs = self._one.stations, other.stations
        offset, per = mine.offset[:, None] - theirs.offset, mine.per[:, None] - theirs.per
        least, most = form_range(offset, per, self._dimensions)
        near = (least + low_end < strips.high.max()) & (most + high_end > strips.low.min())
        if other is self._one:
            near &= (mine.count[:, None] == mine.count) & (mine.instance[:, None] != mine.instance)
        yield from zip(*(rows.tolist() for rows in np.nonzero(near)), strict=True)
