"""What an overlaid picture of two patterns shows, before anything is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

State = Literal["same", "added", "removed", "before", "after", "changed"]
"""Before and after: a hole that was moved or resized, as it was and as it is."""


@dataclass(frozen=True)
class RailEdges:
    """A rail's ends (stations), depth and flange width, mm; of a tapered one the fold's station and the end's depth."""

    front: float
    rear: float
    depth: float
    flange: float
    fold: float | None
    end_depth: float


class OverlayHole(NamedTuple):
    """One hole as drawn: sizes 0 where they do not apply, angle in degrees in the finished part."""

    state: State
    side: str
    face: str
    station: float
    across: float
    shape: str
    diameter: float
    length: float
    angle: float


class Move(NamedTuple):
    """From where to where a hole has moved: (station, across) in mm."""

    side: str
    face: str
    before: tuple[float, float]
    after: tuple[float, float]


class Label(NamedTuple):
    """A number in the list of components, beside their changed holes on one side, at a station."""

    side: str
    station: float
    number: int


@dataclass(frozen=True, eq=False)
class Overlay:
    """Two patterns over each other.

    titles: before and after; edges: of both rails, None where they are not known; rows: the list of components with
    any change, a text a column of ``columns``.
    """

    titles: tuple[str, str]
    edges: tuple[RailEdges | None, RailEdges | None]
    holes: Sequence[OverlayHole]
    moves: Sequence[Move]
    labels: Sequence[Label]
    columns: Sequence[tuple[str, float]]
    rows: Sequence[tuple[str, ...]]
