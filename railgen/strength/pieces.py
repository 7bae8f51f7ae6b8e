"""The openings of both rails as a hole table has them, and the pieces along which the same edges are cut."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railgen.frame.panels import Panel
from railgen.frame.rail import RailShape, required_liner
from railgen.frame.taper import TaperShape
from railgen.holes.neighbours import runs
from railgen.holes.shapes import Cores, is_hole
from railgen.holes.table import LINER, NONE, RAIL, SIDES, FloatArray, HoleTable, IntArray
from railgen.strength.gross_section import plates_of
from railgen.strength.openings import (
    Edges,
    Openings,
    break_stations,
    chains_of,
    crossing_stations,
    crossings_of_lines,
    edges_at,
    overlapping_openings,
)

_SHORTEST = 1e-10
"""mm: no piece is shorter. The straight side of a slot across the rail would be one, steeper than digits can tell."""
_PLATE_OF_PANEL = np.array([0, 1, 2, 0, 1], dtype=np.int64)


@dataclass(frozen=True)
class Pieces:
    """Stretches of both rails along which the same edges are cut: k pieces, m openings met by them.

    side, start, end: of each piece, in order along each side; piece, opening, edges: of each opening met.
    """

    side: IntArray
    start: FloatArray
    end: FloatArray
    piece: IntArray
    opening: IntArray
    edges: Edges

    def __len__(self) -> int:
        return len(self.side)

    @cached_property
    def met(self) -> tuple[IntArray, IntArray, IntArray]:
        """Rows of ``opening`` ordered by piece, and of each piece the first of them and their number."""
        order = np.argsort(self.piece, kind="stable")
        count = np.bincount(self.piece, minlength=len(self))
        return order, np.cumsum(count) - count, count


def openings_of(rail: RailShape, table: HoleTable, cores: Cores, with_liner: bool) -> Openings:
    """Holes of the rail, and of its liner where asked for, and the taper's relief hole on both sides."""
    rows = np.flatnonzero(is_hole(table) & ((table.part == RAIL) | with_liner))
    panel, part = table.panel[rows], table.part[rows]
    begin, finish = span_of(rail, with_liner)
    stretch, start, end = np.ones(len(rows)), np.full(len(rows), begin), np.full(len(rows), finish)
    if rail.taper:
        on_ramp = (panel == Panel.TAIL_TOP) & (part == RAIL)
        stretch[on_ramp] = 1 / np.cos(rail.taper.slope)
        start[on_ramp] = max(begin, rail.taper.start)
        end[(panel == Panel.TOP) & (part == RAIL)] = min(finish, rail.taper.start)
    along, _ = cores.reach(table.angle)
    reach = (along[rows] + cores.radius[rows]) / stretch
    openings = Openings(
        row=rows,
        side=table.side[rows],
        plate=_PLATE_OF_PANEL[panel] + np.where(part == LINER, 3, 0),
        station=table.station[rows],
        across=table.across[rows],
        stretch=stretch,
        half_length=cores.half_length[rows],
        half_width=cores.half_width[rows],
        radius=cores.radius[rows],
        angle=table.angle[rows],
        start=np.maximum(start, table.station[rows] - reach),
        end=np.minimum(end, table.station[rows] + reach),
    )
    if rail.taper and not with_liner:
        openings = _with_relief_holes(openings, rail.taper)
    cut = openings.end > openings.start
    return openings if cut.all() else openings.taken(np.flatnonzero(cut))


def _with_relief_holes(openings: Openings, taper: TaperShape) -> Openings:
    (station, height), radius = taper.apex, taper.relief_radius
    hole = {
        "row": NONE,
        "plate": 0,
        "station": station,
        "across": height,
        "stretch": 1.0,
        "half_length": 0.0,
        "half_width": 0.0,
        "radius": radius,
        "angle": 0.0,
        "start": station - radius,
        "end": min(station + radius, taper.rear),
    }
    sides = np.arange(len(SIDES))
    added = {name: np.full(len(sides), value) for name, value in hole.items()} | {"side": sides}
    return Openings(**{name: np.concatenate([getattr(openings, name), column]) for name, column in added.items()})


def span_of(rail: RailShape, with_liner: bool) -> tuple[float, float]:
    """Stations of the ends of the rail, or of the liner, mm. Raises ValueError where there is no liner."""
    if not with_liner:
        return rail.front, rail.rear
    liner = required_liner(rail)
    return liner.start, liner.end


def pieces_of(openings: Openings, ends: FloatArray, rail: RailShape, with_liner: bool) -> Pieces:
    """Pieces between all stations where an edge begins, ends or changes, or may cross another or leave flat steel.

    They end at the stations ``ends`` (mm) too, and all lie on the rail, or with a liner between its ends.
    """
    chains = chains_of(openings)
    station, opening = break_stations(openings, chains)
    keys = [(station, openings.side[opening])]
    for crossings in (_crossings(openings), _off_flat(openings, rail)):
        keys += [(crossing, openings.side[first]) for first, crossing in crossings]
    cuts = _cut(openings, keys, ends, *span_of(rail, with_liner))
    edges = edges_at(openings, chains, cuts.met, (cuts.start[cuts.piece] + cuts.end[cuts.piece]) / 2)
    return Pieces(cuts.side, cuts.start, cuts.end, cuts.piece, cuts.met, edges)


def boxed_pieces_of(openings: Openings, ends: FloatArray, rail: RailShape, with_liner: bool) -> Pieces:
    """As ``pieces_of``, with the box round each opening in its place: fewer pieces, and nowhere less taken."""
    keys = [(openings.start, openings.side), (openings.end, openings.side)]
    cuts = _cut(openings, keys, ends, *span_of(rail, with_liner))
    none = np.zeros((len(cuts.met), 2))
    height = np.broadcast_to(openings.half_height[cuts.met, None], none.shape)
    return Pieces(cuts.side, cuts.start, cuts.end, cuts.piece, cuts.met, Edges(none, height, none, none))


@dataclass(frozen=True)
class _Cuts:
    """Pieces of both rails, and the openings that they meet: piece and opening of each meeting."""

    side: IntArray
    start: FloatArray
    end: FloatArray
    piece: IntArray
    met: IntArray


def _cut(
    openings: Openings, keys: list[tuple[FloatArray, IntArray]], ends: FloatArray, begin: float, finish: float
) -> _Cuts:
    """Rails cut at stations of a side each, and on both sides at ``ends`` and where they begin and finish, mm."""
    step = 2.0 * (finish - begin) + 1.0

    def place(station: FloatArray | float, side: IntArray | int) -> FloatArray:
        # One order of adding, everywhere: a place that differs by a digit would miss the piece that begins there.
        return np.asarray(station - begin + side * step)

    ends = np.clip(np.concatenate([[begin, finish], ends]), begin, finish)
    of_sides = [place(ends, side) for side in range(len(SIDES))]
    places = np.unique(np.concatenate([*(place(station, side) for station, side in keys), *of_sides]))
    low, high = places[:-1], places[1:]
    side = (low // step).astype(np.int64)
    on_rail = np.flatnonzero((low < place(finish, side)) & (high - low > _SHORTEST))
    low, high, side = low[on_rail], high[on_rail], side[on_rail]
    first = np.searchsorted(low, place(openings.start, openings.side), side="left")
    count = np.searchsorted(low, place(openings.end, openings.side), side="left") - first
    piece, met = runs(first, count), np.repeat(np.arange(len(openings)), count)
    return _Cuts(side, low - side * step + begin, high - side * step + begin, piece, met)


def _crossings(openings: Openings) -> Iterator[tuple[int, FloatArray]]:
    """For pairs of openings that overlap, the first one and the stations where edges may cross, mm."""
    for first, second in zip(*(index.tolist() for index in overlapping_openings(openings)), strict=True):
        stations = crossing_stations(openings, first, second)
        start = max(openings.start[first], openings.start[second])
        end = min(openings.end[first], openings.end[second])
        yield first, stations[(stations > start) & (stations < end)]


def _off_flat(openings: Openings, rail: RailShape) -> Iterator[tuple[int, FloatArray]]:
    """For openings that reach beyond flat steel, each and the stations where their edges leave it, mm.

    Between two of them an edge counts all along or not at all, so that a width kept by the flat's ends begins at one.
    """
    plates, reach, taper = plates_of(rail), openings.half_height, rail.taper
    low, depth = plates.low[openings.plate], plates.high_depth[openings.plate]
    high = plates.high[openings.plate] + depth * rail.section.depth
    least = plates.high[openings.plate] + depth * rail.depth_at(openings.end)
    beyond = (openings.across - reach < low) | (openings.across + reach > least)
    for index in np.flatnonzero(beyond).tolist():
        lines = [(0.0, low[index], 1.0, 0.0), (0.0, high[index], 1.0, 0.0)]
        if taper and depth[index]:
            lines.append((taper.start, high[index], np.cos(taper.slope), -np.sin(taper.slope)))
        yield index, crossings_of_lines(openings, index, np.array(lines))
