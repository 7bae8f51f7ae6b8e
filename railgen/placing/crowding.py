"""What pairs of components cannot decide, bounded over all that may stand near: floats, and lines across the rail.

A float is certain to settle where a station of its grid is never closed by anything, in any order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from railgen.placing.catalogue_proof import ComponentClash
from railgen.placing.component_pairs import Standing
from railgen.placing.line_bounds import LineBound


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
class Crowding:
    """All floats and all line bounds of some components."""

    rooms: tuple[Room, ...]
    lines: tuple[LineBound, ...]


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


def settled(rooms: Mapping[str, Room], met: ComponentClash) -> bool:
    """Whether every floating component of a clash is certain to settle clear of everything."""
    floats = [part.id for part in (met.first, met.second) if part is not None and part.floating]
    return bool(floats) and all(name in rooms and rooms[name].is_certain for name in floats)
