"""Rule ``pair-match``: parts listed separately for LH and RH that belong together stand opposite each other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from railgen.data.findings import Finding
from railgen.holes.table import LH, RAIL, RH, Names
from railgen.layout.plan import ResolvedOrder
from railgen.rules.breaks import breaks_if_held, each, finding
from railgen.rules.pattern import Pattern


def pair_match(pattern: Pattern) -> Iterator[Finding]:
    """Station and height of features with one instance and id in mated LH and RH parts, difference in mm."""
    first, second = _mated_rows(pattern)
    if not len(first):
        return
    table = pattern.table
    for measure, values in (("station", table.station), ("height", table.across)):
        apart = np.abs(values[first] - values[second])
        for broken in breaks_if_held(pattern, "pair-match", measure, first, apart, second):
            for row, other, severity, value, limit, held in each(broken):
                pair, unit = [row, other], held.row.unit
                made = finding(pattern, "pair-match", measure, severity, pair, value, limit, unit, held.source)
                yield replace(made, station_mm=float(table.station[row]))


def mate_groups(order: ResolvedOrder, names: Names) -> dict[int, int]:
    """Number of the set of mated parts of each of an order's components that is in one, by its index in names."""
    mates: dict[str, list[str]] = {}
    for component in order.components:
        if component.mates:
            mates.setdefault(component.mates, []).append(component.id)
    index = {name: number for number, name in enumerate(names.components)}
    return {index[name]: number for number, parts in enumerate(mates.values()) for name in parts}


def _mated_rows(pattern: Pattern) -> tuple[np.ndarray, np.ndarray]:
    """Row pairs of LH and RH features of mated components, by instance and feature id."""
    group = mate_groups(pattern.order, pattern.table.names)
    table = pattern.table
    rows = np.flatnonzero(pattern.is_hole & np.isin(table.component, list(group)) & (table.part == RAIL))
    keys: dict[int, dict[tuple[int, int, int], int]] = {LH: {}, RH: {}}
    for row in rows.tolist():
        key = (group[int(table.component[row])], int(table.instance[row]), int(table.feature[row]))
        keys[int(table.side[row])][key] = row
    common = sorted(set(keys[LH]) & set(keys[RH]))
    first = np.array([keys[LH][key] for key in common], dtype=np.int64)
    return first, np.array([keys[RH][key] for key in common], dtype=np.int64)
