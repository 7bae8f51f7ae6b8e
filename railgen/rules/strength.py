"""Rules ``bending``, ``joint`` and ``grip``: strength, stated as checks and not as approvals."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from railgen.data.findings import Finding
from railgen.frame.panels import Face
from railgen.holes.table import MARK, NONE, PARTS, RAIL, SIDES, FloatArray, IntArray
from railgen.layout.plan import Placements
from railgen.rules.breaks import Severity, breaks, findings_of, worse
from railgen.rules.edges import breaks_if_held, edge_clearance
from railgen.rules.limits import Limits, Quantities, evaluate
from railgen.rules.pattern import Pattern
from railgen.rules.wording import governed_by, message_of, remedy_of
from railgen.shop.stacks import Stacks, stacks_of
from railgen.strength.bending import RailBending
from railgen.strength.joints import MODES, JointCheck, SteelAround, bolt_data, check_joints
from railgen.strength.loads import FRONT_AXLE, RailLoads, compare_axle_loads
from railgen.strength.rated import rated_bolts

_SAME_EDGE = 1e-6  # mm
_ALONG = np.cos(np.pi / 4) - 1e-12
"""A neighbour counts along the force where it lies within 45 degrees of it, else across."""


def stacks(pattern: Pattern) -> Stacks:
    """What the fastener of each row clamps."""
    return stacks_of(pattern.rail, pattern.order.library, pattern.table, pattern.passes_liner)


def bending(pattern: Pattern, rails: Sequence[RailBending]) -> Iterator[Finding]:
    """Net-section bending stress over yield, one finding for the longest run of neighbouring stations that break it.

    Each run gives its worst station. Common practice; statics, and resisting moment = section modulus x yield.
    """
    if not pattern.limits.holds("bending", "stress"):
        return
    for rail in rails:
        limits = evaluate(pattern.limits, "bending", "stress", _quantities(pattern, rail.station))
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


def joint_check(pattern: Pattern, placements: Placements, clamped: Stacks) -> JointCheck:
    """All bolts of the serial's rated joints against every mode."""
    order, table = pattern.order, pattern.table
    forces = rated_bolts(order, placements, table)
    return check_joints(
        forces,
        bolt_data(forces, table, order.library, clamped),
        steel_around(pattern, forces.row, forces.along, forces.across),
        pattern.hole_diameter[forces.row],
        order.rail.section.thickness,
        order.rail_steel,
        order.library.finishing.coating.friction,
    )


def grip(pattern: Pattern, clamped: Stacks) -> Iterator[Finding]:
    """Thickness that each fastener clamps over its diameter: low grip loses its clamp to settling. Common practice.

    The stack is rail, liner and the plies of all owners; washers are not counted.
    """
    table = pattern.table
    rows = np.flatnonzero((table.part == RAIL) & (table.fastener != NONE) & (table.shape != MARK))
    value = clamped.grip[rows] / pattern.quantities.bolt[rows]
    for broken in breaks_if_held(pattern, "grip", "bolt-diameters", rows, value):
        yield from findings_of(pattern, broken)


def steel_around(pattern: Pattern, rows: IntArray, along: FloatArray, across: FloatArray) -> SteelAround:
    """Free edges and neighbours of some rows as forces see them, mm.

    along, across: each force's direction, of length one, along x and up z (web) or inboard (flanges). Distances are in
    the blank, within the hole's panel; a tail's slope is neglected. Next to a taper's cut, which no straight boundary
    describes, the nearest edge counts as being both along and across.
    """
    # The bottom flange unfolds the other way.
    across = np.where(pattern.table.face[rows] == Face.BOTTOM, -across, across)
    end = _to_edge(pattern, rows, along, across)
    edge = np.minimum(_to_edge(pattern, rows, -across, along), _to_edge(pattern, rows, across, -along))
    if pattern.rail.taper:
        nearest = edge_clearance(pattern)[rows] + pattern.cores.radius[rows]
        cut = nearest < _nearest_straight(pattern, rows) - _SAME_EDGE
        end = np.where(cut, np.minimum(end, nearest), end)
        edge = np.where(cut, np.minimum(edge, nearest), edge)
    near = _neighbours(pattern, rows, along, across)
    half = pattern.hole_diameter[rows] / 2
    return SteelAround(end, edge, near.pitch, near.gauge, np.minimum(end - half, near.clear))


@dataclass(frozen=True)
class _Near:
    pitch: FloatArray
    gauge: FloatArray
    clear: FloatArray


def _neighbours(pattern: Pattern, rows: IntArray, along: FloatArray, across: FloatArray) -> _Near:
    """Nearest centres along and across each force, and the steel left ahead of it, mm; infinite without neighbours."""
    table = pattern.table
    others = np.flatnonzero(pattern.is_hole & (table.part == RAIL))
    du = table.u[others] - table.u[rows][:, None]
    dv = table.v[others] - table.v[rows][:, None]
    distance = np.hypot(du, dv)
    apart = (table.side[others] == table.side[rows][:, None]) & (table.panel[others] == table.panel[rows][:, None])
    distance = np.where(apart & (distance > 0), distance, np.inf)
    ahead = (du * along[:, None] + dv * across[:, None]) / distance
    half = np.fmax(table.diameter, np.nan_to_num(table.length)) / 2
    left = distance - half[others] - pattern.hole_diameter[rows][:, None] / 2

    def least(values: FloatArray, where: np.ndarray) -> FloatArray:
        return np.asarray(np.where(where, values, np.inf).min(axis=1, initial=np.inf))

    beside = np.abs(ahead) >= _ALONG
    return _Near(least(distance, beside), least(distance, ~beside), least(left, ahead >= _ALONG))


def _to_edge(pattern: Pattern, rows: IntArray, along: FloatArray, across: FloatArray) -> FloatArray:
    """Distance from each row's centre to the free edge that a ray meets, mm; infinite where it meets none."""
    bounds, table = pattern.bounds, pattern.table
    distance = np.full(len(rows), np.inf)
    for step, centre, low, high in (
        (along, table.u, bounds.low_u_edge, bounds.high_u_edge),
        (across, table.v, bounds.low_v_edge, bounds.high_v_edge),
    ):
        edge = np.where(step > 0, high[rows], low[rows])
        moving = np.abs(step) > 1e-12
        ray = (edge - centre[rows]) / np.where(moving, step, 1.0)
        distance = np.minimum(distance, np.where(moving, ray, np.inf))
    return distance


def _nearest_straight(pattern: Pattern, rows: IntArray) -> FloatArray:
    bounds, u, v = pattern.bounds, pattern.table.u[rows], pattern.table.v[rows]
    to_ends = np.minimum(u - bounds.low_u_edge[rows], bounds.high_u_edge[rows] - u)
    return np.minimum(to_ends, np.minimum(v - bounds.low_v_edge[rows], bounds.high_v_edge[rows] - v))


def _runs(broken: np.ndarray) -> Iterator[tuple[int, int]]:
    """Start and end (not included) of each longest run of true values."""
    change = np.diff(np.concatenate([[False], broken, [False]]).astype(np.int64))
    yield from zip(np.flatnonzero(change == 1).tolist(), np.flatnonzero(change == -1).tolist(), strict=True)


def _bending_finding(pattern: Pattern, rail: RailBending, index: int, limits: Limits, is_error: bool) -> Finding:
    severity: Severity = "error" if is_error else "warning"
    limit = float((limits.error if is_error else limits.warning)[index])
    held = limits.held[int((limits.error_source if is_error else limits.warning_source)[index])]
    station, value = float(rail.station[index]), float(rail.utilisation[index])
    table = pattern.table
    meets = np.abs(table.station - station) <= pattern.finished_reach[0]
    on_line = np.flatnonzero(meets & pattern.is_hole & (table.part == RAIL) & (table.side == rail.loads.side))
    rows = on_line[np.lexsort((table.across[on_line], table.station[on_line], table.face[on_line]))].tolist()
    return Finding(
        rule="bending",
        measure="stress",
        severity=severity,
        side=SIDES[rail.loads.side],
        part=PARTS[RAIL],
        face="web",
        holes=tuple(table.hole_id(row) for row in rows),
        components=tuple(sorted({owner for row in rows for owner in table.owners_of(row)})),
        station_mm=station,
        value=value,
        limit=limit,
        unit=held.row.unit,
        source=held.source,
        message=message_of("bending", "stress", (), value, limit, held.row.unit),
        remedy=remedy_of("bending", "stress", value, limit, held.row.unit),
    )


def _quantities(pattern: Pattern, station: FloatArray) -> Quantities:
    """What limit rows multiply and ask for, at stations of the rail."""
    one = np.ones(len(station))
    liner = pattern.rail.liner
    return Quantities(
        station=station,
        thickness=pattern.rail.section.thickness * one,
        liner_thickness=liner.section.thickness if liner else 0.0,
        hole=0.0 * one,
        bolt=0.0 * one,
        depth=pattern.rail.depth_at(station),
        tensile=pattern.order.rail_steel.tensile_least * one,
        zones=pattern.order.zones,
    )
