"""Feet on bends, past ends, across a liner's ends and on a ramp, as intervals of their component's station."""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, sin

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE
from railgen.frame.panels import Face
from railgen.holes.table import FloatArray, IntArray
from railgen.layout.feet import INSIDE, OUTSIDE
from railgen.placing.alone import FRONT, LINER_END, LINER_START, NOWHERE, REAR, EndSpans, end_spans
from railgen.placing.spans import spans
from railgen.placing.terms import Term
from railgen.rules.along import quantities_at
from railgen.rules.feet import meets_liner
from railgen.rules.limits import evaluate
from railgen.rules.pattern import Pattern
from railgen.rules.ramp import plies_outside

_TANGENT, _END, _PROUD = ("footprint-clash", "tangent"), ("footprint-clash", "end"), ("ramp-flush", "proud")
_Part = tuple[tuple[str, str], FloatArray, FloatArray, IntArray, int, int]
"""Rule and measure, ends of intervals, feet, and what either end is measured from."""


def closed_feet(pattern: Pattern) -> EndSpans:
    """Where components may not stand because of their feet alone, in steps from where each foot stands.

    Limits are taken as they are there. first are feet.
    """
    found: list[_Part] = []
    if len(pattern.feet):
        found = [*_on_tangents(pattern), *_on_fold(pattern), *_past_ends(pattern), *_on_ramp(pattern)]
    return end_spans([(spans(reason, low, high, foot), start, end) for reason, low, high, foot, start, end in found])


def _error(pattern: Pattern, reason: tuple[str, str]) -> FloatArray:
    """Error limit of each foot, -inf where no row holds."""
    if not pattern.limits.holds(*reason):
        return np.full(len(pattern.feet), -np.inf)
    return evaluate(pattern.limits, *reason, quantities_at(pattern, pattern.feet.station)).error


def _on_tangents(pattern: Pattern) -> Iterator[_Part]:
    rail, feet = pattern.rail, pattern.feet
    section, taper, liner = rail.section, rail.taper, rail.liner
    every = np.arange(len(feet))
    on_web = feet.face == Face.WEB
    limit = _error(pattern, _TANGENT) - VALUE_TOLERANCE
    web = np.minimum(feet.low[:, 1] - section.web_lower_tangent, section.web_upper_tangent - feet.high[:, 1])
    terms = [Term(np.where(on_web, web, feet.low[:, 1] - section.tangent), np.zeros(len(feet)), NOWHERE)]
    if taper:
        turned = feet.least(section.web_upper_tangent - taper.turn_up(feet.corners)[:, 1])
        terms.append(Term(np.where(on_web, turned, np.inf), np.full(len(feet), -sin(taper.slope)), NOWHERE))
    for term in terms:
        low, high = term.below(every, limit, np.zeros(len(feet)))
        yield _TANGENT, low, high, every, NOWHERE, NOWHERE
    if liner:
        web = np.minimum(feet.low[:, 1] - liner.web_lower_tangent, liner.web_upper_tangent - feet.high[:, 1])
        clear = np.where(on_web, web, feet.low[:, 1] - liner.flange_tangent)
        rows = np.flatnonzero((feet.surface == INSIDE) & meets_liner(pattern) & (clear < limit))
        # On the liner as long as foot and liner overlap by more than the tolerance.
        low = liner.start - feet.high[rows, 0] + VALUE_TOLERANCE
        high = liner.end - feet.low[rows, 0] - VALUE_TOLERANCE
        yield _TANGENT, low, high, rows, LINER_START, LINER_END


def _on_fold(pattern: Pattern) -> Iterator[_Part]:
    taper, feet = pattern.rail.taper, pattern.feet
    if taper is None:
        return
    rows = np.flatnonzero(feet.face == Face.TOP)
    limit = (_error(pattern, _TANGENT) - VALUE_TOLERANCE)[rows]
    low = taper.start - taper.fold_half_width - feet.high[rows, 0] - limit
    high = taper.start + taper.fold_half_width * cos(taper.slope) - feet.low[rows, 0] + limit
    yield _TANGENT, low, high, rows, NOWHERE, NOWHERE


def _past_ends(pattern: Pattern) -> Iterator[_Part]:
    rail, feet = pattern.rail, pattern.feet
    limit = _error(pattern, _END) - VALUE_TOLERANCE
    every, endless = np.flatnonzero(np.isfinite(limit)), np.full(int(np.isfinite(limit).sum()), np.inf)
    limit = limit[every]
    yield _END, -endless, rail.front + limit - feet.low[every, 0], every, FRONT, FRONT
    yield _END, rail.rear - limit - feet.high[every, 0], endless, every, REAR, REAR
    if rail.liner:
        inside = np.flatnonzero(((feet.surface == INSIDE) & meets_liner(pattern))[every])
        rows = every[inside]
        for end, mark in ((rail.liner.start, LINER_START), (rail.liner.end, LINER_END)):
            low, high = end - feet.high[rows, 0] - limit[inside], end - feet.low[rows, 0] + limit[inside]
            yield _END, low, high, rows, mark, mark


def _on_ramp(pattern: Pattern) -> Iterator[_Part]:
    taper, feet = pattern.rail.taper, pattern.feet
    if taper is None or not pattern.limits.holds(*_PROUD):
        return
    limit = evaluate(pattern.limits, *_PROUD, quantities_at(pattern, feet.station)).error
    proud = plies_outside(pattern, feet.component) > limit + VALUE_TOLERANCE
    rows = np.flatnonzero((feet.face == Face.TOP) & (feet.surface == OUTSIDE) & proud)
    yield _PROUD, taper.start + VALUE_TOLERANCE - feet.high[rows, 0], np.full(len(rows), np.inf), rows, NOWHERE, NOWHERE
