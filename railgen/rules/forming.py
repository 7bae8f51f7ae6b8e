"""Rules ``taper-shape`` and ``liner-fit``: whether the tail can be cut, folded and welded, and the liner nested."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import Finding
from railgen.frame.liner import LinerShape
from railgen.frame.taper import TaperShape
from railgen.holes.table import SIDES
from railgen.rules.along import quantities_at
from railgen.rules.breaks import Severity, worse
from railgen.rules.limits import evaluate
from railgen.rules.pattern import Pattern
from railgen.rules.wording import message_of, remedy_of


@dataclass(frozen=True)
class _Shape:
    """A value of a part's shape; ``least_error`` is a limit that the geometry itself sets, whatever the limit set."""

    rule: str
    measure: str
    part: str
    station: float
    value: float
    least_error: float = -np.inf
    source: str = ""


def taper_shape(pattern: Pattern) -> Iterator[Finding]:
    """Relief hole, seam and upset steel of the tail taper.

    The relief hole's radius is at least max(h sin(alpha), ...) so that the folded panel clears the web. Welding
    within 5 t of a cold bend is allowed where EN 1993-1-8 table 4.2 allows its r/t.
    """
    taper = pattern.rail.taper
    if taper is None:
        return
    turning = taper.hinge_height * np.sin(taper.slope)
    yield from _found(
        pattern,
        _Shape("taper-shape", "relief", "rail", taper.start, taper.relief_radius, turning, "common practice"),
    )
    section = pattern.rail.section
    if not welding_near_bend_allowed(section.inside_radius, section.thickness):
        nearest = min(taper.seam_to_upper_tangent, taper.seam_to_lower_tangent)
        yield from _found(pattern, _Shape("taper-shape", "seam-bend", "rail", taper.start, nearest))
    yield from _upset(pattern, taper)


def welding_near_bend_allowed(inside_radius: float, thickness: float) -> bool:
    """Whether welding within 5 t of a cold-formed bend is allowed; r and t in mm.

    Fatigue predominating: up to 10 mm where r/t >= 2, up to 8 mm where r/t >= 1.5. Source: EN 1993-1-8 table 4.2.
    """
    ratio = inside_radius / thickness
    return (ratio >= 2.0 and thickness <= 10.0) or (ratio >= 1.5 and thickness <= 8.0)


def liner_fit(pattern: Pattern) -> Iterator[Finding]:
    """Whether the liner's corners clear the rail's bends and its flanges do not stand proud, mm. Common practice."""
    liner: LinerShape | None = pattern.rail.liner
    if liner is None:
        return
    for measure, value in (("interference", liner.interference), ("proud", liner.proud)):
        yield from _found(pattern, _Shape("liner-fit", measure, "liner", liner.start, value))


def _found(pattern: Pattern, shape: _Shape) -> Iterator[Finding]:
    """The finding, one a side, where the value breaks a limit of the set or of the geometry itself."""
    at = quantities_at(pattern, np.array([shape.station]), shape.part)
    limits = evaluate(pattern.limits, shape.rule, shape.measure, at)
    error, warning = float(limits.error[0]), float(limits.warning[0])
    source = limits.held[int(limits.error_source[0])].source if limits.held else shape.source
    if limits.sense == "least" and shape.least_error > error:
        error, source = shape.least_error, shape.source
    severity: Severity
    value = np.array([shape.value])
    if worse(value, np.array([error]), limits.sense)[0]:
        severity, limit = "error", error
    elif worse(value, np.array([warning]), limits.sense)[0]:
        severity, limit, source = "warning", warning, limits.held[int(limits.warning_source[0])].source
    else:
        return
    unit = limits.held[0].row.unit if limits.held else "mm"
    for side in SIDES:
        yield _finding(shape, side, severity, limit, unit, source)


def _finding(shape: _Shape, side: str, severity: Severity, limit: float, unit: str, source: str) -> Finding:
    return Finding(
        rule=shape.rule,
        measure=shape.measure,
        severity=severity,
        side=side,
        part=shape.part,
        face="web",
        holes=(),
        components=(),
        station_mm=shape.station,
        value=shape.value,
        limit=limit,
        unit=unit,
        source=source,
        message=message_of(shape.rule, shape.measure, (), shape.value, limit, unit),
        remedy=remedy_of(shape.rule, shape.measure, shape.value, limit, unit),
    )


def _upset(pattern: Pattern, taper: TaperShape) -> Iterator[Finding]:
    """The upset area: a note, or more where the limit set has a limit for it."""
    if pattern.limits.holds("taper-shape", "upset"):
        yield from _found(pattern, _Shape("taper-shape", "upset", "rail", taper.start, taper.upset_area))
        return
    for side in SIDES:
        yield Finding(
            rule="taper-shape",
            measure="upset",
            severity="note",
            side=side,
            part="rail",
            face="web",
            holes=(),
            components=(),
            station_mm=taper.start,
            value=taper.upset_area,
            limit=None,
            unit="mm2",
            source="common practice",
            message=message_of("taper-shape", "upset", (), taper.upset_area, 0.0, "mm2"),
        )
