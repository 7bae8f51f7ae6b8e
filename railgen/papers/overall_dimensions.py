"""Overall dimensions of the rail below its whole elevation, in as few lines as keep them apart."""

from __future__ import annotations

from dataclasses import dataclass

from railgen.papers.dimensions import extensions, level_dimension, upright_dimension
from railgen.papers.sheet import Anchor, Item
from railgen.papers.subject import Subject
from railgen.papers.views import View
from railgen.papers.wording import say

_FIRST, _STEP, _PAST = 7.5, 5.0, 3.0
"""Distances (mm) from the rail to the first line of dimensions, to each further one, and past the last."""


@dataclass(frozen=True)
class _Span:
    """One dimension along the rail, stations in mm; where its words go when they are too long for it."""

    key: str
    start: float
    end: float
    beyond: Anchor = "middle"


def overall_height(subject: Subject) -> float:
    """Height (mm) that the dimensions take below the rail."""
    return _FIRST + _STEP * (len(_lines(subject)) - 1) + _PAST


def overall_dimensions(subject: Subject, view: View) -> list[Item]:
    """Overhangs, wheelbase, axle spread, liner, taper, length; and the depths at the rail's ends."""
    rail, style = subject.plan.order.rail, subject.style
    items: list[Item] = []
    lines = _lines(subject)
    last = {x: index for index, line in enumerate(lines) for span in line for x in (span.start, span.end)}
    for index, line in enumerate(lines):
        y = _level(view, index)
        passing = [float(view.x(x)) for x, farthest in last.items() if farthest > index]
        for span in line:
            left, right = sorted((float(view.x(span.start)), float(view.x(span.end))))
            length = style.length(span.end - span.start)
            words = say(f"arrangement.{span.key}", length=length)
            items += level_dimension(left, right, y, words, short=length, beyond=span.beyond, passing=passing)
    feet = [(float(view.x(x)), _level(view, index)) for x, index in sorted(last.items())]
    items.append(extensions([((x, view.lower), (x, y)) for x, y in feet]))
    left, right = float(view.x(rail.front)), float(view.x(rail.rear))
    ends = [(left - 5.0, left, view.breadth)]
    if rail.taper:
        ends.append((right + 7.0, right, rail.taper.end_depth))
    for x, edge, depth in ends:
        top = view.lower + depth * view.scale
        items.append(extensions([((edge, view.lower), (x, view.lower)), ((edge, top), (x, top))]))
        items += upright_dimension(view.lower, top, x, style.length(depth))
    return items


def _level(view: View, line: int) -> float:
    """y of a line of dimensions, counted from the rail outward."""
    return view.lower - _FIRST - _STEP * line


def _lines(subject: Subject) -> list[list[_Span]]:
    """The dimensions, a list a line, from the rail outward."""
    rail, dimensions = subject.plan.order.rail, subject.plan.order.dimensions
    axle = dimensions.get("wheelbase", 0.0)
    spread = dimensions.get("axle_spread", 0.0)
    within = rail.front < 0.0 < axle < rail.rear
    spans = []
    if within and spread > 0:
        spans.append([_Span("axle_spread", axle - spread / 2, axle + spread / 2)])
    if rail.taper:
        spans.append([_Span("taper", rail.taper.start, rail.rear)])
    if rail.liner:
        ends = rail.liner.start, rail.liner.end
        spans.append([_Span("to_liner", rail.front, ends[0], "right"), _Span("liner", *ends)])
    if within:
        overhangs = _Span("front_overhang", rail.front, 0.0, "right"), _Span("rear_overhang", axle, rail.rear, "left")
        spans.append([overhangs[0], _Span("wheelbase", 0.0, axle), overhangs[1]])
    return [*spans, [_Span("rail", rail.front, rail.rear)]]
