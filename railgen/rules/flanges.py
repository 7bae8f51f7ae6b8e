"""Rule ``flange-hole``: where flanges may have holes, how large, and how many on one line."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from railgen.data.findings import Finding
from railgen.frame.panels import Panel
from railgen.holes.table import RAIL, SIDES, BoolArray, IntArray
from railgen.rules.breaks import Breaks, Severity, breaks, finding, in_hole_order
from railgen.rules.edges import breaks_if_held
from railgen.rules.limits import rows_present
from railgen.rules.lines import crowded_runs
from railgen.rules.pattern import Pattern

FLANGES = (Panel.TOP, Panel.BOTTOM, Panel.TAIL_TOP)


def flange_hole(pattern: Pattern) -> list[Breaks]:
    """Flange features where their component or their zone allows none, and their sizes, mm.

    Common practice; body-builder and service values allow no flange holes at all.
    """
    rows = flange_rows(pattern)
    size = pattern.hole_diameter[rows]
    return [*_forbidden(pattern, rows), *breaks_if_held(pattern, "flange-hole", "size", rows, size)]


def flange_rows(pattern: Pattern) -> IntArray:
    """Rows of holes in the rail's flanges."""
    table = pattern.table
    return np.flatnonzero(pattern.is_hole & (table.part == RAIL) & np.isin(table.panel, FLANGES))


def _forbidden(pattern: Pattern, rows: IntArray) -> list[Breaks]:
    """A row of the set forbids where it applies; a component that has not declared flange holes may have none."""
    if not pattern.limits.holds("flange-hole", "zone"):
        return []
    limits = pattern.limit("flange-hole", "zone").at(rows)
    undeclared = ~_all_owners_allow(pattern)[rows]
    undeclared &= rows_present(pattern.limits, "flange-hole", "zone", pattern.table.station[rows])
    held = type(limits)(
        np.where(undeclared, np.minimum(limits.error, 0.0), limits.error),
        limits.warning,
        limits.error_source,
        limits.warning_source,
        limits.held,
        limits.sense,
    )
    return [breaks("flange-hole", "zone", rows, np.ones(len(rows)), held)]


def _all_owners_allow(pattern: Pattern) -> BoolArray:
    table = pattern.table
    components = pattern.order.library.components
    allowed = np.array([components[name].flange_holes for name in table.names.components], dtype=np.bool_)
    counts = np.diff(table.owner_start)
    refusing = np.bincount(np.repeat(np.arange(len(table)), counts), ~allowed[table.owners], len(table))
    return np.asarray(refusing == 0)


def flange_lines(pattern: Pattern) -> Iterator[Finding]:
    """Runs of lines with too many holes on one flange."""
    rows = flange_rows(pattern)
    if not len(rows) or not pattern.limits.holds("flange-hole", "count"):
        return
    table = pattern.table
    for side in range(len(SIDES)):
        for panel in FLANGES:
            yield from _lines_of(pattern, rows[(table.side[rows] == side) & (table.panel[rows] == panel)])


def _lines_of(pattern: Pattern, rows: IntArray) -> Iterator[Finding]:
    if len(rows) < 2:
        return
    table, reach = pattern.table, pattern.reach[0][rows]
    low, high = table.u[rows] - reach, table.u[rows] + reach
    limits = pattern.limit("flange-hole", "count").at(rows)
    for run in crowded_runs(low, high, limits):
        inside = in_hole_order(pattern, rows[run.members].tolist())
        held = limits.held[run.source]
        severity: Severity = "error" if run.is_error else "warning"
        value, unit = float(run.greatest), held.row.unit
        yield finding(pattern, "flange-hole", "count", severity, inside, value, run.limit, unit, held.source)
