"""Rules ``bending``, ``joint`` and ``grip``: strength, stated as checks and not as approvals.

They are asked apart from the other rules, since they look at loads and not only at shapes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from railgen.data.findings import Finding
from railgen.holes.table import MARK, NONE, RAIL, SIDES, BoolArray, FloatArray
from railgen.layout.plan import SerialPlan
from railgen.rules.along import quantities_at
from railgen.rules.breaks import (
    Breaks,
    Severity,
    breaks,
    breaks_if_held,
    finding_about,
    findings_of,
    in_hole_order,
    worse,
)
from railgen.rules.limits import Limits, evaluate
from railgen.rules.pattern import Pattern, pattern_of
from railgen.rules.steel_around import steel_around
from railgen.rules.wording import governed_by, message_of
from railgen.shop.stacks import Stacks
from railgen.strength.bending import ModulusAt, RailBending, bending_of, modulus_along, yield_along
from railgen.strength.criticality import Criticality, rank_holes
from railgen.strength.joints import MODES, BoltData, JointCheck, SteelAround, bolt_data, check_joints
from railgen.strength.loads import FRONT_AXLE, RailLoads, compare_axle_loads
from railgen.strength.net_section import NetSection, net_section
from railgen.strength.rated import BoltForces, rated_bolts

_TOUCHING = 1e-6  # mm: a line no further from a hole's end meets the hole


@dataclass(frozen=True)
class Strength:
    """The strength of one serial's rails, each part computed when it is first asked for."""

    pattern: Pattern

    @cached_property
    def stacks(self) -> Stacks:
        """What the fastener of each row clamps."""
        return self.pattern.stacks

    @cached_property
    def net(self) -> NetSection:
        """The section left of both rails alone."""
        return net_section(self.pattern.rail, self.pattern.table, self.pattern.cores)

    @cached_property
    def lined_net(self) -> NetSection | None:
        """The section left of rail and liner together, None without a liner."""
        pattern = self.pattern
        return net_section(pattern.rail, pattern.table, pattern.cores, True) if pattern.rail.liner else None

    @cached_property
    def bending(self) -> tuple[RailBending, ...]:
        """Bending of both rails, LH first; none where the order has no [loads]."""
        pattern, order = self.pattern, self.pattern.order
        if order.order.loads is None:
            return ()
        nets = [net for net in (self.net, self.lined_net) if net is not None]
        lines = [np.concatenate([net.lines_between_holes(side) for net in nets]) for side in range(len(SIDES))]
        return bending_of(order, pattern.placements, pattern.table, self._moduli, lines)

    @property
    def _moduli(self) -> ModulusAt:
        return modulus_along(self.pattern.rail, self.net, self.lined_net)

    def resistance_at(self, side: int, station: FloatArray) -> FloatArray:
        """Moment of resistance of the net section at stations (mm) of a side, N mm: modulus times yield."""
        modulus = self._moduli(np.full(len(station), side), station)
        return np.asarray(modulus * self.yield_at(station))

    def yield_at(self, station: FloatArray) -> FloatArray:
        """Yield strength held against the stress at stations (mm), MPa."""
        return yield_along(self.pattern.order, station)

    @cached_property
    def loads(self) -> tuple[RailLoads, ...]:
        """Loads of both rails, LH first; none where the order has no [loads]."""
        return tuple(rail.loads for rail in self.bending)

    @cached_property
    def joints(self) -> JointCheck:
        """All bolts of the serial's rated joints against every mode."""
        return self.joints_in(self.around)

    def joints_in(self, around: SteelAround) -> JointCheck:
        """All bolts of the rated joints against every mode, in other steel around their holes than there is."""
        order = self.pattern.order
        return check_joints(
            self._rated,
            self._bolts,
            around,
            self.pattern.hole_diameter[self._rated.row],
            order.rail.section.thickness,
            order.rail_steel,
            order.library.finishing.coating.friction,
        )

    @cached_property
    def around(self) -> SteelAround:
        """The steel around the holes of the rated joints, as their forces see it."""
        return steel_around(self.pattern, self._rated.row, self._rated.along, self._rated.across)

    @cached_property
    def _rated(self) -> BoltForces:
        return rated_bolts(self.pattern.order, self.pattern.placements, self.pattern.table)

    @cached_property
    def _bolts(self) -> BoltData:
        return bolt_data(self._rated, self.pattern.table, self.pattern.order.library, self.stacks)

    @cached_property
    def criticality(self) -> Criticality:
        """All holes by the peak stress at their edges; none where the order has no [loads]."""
        return rank_holes(self.pattern.order, self.pattern.table, self.bending)


def strength_of(plan: SerialPlan) -> Strength:
    """The strength of a planned serial."""
    return Strength(pattern_of(plan.order, plan.holes, plan.placements))


def strength_findings(pattern: Pattern) -> list[Finding]:
    """Findings of bending, rated joints and grip, in no particular order.

    Bending is looked at where the order has [loads], joints where a component carries a rated load, grip always.
    """
    strength = Strength(pattern)
    findings = [*bending(pattern, strength.bending), *axle_loads(pattern, strength.loads)]
    findings += joint(pattern, strength.joints)
    findings += grip(pattern, strength.stacks)
    return findings


def bending(pattern: Pattern, rails: Sequence[RailBending]) -> Iterator[Finding]:
    """Net-section bending stress over yield, one finding for the longest run of neighbouring stations that break it.

    Each run gives its worst station. Common practice; statics, and resisting moment = section modulus x yield.
    """
    if not pattern.limits.holds("bending", "stress"):
        return
    for rail in rails:
        limits = evaluate(pattern.limits, "bending", "stress", quantities_at(pattern, rail.station))
        value = rail.utilisation
        is_error = worse(value, limits.error, limits.sense)
        broken = is_error | worse(value, limits.warning, limits.sense)
        for start, end in _runs(broken):
            run = np.arange(start, end)
            ranked = value[run] + is_error[run] * (1 + value.max())
            worst = int(run[np.argmax(ranked)])
            yield _bending_finding(pattern, rail, worst, limits, bool(is_error[worst]))


def axle_loads(pattern: Pattern, rails: tuple[RailLoads, ...]) -> Iterator[Finding]:
    """Notes that compare the order's axle loads with the reactions of what is known; nothing else follows from them."""
    stations = {"front axle": FRONT_AXLE, "rear axle": pattern.order.dimensions["wheelbase"]}
    for compared in compare_axle_loads(pattern.order, rails):
        measure = compared.axle.replace(" ", "-")
        yield Finding(
            rule="bending",
            measure=measure,
            severity="note",
            side="",
            part="",
            face="",
            holes=(),
            components=(),
            station_mm=stations[compared.axle],
            value=compared.computed,
            limit=compared.given,
            unit="kN",
            source="common practice",
            message=message_of("bending", measure, (), compared.computed, compared.given, "kN"),
        )


def joint(pattern: Pattern, check: JointCheck) -> Iterator[Finding]:
    """Greatest utilisation of each hole of a rated joint, one finding a hole, with the way that governs.

    EN 1993-1-8 table 3.4 and 3.9, AISC 360-16 J3.10, elastic bolt group after AISC Manual part 7.
    """
    if not len(check.forces) or not pattern.limits.holds("joint", "utilisation"):
        return
    rows, worst = check.by_hole()
    broken = breaks("joint", "utilisation", rows, check.greatest[worst], pattern.limit("joint", "utilisation").at(rows))
    mode = dict(zip(rows.tolist(), check.governing[worst].tolist(), strict=True))
    for row, made in zip(broken.first.tolist(), findings_of(pattern, broken), strict=True):
        yield replace(made, message=governed_by(made.message, MODES[mode[row]]))


def grip(pattern: Pattern, clamped: Stacks) -> Iterator[Finding]:
    """Thickness that each fastener clamps over its diameter: low grip loses its clamp to settling. Common practice.

    The stack is rail, liner and the plies of all owners; washers are not counted.
    """
    for broken in low_grips(pattern, clamped):
        yield from findings_of(pattern, broken)


def low_grips(pattern: Pattern, clamped: Stacks) -> list[Breaks]:
    """The fasteners that clamp too little."""
    table = pattern.table
    rows = np.flatnonzero((table.part == RAIL) & (table.fastener != NONE) & (table.shape != MARK))
    value = clamped.grip[rows] / pattern.quantities.bolt[rows]
    return breaks_if_held(pattern, "grip", "bolt-diameters", rows, value)


def _runs(broken: BoolArray) -> Iterator[tuple[int, int]]:
    """Start and end (not included) of each longest run of true values."""
    change = np.diff(np.concatenate([[False], broken, [False]]).astype(np.int64))
    yield from zip(np.flatnonzero(change == 1).tolist(), np.flatnonzero(change == -1).tolist(), strict=True)


def _bending_finding(pattern: Pattern, rail: RailBending, index: int, limits: Limits, is_error: bool) -> Finding:
    severity: Severity = "error" if is_error else "warning"
    station, table = float(rail.station[index]), pattern.table
    # Stations looked at are ends of holes, too: whether such a hole is on the line must not hang on a last digit.
    meets = np.abs(table.station - station) <= pattern.finished_reach[0] + _TOUCHING
    on_line = meets & pattern.is_hole & (table.part == RAIL) & (table.side == rail.loads.side)
    rows = in_hole_order(pattern, np.flatnonzero(on_line).tolist())
    return finding_about(
        "bending",
        "stress",
        severity,
        side=SIDES[rail.loads.side],
        face="web",
        station=station,
        value=float(rail.utilisation[index]),
        limit=float((limits.error if is_error else limits.warning)[index]),
        held=limits.held[int((limits.error_source if is_error else limits.warning_source)[index])],
        holes=tuple(table.hole_id(row) for row in rows),
        components=tuple(sorted({owner for row in rows for owner in table.owners_of(row)})),
    )
