"""The rule of the section modulus left: every station looked at, piece by piece, and each least closed in on."""

from __future__ import annotations

import itertools

import numpy as np

from .limits import TOLERANCE
from .rail_rules import whole
from .sections import LONG, clipped, flat_of, openings_of, ratio

SAMPLES = 33
KEPT = LONG(1e-16)
"""Ratios that differ by less are one."""
LEVEL = 1e-9
"""Of leasts that differ by less the foremost is named."""
NEAR = 0.004
"""What a sample may lie off the limit and the true ratio beside it still be on its other side."""
CUT_WIDTH = 1e-3
ARC_END = 1e-5


def net_section(features, order, limits):
    """All findings of net-section."""
    found = []
    for side in ("LH", "RH"):
        openings = openings_of(features, side, order)
        rail, liner = order["rail"], order["liner"]
        found += _measure("rail", side, openings, (rail.front, rail.rear), order, limits)
        if liner is not None:
            found += _measure("with-liner", side, openings, (liner.front, liner.rear), order, limits)
    return found


def _measure(measure, side, openings, span, order, limits):
    found = []
    for start, end, figures in stretches(measure, span, order, limits):
        given = [limit for limit in figures if limit is not None]
        if not given:
            continue
        threshold = max(given) - TOLERANCE
        points = _walk(openings, start, end, order, measure == "with-liner", threshold)
        for run in _runs(points, threshold):
            found.append(_finding(measure, side, run, figures, order))
    return found


def stretches(measure, span, order, limits):
    """(from, to, (error, warning)) along the rail: one set of limits each, of other rows than its neighbours'."""
    cuts = {*span}
    for zone in order["order_zones"]:
        cuts |= {zone["from"], zone["to"]}
    for ends in order["zones"].values():
        cuts |= {*ends}
    cuts |= _depth_stations(measure, order, limits)
    cuts = sorted(cut for cut in cuts if span[0] <= cut <= span[1])
    found = []
    for start, end in itertools.pairwise(cuts):
        if end - start <= 1e-9:
            continue
        place = limits.place_beside(order["rail"], (start + end) / 2.0)
        held = limits.held_at("net-section", measure, place)
        if found and found[-1][2] == held:
            found[-1] = (found[-1][0], end, held)
        else:
            found.append((start, end, held))
    plain = []
    for start, end, held in found:
        plain.append((start, end, tuple(None if figure is None else figure[0] for figure in held)))
    return plain


def _depth_stations(measure, order, limits):
    """Stations where the local depth passes a bound that some row of the measure asks for."""
    taper = order["rail"].taper
    if taper is None:
        return set()
    rows = list(limits.set_rows.get(("net-section", measure), []))
    for zone in order["order_zones"]:
        rows += [row for row in zone["rows"] if (row["rule"], row["measure"]) == ("net-section", measure)]
    found = set()
    for row in rows:
        for bound in row["when"].get("depth", {}).values():
            found.add(taper.start + (order["rail"].channel.depth - bound) / taper.slope)
    return {x for x in found if taper.start <= x <= taper.rear}


class Point:
    """A station with its ratio, seen from within one piece: the openings that are met there."""

    def __init__(self, x, value, piece):
        self.x, self.value, self.piece = x, value, piece
        self.is_least = False


class Piece:
    """Stations between two neighbouring breaks, over which the same openings are met."""

    def __init__(self, start, end, openings, order, with_liner):
        self.start, self.end, self.order, self.with_liner = start, end, order, with_liner
        middle = (start + end) / 2
        self.met = [opening for opening in openings if _is_met(opening, middle, order)]

    def points(self, start=None, end=None):
        """Points over the piece or a part of it, ends included and closer together toward them.

        An arc meets the line at its tip as a square root does; so spaced, samples show it as smooth.
        """
        first, last = (self.start if start is None else start), (self.end if end is None else end)
        stations = _spread(first, last)
        values = ratio(self.order, [(opening, slice(None)) for opening in self.met], stations, self.with_liner)
        return [Point(x, value, self) for x, value in zip(stations, values, strict=True)]


def _spread(first, last):
    stations = first + (last - first) * (1 - np.cos(np.linspace(0, 1, SAMPLES, dtype=LONG) * LONG(np.pi))) / 2
    stations[-1] = last
    return stations


def _points_of(pieces, order, with_liner):
    """The points of all pieces, worked out at once."""
    if not pieces:
        return []
    stations = np.concatenate([_spread(piece.start, piece.end) for piece in pieces])
    of_opening = {}
    for number, piece in enumerate(pieces):
        for opening in piece.met:
            of_opening.setdefault(opening, []).append(number)
    # an opening is met by neighbouring pieces, without a gap
    cuts = [(opening, slice(met[0] * SAMPLES, (met[-1] + 1) * SAMPLES)) for opening, met in of_opening.items()]
    values = ratio(order, cuts, stations, with_liner)
    found = []
    for k, (x, value) in enumerate(zip(stations, values, strict=True)):
        found.append(Point(x, value, pieces[k // SAMPLES]))
    return found


def _is_met(opening, station, order):
    """Whether a station cuts an opening; those of the flat flange count ahead of a ramp, those of the ramp on it."""
    first, last = opening.ends
    if not first < station < last:
        return False
    taper, feature = order["rail"].taper, opening.feature
    if taper is None or feature is None or feature.panel not in ("TOP", "TAIL_TOP") or feature.part_name == "liner":
        return True
    return (station > taper.start) == (feature.panel == "TAIL_TOP")


def _walk(openings, start, end, order, with_liner, threshold):
    """Points along a stretch in order of station, and every least and greatest that matters among them."""
    taper = order["rail"].taper
    cuts = {LONG(start), LONG(end)}
    if taper is not None:
        cuts.add(LONG(taper.start))
    for opening in openings:
        cuts |= set(opening.breaks())
    cuts = sorted(cut for cut in cuts if start <= cut <= end)
    pieces = []
    for first, last in itertools.pairwise(cuts):
        if last - first >= LONG(1e-10):
            pieces.append(Piece(first, last, openings, order, with_liner))
    return _with_extremes(_points_of(pieces, order, with_liner), threshold)


def _with_extremes(points, threshold):
    """The points with their local leasts and greatests closed in on; each least is marked as one."""
    found = []
    i = 0
    while i < len(points):
        j = i
        while j + 1 < len(points) and abs(points[j + 1].value - points[i].value) <= KEPT:
            j += 1
        before = points[i - 1] if i else None
        after = points[j + 1] if j + 1 < len(points) else None
        sides = [p.value > points[i].value for p in (before, after) if p is not None]
        level = points[i : j + 1]
        found += level
        if all(sides) and points[i].value < threshold + NEAR:
            if _distinct(level) <= 2:
                least = _closed_in(before or level[0], after or level[-1], points, i, j, 1)
            else:
                least = _front(before, level[0])
            least.is_least = True
            found.append(least)
        elif not any(sides) and threshold - NEAR < points[i].value < threshold:
            found.append(_closed_in(before or level[0], after or level[-1], points, i, j, -1))
        i = j + 1
    return found


def _distinct(level):
    return len({p.x for p in level})


def _front(before, first):
    """Where a level begins: at its first sample, or between that and the sample before.

    An arc that comes down to a level is as good as on it a little ahead of its end: that end is where it is kept.
    """
    low = high = first.x
    if before is not None and before.piece is first.piece:
        low = before.x
    while high - low > LONG(1e-11):
        points = first.piece.points(low, high)
        on_level = next(k for k, p in enumerate(points) if abs(p.value - first.value) <= KEPT)
        low, high = points[max(on_level - 1, 0)].x, points[on_level].x
    end = first.piece.end
    return Point(end if end - high < ARC_END else high, first.value, first.piece)


def _closed_in(before, after, points, i, j, way):
    """The least (way 1) or greatest (way -1) between two points, in whichever of the pieces there it lies."""
    pieces = []
    for p in [before, *points[i : j + 1], after]:
        if p.piece not in pieces:
            pieces.append(p.piece)
    best = None
    for piece in pieces:
        low, high = max(piece.start, before.x), min(piece.end, after.x)
        if high < low:
            continue
        point = _extreme_in(piece, low, high, way)
        if best is None or way * (best.value - point.value) > LONG(1e-17):
            best = point
    return best


def _extreme_in(piece, low, high, way):
    """Least or greatest of one piece between two stations, by ever closer looks at it."""
    while True:
        points = piece.points(low, high)
        best = min(range(len(points)), key=lambda k: way * points[k].value)
        low, high = points[max(best - 1, 0)].x, points[min(best + 1, len(points) - 1)].x
        if high - low < LONG(1e-10):
            return points[best]


def _runs(points, threshold):
    """Longest runs of points below the threshold."""
    runs, current = [], []
    for p in points:
        if p.value < threshold:
            current.append(p)
        elif current:
            runs.append(current)
            current = []
    return [*runs, current] if current else runs


def _finding(measure, side, run, figures, order):
    leasts = [p for p in run if p.is_least]
    least = min(p.value for p in leasts)
    chosen = min((p for p in leasts if p.value <= least + LEVEL), key=lambda p: p.x)
    error, warning = figures
    is_error = error is not None and error - float(least) > TOLERANCE
    severity, limit = ("error", error) if is_error else ("warning", warning)
    holes = _cut_at(chosen, order)
    entry = whole("net-section", measure, severity, side, "rail", float(chosen.x), float(least), limit, "ratio")
    owners = sorted({name for f in holes for name in f.owners})
    return {**entry, "holes": [f.hole for f in holes], "components": owners}


def _cut_at(point, order):
    """Holes of the rail that the line at a point cuts, in their order."""
    rail = order["rail"]
    depth = np.array([rail.depth_at(point.x)], dtype=LONG)
    found = []
    for opening in point.piece.met:
        if opening.feature is None or opening.plate[0] != "rail":
            continue
        low, high = clipped(opening, np.array([point.x]), flat_of(rail, opening.plate[1], depth))
        if high[0] - low[0] > CUT_WIDTH:
            found.append(opening.feature)
    return sorted(found, key=lambda f: f.order_key)
