"""An order's floating components over what is fixed: their grids, what closes them, and the problems that they make."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import floor

import numpy as np

from railgen.data.component import Component, Floating
from railgen.holes.table import BoolArray, FloatArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.place import place_one, placements, preferred_station, sides_of
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.placing.ground import Ground
from railgen.placing.problem import UNSURE, Box, Float, Pair, Problem, Relative, holding
from railgen.placing.relative import extent, kinds_of, relative
from railgen.placing.tree import Solution, solve
from railgen.placing.trial import Trial

_DECIMALS = 9
_MOST_REMEMBERED = 2000
"""Problems of one setting that are remembered at once, so that a bank of any length takes so much memory."""
Combination = tuple[tuple[str, float, float], ...]
"""Floats with first and last stations: not all of them may stand so at once."""


def grid_stations(component: Component, preferred: float) -> Iterator[float]:
    """Stations of a floating component's grid inside its window, nearest to the preferred first, ties rearward."""
    if component.floating:
        steps = sorted(_steps(component, component.floating), key=lambda step: (abs(step), -step))
        yield from (preferred + step * component.floating.pitch for step in steps)


def _steps(component: Component, window: Floating) -> range:
    """Steps of the grid from the preferred station that lie inside the window, ascending."""
    offset = component.position.offset
    ahead = floor((offset - window.least) / window.pitch + 1e-9)
    behind = floor((window.most - offset) / window.pitch + 1e-9)
    return range(-ahead, behind + 1)


def _ascending(component: Component, preferred: float) -> FloatArray:
    window = component.floating
    return preferred + np.array(_steps(component, window)) * window.pitch if window else np.empty(0)


@dataclass(eq=False)
class Grid:
    """A float's whole grid, ascending, mm: which stations are closed by what is fixed, and each one's kind.

    dropped: which were found in error beside what is fixed by the rules themselves.
    """

    stations: FloatArray
    closed: BoolArray
    kinds: tuple[int, ...]
    dropped: BoolArray

    @property
    def free(self) -> list[int]:
        """Places of the free stations."""
        return np.flatnonzero(~(self.closed | self.dropped)).tolist()


@dataclass(eq=False)
class Floats:
    """The floats of an order, what is fixed beneath them, and the combinations that were found in error.

    left: floats that found no station, where they are left; others keep clear of them but for the careless ones, which
    have no room for it. careful: whether intervals of pairs are believed where they need not hold, too.
    """

    order: ResolvedOrder
    catalogue: Catalogue
    combinations: list[Combination] = field(default_factory=list)
    left: dict[str, float] = field(default_factory=dict)
    careless: set[str] = field(default_factory=set)
    careful: bool = False
    _grids: dict[str, Grid] = field(default_factory=dict)
    _kinds: dict[tuple[str, float], int] = field(default_factory=dict)
    _stays: dict[str, bool] = field(default_factory=dict)
    _closing: dict[str, dict[str, BoolArray]] = field(default_factory=dict)

    @cached_property
    def components(self) -> dict[str, Component]:
        """Floating components by id, in id order."""
        return {c.id: c for c in self.order.components if c.floating and sides_of(c, self.order.drive)}

    @cached_property
    def wanted(self) -> dict[str, float]:
        """Preferred stations, mm."""
        return {name: preferred_station(c, self.order) for name, c in self.components.items()}

    @cached_property
    def fixed(self) -> Ground:
        """What does not float."""
        return self.ground(c for c in self.order.components if not c.floating)

    @cached_property
    def extents(self) -> dict[str, tuple[float, float]]:
        """How far each float and what its limits may reach lie ahead of its station and behind it, mm."""
        return {name: extent(self.fixed, component) for name, component in self.components.items()}

    def placements(self, stations: Mapping[str, float]) -> Placements:
        """Everything that is fixed, and the floats at stations (mm)."""
        rows = list(self.fixed.rows)
        for name, component in self.components.items():
            rows += place_one(component, stations[name], self.order, self.catalogue)
        return placements(sorted(rows))

    def ground(self, components: Iterable[Component]) -> Ground:
        """Some components that do not float, where they stand."""
        ground = Ground(self.order, self.catalogue)
        for component in components:
            ground.add(component, preferred_station(component, self.order))
        return ground

    def grid(self, name: str) -> Grid:
        """A float's grid; where intervals cannot tell, the rules about one and two features have been asked."""
        if name not in self._grids:
            component = self.components[name]
            stations = _ascending(component, self.wanted[name])
            closed, unsure = self.fixed.closed(component, stations)
            kinds = tuple(kinds_of(self.fixed, component, stations, unsure).tolist())
            dropped = np.zeros(len(stations), dtype=np.bool_)
            doubtful = np.flatnonzero(unsure)
            closed = closed & ~unsure
            dropped[doubtful] = Trial(component, self.fixed).features_in_error(stations[doubtful].tolist())
            self._grids[name] = Grid(stations, closed, kinds, dropped)
        return self._grids[name]

    def alone(self, name: str) -> BoolArray:
        """Stations of a float's grid that are closed whatever stands there."""
        return self._closed_by(name, Ground(self.order, self.catalogue))

    def closing(self, name: str) -> dict[str, BoolArray]:
        """Stations of a float's grid that each fixed component closes to it, by the component."""
        if name not in self._closing:
            alone = self.alone(name)
            found = {}
            for component in self.order.components:
                if not component.floating:
                    mask = self._closed_by(name, self.ground([component])) & ~alone
                    if mask.any():
                        found[component.id] = mask
            self._closing[name] = found
        return self._closing[name]

    def _closed_by(self, name: str, ground: Ground) -> BoolArray:
        closed, unsure = ground.closed(self.components[name], self.grid(name).stations)
        return np.asarray(closed & ~unsure)

    def free(self, name: str) -> list[int]:
        """Places in a float's grid that are free to it, beside floats that are left too where it is careful."""
        grid = self.grid(name)
        free = grid.free
        if not self.left or name in self.careless:
            return free
        clear = [k for k in free if not self._meets_left(name, float(grid.stations[k]))]
        if free and not clear:
            self.careless.add(name)
            return free
        return clear

    def may_stay(self, name: str) -> bool:
        """Whether what is fixed or left leaves a float its preferred station, as far as intervals tell."""
        wanted = self.wanted[name]
        if name in self._grids:
            grid = self._grids[name]
            return bool(grid.free) and any(abs(grid.stations[k] - wanted) < 1e-6 for k in self.free(name))
        if name not in self._stays:
            closed, unsure = self.fixed.closed_at(self.components[name], wanted)
            self._stays[name] = unsure or not closed
        return self._stays[name] and (name in self.careless or not self._meets_left(name, wanted))

    def _meets_left(self, name: str, at: float) -> bool:
        return any(self.clash(name, at, other, there) for other, there in self.left.items())

    def relative(self, a: str, b: str) -> Relative:
        """What is closed to two floats, remembered for all orders of a setting."""
        order = self.order
        key = a, b, order.drive, order.dimensions["frame_width"]
        memory = self.fixed.setting.relative
        if key not in memory:
            memory[key] = relative(self.fixed, self.components[a], self.components[b])
        return memory[key]

    def clash(self, a: str, at: float, b: str, there: float) -> bool:
        """Whether two floats at their stations are too near to each other on every rail."""
        found = self.relative(a, b)
        if holding(found.closed, at - there) is None and not found.others:
            return False
        kinds = self._kind(a, at), self._kind(b, there)
        return holding(found.by_kind(self.careful).get(kinds, found.closed), at - there) is not None

    def _kind(self, name: str, at: float) -> int:
        if self.order.rail.liner is None and not self.fixed.unsure and self.fixed.setting.is_exact:
            return 0
        if (name, at) not in self._kinds:
            component, station = self.components[name], np.array([at])
            unsure = np.array([self.fixed.closed_at(component, at)[1]])
            self._kinds[name, at] = int(kinds_of(self.fixed, component, station, unsure)[0])
        return self._kinds[name, at]

    def problem(self, names: Sequence[str], careful: bool = False) -> Problem:
        """Some floats on their free stations; stations are told from the first one's wanted station.

        careful: intervals of pairs are believed everywhere.
        """
        base = self.wanted[names[0]]
        floats = [self.float_of(name, self.free(name), base) for name in names]
        pairs = []
        for b, other in enumerate(names):
            for a, name in enumerate(names[:b]):
                found = self.relative(name, other)
                if found.closed[0] or found.others:
                    pairs.append(pair_of(a, b, found, floats, careful))
        return Problem(tuple(floats), tuple(pairs), tuple(self.boxes(names, floats, base)))

    def float_of(self, name: str, free: Sequence[int], base: float) -> Float:
        """A float on some of its grid's stations, told from a base (mm)."""
        component, grid, wanted = self.components[name], self.grid(name), self.wanted[name] - base
        window = component.floating
        if window is None:
            raise ValueError(f"{name} does not float")
        kinds = tuple(grid.kinds[k] for k in free) if any(grid.kinds) else ()
        stations = tuple(np.round(grid.stations[free] - base, _DECIMALS).tolist())
        return Float(name, stations, round(wanted, _DECIMALS), window.pitch, window.weight, kinds)

    def boxes(self, names: Sequence[str], floats: Sequence[Float], base: float) -> Iterator[Box]:
        """The combinations that some floats are held from."""
        for combination in self.combinations:
            if not all(name in names for name, _, _ in combination):
                continue
            box = []
            for name, first, last in combination:
                k = names.index(name)
                inside = [n for n, x in enumerate(floats[k].stations) if first - 1e-6 <= x + base <= last + 1e-6]
                box += [(k, inside[0], inside[-1])] if inside else []
            if len(box) == len(combination):
                yield tuple(box)

    def solve(self, names: Sequence[str]) -> Solution:
        """The cheapest stations of some floats; where care leaves some, those, though others may be as good."""
        lazily = self._solve(names, careful=False)
        carefully = self._solve(names, careful=True) if self.careful else lazily
        return lazily if carefully.places is None else replace(carefully, bound=min(lazily.bound, carefully.cost))

    def _solve(self, names: Sequence[str], careful: bool) -> Solution:
        """Remembered for all orders with the same problem; names tell the pairs."""
        problem, memory, order = self.problem(names, careful), self.fixed.setting.solved, self.order
        key = careful, order.drive, order.dimensions["frame_width"], problem.floats, problem.boxes
        if key not in memory:
            if len(memory) >= _MOST_REMEMBERED:
                memory.clear()
            memory[key] = solve(problem)
        return memory[key]


def pair_of(a: int, b: int, found: Relative, floats: Sequence[Float], careful: bool = False) -> Pair:
    """Two floats of a problem; kinds matter only where they make a difference."""
    differs = bool(found.others) or (not careful and any(UNSURE in floats[k].kinds for k in (a, b)))
    return Pair(a, b, found.closed, found.by_kind(careful) if differs else None)
