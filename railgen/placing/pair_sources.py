"""Where two components on one rail, or across the frame, may not stand to each other: from all that each has."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railgen.holes.table import FloatArray, IntArray
from railgen.placing.bodies import Bodies, Body
from railgen.placing.boxes import Boxes, box_spans
from railgen.placing.fasteners import Fasteners, fasteners_near_feet, lengths_before_boxes
from railgen.placing.feet import foot_spans
from railgen.placing.holes import Holes, hole_spans, shared_spans, stud_spans
from railgen.placing.spans import Spans, joined, split, union

Union = tuple[FloatArray, FloatArray]
"""Closed stations as their union, mm: where each interval begins and ends."""


@dataclass(frozen=True)
class Dependent:
    """Relative stations closed only where one of two components goes through a liner, or only where it does not.

    of_first: whether it is the first of the two; inside: whether they are closed within the liner.
    """

    spans: Spans
    closed: Union
    of_first: bool
    inside: bool


@dataclass(frozen=True)
class PairSpans:
    """Relative stations closed to the first of two components: all reasons, and their union.

    in_liner: what is closed where both go through a liner; liner: the union of it, None where that is nothing more;
    dependent: what is closed where one of them does, or does not; shared: where the two have holes that are validly
    one, whose owners the intervals do not know.
    """

    spans: Spans
    closed: Union
    in_liner: Spans
    liner: Union | None
    dependent: tuple[Dependent, ...] = ()
    shared: Union | None = None

    @cached_property
    def closes(self) -> bool:
        """Whether anything is closed at all."""
        return bool(len(self.spans) or len(self.in_liner) or self.dependent or self.shared)

    @cached_property
    def is_plain(self) -> bool:
        """Whether what is closed is closed whatever lies inside."""
        return not (self.liner or self.dependent or self.shared)

    @cached_property
    def ends(self) -> tuple[list[float], list[float]]:
        """The union once more, as plain figures."""
        return self.closed[0].tolist(), self.closed[1].tolist()


def pair_spans(bodies: Bodies, a: Body, others: list[Body], frame_width: float | None) -> list[PairSpans]:
    """A component against some others on its own side or, with a frame width (mm), on the opposite one."""
    if frame_width is None:
        found = list(zip(*(source(bodies, a, others) for source in PAIR_SOURCES), strict=True))
        in_liner = _hole_pairs(bodies.in_liner, a.in_liner, [b.in_liner for b in others])
        shared = _shared(bodies, a, others)
    else:
        found = [(spans,) for spans in _box_pairs(bodies, a, others, bodies.boxes_opposite(frame_width))]
        in_liner, shared = [NO_SPANS] * len(others), [None] * len(others)
    lengths = _lengths(bodies, a, others, frame_width)
    pairs = []
    for parts, liner, at_wrench, one in zip(found, in_liner, lengths, shared, strict=True):
        spans = joined([*parts, at_wrench[0]])
        closed = union(spans.low, spans.high)
        both = union(np.concatenate([closed[0], liner.low]), np.concatenate([closed[1], liner.high]))
        more = _length(both) > _length(closed) + 1e-6
        in_liner_too = union(liner.low, liner.high) if more else None
        pairs.append(PairSpans(spans, closed, liner, in_liner_too, at_wrench[1], one))
    return pairs


def own_clashes(bodies: Bodies, body: Body) -> tuple[Spans, Spans]:
    """Features of one instance that are in error against each other, in the rail and in a liner."""
    i, j, _ = _every_pair(body.studs, [body.on_rail])
    studs = _studs_and_holes(bodies.studs, bodies.on_rail, i, j)[0].holding(0.0)
    in_rail = joined([_holes_that_clash(bodies.on_rail, body.on_rail), studs])
    return in_rail, _holes_that_clash(bodies.in_liner, body.in_liner)


PairSource = Callable[[Bodies, Body, list[Body]], list[Spans]]
"""Where a body may not stand, seen from each of some others: in error under some rules on every rail."""


def _rail_holes(bodies: Bodies, a: Body, others: list[Body]) -> list[Spans]:
    return _hole_pairs(bodies.on_rail, a.on_rail, [b.on_rail for b in others])


def _envelopes(bodies: Bodies, a: Body, others: list[Body]) -> list[Spans]:
    return _box_pairs(bodies, a, others, bodies.boxes)


def _studs(bodies: Bodies, a: Body, others: list[Body]) -> list[Spans]:
    found: list[list[Spans]] = [[] for _ in others]
    for mine, theirs, one, other in (
        (a.studs, [b.on_rail for b in others], bodies.studs, bodies.on_rail),
        (a.on_rail, [b.studs for b in others], bodies.on_rail, bodies.studs),
    ):
        i, j, number = _every_pair(mine, theirs)
        if not len(i):
            continue
        spans, pair = _studs_and_holes(one, other, i, j)
        for parts, rows in zip(found, split(number[pair], len(others)), strict=True):
            parts.append(spans.at(rows))
    return [joined(parts) for parts in found]


def _studs_and_holes(one: Holes, other: Holes, i: IntArray, j: IntArray) -> tuple[Spans, IntArray]:
    return stud_spans(one, other, i, j, one.velocity[i])


def _feet(bodies: Bodies, a: Body, others: list[Body]) -> list[Spans]:
    i, j, number = _every_pair(a.feet, [b.feet for b in others])
    found = foot_spans(bodies.pattern, bodies.prints, bodies.prints, i, j) if len(i) else NO_SPANS
    return _told_apart(found, found.second, j, number, len(others))


def _fasteners_and_feet(bodies: Bodies, a: Body, others: list[Body]) -> list[Spans]:
    fasteners, feet = bodies.fasteners[0], bodies.prints.feet
    i, j, number = _every_pair(a.fasteners, [b.feet for b in others])
    mine = fasteners_near_feet(bodies.pattern, fasteners, feet, i, j) if len(i) else NO_SPANS
    found = _told_apart(mine, mine.second, j, number, len(others))
    i, j, number = _every_pair(a.feet, [b.fasteners for b in others])
    theirs = fasteners_near_feet(bodies.pattern, fasteners, feet, j, i).seen_from_other() if len(i) else NO_SPANS
    more = _told_apart(theirs, theirs.second, j, number, len(others))
    return [joined(both) for both in zip(found, more, strict=True)]


PAIR_SOURCES: tuple[PairSource, ...] = (_rail_holes, _studs, _envelopes, _feet, _fasteners_and_feet)
"""Everything that closes stations by how two components on one side stand to each other, whatever lies inside."""

NO_SPANS = joined([])


def _box_pairs(bodies: Bodies, a: Body, others: list[Body], theirs: Boxes) -> list[Spans]:
    i, j, number = _every_pair(a.boxes, [b.boxes for b in others])
    found = box_spans(bodies.pattern, bodies.boxes, theirs, i, j) if len(i) else NO_SPANS
    return _told_apart(found, found.second, j, number, len(others))


def _told_apart(found: Spans, second: IntArray, j: IntArray, number: IntArray, count: int) -> list[Spans]:
    """Intervals of each of some others by what they meet there, which is no row of a table."""
    if not len(found):
        return [NO_SPANS] * count
    number_of = np.full(int(j.max()) + 1, -1)
    number_of[j] = number
    nothing = np.full(len(found), -1)
    spans = Spans(found.low, found.high, found.reason, nothing, nothing)
    return [spans.at(rows) for rows in split(number_of[second], count)]


def _lengths(
    bodies: Bodies, a: Body, others: list[Body], frame_width: float | None
) -> list[tuple[Spans, tuple[Dependent, ...]]]:
    """Where envelopes leave too little length before screws, and where only in a liner or only beside one."""
    boxes = bodies.boxes if frame_width is None else bodies.boxes_opposite(frame_width)
    found: list[tuple[list[Spans], list[Dependent]]] = [([], []) for _ in others]
    for of_first in (True, False):
        screws, theirs = ("fasteners", "boxes") if of_first else ("boxes", "fasteners")
        i, j, number = _every_pair(getattr(a, screws), [getattr(b, theirs) for b in others])
        if not len(i):
            continue
        bare, within = bodies.fasteners
        always = _before_boxes(bodies, bare, boxes, i, j, of_first)
        depending = []
        if within is not bare:
            in_liner = _before_boxes(bodies, within, boxes, i, j, of_first)
            one, other = (closed.first * (int(j.max()) + 1) + closed.second for closed in (always, in_liner))
            depending = [(always.at(~np.isin(one, other)), False), (in_liner.at(~np.isin(other, one)), True)]
            always = always.at(np.isin(one, other))
        for (spans, _), mine in zip(found, _told_apart(always, always.second, j, number, len(others)), strict=True):
            spans.append(mine)
        for closed, inside in depending:
            parts = _told_apart(closed, closed.second, j, number, len(others))
            for (_, dependent), mine in zip(found, parts, strict=True):
                if len(mine):
                    dependent.append(Dependent(mine, union(mine.low, mine.high), of_first, inside))
    return [(joined(spans), tuple(dependent)) for spans, dependent in found]


def _before_boxes(
    bodies: Bodies, fasteners: Fasteners, boxes: Boxes, i: IntArray, j: IntArray, of_first: bool
) -> Spans:
    """Where envelopes are before screws, of which the first of two components has one kind and the second the other."""
    if of_first:
        return lengths_before_boxes(bodies.pattern, fasteners, boxes, i, j)
    return lengths_before_boxes(bodies.pattern, fasteners, boxes, j, i).seen_from_other()


def _shared(bodies: Bodies, a: Body, others: list[Body]) -> list[Union | None]:
    """Where two components have holes that are validly one."""
    i, j, number = _every_pair(a.on_rail, [b.on_rail for b in others])
    low, high, pair = shared_spans(bodies.on_rail, bodies.on_rail, i, j)
    if not len(pair):
        return [None] * len(others)
    rows = split(number[pair], len(others))
    return [union(low[some], high[some]) if len(some) else None for some in rows]


def _every_pair(mine: IntArray, theirs: list[IntArray]) -> tuple[IntArray, IntArray, IntArray]:
    """Rows of one body against rows of each other, and the other's number."""
    counts = [len(rows) for rows in theirs]
    together = np.concatenate(theirs)
    number = np.repeat(np.arange(len(theirs)), counts)
    return np.repeat(mine, len(together)), np.tile(together, len(mine)), np.tile(number, len(mine))


def _hole_pairs(holes: Holes, mine: IntArray, theirs: list[IntArray]) -> list[Spans]:
    """Spans of some holes against those of each other component."""
    i, j, number = _every_pair(mine, theirs)
    spans, pair = hole_spans(holes, holes, i, j)
    return [spans.at(rows) for rows in split(number[pair], len(theirs))]


def _holes_that_clash(holes: Holes, rows: IntArray) -> Spans:
    i, j = np.triu_indices(len(rows), 1)
    return hole_spans(holes, holes, rows[i], rows[j])[0].holding(0.0)


def _length(closed: Union) -> float:
    return float(np.sum(closed[1] - closed[0]))
