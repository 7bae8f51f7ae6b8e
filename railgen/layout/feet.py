"""Feet of placed components: their footprints as polygons on the face sides of the finished rails."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import shapely

from railgen.data.library import Library, LibraryKey
from railgen.data.local import Footprint, datum_across
from railgen.frame.rail import RailShape
from railgen.frame.section import Section
from railgen.holes.neighbours import runs
from railgen.holes.shapes import MadeOnce
from railgen.holes.table import FACES, BoolArray, FloatArray, IntArray
from railgen.layout.plan import Placements

SURFACES = ("outside", "inside")
OUTSIDE, INSIDE = 0, 1


@dataclass(frozen=True)
class Feet:
    """Feet of one serial, n of them; lengths mm.

    component: index into the library's components; placement: row of the Placements; side, face, surface index SIDES,
    FACES and SURFACES. Foot i has the corners ``corners[start[i]:start[i + 1]]``: station and across (z on the web, y
    on a flange) of the finished part.
    """

    component: IntArray
    placement: IntArray
    side: IntArray
    face: IntArray
    surface: IntArray
    start: IntArray
    corners: FloatArray

    def __len__(self) -> int:
        return len(self.component)

    @cached_property
    def low(self) -> FloatArray:
        """Least station and across of each foot, (n, 2) mm."""
        return _reduced(np.minimum, self)

    @cached_property
    def high(self) -> FloatArray:
        """Greatest station and across of each foot, (n, 2) mm."""
        return _reduced(np.maximum, self)

    @property
    def station(self) -> FloatArray:
        """Middle of each foot along the rail, mm."""
        return np.asarray((self.low[:, 0] + self.high[:, 0]) / 2)

    def polygons(self, index: IntArray) -> np.ndarray:
        """Some feet as shapely polygons of station and across, each made once."""
        return self._made.at(index, self._polygons)

    @cached_property
    def _made(self) -> MadeOnce:
        return MadeOnce(len(self))

    def _polygons(self, index: IntArray) -> np.ndarray:
        corners = np.diff(self.start)[index]
        rings = self.corners[runs(self.start[index], corners)]
        of_ring = np.repeat(np.arange(len(index)), corners)
        return np.asarray(shapely.polygons(shapely.linearrings(rings, indices=of_ring)))

    def least(self, values: FloatArray) -> FloatArray:
        """Of a value at each corner the least of each foot, (n,)."""
        return np.minimum.reduceat(values, self.start[:-1]) if len(self) else np.zeros(0)


def _reduced(ufunc: np.ufunc, feet: Feet) -> FloatArray:
    return np.asarray(ufunc.reduceat(feet.corners, feet.start[:-1], axis=0)) if len(feet) else np.zeros((0, 2))


@dataclass(frozen=True)
class _Footprints:
    """Footprints of all components of a library; component i has those from ``start[i]`` to ``start[i + 1]``."""

    start: IntArray
    face: IntArray
    surface: IntArray
    of_depth: FloatArray
    of_flange: FloatArray
    corner_start: IntArray
    corners: FloatArray


@lru_cache(maxsize=8)
def _footprints(key: LibraryKey) -> _Footprints:
    components = list(key.library.components.values())
    prints = [foot for component in components for foot in component.footprints]
    corners = [corner for foot in prints for corner in foot.polygon]
    return _Footprints(
        start=np.cumsum([0, *(len(component.footprints) for component in components)]),
        face=np.array([FACES.index(foot.face) for foot in prints], dtype=np.int64),
        surface=np.array([SURFACES.index(foot.surface) for foot in prints], dtype=np.int64),
        of_depth=np.array([datum_across(foot.datum, 1.0, 0.0) for foot in prints], dtype=np.float64),
        of_flange=np.array([datum_across(foot.datum, 0.0, 1.0) for foot in prints], dtype=np.float64),
        corner_start=np.cumsum([0, *(len(foot.polygon) for foot in prints)]),
        corners=np.array(corners, dtype=np.float64).reshape(-1, 2),
    )


def feet_of(rail: RailShape, library: Library, placements: Placements) -> Feet:
    """The feet of all placements; where a part is turned half round the vertical its stations change sign."""
    prints = _footprints(LibraryKey(library))
    count = np.diff(prints.start)[placements.component]
    placement = np.repeat(np.arange(len(count)), count)
    foot = runs(prints.start[placements.component], count)
    corners = np.diff(prints.corner_start)[foot]
    corner = runs(prints.corner_start[foot], corners)
    of_foot = np.repeat(np.arange(len(foot)), corners)
    held = placement[of_foot]
    station = placements.station[held] + placements.direction[held] * prints.corners[corner, 0]
    datum = rail.section.depth * prints.of_depth[foot] + rail.section.flange * prints.of_flange[foot]
    return Feet(
        component=placements.component[placement],
        placement=placement,
        side=placements.side[placement],
        face=prints.face[foot],
        surface=prints.surface[foot],
        start=np.concatenate(([0], np.cumsum(corners))),
        corners=np.column_stack([station, prints.corners[corner, 1] + datum[of_foot]]),
    )


def foot_corners(foot: Footprint, section: Section, station: float, direction: float) -> FloatArray:
    """Corners (n, 2) of one foot on the rail, (station, across) mm, for a component whose datum stands at station."""
    local = np.array(foot.polygon, dtype=np.float64)
    datum = datum_across(foot.datum, section.depth, section.flange)
    return np.stack([station + direction * local[:, 0], datum + local[:, 1]], axis=-1)


def declared_stacks(library: Library) -> BoolArray:
    """(k, k) of k components: whether one of the two may be stacked onto the other."""
    return _declared_stacks(LibraryKey(library))


@lru_cache(maxsize=8)
def _declared_stacks(key: LibraryKey) -> BoolArray:
    components = key.library.components
    index = {name: row for row, name in enumerate(components)}
    stacks = np.zeros((len(index), len(index)), dtype=np.bool_)
    for name, component in components.items():
        for below in component.stacks_onto:
            stacks[index[name], index[below]] = stacks[index[below], index[name]] = True
    return stacks
