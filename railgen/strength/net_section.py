"""The section left between openings: moduli of a rail, or of a rail with its liner, at any station.

At a station the steel left is the gross channel of the local depth less what the openings take, each bit once, none of
it counted as filled. Only flat steel is taken: what reaches into a bend belongs to another rule. A welded seam counts
as whole, the relief hole as open. The modulus is that of the lesser fibre about the neutral axis of what is left:
I / c = M A / S - S with the moments A, S, M (area, first, second) about the fibre itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railgen.frame.rail import RailShape
from railgen.holes.neighbours import runs
from railgen.holes.shapes import Cores
from railgen.holes.table import BoolArray, FloatArray, HoleTable, IntArray
from railgen.strength.gross_section import Gross, Moments, Plates, gross_section, plates_of
from railgen.strength.openings import Edges, Openings, overlapping_openings
from railgen.strength.pieces import Pieces, openings_of, pieces_of

_COINCIDENT = 1e-12
"""mm: edges nearer than this are one."""
_ONE_LINE = 1e-6
"""mm: holes whose stations differ by no more lie on one line."""
_KEPT_DECIMALS = 9  # of a millimetre: holes of one line differ by rounding only
UPPER_LOWER = np.array([1.0, -1.0])
"""Sign of both edges of an opening: what it takes is the upper edge's share less the lower one's."""


@dataclass(frozen=True)
class Met:
    """Openings that stations or stretches meet: m of them, each with its group (the station), its edges, and which of
    its two edges (m, 2) bound what is taken; the others lie within another opening."""

    group: IntArray
    opening: IntArray
    edges: Edges
    active: BoolArray


@dataclass(frozen=True)
class NetSection:
    """The section left along both rails, of the rail alone or, between the liner's ends, with its liner."""

    rail: RailShape
    gross: Gross
    plates: Plates
    openings: Openings
    pieces: Pieces

    @cached_property
    def overlaps(self) -> BoolArray:
        """Openings that may share steel with another one."""
        overlapped = np.zeros(len(self.openings), dtype=np.bool_)
        for index in overlapping_openings(self.openings):
            overlapped[index] = True
        return overlapped

    @cached_property
    def columns(self) -> IntArray:
        """Of each round opening a number that it shares with those of one size and station on its side."""
        kinds = np.column_stack([getattr(self.openings, name) for name in ("side", "station", "radius", "stretch")])
        _, column = np.unique(kinds.round(_KEPT_DECIMALS), axis=0, return_inverse=True)
        return column.ravel()

    def met_by(self, piece: IntArray) -> Met:
        """The openings that pieces (an index) meet, grouped by place in the index."""
        order, first, count = self.pieces.met
        group, met = np.repeat(np.arange(len(piece)), count[piece]), order[runs(first[piece], count[piece])]
        opening, edges = self.pieces.opening[met], self.pieces.edges.take(met)
        return Met(group, opening, edges, self._active(piece, group, opening, edges))

    def _active(self, piece: IntArray, group: IntArray, opening: IntArray, edges: Edges) -> BoolArray:
        """Along a piece no edges cross, so its middle tells which of them lie within another opening."""
        active = np.ones((len(opening), 2), dtype=np.bool_)
        rows = np.flatnonzero(self.overlaps[opening])
        if not len(rows):
            return active
        middle = (self.pieces.start[piece] + self.pieces.end[piece]) / 2
        place, _ = self.places(opening[rows], edges.take(rows), middle[group[rows]])
        key = group[rows] * len(self.plates.is_web) + self.openings.plate[opening[rows]]
        for index in range(len(rows)):
            others = np.flatnonzero(key == key[index])
            others = others[others != index]
            for which in (0, 1):
                here, there = place[index, which], place[others]
                inside = (here < there[:, 0] - _COINCIDENT) & (here > there[:, 1] + _COINCIDENT)
                # Of edges that coincide the first one stands for all.
                same = (np.abs(there[:, which] - here) <= _COINCIDENT) & (others < index)
                active[rows[index], which] = not (inside | same).any()
        return active

    def places(self, opening: IntArray, edges: Edges, station: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Across of both edges (m, 2) of openings at stations, mm, and what they gain for a mm of station."""
        if not (edges.arc.any() or edges.slope.any()):
            # Boxes, whose edges are the same all along.
            level = self.openings.across[opening, None] + UPPER_LOWER * edges.base
            return level, np.zeros_like(level)
        stretch = self.openings.stretch[opening, None]
        along = (station - self.openings.station[opening])[:, None] * stretch - edges.at
        rise = np.sqrt(np.maximum(self.openings.radius[opening, None] ** 2 - along**2, 0.0))
        with np.errstate(divide="ignore", invalid="ignore"):
            fall = np.where(edges.arc > 0, along / rise, 0.0)
        height = edges.base + edges.slope * along + edges.arc * rise
        return self.openings.across[opening, None] + UPPER_LOWER * height, UPPER_LOWER * stretch * (edges.slope - fall)

    def flat(self, opening: IntArray, depth: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Across between which the steel around openings is flat at local depths, mm; as columns."""
        plate = self.openings.plate[opening]
        high = self.plates.high[plate] + self.plates.high_depth[plate] * depth
        return self.plates.low[plate, None], high[:, None]

    def taken(self, place: FloatArray, opening: IntArray, depth: FloatArray) -> Moments:
        """Moments about the bottom fibre of the steel below an edge at ``place`` (m, 2) mm, on flanges beside it."""
        plates, plate = self.plates, self.openings.plate[opening]
        thickness, web = plates.thickness[plate, None], plates.is_web[plate, None]
        level = (plates.level[plate] + plates.level_depth[plate] * depth)[:, None]
        area = thickness * place
        first = np.where(web, place / 2, level) * area
        second = np.where(web, place**2 / 3, level**2 + thickness**2 / 12) * area
        return area, first, second

    def moments(self, met: Met, station: FloatArray) -> Moments:
        """Moments about the bottom fibre of what is left at the stations (g) of the groups."""
        depth = self.rail.depth_at(station)
        place, _ = self.places(met.opening, met.edges, station[met.group])
        place = np.clip(place, *self.flat(met.opening, depth[met.group]))
        return self.moments_between(place, np.where(met.active, UPPER_LOWER, 0.0), met.group, met.opening, depth)

    def moments_between(
        self, place: FloatArray, sign: FloatArray, group: IntArray, opening: IntArray, depth: FloatArray
    ) -> Moments:
        """Moments about the bottom fibre of what is left at local depths (g) between edges at ``place`` (m, 2), mm.

        sign: of each edge, 0 where it bounds nothing; group, opening: of each row of edges.
        """
        area, first, second = (
            whole - np.bincount(group, (part * sign).sum(axis=1), len(depth))
            for whole, part in zip(self.gross.moments(depth), self.taken(place, opening, depth[group]), strict=True)
        )
        return area, first, second

    def moduli(self, met: Met, station: FloatArray) -> FloatArray:
        """Moduli of the bottom and the top fibre, (2, g) mm3, left at the stations (g) of the groups."""
        return moduli_of(self.moments(met, station), self.rail.depth_at(station))

    def ratios(self, met: Met, station: FloatArray) -> FloatArray:
        """Moduli of both fibres over the gross one there, (2, g)."""
        return np.asarray(self.moduli(met, station) / self.gross.modulus(self.rail.depth_at(station)))

    def cut_at(self, piece: int, station: float, width: float) -> IntArray:
        """Rows of the table whose openings the line at a station of a piece cuts wider than a width, mm.

        At an end of the piece they are those cut within it: a straight end on the line counts on its own side only.
        """
        met = self.met_by(np.array([piece]))
        here = np.full(len(met.opening), station)
        place, _ = self.places(met.opening, met.edges, here)
        place = np.clip(place, *self.flat(met.opening, self.rail.depth_at(here)))
        rows = self.openings.row[met.opening[place[:, 0] - place[:, 1] > width]]
        return rows[rows >= 0]

    def lines_between_holes(self, side: int) -> FloatArray:
        """Stations of one side where holes overlap along the rail and may leave less than on their own lines, mm.

        Both ends and the middle of every piece that meets holes of several stations: two equal holes leave the least in
        the middle between them, which is the middle of a piece.
        """
        pieces, at = self.pieces, self.openings.station[self.pieces.opening]
        low, high = np.full(len(pieces), np.inf), np.full(len(pieces), -np.inf)
        np.minimum.at(low, pieces.piece, at)
        np.maximum.at(high, pieces.piece, at)
        chosen = (high - low > _ONE_LINE) & (pieces.side == side)
        start, end = pieces.start[chosen], pieces.end[chosen]
        return np.concatenate([start, (start + end) / 2, end])

    def least_moduli(self, side: IntArray, station: FloatArray) -> FloatArray:
        """Least modulus at stations (mm) of sides, both of length n, mm3: of both fibres, and ahead of it and behind.

        Stations are those of the rail, or with a liner between its ends.
        """
        step = 2.0 * float(self.pieces.end.max() - self.pieces.start.min()) + 1.0
        ends, key = self.pieces.end + self.pieces.side * step, station + side * step
        last = len(self.pieces) - 1
        ahead = np.minimum(np.searchsorted(ends, key, side="left"), last)
        behind = np.minimum(np.searchsorted(ends, key, side="right"), last)
        # At a rear end the piece behind is another rail's.
        behind = np.where(self.pieces.side[behind] == side, behind, ahead)
        both = np.stack([self.moduli(self.met_by(piece), station) for piece in (ahead, behind)])
        return np.asarray(both.min(axis=(0, 1)))


def moduli_of(moments: Moments, depth: FloatArray) -> FloatArray:
    """Moduli of the bottom and the top fibre, (2, ...) mm3, from moments about the bottom fibre and depths (mm)."""
    area, first, second = moments
    from_top = area * depth - first
    second_from_top = second - 2 * depth * first + depth**2 * area
    return np.stack([second * area / first - first, second_from_top * area / from_top - from_top])


def net_section(
    rail: RailShape, table: HoleTable, cores: Cores, with_liner: bool = False, ends: FloatArray | None = None
) -> NetSection:
    """The section left along both rails of a serial between the openings of its hole table.

    cores: of the table's rows; with_liner: of rail and liner together, between the liner's ends; ends: stations (mm)
    where pieces are to end besides. Raises ValueError where a liner is asked for and there is none.
    """
    return section_between(rail, openings_of(rail, table, cores, with_liner), with_liner, ends)


def section_between(
    rail: RailShape,
    openings: Openings,
    with_liner: bool,
    ends: FloatArray | None = None,
    cut: Callable[[Openings, FloatArray, RailShape, bool], Pieces] = pieces_of,
) -> NetSection:
    """The section left between some openings; cut: how rails are cut to pieces."""
    stations = [np.zeros(0) if ends is None else ends]
    if rail.taper:
        stations.append(np.array([rail.taper.start]))
    pieces = cut(openings, np.concatenate(stations), rail, with_liner)
    return NetSection(rail, gross_section(rail, with_liner), plates_of(rail), openings, pieces)
