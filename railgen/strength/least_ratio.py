"""The least of the net over the gross section modulus, proved over every station and not sampled.

Along a piece of the rail both edges of each opening are smooth and each only rises or only falls. Pieces that cannot
fall below what is asked are passed over by a bound on each. In the others a stretch is settled where the ratio's gain
has one sign (then its least is at an end), where the ratio keeps above what is asked, or where it cannot change by more
than 1e-9; what is not settled is cut in four and looked at again.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.frame.rail import RailShape
from railgen.holes.table import FloatArray, IntArray
from railgen.strength.net_section import UPPER_LOWER, NetSection, section_between
from railgen.strength.openings import Openings
from railgen.strength.pieces import boxed_pieces_of
from railgen.strength.ratio_ranges import ratio_ranges

_LEVEL = 1e-9
"""Change of the ratio that is none."""
_SHORTEST = 1e-8
"""mm; nothing shorter is cut."""
_STATION = 1e-9
"""mm to which the station of a least ratio is found."""
NO_GAIN = 1e-15
"""Change of the ratio for a mm of station that is none: a width that is kept has one of this size by rounding."""
_PLACES = 17
_CUTS = 4
_ROUNDS = 24  # cut so often even the longest rail is in stretches shorter than the shortest


@dataclass(frozen=True)
class Stretches:
    """n stretches of pieces in order along each rail, along which each fibre's ratio only grows or only falls.

    piece: of the net section; start, end: stations, mm; at_start, at_end: ratios of both fibres (2, n) just behind the
    start and just ahead of the end. A fibre whose ratio keeps above what was asked may do so in any way.
    """

    piece: IntArray
    start: FloatArray
    end: FloatArray
    at_start: FloatArray
    at_end: FloatArray


def stretches_below(net: NetSection, asked: FloatArray) -> Stretches:
    """Stretches of all the pieces in which the ratio may fall below what is asked of each piece, (k,)."""
    piece = np.flatnonzero(lower_bounds(net) < asked)
    start, end = net.pieces.start[piece], net.pieces.end[piece]
    settled = [(piece[:0], start[:0], end[:0])]
    for _ in range(_ROUNDS):
        if not len(piece):
            break
        gain, least = ratio_ranges(net, piece, start, end)
        turns_back = np.minimum(-gain.low, gain.high) * (end - start)
        one_way = turns_back <= _LEVEL
        done = (one_way | (least >= asked[piece])).all(axis=0) | (end - start <= _SHORTEST)
        settled.append((piece[done], start[done], end[done]))
        piece, start, end = _cut(piece[~done], start[~done], end[~done])
    piece, start, end = (np.concatenate(column) for column in zip(*settled, strict=True))
    if not len(piece):
        return Stretches(piece, start, end, np.zeros((2, 0)), np.zeros((2, 0)))
    order = np.lexsort((start, piece))
    piece, start, end = piece[order], start[order], end[order]
    met = net.met_by(piece)
    return Stretches(piece, start, end, net.ratios(met, start), net.ratios(met, end))


def suspect_section(
    rail: RailShape, openings: Openings, with_liner: bool, ends: FloatArray, asked: FloatArray
) -> NetSection | None:
    """The section left, of those openings only near which the ratio may fall below what is asked; None where nowhere.

    asked: of each stretch that ends at ``ends`` (mm, ascending). Boxes round the openings are enough to clear most
    lines: the bound on a piece holds for whatever is taken within them.
    """
    boxed = section_between(rail, openings, with_liner, ends, boxed_pieces_of)
    suspect = lower_bounds(boxed) < asked[stretch_of(boxed, ends)]
    if not suspect.any():
        return None
    near = np.unique(boxed.pieces.opening[suspect[boxed.pieces.piece]])
    return section_between(rail, openings.taken(near), with_liner, ends)


def stretch_of(net: NetSection, ends: FloatArray) -> IntArray:
    """Of each piece the stretch it lies on: the first whose end (mm) is not ahead of it."""
    middle = (net.pieces.start + net.pieces.end) / 2
    return np.minimum(np.searchsorted(ends, middle), len(ends) - 1)


def _cut(piece: IntArray, start: FloatArray, end: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
    share = np.arange(_CUTS + 1) / _CUTS
    places = start[:, None] * (1 - share) + end[:, None] * share
    return np.repeat(piece, _CUTS), places[:, :-1].ravel(), places[:, 1:].ravel()


def lower_bounds(net: NetSection) -> FloatArray:
    """A ratio that no station of each piece falls below, (k,).

    What an opening takes lies within the outermost places of its edges, and taking less leaves a greater second moment
    about its own axis. How far that axis lies off mid-depth follows from the first moments of what may be taken. What
    openings share is taken of each here: where that leaves no steel at all, nothing is known.
    """
    pieces, opening = net.pieces, net.pieces.opening
    deep, shallow = (net.rail.depth_at(station) for station in (pieces.start, pieces.end))
    ends = [net.places(opening, pieces.edges, station[pieces.piece])[0] for station in (pieces.start, pieces.end)]
    upper, lower = np.maximum(ends[0][:, 0], ends[1][:, 0]), np.minimum(ends[0][:, 1], ends[1][:, 1])
    widest = np.clip(np.stack([upper, lower], axis=1), *net.flat(opening, deep[pieces.piece]))
    flat = np.clip(widest, *net.flat(opening, shallow[pieces.piece])) if net.rail.taper else widest
    area, first, second = (
        whole - np.bincount(pieces.piece, part @ UPPER_LOWER, len(pieces))
        for whole, part in zip(net.gross.moments(shallow), net.taken(flat, opening, shallow[pieces.piece]), strict=True)
    )
    left = area > 0
    area = np.where(left, area, 1.0)
    shift = _greatest_shift(net, widest, deep, shallow) / area
    bound = (second - first**2 / area) / (deep / 2 + shift) / net.gross.modulus(deep)
    return np.where(left, bound, -np.inf)


def _greatest_shift(net: NetSection, widest: FloatArray, deep: FloatArray, shallow: FloatArray) -> FloatArray:
    """Greatest first moment about mid-depth, either way, of what may be taken along each piece, mm3."""
    pieces, plate = net.pieces, net.openings.plate[net.pieces.opening]
    thickness, web = net.plates.thickness[plate], net.plates.is_web[plate]
    either_way = []
    for depth, sign in ((shallow, 1.0), (deep, -1.0)):
        middle = depth[pieces.piece] / 2
        # Of a web opening only the part beyond mid-depth turns the section that way.
        beyond = np.maximum(sign * (widest - middle[:, None]), 0.0) ** 2
        of_web = np.abs(beyond[:, 0] - beyond[:, 1]) / 2
        arm = net.plates.level[plate] + (2 * net.plates.level_depth[plate] - 1) * middle
        of_flange = (widest[:, 0] - widest[:, 1]) * np.maximum(sign * arm, 0.0)
        either_way.append(np.bincount(pieces.piece, thickness * np.where(web, of_web, of_flange), len(pieces)))
    return np.maximum(*either_way)


def least_station(net: NetSection, piece: int, start: float, end: float) -> tuple[float, float]:
    """Station (mm) and value of the least ratio between two stations of a piece, where it falls and then does not.

    The first place where it no longer falls is closed in on, so that the station is exact and not only the value.
    """
    pieces = np.full(_PLACES, piece)
    met = net.met_by(pieces[:1])
    fibre = int(np.argmin(net.ratios(met, np.array([(start + end) / 2]))[:, 0]))
    station = start
    while end - start > _STATION:
        places = np.linspace(start, end, _PLACES)
        gain, _ = ratio_ranges(net, pieces, places, places)
        falling = np.append(gain.high[fibre] < -NO_GAIN, False)
        # Falling all the way to an end without a gain, as to the middle of a hole, it is least there.
        falling[_PLACES - 1] |= bool(gain.high[fibre, -1] <= NO_GAIN)
        first = int(np.argmin(falling))
        if first in (0, _PLACES):
            station = start if first == 0 else end
            break
        start, end = float(places[first - 1]), float(places[first])
        station = (start + end) / 2
    return station, float(net.ratios(met, np.array([station])).min())
