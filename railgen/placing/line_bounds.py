"""Lines across the rail with holes of three components or more, bounded over all orders of a family.

Every line is one of some component's. For each value of the order dimensions that matter to it the fixed components
that reach it are known exactly; of those that no order has together, or that are in error against each other there,
the one that takes most counts. Floats do not: a float is placed clear of every rule, of lines too, where it has room.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
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
from railgen.placing.forms import Form, Stations, form_range
from railgen.placing.order_cells import Cells, Forms, cells_of, one_cell
from railgen.placing.regions import Region
from railgen.rules.limits import within

_MOST_WORK = 12_000
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
        # In a crowd one order alone mostly tells that the bound cannot settle the rule.
        open_rules = self._worse(one, others, one_cell(proof.dimensions, used, proof.order.dimensions), self.limits)
        told = self._worse(one, others, cells, set(self.limits) - {r for r, found in open_rules.items() if found[2]})
        found = []
        for rule, least in RULES:
            if rule not in self.limits:
                continue
            value, names, broken = told.get(rule, open_rules[rule])
            if broken:
                value, names = self._at_most(rule, one, others)
            bound = (-value if least else value) + 0.0
            found.append(LineBound(rule, one.component.id, bound, self.limits[rule], least, names))
        return found

    def _worse(
        self, one: Standing, others: Sequence[Standing], cells: Cells, rules: Collection[str]
    ) -> dict[str, tuple[float, tuple[str, ...], bool]]:
        """Of some rules the worst value over cells, the components counted in, and whether it breaks the limit."""
        worst: dict[str, tuple[float, tuple[str, ...], bool]] = {}
        for direction in self._directions(one) if rules else ():
            loads = _OnLines(self, one, direction, cells)
            told = [(other, self._load_of(one, other, direction, loads, cells)) for other in others]
            told = [(other, load) for other, load in told if load.any()]
            for rule in sorted(rules):
                found = self._worst(rule, loads.own, told, cells)
                worst[rule] = max(worst.get(rule, found), found, key=lambda entry: entry[0])
        return worst

    def _directions(self, one: Standing) -> list[int]:
        return sorted({first for first, _ in self.proof.directions(one.component, one.component)})

    def _at_most(self, rule: str, one: Standing, others: Sequence[Standing]) -> tuple[float, tuple[str, ...]]:
        """What all would come to on one line, of those that no order has together the worst."""
        own, loads = self._most(one), np.array([self._most(other) for other in others])
        number = [self.proof.number[other.component.id] for other in others]
        met = _groups(loads, ~self.proof.meets[np.ix_(number, number)]) if others else 0.0
        return float(self._values(rule, own + met)), tuple(other.component.id for other in others)

    def _most(self, one: Standing) -> FloatArray:
        """(5,) the most that any line could take of all instances of a component."""
        return np.asarray(self._strips((one.index, 1)).load.max(axis=0) * one.stations.count.max())

    def _load_of(self, one: Standing, other: Standing, direction: int, loads: _OnLines, cells: Cells) -> FloatArray:
        """(m, lines, 5) what another component takes of each line at most, 0 where the two clash or never meet."""
        keys = [second for first, second in self.proof.directions(one.component, other.component) if first == direction]
        each = [loads.taken_by(other, self._strips((other.index, second))) for second in keys]
        found = np.max(each, axis=0) if each else np.zeros((len(cells), loads.count, 5))
        for region in self.certain.get(frozenset((one.component.id, other.component.id)), ()):
            found[cells.of(region)] = 0.0
        return np.asarray(found)

    def _worst(
        self, rule: str, own: FloatArray, told: Sequence[tuple[Standing, FloatArray]], cells: Cells
    ) -> tuple[float, tuple[str, ...], bool]:
        """The worst value, greater is worse, the components counted in there, and whether it breaks the limit.

        Where it does not the value is the worst of all; where it does it is that of the line that tells so.
        """
        total = own + np.sum([load for _, load in told], axis=0) if told else own
        values = self._values(rule, total)
        limit = self.limits[rule]
        most = (-limit if rule == "net-section" else limit) + VALUE_TOLERANCE
        kept = np.where(values <= most, values, -np.inf)
        best = float(kept.max(initial=-np.inf)), self._named(kept, told), False
        cell, line = np.nonzero(values > most)
        if not len(cell):
            return best
        loads = [(other, load[cell, line]) for other, load in told]
        return max(best, self._in_groups(rule, own[cell, line], loads, cell, cells), key=lambda entry: entry[0])

    def _in_groups(
        self,
        rule: str,
        own: FloatArray,
        told: Sequence[tuple[Standing, FloatArray]],
        cell: IntArray,
        cells: Cells,
    ) -> tuple[float, tuple[str, ...], bool]:
        """The same of some lines (q, 5) that break the limit unless what is never there together counts once."""
        limit = self.limits[rule]
        most = (-limit if rule == "net-section" else limit) + VALUE_TOLERANCE
        if not told:
            return float(self._values(rule, own).max()), (), True
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
            value = float(self._values(rule, total))
            found.append((value, tuple(other.component.id for other in met), value > most))
            if value > most:
                break
        return max(found, key=lambda entry: entry[0])

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
    groups: list[tuple[FloatArray, BoolArray]] = []
    for one in np.flatnonzero(load.any(axis=1)).tolist():
        row = apart[one]
        for most, open_to in groups:
            if open_to[one]:
                np.maximum(most, load[one], out=most)
                open_to &= row
                break
        else:
            groups.append((load[one].copy(), row.copy()))
    return np.asarray(np.sum([most for most, _ in groups], axis=0)) if groups else np.zeros(load.shape[1])


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
            low, high = self._range(stations.span)
            found &= (high[:, None] > stations.low) & (low[:, None] < stations.high)
        if stations.present is not None:
            form, least, most = stations.present
            low, high = self._range(form)
            found &= ((high > least) & (low < most))[:, None]
        return found

    def _range(self, form: Form) -> tuple[FloatArray, FloatArray]:
        low, high = self._cells.range(self._dimensions, Forms(np.array([form.offset]), form.per[None, :]))
        return low[0], high[0]

    def taken_by(self, other: Standing, strips: _Strips) -> FloatArray:
        """(m, lines, 5) what a component's instances take of each line at most; the line's own instance apart."""
        cells, width = len(self._cells), len(self._strips.low)
        found = np.zeros((self.count, cells, 5))
        mine, theirs = self._one.stations, other.stations
        i, j = self._reached(other, strips)
        if len(i):
            apart = Forms(mine.offset[i] - theirs.offset[j], mine.per[i] - theirs.per[j])
            low, high = self._cells.range(self._dimensions, apart)
            both = (self._there(mine)[:, i] & self._there(theirs)[:, j]).T
            for line in range(width):
                most = np.zeros((len(i), cells, 5))
                for strip in range(len(strips.low)):
                    over = both & (low + self._strips.low[line] < strips.high[strip])
                    over &= high + self._strips.high[line] > strips.low[strip]
                    np.maximum(most, strips.load[strip], out=most, where=over[:, :, None])
                if len(mine.offset) == 1:
                    found[line] = most.sum(axis=0)
                else:
                    np.add.at(found, i * width + line, most)
        return found.transpose(1, 0, 2)

    def _reached(self, other: Standing, strips: _Strips) -> tuple[IntArray, IntArray]:
        """Stations of both that come so near to each other in some order, the line's own instance left out."""
        mine, theirs = self._one.stations, other.stations
        offset, per = mine.offset[:, None] - theirs.offset, mine.per[:, None] - theirs.per
        least, most = form_range(offset, per, self._dimensions)
        near = (least + self._strips.low.min() < strips.high.max()) & (
            most + self._strips.high.max() > strips.low.min()
        )
        if other is self._one:
            near &= (mine.count[:, None] == mine.count) & (mine.instance[:, None] != mine.instance)
        i, j = np.nonzero(near)
        return i, j
