"""Rule ``space-clash``: the space that components fill, with the clearance that each class of envelope needs.

Common practice. Envelopes of both sides are held against each other in one set of axes; tyres and suspension travel are
envelopes of the axles like any other.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from railgen.data.findings import Finding
from railgen.holes.neighbours import overlapping
from railgen.holes.table import SIDES, BoolArray, FloatArray, IntArray
from railgen.layout.envelopes import CLEARANCES
from railgen.layout.feet import declared_stacks
from railgen.rules.along import quantities_at
from railgen.rules.breaks import Severity, finding_about, worse
from railgen.rules.limits import HeldRow, LimitTable, evaluate
from railgen.rules.pattern import Pattern

_RULE = "space-clash"
_KEPT_DECIMALS = 6  # of a millimetre: pairs that lack no different amount are equal


@dataclass(frozen=True)
class Needs:
    """Clearance that each of n envelopes needs, mm, -inf where none; source: index into held."""

    error: FloatArray
    warning: FloatArray
    error_source: IntArray
    warning_source: IntArray
    held: tuple[HeldRow, ...]


def space_clash(pattern: Pattern) -> Iterator[Finding]:
    """Envelopes of different components nearer than the larger of their needs, mm: one finding for two placements.

    The distance is that between the boxes; where they overlap it is below zero, the least shift that parts them.
    """
    boxes = pattern.envelopes
    if len(boxes) < 2:
        return
    asked = _asked(pattern)
    reach = float(asked.max(initial=0.0))
    first, second = overlapping(boxes.low[:, 0], boxes.high[:, 0], np.zeros(len(boxes), dtype=np.int64), reach)
    one, other = boxes.component[first], boxes.component[second]
    apart = (one != other) & ~declared_stacks(pattern.order.library)[one, other]
    first, second = first[apart], second[apart]
    value = distances(boxes.low[first], boxes.high[first], boxes.low[second], boxes.high[second])
    near = np.flatnonzero(worse(value, np.maximum(asked[first], asked[second]), "least"))
    if not len(near):
        return
    first, second, value, needs = first[near], second[near], value[near], needs_of(pattern)
    error = np.maximum(needs.error[first], needs.error[second])
    is_error = worse(value, error, "least")
    limit = np.where(is_error, error, np.maximum(needs.warning[first], needs.warning[second]))
    broken = np.flatnonzero(is_error | worse(value, limit, "least"))
    figures = np.column_stack([value, limit])[broken]
    yield from _findings(pattern, needs, first[broken], second[broken], figures, is_error[broken])


def _asked(pattern: Pattern) -> FloatArray:
    """Of each envelope a clearance that what it needs is no more than, mm; -inf where it needs none."""
    limits = pattern.limits
    asked = [limits.plainly(_RULE, measure) if limits.holds(_RULE, measure) else -np.inf for measure in CLEARANCES]
    if max(asked) < np.inf:
        return np.array(asked)[pattern.envelopes.clearance]
    needs = needs_of(pattern)
    return np.maximum(needs.error, needs.warning)


def distances(low: FloatArray, high: FloatArray, other_low: FloatArray, other_high: FloatArray) -> FloatArray:
    """Distance between boxes (n, 3), mm; where they overlap minus the least shift that parts them."""
    gaps = np.maximum(other_low - high, low - other_high)
    apart = np.sqrt((np.maximum(gaps, 0.0) ** 2).sum(axis=1))
    greatest = gaps.max(axis=1)
    return np.asarray(np.where(greatest < 0, greatest, apart))


def needs_of(pattern: Pattern) -> Needs:
    """What each envelope's class asks for at its middle."""
    boxes = pattern.envelopes
    count = len(boxes)
    error, warning = np.full(count, -np.inf), np.full(count, -np.inf)
    error_source, warning_source = np.zeros(count, dtype=np.int64), np.zeros(count, dtype=np.int64)
    held: tuple[HeldRow, ...] = ()
    for number, measure in enumerate(CLEARANCES):
        for shielded in (False, True):
            rows = np.flatnonzero((boxes.clearance == number) & (boxes.shielded == shielded))
            table = _for_shielding(pattern.limits, measure, shielded)
            if not len(rows) or not table.holds(_RULE, measure):
                continue
            limits = evaluate(table, _RULE, measure, quantities_at(pattern, boxes.station[rows]))
            error[rows], warning[rows] = limits.error, limits.warning
            error_source[rows] = limits.error_source + len(held)
            warning_source[rows] = limits.warning_source + len(held)
            held += limits.held
    return Needs(error, warning, error_source, warning_source, held)


def _for_shielding(table: LimitTable, measure: str, shielded: bool) -> LimitTable:
    """The rows of a measure that hold for envelopes with a shield, or without one."""
    key = (_RULE, measure)
    rows = [entry for entry in table.rows.get(key, ()) if _shield_asked(entry) in (None, shielded)]
    return LimitTable({key: tuple(rows)} if rows else {}, table.replaced)


def _shield_asked(entry: HeldRow) -> bool | None:
    return entry.row.when.shielded if entry.row.when else None


def _findings(
    pattern: Pattern, needs: Needs, first: IntArray, second: IntArray, figures: FloatArray, is_error: BoolArray
) -> Iterator[Finding]:
    """Of each two placements and measure the pair that lacks most: errors before warnings, then the foremost."""
    boxes, names = pattern.envelopes, list(pattern.order.library.components)
    station = np.minimum(boxes.station[first], boxes.station[second])
    placements = np.sort(np.column_stack([boxes.placement[first], boxes.placement[second]]), axis=1)
    lacking = (figures[:, 1] - figures[:, 0]).round(_KEPT_DECIMALS)
    seen: set[tuple[int, int, int]] = set()
    for index in np.lexsort((station, -lacking, ~is_error)).tolist():
        pair = [int(first[index]), int(second[index])]
        by = needs.error if is_error[index] else needs.warning
        source = needs.error_source if is_error[index] else needs.warning_source
        # The larger need names the pair; of equal ones the class that comes first.
        ruling = min(pair, key=lambda box: (-by[box], boxes.clearance[box]))
        measure = int(boxes.clearance[ruling])
        key = (int(placements[index, 0]), int(placements[index, 1]), measure)
        if key in seen:
            continue
        seen.add(key)
        severity: Severity = "error" if is_error[index] else "warning"
        yield finding_about(
            _RULE,
            CLEARANCES[measure],
            severity,
            side=SIDES[boxes.side[pair].min()],
            face="",
            station=float(station[index]),
            value=float(figures[index, 0]),
            limit=float(figures[index, 1]),
            held=needs.held[int(source[ruling])],
            components=tuple(sorted({names[boxes.component[box]] for box in pair})),
        )
