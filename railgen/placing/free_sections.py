"""Where one more hole would take too much of the section: net section, rail with liner, and bending under [loads].

Along the rail the section that is left is known at samples no more than a millimetre apart and at both ends of every
piece, on either side of them. For each the widest cut that may still be made is solved for; a hole is too near where
its own chord there is wider. Where a limit is broken already, every hole that meets the station counts as too near.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np
import shapely

from railgen.data.findings import VALUE_TOLERANCE
from railgen.frame.rail import RailShape
from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.rules.along import limit_stretches, quantities_at
from railgen.rules.limits import evaluate
from railgen.rules.pattern import Pattern
from railgen.rules.strength import Strength
from railgen.strength.gross_section import Moments
from railgen.strength.net_section import NetSection, moduli_of
from railgen.strength.pieces import span_of

_STEP = 1.0
"""mm along the rail between two samples: what they close to a hole reaches much further than that."""
_LEVEL, _FINEST = 1.0, 0.06
"""mm of height between two levels at which web holes are looked at, and the least where borders end."""
_HALVINGS = 22
_AT_ONCE = 2_000_000
Intervals = FloatArray
"""Stations from and to, (k, 2) mm, in order and apart."""


@dataclass(frozen=True)
class Sections:
    """The section left of one side at m samples, of the rail alone or with its liner.

    station: mm, ascending; moments: about the bottom fibre; least: modulus that must be left, mm3.
    """

    rail: RailShape
    with_liner: bool
    station: FloatArray
    moments: Moments
    least: FloatArray

    def at(self, index: IntArray | BoolArray) -> Sections:
        """Some of the samples."""
        area, first, second = (part[index] for part in self.moments)
        return Sections(self.rail, self.with_liner, self.station[index], (area, first, second), self.least[index])

    def broken_by_web(self, half: FloatArray, level: FloatArray) -> BoolArray:
        """Whether too little is left with a cut of half widths ``half`` about heights ``level``, (m, k) mm."""
        t = self.rail.section.thickness
        if self.with_liner and self.rail.liner:
            t += self.rail.liner.section.thickness
        depth = self.rail.depth_at(self.station).reshape(-1, *[1] * (half.ndim - 1))
        return self._too_little(self._less(2 * t * half, level, half**2 / 3), depth)

    def broken_by_flange(self, half: FloatArray, top: bool) -> BoolArray:
        """Whether too little is left with a cut of half widths ``half`` (m,) mm in a flange."""
        section, depth = self.rail.section, self.rail.depth_at(self.station)
        t = section.thickness
        taken = 2 * t * half
        level = depth - t / 2 if top else np.full(len(depth), t / 2)
        area, first, second = self._less(taken, level, np.full(len(depth), t**2 / 12))
        if self.with_liner and self.rail.liner:
            liner = self.rail.liner
            inner = liner.section.thickness
            level = np.full(len(depth), liner.offset_z + inner / 2)
            level = level + (liner.section.depth - inner if top else 0.0)
            more = 2 * inner * half
            area, first, second = area - more, first - more * level, second - more * (level**2 + inner**2 / 12)
        return self._too_little((area, first, second), depth)

    def _less(self, taken: FloatArray, level: FloatArray, own: FloatArray) -> Moments:
        area, first, second = (part.reshape(-1, *[1] * (taken.ndim - 1)) for part in self.moments)
        return area - taken, first - taken * level, second - taken * (level**2 + own)

    def _too_little(self, moments: Moments, depth: FloatArray) -> BoolArray:
        least = self.least.reshape(-1, *[1] * (moments[0].ndim - 1))
        return np.asarray(moduli_of(moments, depth).min(axis=0) < least)


def sections_of(pattern: Pattern, strength: Strength, side: int, warnings: bool) -> Iterator[Sections]:
    """The sections that some limit is held against: of the rail, and of the rail with its liner."""
    for measure, net in (("rail", strength.net), ("with-liner", strength.lined_net)):
        if net is not None and (pattern.limits.holds("net-section", measure) or strength.bending):
            yield _sampled(pattern, strength, net, measure, side, warnings)


def _sampled(
    pattern: Pattern, strength: Strength, net: NetSection, measure: str, side: int, warnings: bool
) -> Sections:
    own = np.flatnonzero(net.pieces.side == side)
    count = np.ceil((net.pieces.end - net.pieces.start)[own] / _STEP).astype(np.int64) + 1
    piece = np.repeat(own, count)
    share = np.concatenate([np.linspace(0.0, 1.0, number) for number in count.tolist()])
    station = net.pieces.start[piece] * (1 - share) + net.pieces.end[piece] * share
    moments = net.moments(net.met_by(piece), station)
    gross = net.gross.modulus(pattern.rail.depth_at(station))
    least = gross * (_net_ratio(pattern, measure, station, warnings) - VALUE_TOLERANCE)
    least = np.maximum(least, _for_bending(pattern, strength, measure, side, station, warnings))
    return Sections(pattern.rail, measure == "with-liner", station, moments, least)


def _net_ratio(pattern: Pattern, measure: str, station: FloatArray, warnings: bool) -> FloatArray:
    """Share of the gross modulus that the limit set asks for at stations, 0 where it asks for none."""
    ratio = np.zeros(len(station))
    if not pattern.limits.holds("net-section", measure):
        return ratio
    for stretch in limit_stretches(pattern, "net-section", measure, *span_of(pattern.rail, measure == "with-liner")):
        asked = max(stretch.error, stretch.warning) if warnings else stretch.error
        inside = (station >= stretch.start) & (station <= stretch.end)
        ratio[inside] = np.maximum(ratio[inside], asked)
    return ratio


def _for_bending(
    pattern: Pattern, strength: Strength, measure: str, side: int, station: FloatArray, warnings: bool
) -> FloatArray:
    """Modulus that bending asks for, mm3: of the rail alone outside the liner, of both between its ends."""
    key = ("bending", "stress")
    if not strength.bending or not pattern.limits.holds(*key):
        return np.zeros(len(station))
    limits = evaluate(pattern.limits, *key, quantities_at(pattern, station))
    allowed = np.minimum(limits.error, limits.warning) if warnings else limits.error
    moment = np.abs(strength.loads[side].diagram.moment_at(station))
    asked = moment / ((allowed + VALUE_TOLERANCE) * strength.yield_at(station))
    liner = pattern.rail.liner
    if liner and measure == "rail":
        asked = np.where((station >= liner.start) & (station <= liner.end), 0.0, asked)
    return np.asarray(asked)


def web_closed(sections: Sections, radius: float, low: float, high: float) -> shapely.Geometry:
    """Stations and heights of web holes that take too much; low, high: of centres that are looked at, mm."""
    levels = np.append(np.arange(low, high, _LEVEL), high)
    found = dict(zip(levels.tolist(), _at_levels(sections, radius, levels), strict=True))
    if not any(len(closed) for closed in found.values()):
        return shapely.Polygon()
    # Between levels whose intervals belong together borders are all but straight; where some end, levels are put in.
    while True:
        ordered = sorted(found)
        between = [
            (one + other) / 2
            for one, other in pairwise(ordered)
            if other - one > _FINEST and not _alike(found[one], found[other])
        ]
        if not between:
            return shapely.union_all(list(_bands(found, ordered)))
        found |= zip(between, _at_levels(sections, radius, np.array(between)), strict=True)


def _alike(one: Intervals, other: Intervals) -> bool:
    """Whether intervals of two levels are as many and overlap one by one."""
    if len(one) != len(other):
        return False
    return bool(np.all((one[:, 0] < other[:, 1]) & (other[:, 0] < one[:, 1])))


def _bands(found: Mapping[float, Intervals], ordered: Sequence[float]) -> Iterator[shapely.Geometry]:
    """The area between all levels: runs of levels alike as polygons, between others all that either closes."""
    first = 0
    for index in range(1, len(ordered) + 1):
        if index < len(ordered) and _alike(found[ordered[index - 1]], found[ordered[index]]):
            continue
        run = ordered[first:index]
        for column in range(len(found[run[0]]) if len(run) > 1 else 0):
            ends = np.array([found[level][column] for level in run])
            left, right = (np.stack([ends[:, side], run], axis=-1) for side in (0, 1))
            yield shapely.Polygon(np.concatenate([left, right[::-1]]))
        if index < len(ordered):
            for level in ordered[index - 1 : index + 1]:
                for start, end in found[level].tolist():
                    yield shapely.box(start, ordered[index - 1], end, ordered[index])
        first = index


def _at_levels(sections: Sections, radius: float, levels: FloatArray) -> list[Intervals]:
    """Of each level the stations that are closed to a web hole's centre, from and to, in order."""
    closed: list[Intervals] = []
    for group in np.array_split(levels, max(len(levels) * len(sections.station) // _AT_ONCE, 1)):
        shape = len(sections.station), len(group)
        broken = sections.broken_by_web(np.full(shape, radius), np.broadcast_to(group, shape))
        sample, level = np.nonzero(broken)
        some = sections.at(sample)
        width = _too_near(radius, partial(_broken_at, some, group[level]), len(sample))
        closed += [_joined(some.station[level == column], width[level == column]) for column in range(len(group))]
    return closed


def _broken_at(sections: Sections, level: FloatArray, half: FloatArray) -> BoolArray:
    """Whether too little is left at each sample with a cut of its own half width about its own height."""
    return sections.broken_by_web(half, level)


def _too_near(radius: float, broken: Callable[[FloatArray], BoolArray], count: int) -> FloatArray:
    """How near (mm) to each of n stations a hole's centre may not be: where its half chord is what breaks the limit."""
    low, high = np.zeros(count), np.full(count, radius)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2
        wide = broken(middle)
        low, high = np.where(wide, low, middle), np.where(wide, middle, high)
    return np.sqrt(radius**2 - low**2)


def _joined(station: FloatArray, width: FloatArray) -> Intervals:
    """Unions of the intervals of a width about each station, (k, 2), in order."""
    low, high = station - width, station + width
    order = np.argsort(low, kind="stable")
    low, high = low[order], np.maximum.accumulate(high[order])
    first = np.append(True, low[1:] > high[:-1])[: len(low)]
    last = np.append(first[1:], True)[: len(low)]
    return np.stack([low[first], high[last]], axis=-1)


def flange_closed(sections: Sections, radius: float, top: bool, shortened: float = 1.0) -> list[tuple[float, float]]:
    """Stations (from, to) of flange holes that take too much; shortened: stations a mm along the flange."""
    some = sections.at(np.flatnonzero(sections.broken_by_flange(np.full(len(sections.station), radius), top)))
    width = _too_near(radius, lambda half: some.broken_by_flange(half, top), len(some.station))
    return [(start, end) for start, end in _joined(some.station, width * shortened).tolist()]
