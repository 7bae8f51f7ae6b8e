"""What limits told for a zone close to components by themselves, while something of theirs stands in it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from railgen.holes.table import RH, IntArray
from railgen.layout.resolve import family_zones
from railgen.placing.alone import EndSpans, closed_alone
from railgen.placing.alone_proof import InZone
from railgen.placing.bodies import Key, marks_of
from railgen.placing.foot_terms import closed_feet
from railgen.placing.setting import Setting
from railgen.placing.spans import REASON
from railgen.placing.tail import blank_velocity
from railgen.rules.pattern import Pattern

BETWEEN_TWO = frozenset(
    {"hole-spacing", "washer-seat", "wrench-access", "weld-clearance", "footprint-clash", "space-clash"}
)
"""Rules that two components may break against each other."""
OVER_LINES = frozenset({"net-section", "holes-in-line"})
"""Rules about lines across the rail, which no component breaks by itself alone."""


def zones_named(setting: Setting) -> dict[str, set[tuple[str, str]]]:
    """Zones of the family that rows of the limit set are told for, with the rules and measures of those rows."""
    named: dict[str, set[tuple[str, str]]] = {}
    for reason, held in setting.limits.rows.items():
        for row in (entry.row for entry in held if reason[0] not in OVER_LINES):
            if row.when and row.when.zone in family_zones(setting.order.family):
                named.setdefault(row.when.zone, set()).add(reason)
    return named


def closed_in_zones(setting: Setting) -> dict[Key, list[InZone]]:
    """Intervals of each component that hold in each zone, as far as limits are told for it."""
    found: dict[Key, list[InZone]] = {}
    for zone, reasons in zones_named(setting).items():
        for key, closed in _in_zone(setting, zone):
            asked = np.isin(closed.spans.spans.reason, [REASON[reason] for reason in sorted(reasons)])
            if asked.any():
                found.setdefault(key, []).append(InZone(zone, _some(closed.spans, asked), closed.at[asked]))
    return found


def _in_zone(setting: Setting, zone: str) -> Iterator[tuple[Key, InZone]]:
    """The intervals of every component on a rail that lies wholly in the zone."""
    whole = setting.pattern
    order = replace(setting.order, zones={zone: (-np.inf, np.inf)})
    pattern = Pattern(order, whole.table, setting.limits, whole.placements)
    count = len(setting.catalogue.names.components)
    table, feet, stands = pattern.table, setting.prints.feet, whole.placements
    of_foot = (stands.component + count * (stands.side == RH))[feet.placement]
    for closed, number, station in (
        (closed_alone(pattern, blank_velocity(order.rail, table)), _numbers(setting), table.station),
        (closed_feet(pattern), of_foot, feet.station),
    ):
        closed = closed.moved(-marks_of(order))
        of_span = number[closed.spans.first]
        for one in np.unique(of_span).tolist():
            rows = of_span == one
            told = _some(closed, rows)
            yield (one % count, -1 if one >= count else 1), InZone(zone, told, station[told.spans.first])


def _numbers(setting: Setting) -> IntArray:
    table = setting.pattern.table
    return np.asarray(table.component + len(setting.catalogue.names.components) * (table.side == RH))


def _some(closed: EndSpans, rows: np.ndarray) -> EndSpans:
    return EndSpans(closed.spans.at(rows), closed.low_from[rows], closed.high_from[rows])


def in_all_zones(setting: Setting) -> Setting | None:
    """The setting with every zone everywhere, None where no limit between two components is told for a zone.

    What it closes beyond the plain one is closed to a pair only where one of the two stands in a zone.
    """
    named = zones_named(setting)
    if not any(rule in BETWEEN_TWO for reasons in named.values() for rule, _ in reasons):
        return None
    order = replace(setting.order, zones=dict.fromkeys(named, (-np.inf, np.inf)))
    return Setting(order, setting.catalogue, setting.limits, setting.reach)
