"""Rule ``wrench-access``: sockets go round nut and head and stand free, so that every screw can be turned.

A screw's head is on the face side that its first owner names, its nut on the other; a flush head lies in its face and
is turned from within, so no socket goes round it. Common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from railgen.data.findings import VALUE_TOLERANCE, Finding
from railgen.frame.panels import Face
from railgen.holes.neighbours import within
from railgen.holes.table import LH, NONE, RAIL, BoolArray, FloatArray, IntArray
from railgen.layout.envelopes import CLEARANCES
from railgen.layout.feet import INSIDE, OUTSIDE
from railgen.rules.beside import Beside, strangers
from railgen.rules.breaks import Breaks, breaks_if_held, each, finding
from railgen.rules.feet import foot_findings
from railgen.rules.pattern import Pattern
from railgen.rules.spacing import Pairs, core_points_apart

_RULE = "wrench-access"
IN_THE_WAY = [CLEARANCES.index(name) for name in ("static", "service", "heat")]
"""Envelopes that hold something solid; those of tyres and of motion are empty while a wrench turns."""


def sockets(pattern: Pattern) -> FloatArray:
    """Radius of the socket for each screw in a rail, mm; 0 for all other rows."""
    return np.where(pattern.table.part == RAIL, pattern.socket_radius, 0.0)


def has_socket(pattern: Pattern, surface: int) -> BoolArray:
    """Rows that a socket goes round on a surface: all screws, but for flush heads on the heads' side."""
    flush = np.array([f.countersink is not None for f in pattern.order.library.fasteners.values()] + [False])
    head_here = pattern.head_outside == (surface == OUTSIDE)
    return np.asarray((sockets(pattern) > 0) & ~(flush[pattern.table.fastener] & head_here))


def flange_access(pattern: Pattern) -> list[Breaks]:
    """Socket inside the channel to the inside faces beside it, the liner's where the screw goes through it, mm."""
    rows = np.flatnonzero(has_socket(pattern, INSIDE))
    value = _to_inside_faces(pattern)[rows] - sockets(pattern)[rows]
    return breaks_if_held(pattern, _RULE, "radial", rows, value)


def _to_inside_faces(pattern: Pattern) -> FloatArray:
    """Distance of each row's core to the inside faces that stand beside it: of flanges, for flange rows of the web."""
    return np.minimum(to_straight_faces(pattern, pattern.passes_liner), to_turned_flange(pattern))


def to_straight_faces(pattern: Pattern, in_liner: BoolArray) -> FloatArray:
    """Distance of each row's core to the inside faces beside it, the liner's for rows told, as if untapered, mm."""
    table, rail, across = pattern.table, pattern.rail, pattern.table.across
    t, liner = rail.section.thickness, rail.liner
    reach = pattern.finished_core_reach[1]
    on_web, side = np.minimum(across - t, rail.section.depth - t - across), np.full(len(table), t)
    if liner:
        inner = liner.section.thickness
        between = across - liner.offset_z - inner, liner.offset_z + liner.section.depth - inner - across
        on_web = np.where(in_liner, np.minimum(*between), on_web)
        side = np.where(in_liner, t + inner, side)
    return np.where(table.face == Face.WEB, on_web, across - side) - reach


def to_turned_flange(pattern: Pattern) -> FloatArray:
    """Distance of web rows' cores to the inside of a tail's top flange, mm; infinite without one and on flanges.

    Seen with the tail turned up its top flange is straight again.
    """
    table, taper, section = pattern.table, pattern.rail.taper, pattern.rail.section
    if taper is None:
        return np.full(len(table), np.inf)
    turned = taper.turn_up(np.stack([table.station, table.across], axis=-1))[:, 1]
    _, reach = pattern.cores.reach(table.angle + np.degrees(taper.slope))
    return np.where(table.face == Face.WEB, section.depth - section.thickness - turned - reach, np.inf)


def sockets_apart(pairs: Pairs) -> list[Breaks]:
    """Socket round one screw to the washer of the next on the same panel, the nearer of both ways, mm."""
    pattern = pairs.pattern
    if not pattern.limits.holds(_RULE, "radial"):
        return []
    socket, washer = sockets(pattern), pattern.washer_radius
    both = (socket[pairs.first] > 0) & (socket[pairs.second] > 0)
    rows = np.flatnonzero(both & pairs.same_panel & ~pairs.in_conflict)
    first, second = pairs.first[rows], pairs.second[rows]
    taken = np.maximum(socket[first] + washer[second], socket[second] + washer[first])
    value = core_points_apart(pattern, first, second) - taken
    return breaks_if_held(pattern, _RULE, "radial", first, value, second)


def sockets_by_feet(beside: Beside) -> Iterator[Finding]:
    """Socket to a foot, on its side of the face, of a component that neither owns nor stacks with the screw's, mm."""
    pattern = beside.pattern
    if not pattern.limits.holds(_RULE, "radial") or not len(beside.row):
        return
    socketed = np.stack([has_socket(pattern, surface) for surface in (OUTSIDE, INSIDE)])
    pairs = np.flatnonzero(socketed[pattern.feet.surface[beside.foot], beside.row])
    value = beside.distance[pairs] - sockets(pattern)[beside.row[pairs]]
    yield from foot_findings(beside, _RULE, "radial", pairs, value)


def lengths_free(pattern: Pattern) -> Iterator[Finding]:
    """Length free before nuts and heads, from the face they sit on to what stands opposite, mm."""
    if not any(pattern.limits.holds(_RULE, measure) for measure in ("nut-length", "head-length")):
        return
    names = list(pattern.order.library.components)
    rows = np.flatnonzero(sockets(pattern) > 0)
    sitting, opposite = seats(pattern, rows), _opposite(pattern, rows)
    for surface in (OUTSIDE, INSIDE):
        length, component = _free_lengths(pattern, rows, sitting[surface], opposite, surface)
        head_here = pattern.head_outside[rows] == (surface == OUTSIDE)
        for measure, chosen in (("nut-length", ~head_here), ("head-length", head_here)):
            for broken in breaks_if_held(pattern, _RULE, measure, rows[chosen], length[chosen]):
                for row, _, severity, value, limit, held in each(broken):
                    found = finding(pattern, _RULE, measure, severity, [row], value, limit, held.row.unit, held.source)
                    which = component[np.searchsorted(rows, row)]
                    obstacle = {names[which]} if which != NONE else set()
                    yield replace(found, components=tuple(sorted({*found.components, *obstacle})))


def _free_lengths(
    pattern: Pattern, rows: IntArray, seat: FloatArray, opposite: _Opposite, surface: int
) -> tuple[FloatArray, IntArray]:
    """The least free length of each screw, mm, and the component that ends it: NONE for the other flange.

    Outside lengths grow away from the rail, inside into the channel.
    """
    if surface == INSIDE:
        length, near, far = to_other_flange(pattern, rows, seat), opposite.near, opposite.far
    else:
        length, near, far = np.full(len(rows), np.inf), -opposite.far, -opposite.near
    component = np.full(len(rows), NONE)
    met = np.flatnonzero(far > seat[opposite.index] + VALUE_TOLERANCE)
    free = np.maximum(near[met] - seat[opposite.index[met]], 0.0)
    of_box = pattern.envelopes.component[opposite.box[met]]
    # The nearest envelope comes first; of equally near ones the first in the library.
    order = np.lexsort((of_box, free, opposite.index[met]))
    row, first = np.unique(opposite.index[met][order], return_index=True)
    nearest = order[first]
    nearer = free[nearest] < length[row]
    length[row[nearer]], component[row[nearer]] = free[nearest[nearer]], of_box[nearest[nearer]]
    return length, component


def seats(pattern: Pattern, rows: IntArray) -> tuple[FloatArray, FloatArray]:
    """Where washers sit outside and inside, measured away from the outside face: steel and the owners' plies, mm."""
    table, rail = pattern.table, pattern.rail
    stack = pattern.stacks
    # Inside, the seat lies beyond the steel: the liner's flange stands off the rail's by half the gap.
    steel = np.full(len(table), rail.section.thickness)
    if rail.liner:
        inner = rail.liner.section.thickness
        nested = np.where(table.face == Face.WEB, steel + inner, rail.liner.offset_z + inner)
        steel = np.where(pattern.passes_liner, nested, steel)
    return stack.outside[rows], (steel + stack.inside)[rows]


def to_other_flange(pattern: Pattern, rows: IntArray, seat: FloatArray) -> FloatArray:
    """From the seat inside a flange to the inside of the other one; infinite on the web."""
    table, rail = pattern.table, pattern.rail
    other = np.full(len(rows), rail.section.thickness)
    if rail.liner:
        nested = rail.liner.offset_z + rail.liner.section.thickness
        other = np.where(pattern.passes_liner[rows], nested, other)
    free = rail.depth_at(table.station[rows]) - seat - other
    return np.where(table.face[rows] == Face.WEB, np.inf, free)


@dataclass(frozen=True)
class _Opposite:
    """Envelopes of strangers before screws: index into rows, envelope, and its nearest and farthest, mm.

    Distances are from the outside face of the screw's face into the channel: from the web inboard, from the bottom
    flange up, from the top flange down.
    """

    index: IntArray
    box: IntArray
    near: FloatArray
    far: FloatArray


def _opposite(pattern: Pattern, rows: IntArray) -> _Opposite:
    """What the circle of each screw's socket meets, looking along the screw."""
    table, boxes = pattern.table, pattern.envelopes
    radius = sockets(pattern)[rows]
    along, across = (far[rows] for far in pattern.finished_core_reach)
    solid = np.flatnonzero(np.isin(boxes.clearance, IN_THE_WAY))
    box, index = within(
        table.station[rows],
        np.zeros(len(rows), dtype=np.int64),
        boxes.low[solid, 0],
        boxes.high[solid, 0],
        np.zeros(len(solid), dtype=np.int64),
        float(np.max(radius + along, initial=0.0)),
    )
    box, row = solid[box], rows[index]
    low, high = _own_axes(pattern, row, box)
    on_web = table.face[row] == Face.WEB
    beside_low, beside_high = (np.where(on_web, ends[:, 2], ends[:, 1]) for ends in (low, high))
    gaps = (
        np.maximum(low[:, 0] - table.station[row], table.station[row] - high[:, 0]) - along[index],
        np.maximum(beside_low - table.across[row], table.across[row] - beside_high) - across[index],
    )
    apart = np.hypot(*(np.maximum(gap, 0.0) for gap in gaps))
    met = np.flatnonzero(apart < radius[index] - VALUE_TOLERANCE)
    met = met[strangers(pattern, row[met], boxes.component[box[met]])]
    top = table.face[row[met]] == Face.TOP
    depth = pattern.rail.depth_at(table.station[row[met]])
    away_low, away_high = (np.where(on_web, ends[:, 1], ends[:, 2])[met] for ends in (low, high))
    near, far = np.where(top, depth - away_high, away_low), np.where(top, depth - away_low, away_high)
    return _Opposite(index[met], box[met], near, far)


def _own_axes(pattern: Pattern, row: IntArray, box: IntArray) -> tuple[FloatArray, FloatArray]:
    """Ends of envelopes (n, 3) as the rail of each row sees them: station, across inboard from its own web, height."""
    boxes, width = pattern.envelopes, pattern.order.dimensions["frame_width"]
    low, high = boxes.low[box].copy(), boxes.high[box].copy()
    mirrored = pattern.table.side[row] != LH
    low[mirrored, 1], high[mirrored, 1] = width - boxes.high[box, 1][mirrored], width - boxes.low[box, 1][mirrored]
    return low, high
