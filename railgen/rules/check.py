"""All rules over one pattern: the list of rules, and the findings they make."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from railgen.data.findings import Finding
from railgen.holes.table import FACES, PARTS, RAIL, SIDES, BoolArray, IntArray
from railgen.rules.bends import bend_clearance
from railgen.rules.breaks import Breaks, findings_of
from railgen.rules.clearances import clearance_findings
from railgen.rules.drain import drain
from railgen.rules.edges import edge_distance, off_rail
from railgen.rules.flanges import flange_hole, flange_lines
from railgen.rules.forming import liner_fit, taper_shape
from railgen.rules.mates import pair_match
from railgen.rules.pattern import Pattern
from railgen.rules.sizes import hole_size
from railgen.rules.spacing import Pairs, coinciding, hole_spacing, pairs_between, pairs_within
from railgen.rules.washers import washer_seat, washers_apart

FEATURE_RULES: tuple[Callable[[Pattern], list[Breaks]], ...] = (
    off_rail,
    edge_distance,
    bend_clearance,
    washer_seat,
    flange_hole,
    hole_size,
)
"""Rules that look at one feature at a time."""

PAIR_RULES: tuple[Callable[[Pairs], list[Breaks]], ...] = (hole_spacing, coinciding, washers_apart)
"""Rules that look at two features at a time."""

PATTERN_RULES: tuple[Callable[[Pattern], Iterator[Finding]], ...] = (
    flange_lines,
    pair_match,
    taper_shape,
    liner_fit,
    drain,
)
"""Rules that look at the whole pattern or at the shape of the parts."""


def every_finding(pattern: Pattern) -> list[Finding]:
    """Findings of all rules but those about strength, in no particular order."""
    pairs = pairs_within(pattern)
    return [*check(pattern, pairs), *clearance_findings(pattern, pairs)]


def check(pattern: Pattern, pairs: Pairs | None = None) -> list[Finding]:
    """Findings of the rules about features, and a note for each shared hole; pairs: the pattern's, where known."""
    broken = [found for rule in FEATURE_RULES for found in rule(pattern)]
    near = pairs_within(pattern) if pairs is None else pairs
    broken += [found for rule in PAIR_RULES for found in rule(near)]
    findings = [finding for found in broken for finding in findings_of(pattern, found)]
    for whole in PATTERN_RULES:
        findings.extend(whole(pattern))
    findings.extend(_shared_holes(pattern))
    return findings


def groups_in_error(pattern: Pattern, some: IntArray, group: IntArray, others: IntArray) -> BoolArray:
    """Which groups of some rows are in an error, alone, within the group, or against the other rows.

    group gives each of the ``some`` rows a number from 0; the groups do not see each other. The rules over whole
    patterns are not among those asked.
    """
    group_of = np.full(len(pattern.table), -1)
    group_of[some] = group
    broken = [found for rule in FEATURE_RULES for found in rule(pattern)]
    for pairs in (pairs_between(pattern, some, others), pairs_within(pattern, some, group)):
        broken += [found for rule in PAIR_RULES for found in rule(pairs)]
    in_error = np.zeros(int(group.max(initial=-1)) + 1, dtype=np.bool_)
    for found in broken:
        for rows in (found.first, found.second):
            named = group_of[rows[found.is_error & (rows >= 0)]]
            in_error[named[named >= 0]] = True
    return in_error


def _shared_holes(pattern: Pattern) -> Iterator[Finding]:
    table = pattern.table
    owners = np.diff(table.owner_start)
    for row in np.flatnonzero((owners > 1) & (table.part == RAIL)).tolist():
        yield _shared_hole(pattern, row, int(owners[row]))


def _shared_hole(pattern: Pattern, row: int, count: int) -> Finding:
    table = pattern.table
    names = table.owners_of(row)
    return Finding(
        rule="shared-hole",
        measure="owners",
        severity="note",
        side=SIDES[table.side[row]],
        part=PARTS[table.part[row]],
        face=FACES[table.face[row]],
        holes=(table.hole_id(row),),
        components=names,
        station_mm=float(table.station[row]),
        value=float(count),
        limit=None,
        unit="count",
        source="common practice",
        message=f"{table.hole_id(row)} is one hole of {', '.join(names)}",
    )
