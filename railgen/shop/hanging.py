"""How a part hangs on its rack for cleaning and coating: its sag between hooks, and the pockets that do not drain.

A rail is a channel open at both ends. With its open side up it is a trough, whose floor is the web's inside face: what
is lower there than every way out, end or hole, holds liquid when the part leaves a bath. With its open side down the
same face is a roof, and what is higher than every way out holds air when the part goes in, so that the bath never
reaches it. With the web upright both flanges drain over their free edges. Along the part, the face follows the rack's
slope and the part's own sag.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import cos, radians, sin, tan

import numpy as np

from railgen.data.plant import Rack
from railgen.frame.measure import GRAVITY, YOUNG, part_measures
from railgen.frame.panels import Face
from railgen.frame.rail import Part, RailShape, part_front, part_length, part_section
from railgen.frame.section import properties
from railgen.holes.shapes import is_hole
from railgen.holes.table import BoolArray, FloatArray, HoleTable
from railgen.shop.part_work import measures_of

_PER_SPAN = 64
_LEAST_REACTION = -1e-9  # of the weight: a hook that would pull down lets go
_FILM = 1e-6  # mm: where a pocket ends
LEAST_POCKET = 0.1
"""Depth (mm) from which on a pocket is one; what is thinner clings to the steel anyway. Common practice, no source."""


@dataclass(frozen=True, eq=False)
class Sag:
    """A beam of length L (mm) under its own weight on some of its hooks, in the plane square to its web.

    hooks (h,): distances from the front end of those that carry it, mm; reactions (h,): what they carry, N; fewer than
    two where the hooks cannot hold it level, then it is taken as rigid. nodes, moved: ends and hooks with deflection
    (mm, up) and rotation there (k, 2); load: N/mm over E I.
    """

    hooks: FloatArray
    reactions: FloatArray
    nodes: FloatArray
    moved: FloatArray
    load: float

    def at(self, x: FloatArray) -> FloatArray:
        """Deflection (mm, up) at distances x (n,) from the front end."""
        span = np.clip(np.searchsorted(self.nodes, x, side="right") - 1, 0, len(self.nodes) - 2)
        length = np.diff(self.nodes)[span]
        s = (x - self.nodes[span]) / length
        (v0, r0), (v1, r1) = self.moved[span].T, self.moved[span + 1].T
        bent = v0 * (1 - 3 * s**2 + 2 * s**3) + r0 * length * (s - 2 * s**2 + s**3)
        bent += v1 * (3 * s**2 - 2 * s**3) + r1 * length * (s**3 - s**2)
        return np.asarray(bent - self.load * (length**2 * s * (1 - s)) ** 2 / 24)

    def steepest(self, span: int) -> float:
        """Greatest slope, either way, between two nodes: at one of them, or where the bending moment is nought."""
        length = float(self.nodes[span + 1] - self.nodes[span])
        (v0, r0), (v1, r1) = self.moved[span].tolist(), self.moved[span + 1].tolist()
        # The slope as a cubic of the share s of the span: that of the nodes' movement, less that of the load.
        load = self.load * length**3 / 12
        moved = [r0, 6 * (v1 - v0) / length - 4 * r0 - 2 * r1, 3 * (r0 + r1) - 6 * (v1 - v0) / length, 0.0]
        cubic = np.polynomial.Polynomial(moved) - load * np.polynomial.Polynomial([0.0, 1.0, -3.0, 2.0])
        turns = cubic.deriv().roots()
        inner = turns[np.isreal(turns)].real
        places = np.concatenate([[0.0, 1.0], inner[(inner > 0) & (inner < 1)]])
        return float(np.max(np.abs(cubic(places))))


def sag(length: float, weight: float, stiffness: float, hooks: Sequence[float]) -> Sag:
    """The sag of a beam (mm long) of uniform weight (N/mm) and stiffness E I (N mm2) on hooks in one line.

    hooks: distances from the front end, mm; those beyond the ends are not used, and those that would have to pull down
    let go. Source: beam theory, Euler and Bernoulli; exact at every point for a uniform load.
    """
    load = weight / stiffness
    held = np.array(sorted({hook for hook in hooks if 0 <= hook <= length}), dtype=np.float64)
    while len(held) >= 2 and held[0] <= length / 2 <= held[-1]:
        nodes = np.unique([0.0, *held, length])
        moved, reactions = _solved(nodes, np.isin(nodes, held), load)
        least = int(np.argmin(reactions))
        if reactions[least] >= _LEAST_REACTION * load * length:
            return Sag(held, reactions * stiffness, nodes, moved, load)
        held = np.delete(held, least)
    return Sag(np.empty(0), np.empty(0), np.array([0.0, length]), np.zeros((2, 2)), 0.0)


def _solved(nodes: FloatArray, is_hook: BoolArray, load: float) -> tuple[FloatArray, FloatArray]:
    """Deflection and rotation of the nodes (k, 2), and the hooks' reactions over E I."""
    count = len(nodes)
    stiffness, force = np.zeros((2 * count, 2 * count)), np.zeros(2 * count)
    for first, length in enumerate(np.diff(nodes).tolist()):
        of = slice(2 * first, 2 * first + 4)
        stiffness[of, of] += _element(length)
        force[of] -= load * length * np.array([1 / 2, length / 12, 1 / 2, -length / 12])
    moved = np.zeros(2 * count)
    free = np.ones(2 * count, dtype=np.bool_)
    free[0::2] = ~is_hook
    moved[free] = np.linalg.solve(stiffness[np.ix_(free, free)], force[free])
    return moved.reshape(-1, 2), (stiffness @ moved - force)[0::2][is_hook]


def _element(length: float) -> FloatArray:
    """Stiffness over E I of a beam between two nodes: deflection and rotation of each."""
    a, b = 6 * length, 2 * length**2
    rows = [[12, a, -12, a], [a, 2 * b, -a, b], [-12, -a, 12, -a], [a, b, -a, 2 * b]]
    return np.array(rows) / length**3


@dataclass(frozen=True, eq=False)
class Hanging:
    """A part as it hangs: distances x (n,) from its front end and heights (n,) of its web's inside face there, mm.

    way_out (n,): whether liquid and air get out there; the ends always. level (n,): how high liquid stands, or how low
    air reaches; where nothing is held it is the face's own height. holds: "liquid", "air", or "" with the web upright.
    """

    sag: Sag
    holds: str
    x: FloatArray
    height: FloatArray
    way_out: BoolArray
    level: FloatArray

    @property
    def depth(self) -> FloatArray:
        """How deep liquid or air is held at each x, mm."""
        return np.abs(self.level - self.height)

    @property
    def pockets(self) -> tuple[tuple[float, float, float, float], ...]:
        """Each pocket from the front: distances of its front, rear and deepest point from the front end, its depth."""
        holds = self.depth > _FILM
        edges = np.flatnonzero(np.diff(np.concatenate([[False], holds, [False]]).astype(np.int64)))
        found = []
        for first, last in zip(edges[0::2].tolist(), edges[1::2].tolist(), strict=True):
            deepest = first + int(np.argmax(self.depth[first:last]))
            if self.depth[deepest] < LEAST_POCKET:
                continue
            ends = float(self.x[max(first - 1, 0)]), float(self.x[min(last, len(self.x) - 1)])
            found.append((*ends, float(self.x[deepest]), float(self.depth[deepest])))
        return tuple(found)


def hang(rail: RailShape, part: Part, rack: Rack, holes: HoleTable) -> Hanging:
    """A part on its rack; holes: its rows of the hole table.

    Its weight and stiffness are taken as uniform, the latter as that of the whole section. A liner is coated alone.
    Raises ValueError for a liner that is not there.
    """
    length = part_length(rail, part) if part == "liner" else rail.length
    section = part_section(rail, part)
    slope = radians(rack.slope)
    hooks = _hooks(length, rack.hook_stations)
    weight = measures_of(rail, part, holes).mass * GRAVITY * cos(slope) / length
    lying = rack.open_side != "side"
    bent = sag(length, weight, YOUNG * properties(section).iyy, hooks if lying else ())
    x, way_out = _points(length, bent.nodes, _openings(rail, part, holes))
    height = -x * sin(slope) + bent.at(x) * cos(slope)
    if not lying:
        return Hanging(bent, "", x, height, way_out, height)
    if rack.open_side == "up":
        return Hanging(bent, "liquid", x, height, way_out, held_level(height, way_out))
    return Hanging(bent, "air", x, height, way_out, -held_level(-height, way_out))


def runs_empty(rail: RailShape, part: Part, rack: Rack) -> bool:
    """Whether a part on its rack falls, or rises, all along whatever holes it has, so that it can hold nothing.

    It does where the rack's slope is no less than the steepest place of the sag of the part with none of them.
    Raises ValueError for a liner that is not there.
    """
    if rack.open_side == "side":
        return True
    length, section = part_length(rail, part) if part == "liner" else rail.length, part_section(rail, part)
    weight = part_measures(rail, part, 0.0, 0.0).mass * GRAVITY / length
    steepest = _steepest(length, tuple(rack.hook_stations)) * weight / (YOUNG * properties(section).iyy)
    return bool(steepest <= tan(radians(rack.slope)))


@lru_cache(maxsize=4096)
def _steepest(length: float, hook_stations: tuple[float, ...]) -> float:
    """Greatest slope, either way, of a beam on hooks where its load over E I is 1/mm3, mm3."""
    found = sag(length, 1.0, 1.0, _hooks(length, hook_stations))
    return max(found.steepest(span) for span in range(len(found.nodes) - 1))


def _hooks(length: float, hook_stations: Sequence[float]) -> list[float]:
    """Distances of a rack's hooks from the front end of a part; below zero they are told from its rear end, mm."""
    return [hook if hook >= 0 else length + hook for hook in hook_stations]


def _openings(rail: RailShape, part: Part, holes: HoleTable) -> FloatArray:
    """Distances (mm) from the front end of the openings in a part's web, the taper's relief hole among them."""
    front = part_front(rail, part)
    stations = holes.station[is_hole(holes) & (holes.face == Face.WEB)]
    if part == "rail" and rail.taper:
        stations = np.append(stations, rail.taper.apex[0])
    return np.asarray(stations - front)


def _points(length: float, nodes: FloatArray, holes: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Points along the part, every way out among them, and which are one."""
    spans = np.diff(nodes)[:, None] * np.linspace(0, 1, _PER_SPAN, endpoint=False) + nodes[:-1, None]
    x = np.unique(np.concatenate([spans.ravel(), [0.0, length], holes]))
    return x, np.isin(x, np.concatenate([[0.0, length], holes]))


def held_level(height: FloatArray, way_out: BoolArray) -> FloatArray:
    """How high liquid stands at points (n,) in a row, of these heights; it leaves where it finds a way out.

    At each point it is the lesser of the heights that must be passed to the next way out on either side; the first and
    the last point are ways out.
    """
    if (np.diff(height) <= 0).all() or (np.diff(height) >= 0).all():
        return height
    level = height.copy()
    outs = np.flatnonzero(way_out)
    for first, last in zip(outs[:-1].tolist(), outs[1:].tolist(), strict=True):
        here = height[first : last + 1]
        to_front = np.maximum.accumulate(here)
        to_rear = np.maximum.accumulate(here[::-1])[::-1]
        level[first : last + 1] = np.minimum(to_front, to_rear)
    return level
