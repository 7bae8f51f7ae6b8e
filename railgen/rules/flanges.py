"""Rule ``flange-hole``: where flanges may have holes, how large, and how many on one line."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from railgen.data.findings import Finding
from railgen.frame.panels import Panel
from railgen.holes.table import RAIL, SIDES, BoolArray, IntArray
from railgen.rules.breaks import Breaks, breaks, breaks_if_held
from railgen.rules.limits import rows_present
from railgen.rules.lines import line_findings
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
    return np.flatnonzero(pattern.is_hole & (pattern.table.part == RAIL) & ~pattern.on_web)


def _forbidden(pattern: Pattern, rows: IntArray) -> list[Breaks]:
    """A row of the set forbids where it applies; a component that has not declared flange holes may have none."""
    if not pattern.limits.holds("flange-hole", "zone"):
        return []
    if not len(rows):
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
    if len(rows) < 2 or not pattern.limits.holds("flange-hole", "count"):
        return
    table, limits = pattern.table, pattern.limit("flange-hole", "count")
    for side in range(len(SIDES)):
        for panel in FLANGES:
            of_panel = rows[(table.side[rows] == side) & (table.panel[rows] == panel)]
            if len(of_panel) > 1:
                yield from line_findings(pattern, "flange-hole", of_panel, table.u, pattern.reach[0], limits)
