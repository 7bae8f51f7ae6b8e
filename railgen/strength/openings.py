"""What lines across a rail cut out of its openings: both edges of each, as arcs and straight pieces.

The true shape of an opening is a core inflated by a radius, so seen along the rail each of its two edges (toward
greater and toward lesser across) is a chain of arc, line, arc, line, arc. An edge's height is measured from the
opening's centre outward, so that both edges are described alike.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.neighbours import overlapping
from railgen.holes.table import BoolArray, FloatArray, IntArray

_LINES, _ARCS = 2, 3
_PLACES = 7
"""Stations of an edge where it changes: the ends of its five pieces, and the height of its middle arc."""
_ONE_CENTRE = 1e-12
"""mm: circles whose centres are nearer than this have one."""


@dataclass(frozen=True)
class Openings:
    """n openings of the rails of both sides; lengths mm, angles degrees.

    row: of the hole table, -1 for what is no row; plate: of the steel it is in; station, across: its centre in the
    finished part; stretch: mm along the panel for a mm of station; half_length, half_width, radius, angle: its core;
    start, end: the stations between which it is cut at all.
    """

    row: IntArray
    side: IntArray
    plate: IntArray
    station: FloatArray
    across: FloatArray
    stretch: FloatArray
    half_length: FloatArray
    half_width: FloatArray
    radius: FloatArray
    angle: FloatArray
    start: FloatArray
    end: FloatArray

    def __len__(self) -> int:
        return len(self.row)

    def taken(self, index: IntArray) -> Openings:
        """The openings at an index."""
        return Openings(**{name: column[index] for name, column in vars(self).items()})

    @property
    def half_height(self) -> FloatArray:
        """How far each true shape reaches across from its centre, mm."""
        direction = np.radians(self.angle)
        reach = self.half_length * np.abs(np.sin(direction)) + self.half_width * np.abs(np.cos(direction))
        return np.asarray(reach + self.radius)

    @property
    def is_round(self) -> BoolArray:
        return np.asarray((self.half_length == 0) & (self.half_width == 0))


@dataclass(frozen=True)
class Chains:
    """Upper and lower edge (axis 1) of the n openings that are not round: three arcs with two lines between them.

    opening: of each row; row: of each opening, -1 where it is round; arc_x, arc_height: centres of the arcs from the
    opening's centre; line_height: of each line at its first arc's centre; slope: of each line; breaks: where the five
    pieces begin and end, (n, 2, 6); all along the panel.
    """

    opening: IntArray
    row: IntArray
    arc_x: FloatArray
    arc_height: FloatArray
    line_height: FloatArray
    slope: FloatArray
    breaks: FloatArray


def chains_of(openings: Openings) -> Chains:
    """The edges of openings; the lower edge of one is the upper edge of its mirror image."""
    opening = np.flatnonzero(~openings.is_round)
    row = np.full(len(openings), -1)
    row[opening] = np.arange(len(opening))
    angle = openings.angle[opening]
    both = np.radians(np.stack([angle, -angle], axis=1)) % np.pi
    cosine, sine = np.cos(both), np.sin(both)
    rising = cosine >= 0
    long = np.stack([cosine, sine], axis=-1) * openings.half_length[opening, None, None]
    wide = np.stack([-sine, cosine], axis=-1) * openings.half_width[opening, None, None]
    sign = np.where(rising, 1.0, -1.0)[..., None]
    left, top = wide - sign * long, long + sign * wide
    arcs = np.stack([left, top, -left], axis=2)
    steep, flat = np.abs(cosine), sine
    normals = np.where(
        rising[..., None, None],
        np.stack([np.stack([-flat, steep], -1), np.stack([steep, flat], -1)], axis=2),
        np.stack([np.stack([-steep, flat], -1), np.stack([flat, steep], -1)], axis=2),
    )
    radius = openings.radius[opening, None, None]
    step = radius * normals[..., 0]
    x, height = arcs[..., 0], arcs[..., 1]
    with np.errstate(divide="ignore", invalid="ignore"):
        slope = np.where(normals[..., 1] > 0, -normals[..., 0] / normals[..., 1], 0.0)
    breaks = np.stack(
        [
            x[..., 0] - radius[..., 0],
            x[..., 0] + step[..., 0],
            x[..., 1] + step[..., 0],
            x[..., 1] + step[..., 1],
            x[..., 2] + step[..., 1],
            x[..., 2] + radius[..., 0],
        ],
        axis=-1,
    )
    line_height = height[..., :_LINES] + radius * normals[..., 1] - slope * step
    return Chains(opening, row, x, height, line_height, slope, breaks)


def break_stations(openings: Openings, chains: Chains) -> tuple[FloatArray, IntArray]:
    """Stations where an edge passes from one piece to the next or an arc is at its height, and their openings."""
    long = chains.opening
    places = np.concatenate([chains.breaks, chains.arc_x[..., 1:2]], axis=-1).reshape(len(long), 2 * _PLACES)
    stations = openings.station[long, None] + places / openings.stretch[long, None]
    of_long = np.repeat(long, places.shape[1])
    station = np.concatenate([openings.start, openings.end, openings.station, stations.ravel()])
    every = np.arange(len(openings))
    opening = np.concatenate([every, every, every, of_long])
    inside = (station >= openings.start[opening]) & (station <= openings.end[opening])
    return station[inside], opening[inside]


@dataclass(frozen=True)
class Edges:
    """One piece of both edges (axis 1) of some openings: height = base + slope x + arc sqrt(radius2 - x2).

    x is measured along the panel from ``at``; arc is 1 on arcs and 0 on lines.
    """

    at: FloatArray
    base: FloatArray
    slope: FloatArray
    arc: FloatArray

    def take(self, index: IntArray) -> Edges:
        """The edges at an index."""
        return Edges(self.at[index], self.base[index], self.slope[index], self.arc[index])


def edges_at(openings: Openings, chains: Chains, opening: IntArray, station: FloatArray) -> Edges:
    """The piece of both edges of each opening (an index) that its line at a station (mm) meets."""
    zero = np.zeros((len(opening), 2))
    edges = Edges(zero.copy(), zero.copy(), zero.copy(), np.ones((len(opening), 2)))
    rows = np.flatnonzero(chains.row[opening] >= 0)
    if not len(rows):
        return edges
    long = opening[rows]
    along = (station[rows] - openings.station[long]) * openings.stretch[long]
    of_chain = chains.row[long]
    piece = np.clip((along[:, None, None] > chains.breaks[of_chain]).sum(axis=-1) - 1, 0, 4)
    arc = np.minimum(piece // 2, _ARCS - 1)
    line = np.minimum(piece // 2, _LINES - 1)
    on_line = piece % 2 == 1

    def picked(values: FloatArray, index: IntArray) -> FloatArray:
        return np.take_along_axis(values[of_chain], index[..., None], axis=-1)[..., 0]

    edges.at[rows] = picked(chains.arc_x, arc)
    edges.base[rows] = np.where(on_line, picked(chains.line_height, line), picked(chains.arc_height, arc))
    edges.slope[rows] = np.where(on_line, picked(chains.slope, line), 0.0)
    edges.arc[rows] = np.where(on_line, 0.0, 1.0)
    return edges


def overlapping_openings(openings: Openings) -> tuple[IntArray, IntArray]:
    """Pairs of openings of one plate whose bounding boxes overlap: what they take may be shared."""
    group = openings.side * (int(openings.plate.max(initial=0)) + 1) + openings.plate
    first, second = overlapping(openings.start, openings.end, group, 0.0)
    reach = openings.half_height
    apart = np.abs(openings.across[first] - openings.across[second])
    near = apart < reach[first] + reach[second]
    return first[near], second[near]


def crossing_stations(openings: Openings, first: int, second: int) -> FloatArray:
    """Stations where the edges of two openings of one plate may cross: those of all their circles and lines, mm."""
    circles = [_circles(openings, index) for index in (first, second)]
    lines = [_lines(openings, index) for index in (first, second)]
    found = [
        _circles_cross(circles[0], circles[1]),
        _lines_cross_circles(lines[0], circles[1]),
        _lines_cross_circles(lines[1], circles[0]),
        _lines_cross(lines[0], lines[1]),
    ]
    along = np.concatenate(found)
    return np.asarray(along[np.isfinite(along)] / openings.stretch[first])


def crossings_of_lines(openings: Openings, index: int, lines: FloatArray) -> FloatArray:
    """Stations where the edges of an opening cross lines (k, 4), a point and a direction each along its panel, mm."""
    found = [
        _lines_cross_circles(lines, _circles(openings, index)),
        _lines_cross(lines, _lines(openings, index)),
    ]
    along = np.concatenate(found)
    station = along[np.isfinite(along)] / openings.stretch[index]
    return np.asarray(station[(station > openings.start[index]) & (station < openings.end[index])])


def _directions(openings: Openings, index: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Centre along the panel and across, and the unit vectors of the long and the short axis."""
    direction = np.radians(openings.angle[index])
    centre = np.array([openings.station[index] * openings.stretch[index], openings.across[index]])
    long = np.array([np.cos(direction), np.sin(direction)])
    return centre, long, np.array([-long[1], long[0]])


def _circles(openings: Openings, index: int) -> FloatArray:
    """Circles about the core's corners, (k, 3): centre and radius."""
    centre, long, short = _directions(openings, index)
    half_length, half_width = openings.half_length[index], openings.half_width[index]
    corners = {(sx * half_length, sy * half_width) for sx in (-1, 1) for sy in (-1, 1)}
    return np.array([(*(centre + x * long + y * short), openings.radius[index]) for x, y in sorted(corners)])


def _lines(openings: Openings, index: int) -> FloatArray:
    """Straight edges as lines, (k, 4): a point and a direction."""
    centre, long, short = _directions(openings, index)
    radius = openings.radius[index]
    if openings.half_length[index] == 0 and openings.half_width[index] == 0:
        return np.zeros((0, 4))
    sides = [(short, openings.half_width[index], long), (long, openings.half_length[index], short)]
    return np.array(
        [(*(centre + sign * (half + radius) * out), *along) for out, half, along in sides for sign in (-1, 1)]
    )


def _circles_cross(some: FloatArray, others: FloatArray) -> FloatArray:
    """Where circles cross; those about one centre are one circle or do not meet."""
    a, b = (circles.reshape(-1, 3) for circles in np.broadcast_arrays(some[:, None, :], others[None, :, :]))
    square = ((b[:, :2] - a[:, :2]) ** 2).sum(axis=1)
    meets = (square > _ONE_CENTRE**2) & (square <= (a[:, 2] + b[:, 2]) ** 2) & (square >= (a[:, 2] - b[:, 2]) ** 2)
    a, b, square = a[meets], b[meets], square[meets]
    dx, dy = (b - a)[:, :2].T
    share = (square + a[:, 2] ** 2 - b[:, 2] ** 2) / (2 * square)
    half = np.sqrt(np.maximum(a[:, 2] ** 2 / square - share**2, 0.0))
    middle = a[:, 0] + share * dx
    return np.concatenate([middle - half * dy, middle + half * dy])


def _lines_cross_circles(lines: FloatArray, circles: FloatArray) -> FloatArray:
    line, circle = lines[:, None, :], circles[None, :, :]
    dx, dy = line[..., 2], line[..., 3]
    ox, oy = line[..., 0] - circle[..., 0], line[..., 1] - circle[..., 1]
    middle = -(ox * dx + oy * dy)
    aside = ox * dy - oy * dx  # and not from ox**2 + oy**2, which loses digits far from the line's point
    with np.errstate(invalid="ignore"):
        half = np.sqrt(circle[..., 2] ** 2 - aside**2)
    return np.concatenate([(line[..., 0] + (middle + sign * half) * dx).ravel() for sign in (-1, 1)])


def _lines_cross(some: FloatArray, others: FloatArray) -> FloatArray:
    a, b = some[:, None, :], others[None, :, :]
    turn = a[..., 2] * b[..., 3] - a[..., 3] * b[..., 2]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = ((b[..., 0] - a[..., 0]) * b[..., 3] - (b[..., 1] - a[..., 1]) * b[..., 2]) / turn
        return np.asarray((a[..., 0] + share * a[..., 2]).ravel())
