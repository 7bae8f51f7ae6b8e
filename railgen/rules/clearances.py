"""The rules about sections, welds, feet, spaces, wrenches and the press, as lists beside those of ``rules.check``."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from railgen.data.findings import Finding
from railgen.rules.beside import Beside, beside_feet
from railgen.rules.breaks import Breaks, findings_of
from railgen.rules.feet import footprint_clash, washers_on_feet
from railgen.rules.liner_edges import liner_edge
from railgen.rules.lines import holes_in_line
from railgen.rules.net_section import net_sections
from railgen.rules.pattern import Pattern
from railgen.rules.press import press_blank, press_limit
from railgen.rules.ramp import ramp_feet, ramp_flush
from railgen.rules.space import space_clash
from railgen.rules.spacing import Pairs, pairs_within
from railgen.rules.welds import studs_apart, weld_clearance
from railgen.rules.wrench import flange_access, lengths_free, sockets_apart, sockets_by_feet

FEATURE_CLEARANCES: tuple[Callable[[Pattern], list[Breaks]], ...] = (
    weld_clearance,
    studs_apart,
    liner_edge,
    ramp_flush,
    press_limit,
    flange_access,
)
"""Rules that look at features of the table, one or two at a time."""

PAIR_CLEARANCES: tuple[Callable[[Pairs], list[Breaks]], ...] = (sockets_apart,)
"""Rules that look at two holes at a time."""

FOOT_CLEARANCES: tuple[Callable[[Beside], Iterator[Finding]], ...] = (washers_on_feet, sockets_by_feet)
"""Rules that look at a fastener and a foot near it."""

PATTERN_CLEARANCES: tuple[Callable[[Pattern], Iterator[Finding]], ...] = (
    net_sections,
    holes_in_line,
    footprint_clash,
    space_clash,
    lengths_free,
    ramp_feet,
    press_blank,
)
"""Rules that look at lines across the rail, at feet and envelopes, or at whole parts."""


def clearance_findings(pattern: Pattern, pairs: Pairs | None = None) -> Iterator[Finding]:
    """Findings of all these rules; pairs: the pattern's own, where they are known already."""
    for rule in FEATURE_CLEARANCES:
        for broken in rule(pattern):
            yield from findings_of(pattern, broken)
    near = pairs_within(pattern) if pairs is None else pairs
    for pair_rule in PAIR_CLEARANCES:
        for broken in pair_rule(near):
            yield from findings_of(pattern, broken)
    beside = beside_feet(pattern, _foot_reach(pattern))
    for foot_rule in FOOT_CLEARANCES:
        yield from foot_rule(beside)
    for whole in PATTERN_CLEARANCES:
        yield from whole(pattern)


def _foot_reach(pattern: Pattern) -> float:
    """Distance between a fastener's core and a foot beyond which no rule about both can be broken, mm."""
    reach = 0.0
    sizes = [fastener.diameter / 2 for fastener in pattern.order.library.fasteners.values()]
    seat = max(float(np.max(pattern.washer_radius, initial=0.0)), *sizes, 0.0)
    socket = float(np.max(pattern.socket_radius, initial=0.0))
    for rule, measure, radius in (("footprint-clash", "washer", seat), ("wrench-access", "radial", socket)):
        if pattern.limits.holds(rule, measure):
            reach = max(reach, pattern.most_asked(rule, measure) + radius)
    return reach
