"""What each fastener clamps: rail, liner, and the plies of all components that own its hole."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from railgen.data.component import Component
from railgen.data.library import Library, LibraryKey
from railgen.frame.rail import RailShape
from railgen.holes.table import BoolArray, FloatArray, HoleTable


@dataclass(frozen=True)
class Stacks:
    """The stack at each of n holes of rails: thicknesses in mm, and how many plies lie on it in all.

    outside, inside: of the owners' plies on the rail's outside face and inside it; steel: rail and liner; plies: all
    of them, rail and liner counted.
    """

    outside: FloatArray
    inside: FloatArray
    steel: FloatArray
    plies: FloatArray

    @property
    def grip(self) -> FloatArray:
        """Thickness clamped by each fastener, its washers not counted, mm."""
        return self.outside + self.steel + self.inside


def stacks_of(rail: RailShape, library: Library, holes: HoleTable, through_liner: BoolArray) -> Stacks:
    """Stacks at all rows of a table; through_liner tells the rows of rails that go through the liner as well.

    Rows of liners and rows without a fastener get a stack too, which means nothing.
    """
    plies = _plies_of(LibraryKey(library), holes.names.components)[holes.owners]
    row = np.repeat(np.arange(len(holes)), np.diff(holes.owner_start))
    outside, inside, count = (np.bincount(row, column, len(holes)).astype(np.float64) for column in plies.T)
    liner = rail.liner.section.thickness if rail.liner else 0.0
    return Stacks(
        outside=outside,
        inside=inside,
        steel=rail.section.thickness + np.where(through_liner, liner, 0.0),
        plies=count + 1 + through_liner,
    )


@lru_cache(maxsize=8)
def _plies_of(key: LibraryKey, names: Sequence[str]) -> FloatArray:
    """Plies of all components by their place among the names, (n, 3)."""
    return np.array([_plies(key.library.components[name]) for name in names], dtype=np.float64).reshape(-1, 3)


def _plies(component: Component) -> tuple[float, float, int]:
    """Thickness of a component's plies outside and inside, mm, and their number."""
    outside = sum(ply.thickness for ply in component.plies if ply.surface == "outside")
    inside = sum(ply.thickness for ply in component.plies if ply.surface == "inside")
    return outside, inside, len(component.plies)
