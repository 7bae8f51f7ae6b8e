"""How far a component must move on before a line across the rail may keep enough of its section again.

A line that breaks its limit is followed while the component moves step by step: where it lies, along with the
component, and half as fast as that. While one of the three still breaks its limit, so does the pattern. Steps that none
of them tells of are left to the rule itself, which looks at all lines. Only the straight part of a rail is looked at.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE, Finding
from railgen.holes.table import SIDES, BoolArray, FloatArray, IntArray
from railgen.rules.along import LimitStretch, limit_stretches
from railgen.rules.pattern import Pattern
from railgen.strength.net_section import UPPER_LOWER, NetSection, moduli_of, section_between
from railgen.strength.openings import Chains, Openings, chains_of, edges_at
from railgen.strength.pieces import boxed_pieces_of, openings_of, span_of

_WAYS = (0.0, 1.0, 0.5)
"""How fast a line is followed, as a share of the component's way."""
_AT_ONCE = 256
"""Steps looked at in one go."""


@dataclass(frozen=True)
class MovedSections:
    """The section left on one side while a component moves.

    net: with all openings; own: those of the component, where it stands now; limits: stretches with their limits.
    """

    net: NetSection
    chains: Chains
    own: BoolArray
    limits: tuple[LimitStretch, ...]
    straight_to: float

    def steps(self, finding: Finding, pitch: float, way: int) -> int:
        """How many steps of a pitch (mm) on, at least 1, no followed line breaks the finding's limit any more."""
        line, last = float(finding.station_mm or 0.0), int((self.limits[-1].end - self.limits[0].start) / pitch) + 1
        step = 1
        while step < last:
            shifts: FloatArray = np.arange(step, min(step + _AT_ONCE, last), dtype=np.float64) * (pitch * way)
            is_broken = [self._is_broken(line + share * shifts, shifts, finding) for share in _WAYS]
            broken = np.any(is_broken, axis=0)
            if not broken.all():
                return step + int(np.argmin(broken))
            step += len(shifts)
        return last

    def _is_broken(self, line: FloatArray, shift: FloatArray, finding: Finding) -> BoolArray:
        """Whether lines (n,) break their limit with the component shifted by so much (n,), mm."""
        start, end = self.limits[0].start, min(self.limits[-1].end, self.straight_to)
        told = np.flatnonzero((line > start) & (line < end))
        broken = np.zeros(len(line), dtype=np.bool_)
        stretch = np.minimum(np.searchsorted([one.end for one in self.limits], line[told]), len(self.limits) - 1)
        asked = [one.error if finding.severity == "error" else max(one.error, one.warning) for one in self.limits]
        ratio = self._ratios(line[told], shift[told])
        broken[told] = ratio < np.array(asked)[stretch] - VALUE_TOLERANCE
        return broken

    def _ratios(self, line: FloatArray, shift: FloatArray) -> FloatArray:
        """Least modulus over the gross one on lines (n,), each with the component shifted by so much (n,), mm."""
        net, openings = self.net, self.net.openings
        at = line[:, None] - np.where(self.own, shift[:, None], 0.0)
        group, opening = np.nonzero((openings.start < at) & (at < openings.end))
        station = at[group, opening]
        place, _ = net.places(opening, edges_at(openings, self.chains, opening, station), station)
        depth = net.rail.depth_at(line)
        place = np.clip(place, *net.flat(opening, depth[group]))
        order, taken = _taken_once(place, group * len(net.plates.is_web) + openings.plate[opening])
        moments = net.moments_between(taken, UPPER_LOWER, group[order], opening[order], depth)
        return np.asarray(moduli_of(moments, depth).min(axis=0) / net.gross.modulus(depth))


def _taken_once(place: FloatArray, plate: IntArray) -> tuple[IntArray, FloatArray]:
    """Edges (m, 2) of one plate each, upper and lower, in an order in which each leaves out what those before took."""
    order = np.lexsort((place[:, 1], plate))
    upper, lower = place[order, 0], place[order, 1]
    # Plates far apart, so that one running maximum serves all of them.
    apart = plate[order] * (2.0 * float(np.abs(place).max(initial=0.0)) + 1.0)
    reached = np.maximum.accumulate(upper + apart)
    before = np.concatenate([[-np.inf], reached[:-1]]) - apart
    lower = np.maximum(lower, before)
    return order, np.stack([np.maximum(upper, lower), lower], axis=1)


def moved_sections(pattern: Pattern, still: Pattern, finding: Finding, component: str) -> MovedSections:
    """What a net-section finding of a pattern is followed with; still: the pattern without the component."""
    rail, with_liner = pattern.rail, finding.measure == "with-liner"
    side, index = SIDES.index(finding.side), pattern.table.names.components.index(component)
    owned = np.repeat(np.arange(len(pattern.table)), np.diff(pattern.table.owner_start))[pattern.table.owners == index]
    mine = openings_of(rail, pattern.table, pattern.cores, with_liner)
    straight_to = rail.taper.start if rail.taper else rail.rear
    mine = mine.taken(np.flatnonzero(np.isin(mine.row, owned) & (mine.side == side) & (mine.station < straight_to)))
    others = openings_of(rail, still.table, still.cores, with_liner)
    others = others.taken(np.flatnonzero(others.side == side))
    names = Openings.__dataclass_fields__
    both = Openings(**{name: np.concatenate([getattr(mine, name), getattr(others, name)]) for name in names})
    limits = limit_stretches(pattern, "net-section", finding.measure, *span_of(rail, with_liner))
    net = section_between(rail, both, with_liner, None, boxed_pieces_of)
    return MovedSections(net, chains_of(both), np.arange(len(both)) < len(mine), limits, straight_to)
