"""Limits along the rail: what rows ask for at stations, and the stretches on which limits do not change."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from railgen.holes.table import FloatArray
from railgen.rules.limits import HeldRow, LimitTable, Quantities, evaluate
from railgen.rules.pattern import Pattern


def quantities_at(pattern: Pattern, station: FloatArray, part: str = "rail") -> Quantities:
    """What limit rows multiply and ask for at stations (mm) of a part, where there is no hole and no bolt."""
    one = np.ones(len(station))
    liner = pattern.rail.liner
    return Quantities(
        station=station,
        thickness=pattern.order.thickness_of(part) * one,
        liner_thickness=liner.section.thickness if liner else 0.0,
        hole=0.0 * one,
        bolt=0.0 * one,
        depth=pattern.rail.depth_at(station),
        tensile=pattern.order.steel_of(part).tensile_least * one,
        zones=pattern.order.zones,
    )


@dataclass(frozen=True)
class LimitStretch:
    """Stations (mm), both included, on which the limits of a measure are the same; held: the rows they are from."""

    start: float
    end: float
    error: float
    warning: float
    error_held: HeldRow
    warning_held: HeldRow


def limit_stretches(
    pattern: Pattern, rule: str, measure: str, start: float, end: float, limits: LimitTable | None = None
) -> tuple[LimitStretch, ...]:
    """From start to end (mm) the longest stretches without a change of limits.

    Limits change at the ends of zones, by name or of the order, and where a taper's depth passes a bound that a row
    names. On a stretch they are those of its middle.
    """
    table = limits or pattern.limits
    cuts = sorted({start, end, *(cut for cut in limit_cuts(pattern, table, rule, measure) if start < cut < end)})
    middle = np.array([(low + high) / 2 for low, high in pairwise(cuts)])
    found = evaluate(table, rule, measure, quantities_at(pattern, middle))
    stretches: list[LimitStretch] = []
    for index, (low, high) in enumerate(pairwise(cuts)):
        here = LimitStretch(
            low,
            high,
            float(found.error[index]),
            float(found.warning[index]),
            found.held[int(found.error_source[index])],
            found.held[int(found.warning_source[index])],
        )
        before = stretches[-1] if stretches else None
        if before and _same_limits(before, here):
            stretches[-1] = LimitStretch(
                before.start, high, before.error, before.warning, before.error_held, before.warning_held
            )
        else:
            stretches.append(here)
    return tuple(stretches)


def _same_limits(first: LimitStretch, second: LimitStretch) -> bool:
    """Whether figures and where they are from agree, for those limits that there are."""
    errors = first.error == second.error and (np.isinf(first.error) or first.error_held == second.error_held)
    warnings = first.warning == second.warning
    return bool(errors and warnings and (np.isinf(first.warning) or first.warning_held == second.warning_held))


def limit_cuts(pattern: Pattern, table: LimitTable, rule: str, measure: str) -> Iterator[float]:
    """Stations where a row begins or ends to hold, mm."""
    taper = pattern.rail.taper
    for entry in table.rows.get((rule, measure), ()):
        yield from entry.zone or ()
        when = entry.row.when
        if when is None:
            continue
        if when.zone is not None:
            yield from pattern.order.zones.get(when.zone, ())
        if when.depth is not None and taper is not None:
            bounds = (when.depth.least, when.depth.most, when.depth.above, when.depth.below)
            for bound in bounds:
                if bound is not None:
                    yield taper.start + (taper.depth - bound) / float(np.tan(taper.slope))
