"""Ranges of the net over the gross section modulus, and of what it gains along the rail, over whole stretches.

From the ranges of all edges follow those of the moments A, S, M of what is left about a fibre, and with n = S / A and
k = M / S the gain of the modulus W = M A / S - S:

    dW = - t (h - n) (h - k) / n dh             for an upper edge on the web, at height h above the fibre,
    dW = - t ((l - n) (l - k) + t2 / 12) / n dy  for an edge on a flange whose middle lies at height l;

lower edges count the other way. Where the depth falls along a taper its own share is added.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.strength.net_section import UPPER_LOWER, Met, NetSection
from railgen.strength.ranges import Range


@dataclass(frozen=True)
class _Edges:
    """Ranges of the edges that bound what is taken along n stretches, one row an edge, seen from either fibre.

    group: the stretch; column: edges of one column rise alike, so that their shares are summed before; plate; sign: 1
    for upper and -1 for lower edges; place: across, mm; outward: what it gains outward from its opening's centre.
    """

    group: IntArray
    column: IntArray
    plate: IntArray
    sign: FloatArray
    place: Range
    outward: Range
    from_top: BoolArray


@dataclass(frozen=True)
class _Fibre:
    """Edges seen from one of the outermost fibres.

    height: of edges on webs; level: of the middle of the flange that the others are on; sign: with which an edge's
    height counts; follows: share of the depth's gain that level takes part in.
    """

    height: Range
    level: Range
    sign: FloatArray
    follows: FloatArray


def ratio_ranges(net: NetSection, piece: IntArray, start: FloatArray, end: FloatArray) -> tuple[Range, FloatArray]:
    """Of both fibres (2, n): the range of what the ratio gains a mm along stretches, and what the ratio keeps above.

    piece: of each of n stretches; start, end: stations within it, mm. A degenerate stretch gives the gain at a point.
    """
    depths = net.rail.depth_at(start), net.rail.depth_at(end)
    taper = net.rail.taper
    deepens = np.zeros(len(start)) if taper is None else np.where(start >= taper.start, -np.tan(taper.slope), 0.0)
    edges = _edges(net, net.met_by(piece), (start, end), depths, deepens)
    # Both fibres in one pass: every stretch once more, seen from the top.
    depth = Range.between(*(np.tile(at_end, 2) for at_end in depths))
    low, high, least = _ranges(net, _twice(net, edges, len(piece)), depth, np.tile(deepens, 2))
    both = 2, len(piece)
    return Range(low.reshape(both), high.reshape(both)), least.reshape(both)


def _edges(
    net: NetSection,
    met: Met,
    ends: tuple[FloatArray, FloatArray],
    depths: tuple[FloatArray, FloatArray],
    deepens: FloatArray,
) -> _Edges:
    """Edges and their gains only grow or only fall along a piece, so that the ends bound them."""
    places, gains = zip(*(net.places(met.opening, met.edges, end[met.group]) for end in ends), strict=True)
    (low, first_high), (_, last_high) = (net.flat(met.opening, depth[met.group]) for depth in depths)
    place, gain = Range.between(*places), Range.between(*gains)
    high = Range.between(first_high, last_high)
    at_low, at_high = place.low < low, place.high > high.low
    plate = net.openings.plate[met.opening]
    with_depth = np.broadcast_to((deepens[met.group] * net.plates.high_depth[plate])[:, None], place.low.shape)
    # Beyond the flat steel nothing more is taken; where an edge may pass the tangent it may do either.
    for bent, all_bent, at_tangent in (
        (at_low, place.high <= low, np.zeros_like(place.low)),
        (at_high, place.low >= high.high, with_depth),
    ):
        gain = Range.point(at_tangent).chosen(gain.hull(Range.point(at_tangent), bent), all_bent)
    place = Range(np.clip(place.low, low, high.low), np.clip(place.high, low, high.high))
    kept = np.flatnonzero(met.active)
    row, which = kept // 2, kept % 2
    count = len(net.openings)
    alike = net.openings.is_round[met.opening[row]] & ~(at_low | at_high).ravel()[kept]
    column = np.where(alike, net.columns[met.opening[row]], count + 2 * met.opening[row] + which)
    return _Edges(
        group=met.group[row],
        column=met.group[row] * 3 * count + column,
        plate=plate[row],
        sign=UPPER_LOWER[which],
        place=_raveled(place, kept),
        outward=_raveled(gain * UPPER_LOWER, kept),
        from_top=np.zeros(len(kept), dtype=np.bool_),
    )


def _twice(net: NetSection, edges: _Edges, count: int) -> _Edges:
    """Edges of n stretches, and the same of as many stretches more, seen from the top fibre."""
    further = 3 * count * len(net.openings)
    return _Edges(
        group=np.concatenate([edges.group, edges.group + count]),
        column=np.concatenate([edges.column, edges.column + further]),
        plate=np.tile(edges.plate, 2),
        sign=np.tile(edges.sign, 2),
        place=Range(np.tile(edges.place.low, 2), np.tile(edges.place.high, 2)),
        outward=Range(np.tile(edges.outward.low, 2), np.tile(edges.outward.high, 2)),
        from_top=np.repeat([False, True], len(edges.group)),
    )


def _raveled(values: Range, kept: IntArray) -> Range:
    return Range(values.low.ravel()[kept], values.high.ravel()[kept])


def _from_fibre(net: NetSection, edges: _Edges, depth: Range) -> _Fibre:
    here, top = depth.take(edges.group), edges.from_top
    rises, level = net.plates.level_depth[edges.plate], net.plates.level[edges.plate]
    follows = np.where(top, 1 - rises, rises)
    return _Fibre(
        height=(here - edges.place).chosen(edges.place, top),
        level=here * follows + np.where(top, -level, level),
        sign=np.where(top & net.plates.is_web[edges.plate], -edges.sign, edges.sign),
        follows=follows,
    )


def _ranges(
    net: NetSection, edges: _Edges, depth: Range, deepens: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Least and greatest gain of the ratio of each stretch's fibre, and what the ratio keeps above."""
    fibre = _from_fibre(net, edges, depth)
    count = len(deepens)
    whole = zip(*(net.gross.moments(d) for d in (depth.low, depth.high)), strict=True)
    lost = [part.summed(edges.group, count) for part in _lost(net, edges, fibre)]
    area, first, second = (Range(*ends) - part for ends, part in zip(whole, lost, strict=True))
    axis, kern = first.over(area), second.over(first)
    shares = _shares(net, edges, fibre, axis.take(edges.group), kern.take(edges.group))
    gain = _by_column(edges, shares, count)
    modulus = (second * area).over(first) - first
    gross = Range(*(net.gross.modulus(d) for d in (depth.low, depth.high)))
    ratio = modulus.over(gross)
    if deepens.any():
        deeper = _of_depth(net, edges, fibre, depth, axis, kern)
        with_top = np.where(edges.from_top & net.plates.is_web[edges.plate], -edges.sign, 0.0)
        deeper = deeper + (shares * with_top).summed(edges.group, count)
        gross_gain = Range.between(*(net.gross.modulus_slope(d) for d in (depth.low, depth.high)))
        gain = gain + (deeper - ratio * gross_gain) * Range.point(deepens)
    gain = gain.over(gross)
    return gain.low, gain.high, ratio.low


def _lost(net: NetSection, edges: _Edges, fibre: _Fibre) -> tuple[Range, Range, Range]:
    """Share of each edge in the moments that the openings take."""
    thickness, web = net.plates.thickness[edges.plate], net.plates.is_web[edges.plate]
    area = edges.place * (thickness * edges.sign)
    # Heights are above zero, so their powers grow with them.
    squared, cubed = (Range(fibre.height.low**power, fibre.height.high**power) for power in (2, 3))
    on_web = squared * (thickness * fibre.sign / 2), cubed * (thickness * fibre.sign / 3)
    on_flange = area * fibre.level, area * (fibre.level * fibre.level + thickness**2 / 12)
    first, second = (a.chosen(b, web) for a, b in zip(on_web, on_flange, strict=True))
    return area, first, second


def _shares(net: NetSection, edges: _Edges, fibre: _Fibre, axis: Range, kern: Range) -> Range:
    """What the modulus gains for a mm that each edge gains outward."""
    thickness, web = net.plates.thickness[edges.plate], net.plates.is_web[edges.plate]
    on_web = (fibre.height - axis) * (fibre.height - kern)
    on_flange = (fibre.level - axis) * (fibre.level - kern) + thickness**2 / 12
    return (on_web.chosen(on_flange, web) * -thickness).over(axis)


def _by_column(edges: _Edges, shares: Range, count: int) -> Range:
    """Shares summed over edges that rise alike, times what they gain, summed over each stretch."""
    _, first, column = np.unique(edges.column, return_index=True, return_inverse=True)
    summed = shares.summed(column, len(first)) * edges.outward.take(first)
    return summed.summed(edges.group[first], count)


def _of_depth(net: NetSection, edges: _Edges, fibre: _Fibre, depth: Range, axis: Range, kern: Range) -> Range:
    """What the modulus gains for a mm of depth with all edges left where they are above the bottom fibre."""
    count = len(depth.low)
    slopes = zip(*(net.gross.moment_slopes(d) for d in (depth.low, depth.high)), strict=True)
    area, first, second = (Range.between(*ends) for ends in slopes)
    flange = np.where(net.plates.is_web[edges.plate], 0.0, fibre.follows)
    moved = edges.place * (net.plates.thickness[edges.plate] * edges.sign * flange)
    first = first - moved.summed(edges.group, count)
    second = second - (moved * fibre.level * 2.0).summed(edges.group, count)
    return second.over(axis) + kern * area - (kern.over(axis) + 1.0) * first
