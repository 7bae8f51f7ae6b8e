"""Figures as CAD polylines: vertices with bulges, circles where they are whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from railgen.holes.table import FloatArray

_SAME = 1e-7
"""mm: vertices this near to one another are one."""


@dataclass(frozen=True, eq=False)
class SubPath:
    """One line of a figure.

    `vertices` (n, 2), mm; `bulges` (n,): tan of a quarter of the angle of the arc that leaves each vertex, above 0
    where it turns left, 0 for a straight line.
    """

    vertices: FloatArray
    bulges: FloatArray
    closed: bool

    @property
    def circle(self) -> tuple[float, float, float] | None:
        """x and y of the centre and the radius where the line is a whole circle."""
        if not self.closed or len(self.vertices) != 4 or np.abs(np.abs(self.bulges) - _QUARTER).max() > 1e-6:
            return None
        centre = self.vertices.mean(axis=0)
        radii = np.hypot(*(self.vertices - centre).T)
        if np.ptp(radii) > 1e-6:
            return None
        return float(centre[0]), float(centre[1]), float(radii.mean())


_QUARTER = float(np.tan(np.pi / 8))


@dataclass(frozen=True)
class _Part:
    """From one move to the next in a figure's commands: indices of its vertices among the points, and of handles.

    `handles`: for each vertex the index of the first of the two handles of the cubic that leaves it, -1 for a line.
    """

    vertices: tuple[int, ...]
    handles: tuple[int, ...]
    closed: bool

    def of(self, points: FloatArray) -> Iterator[SubPath]:
        """This part of each of k figures; `points` (k, m, 2)."""
        at = points[:, list(self.vertices)]
        bulges = np.zeros(at.shape[:2])
        for place, handle in enumerate(self.handles):
            if handle >= 0:
                last = points[:, self.vertices[place + 1]]
                bulges[:, place] = _bulge(at[:, place], points[:, handle], points[:, handle + 1], last)
        # A line that leaves a vertex for the same place again says nothing.
        following = np.roll(at, -1, axis=1)
        kept = np.abs(following - at).max(axis=2) > _SAME
        if not self.closed:
            kept[:, -1] = True
        for vertices, turns, chosen in zip(at, bulges, kept, strict=True):
            if chosen.any():
                yield SubPath(vertices[chosen], turns[chosen], self.closed)


def _bulge(first: FloatArray, handle: FloatArray, second: FloatArray, last: FloatArray) -> FloatArray:
    """Bulges of arcs drawn as cubics, from the directions in which they begin and end; each (k, 2)."""
    begin, end = handle - first, last - second
    cross = begin[:, 0] * end[:, 1] - begin[:, 1] * end[:, 0]
    return np.asarray(np.tan(np.arctan2(cross, (begin * end).sum(axis=1)) / 4))


@lru_cache(maxsize=256)
def sub_paths(commands: str) -> tuple[_Part, ...]:
    """The parts of figures that follow `commands` (see `sheet.Figures`)."""
    parts: list[_Part] = []
    vertices: list[int] = []
    handles: list[int] = []
    closed, point, place = False, 0, 0

    def finish() -> None:
        if vertices:
            parts.append(_Part(tuple(vertices), tuple(handles), closed))

    while place < len(commands):
        command = commands[place]
        if command == "M":
            finish()
            vertices, handles, closed = [point], [-1], False
            point, place = point + 1, place + 1
        elif command == "L":
            vertices, handles = [*vertices, point], [*handles, -1]
            point, place = point + 1, place + 1
        elif command == "C":
            handles[-1] = point
            vertices, handles = [*vertices, point + 2], [*handles, -1]
            point, place = point + 3, place + 3
        else:
            closed, place = True, place + 1
    finish()
    return tuple(parts)
