"""Run charts over inspected serials: what drifts is seen before it makes a bad hole.

For each part how far its length is off (the press's feed) and how far its whole pattern is shifted; for each tool how
far its holes lie off along and across the blank on average, and how their diameters change as the punch wears.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from railgen.holes.inspection import Inspection, PartInspection
from railgen.holes.table import BoolArray, FloatArray
from railgen.papers.run_chart import Chart
from railgen.papers.wording import say

_PER_RANGE = 2.66
"""Limits of a chart of single values: mean -+ 2.66 x mean moving range, 3 / 1.128 (Shewhart, from memory)."""
_LEAST_POINTS = 5
_RUN, _TREND = 8, 6
"""Points on one side of the mean, and points that rise or fall one after the other (Nelson's rules, from memory)."""
_FLAT = 1e-6
"""mm; files carry no less."""


def in_order(inspections: Sequence[Inspection]) -> list[Inspection]:
    """By date where every one has one, those of one date as given; else all as given."""
    if all(inspection.on for inspection in inspections):
        return sorted(inspections, key=lambda inspection: inspection.on)
    return list(inspections)


def run_chart(inspections: Sequence[Inspection]) -> tuple[Chart, ...]:
    """All charts of some inspections, those in which something is to be seen first; wrong hands are left out."""
    gathered: dict[tuple[str, str], list[tuple[str, float]]] = {}
    for inspection in in_order(inspections):
        for part in inspection.parts:
            if not part.wrong_hand:
                for name, unit, value in _quantities(part):
                    gathered.setdefault((name, unit), []).append((inspection.serial, value))
    made = [chart(name, unit, points) for (name, unit), points in gathered.items()]
    return tuple(sorted(made, key=lambda one: (not one.words, one.title)))


def _quantities(part: PartInspection) -> Iterator[tuple[str, str, float]]:
    web = np.array([face == "web" for face in part.face], dtype=np.bool_) & ~np.isnan(part.measured[:, 0])
    if not web.any():
        return
    yield say("run_chart.length", part=part.name), "mm/m", part.stretch
    # On an RH blank x runs forward.
    deviation = part.deviation * (1.0 if part.side == "LH" else -1.0, 1.0)
    tools = np.array(part.tool, dtype=np.str_)
    for tool in sorted(set(tools[web].tolist()) - {""}):
        rows = web & (tools == tool)
        along, across = deviation[rows].mean(axis=0).tolist()
        yield say("run_chart.along", tool=tool, part=part.name), "mm", along
        yield say("run_chart.across", tool=tool, part=part.name), "mm", across
        sizes = (part.measured_diameter - part.diameter)[rows]
        if not np.isnan(sizes).all():
            yield say("run_chart.diameter", tool=tool, part=part.name), "mm", float(np.nanmean(sizes))


def chart(title: str, unit: str, points: Sequence[tuple[str, float]]) -> Chart:
    """One quantity with its mean, its limits and what is to be seen in it."""
    values = np.array([value for _, value in points], dtype=np.float64)
    mean, lower, upper = limits_of(values)
    found = dict(_signals(values, mean, lower, upper))
    marked = np.zeros(len(values), dtype=np.bool_)
    for rows in found.values():
        marked[rows] = True
    return Chart(title, unit, tuple(s for s, _ in points), values, mean, lower, upper, marked, tuple(found))


def limits_of(values: FloatArray) -> tuple[float, float, float]:
    """Mean and limits of single values from their moving ranges; NaN limits for fewer than five values."""
    mean = float(values.mean())
    if len(values) < _LEAST_POINTS:
        return mean, float("nan"), float("nan")
    half = _PER_RANGE * float(np.abs(np.diff(values)).mean())
    return mean, mean - half, mean + half


def _signals(values: FloatArray, mean: float, lower: float, upper: float) -> Iterator[tuple[str, BoolArray]]:
    if np.isnan(lower):
        return
    beyond = (values < lower - _FLAT) | (values > upper + _FLAT)
    if beyond.any():
        yield say("run_chart.beyond"), beyond
    side = np.where(np.abs(values - mean) <= _FLAT, 0, np.sign(values - mean)).astype(np.int64)
    run = _stretches(side, _RUN)
    if run.any():
        yield say("run_chart.run", count=_RUN), run
    steps = np.diff(values)
    step = np.where(np.abs(steps) <= _FLAT, 0, np.sign(steps)).astype(np.int64)
    for sign, key in ((1, "rising"), (-1, "falling")):
        rows = _stretches(np.where(step == sign, sign, 0), _TREND - 1)
        if rows.any():
            yield say(f"run_chart.{key}", count=_TREND), np.append(rows, False) | np.append(False, rows)


def _stretches(signs: np.ndarray, least: int) -> BoolArray:
    """Which values stand in a stretch of at least `least` equal signs other than 0."""
    marked, start = np.zeros(len(signs), dtype=np.bool_), 0
    for end in range(1, len(signs) + 1):
        if end == len(signs) or signs[end] != signs[start]:
            if signs[start] and end - start >= least:
                marked[start:end] = True
            start = end
    return marked
