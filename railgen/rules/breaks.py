"""Broken limits as arrays, and the findings made of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE, Finding
from railgen.holes.table import FACES, FILE_DECIMALS, PARTS, SIDES, BoolArray, FloatArray, IntArray
from railgen.rules.limits import HeldRow, Limits, sense_of
from railgen.rules.pattern import Pattern
from railgen.rules.wording import message_of, remedy_of

Severity = Literal["error", "warning"]


@dataclass(frozen=True)
class Breaks:
    """The features or pairs of rows that break one measure; all arrays of one length.

    first and second: rows of the pattern's table (second is -1 for single features); limit: the figure that is
    broken, of the error where is_error, else of the warning; source: index into held.
    """

    rule: str
    measure: str
    first: IntArray
    second: IntArray
    value: FloatArray
    limit: FloatArray
    is_error: BoolArray
    source: IntArray
    held: tuple[HeldRow, ...]

    def __len__(self) -> int:
        return len(self.first)


def worse(value: FloatArray, limit: FloatArray, sense: str) -> BoolArray:
    """Whether values are worse than limits by more than the tolerance."""
    return np.asarray(value < limit - VALUE_TOLERANCE if sense == "least" else value > limit + VALUE_TOLERANCE)


def breaks(
    rule: str, measure: str, first: IntArray, value: FloatArray, limits: Limits, second: IntArray | None = None
) -> Breaks:
    """Those of the given features (or pairs) whose value breaks its limit; limits belong to them, value by value."""
    broken = np.flatnonzero(worse(value, limits.strictest, limits.sense))
    chosen = limits.at(broken)
    is_error = worse(value[broken], chosen.error, limits.sense)
    return Breaks(
        rule=rule,
        measure=measure,
        first=first[broken],
        second=np.full(len(broken), -1) if second is None else second[broken],
        value=value[broken],
        limit=np.where(is_error, chosen.error, chosen.warning),
        is_error=is_error,
        source=np.where(is_error, chosen.error_source, chosen.warning_source),
        held=limits.held,
    )


def breaks_if_held(
    pattern: Pattern,
    rule: str,
    measure: str,
    first: IntArray,
    value: FloatArray,
    second: IntArray | None = None,
    limits_of: Callable[[IntArray], Limits] | None = None,
) -> list[Breaks]:
    """Breaks of a measure at some rows, or pairs of rows, value by value, where the limit set speaks of it.

    Of a pair the stricter of both rows' limits holds. limits_of: other limits of pairs, for those at an index. Limits
    are evaluated only where what the measure asks at most is not kept to.
    """
    if not pattern.limits.holds(rule, measure):
        return []
    index = suspects(pattern, rule, measure, first, value, second)
    if not len(index):
        return []
    other = None if second is None else second[index]
    if limits_of is not None:
        limits = limits_of(index)
    else:
        limits = pattern.limit(rule, measure).at(first[index])
        if other is not None:
            limits = limits.stricter(pattern.limit(rule, measure).at(other))
    return [breaks(rule, measure, first[index], value[index], limits, other)]


def suspects(
    pattern: Pattern, rule: str, measure: str, first: IntArray, value: FloatArray, second: IntArray | None = None
) -> IntArray:
    """Index of those rows, or pairs of rows, that could break a measure the limit set speaks of: no others do."""
    asked, sense = pattern.asked(rule, measure), sense_of(rule, measure)
    if asked.ndim:
        pick = np.fmax if sense == "least" else np.fmin
        asked = asked[first] if second is None else pick(asked[first], asked[second])
    return np.flatnonzero(worse(value, asked, sense))


def findings_of(pattern: Pattern, broken: Breaks) -> Iterator[Finding]:
    """One finding for each feature or pair."""
    for first, second, severity, value, limit, held in each(broken):
        rows = [first] if second < 0 else in_hole_order(pattern, [first, second])
        yield finding(pattern, broken.rule, broken.measure, severity, rows, value, limit, held.row.unit, held.source)


def each(broken: Breaks) -> Iterator[tuple[int, int, Severity, float, float, HeldRow]]:
    """Of each broken limit first, second, severity, value, limit and the row that the limit is from."""
    for index in range(len(broken)):
        severity: Severity = "error" if broken.is_error[index] else "warning"
        figures = float(broken.value[index]), float(broken.limit[index])
        held = broken.held[int(broken.source[index])]
        yield int(broken.first[index]), int(broken.second[index]), severity, *figures, held


def in_hole_order(pattern: Pattern, rows: list[int]) -> list[int]:
    """Rows by face, station, across (to the decimals of files) and hole id: the order of holes within a finding."""
    table = pattern.table
    face = table.face

    def key(row: int) -> tuple[int, float, float, str]:
        station, across = float(table.station[row]), float(table.across[row])
        return int(face[row]), round(station, FILE_DECIMALS), round(across, FILE_DECIMALS), table.hole_id(row)

    return sorted(rows, key=key)


def finding(
    pattern: Pattern,
    rule: str,
    measure: str,
    severity: Severity,
    rows: list[int],
    value: float,
    limit: float,
    unit: str,
    source: str,
) -> Finding:
    """The finding about some rows of one side and part, in the order given."""
    table = pattern.table
    holes = tuple(table.hole_id(row) for row in rows)
    owners = {owner for row in rows for owner in table.owners_of(row)}
    first = rows[0]
    station = min(float(table.station[row]) for row in rows)
    return Finding(
        rule=rule,
        measure=measure,
        severity=severity,
        side=SIDES[table.side[first]],
        part=PARTS[table.part[first]],
        face=FACES[table.face[first]],
        holes=holes,
        components=tuple(sorted(owners)),
        station_mm=station,
        value=value,
        limit=limit,
        unit=unit,
        source=source,
        message=message_of(rule, measure, holes, value, limit, unit),
        remedy=remedy_of(rule, measure, value, limit, unit),
    )


def finding_about(
    rule: str,
    measure: str,
    severity: Severity,
    *,
    side: str,
    face: str,
    station: float,
    value: float,
    limit: float,
    held: HeldRow,
    part: str = "rail",
    holes: tuple[str, ...] = (),
    components: tuple[str, ...] = (),
    place: str = "",
) -> Finding:
    """The finding about a line across the rail, a foot, an envelope or a whole part: what has no row of its own."""
    unit = held.row.unit
    return Finding(
        rule=rule,
        measure=measure,
        severity=severity,
        side=side,
        part=part,
        face=face,
        holes=holes,
        components=components,
        station_mm=station,
        value=value,
        limit=limit,
        unit=unit,
        source=held.source,
        message=message_of(rule, measure, holes, value, limit, unit, components, place),
        remedy=remedy_of(rule, measure, value, limit, unit),
    )
