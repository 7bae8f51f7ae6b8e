"""Rated joints of a serial: each rated load with its bolts, and what every bolt gets of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace

import numpy as np

from railgen.data.component import Component
from railgen.data.library import Library
from railgen.data.local import datum_across
from railgen.frame.rail import RailShape
from railgen.holes.sharing import SHARED_WITHIN
from railgen.holes.table import FACES, MARK, NONE, RAIL, BoolArray, FloatArray, HoleTable, IntArray
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.strength.bolt_group import share_load

_WEB = FACES.index("web")
_NORMAL = {"web": (0.0, -1.0, 0.0), "top": (0.0, 0.0, 1.0), "bottom": (0.0, 0.0, -1.0)}
_OUTWARD = np.array([_NORMAL[name] for name in FACES])
"""Outward normal of each face as (along x, inboard y, up z)."""


@dataclass(frozen=True)
class BoltForces:
    """Forces on the bolts of all rated joints, one row a bolt and load; all arrays of length n.

    row: of the hole table; component: index into its names; load: which of the component's loads, from 0; shear: of
    the part on bolt and rail in the face's plane, N, all planes together; along and across: its direction, x and z
    (web) or y (flange), of length one; tension: N, never below zero; outside, inside: whether the part lies on that
    surface of its face.
    """

    row: IntArray
    component: IntArray
    load: IntArray
    shear: FloatArray
    along: FloatArray
    across: FloatArray
    tension: FloatArray
    outside: BoolArray
    inside: BoolArray

    def __len__(self) -> int:
        return len(self.row)

    @property
    def planes(self) -> IntArray:
        """Shear planes: one where the part lies on one surface, two where it embraces the steel."""
        return np.where(self.outside & self.inside, 2, 1)


@dataclass(frozen=True)
class RatedJoint:
    """One placed component that carries rated loads: rows of its bolts, station of its datum (mm), +1 or -1."""

    component: Component
    index: int
    rows: IntArray
    station: float
    direction: float


def rated_bolts(order: ResolvedOrder, placements: Placements, holes: HoleTable) -> BoltForces:
    """Forces on all bolts of rated joints, both sides; each rated load is a case of its own.

    The bolts of a joint are all fastened holes that the component owns on its rail, shared ones too; studs bear none.
    A load's direction is the truck's, on either hand, and does not turn with a part; its point of attack does.
    """
    parts = [
        _forces(order.rail, order.library, holes, joint, number)
        for joint in rated_joints(order, placements, holes)
        for number in range(len(joint.component.loads))
    ]
    if not parts:
        none, nothing, no = np.zeros(0, dtype=np.int64), np.zeros(0), np.zeros(0, dtype=np.bool_)
        return BoltForces(none, none, none, nothing, nothing, nothing, nothing, no, no)
    return BoltForces(**{f.name: np.concatenate([getattr(part, f.name) for part in parts]) for f in fields(BoltForces)})


def rated_joints(order: ResolvedOrder, placements: Placements, holes: HoleTable) -> Iterator[RatedJoint]:
    """Each placed component with rated loads that has bolts."""
    for component in order.components:
        if not component.loads:
            continue
        index = holes.names.components.index(component.id)
        owned = _owned_bolts(holes, index)
        for at in np.flatnonzero(placements.component == index).tolist():
            here = owned[holes.side[owned] == placements.side[at]]
            joint = RatedJoint(component, index, here, float(placements.station[at]), float(placements.direction[at]))
            rows = here[_is_instance(holes, joint, int(placements.instance[at]))]
            if len(rows):
                yield replace(joint, rows=rows)


def _owned_bolts(holes: HoleTable, component: int) -> IntArray:
    """Rows of the rails' fastened holes that a component owns, alone or with others."""
    owns = np.zeros(len(holes), dtype=np.bool_)
    owns[np.repeat(np.arange(len(holes)), np.diff(holes.owner_start))[holes.owners == component]] = True
    return np.flatnonzero(owns & (holes.part == RAIL) & (holes.fastener != NONE) & (holes.shape != MARK))


def _is_instance(holes: HoleTable, joint: RatedJoint, instance: int) -> BoolArray:
    """Which rows are an instance's: by number, or by face and station where another owner's name stands at the hole."""
    first_owner = holes.component[joint.rows] == joint.index
    numbered = holes.instance[joint.rows] == instance
    offsets = np.array([group.station + hole.station for group in joint.component.groups for hole in group.features])
    away = np.abs(holes.station[joint.rows][:, None] - joint.station - joint.direction * offsets)
    faces = np.array([FACES.index(group.face) for group in joint.component.groups for _ in group.features])
    near = ((away <= SHARED_WITHIN + 1e-6) & (holes.face[joint.rows][:, None] == faces)).any(axis=1)
    return np.asarray(np.where(first_owner, numbered, near))


def _forces(rail: RailShape, library: Library, holes: HoleTable, joint: RatedJoint, number: int) -> BoltForces:
    """The bolts of one joint under one of its loads."""
    load, rows = joint.component.loads[number], joint.rows
    face = holes.face[rows]
    surfaces = np.array([_surfaces(joint.component, name) for name in FACES])[face]
    position = _positions(rail, holes, rows, surfaces[:, 1] & ~surfaces[:, 0])
    vector = np.array(load.direction) / np.linalg.norm(load.direction) * load.force * 1e3
    point = np.array([joint.station + joint.direction * load.station, load.across, load.height])
    shared = share_load(position, vector, point)
    outward = (shared.force * _OUTWARD[face]).sum(axis=1)
    pulled = np.where(surfaces.all(axis=1), np.abs(outward), np.where(surfaces[:, 0], outward, -outward))
    along = shared.force[:, 0]
    across = np.where(face == _WEB, shared.force[:, 2], shared.force[:, 1])
    shear = np.hypot(along, across)
    pried, twisted = _by_contact(rail, library, holes, joint, position, shared.left)
    return BoltForces(
        row=rows,
        component=np.full(len(rows), joint.index),
        load=np.full(len(rows), number),
        shear=shear + twisted,
        along=np.where(shear > 0, along / np.where(shear > 0, shear, 1.0), 1.0),
        across=np.where(shear > 0, across / np.where(shear > 0, shear, 1.0), 0.0),
        tension=np.maximum(pulled, 0.0) + pried,
        outside=surfaces[:, 0],
        inside=surfaces[:, 1],
    )


def _surfaces(component: Component, face: str) -> tuple[bool, bool]:
    """Whether the part lies on the outside and on the inside of a face: by its feet there, else by its plies."""
    feet = {foot.surface for foot in component.footprints if foot.face == face}
    surfaces = feet or {ply.surface for ply in component.plies} or {"outside"}
    return "outside" in surfaces, "inside" in surfaces


def _positions(rail: RailShape, holes: HoleTable, rows: IntArray, within: BoolArray) -> FloatArray:
    """Where bolts cross the plane between part and steel, (n, 3) mm: along x, inboard y, up z; within: inside faces.

    The inside face is the rail's; a liner's thickness further in is neglected.
    """
    station, across, face = holes.station[rows], holes.across[rows], holes.face[rows]
    deep = np.where(within, rail.section.thickness, 0.0)
    depth = rail.depth_at(station)
    y = np.where(face == _WEB, deep, across)
    z = np.choose(face, [across, depth - deep, deep])
    return np.stack([station, y, z], axis=1)


def _by_contact(
    rail: RailShape, library: Library, holes: HoleTable, joint: RatedJoint, position: FloatArray, left: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Tension and shear (N) that each bolt gets of a moment (N mm) for which the bolts have no arms.

    About the line of the bolts the part turns on the edge of its foot, the nearer one, never nearer than the washer's
    edge; about a lone bolt's own axis the washer's face holds, at its middle radius. Foot and washer are each bolt's
    own, on its own face. Common practice.
    """
    count = len(joint.rows)
    pried, twisted = np.zeros(count), np.zeros(count)
    if np.linalg.norm(left) < 1e-6:
        return pried, twisted
    for at, row in enumerate(joint.rows.tolist()):
        normal = _OUTWARD[holes.face[row]]
        fastener = library.fasteners[holes.fastener_of(row)]
        washer = (fastener.washer_outside or 2 * fastener.diameter) / 2
        about_normal = float(left @ normal)
        tilt = left - about_normal * normal
        size = float(np.linalg.norm(tilt))
        if size > 1e-6:
            arm = _arm_of_foot(rail, joint, FACES[holes.face[row]], position, np.cross(normal, tilt / size))
            pried[at] = size / (max(arm, washer) * count)
        twisted[at] = abs(about_normal) / ((washer + fastener.diameter / 2) / 2 * count)
    return pried, twisted


def _arm_of_foot(rail: RailShape, joint: RatedJoint, face: str, position: FloatArray, direction: FloatArray) -> float:
    """From the bolts' centroid to the nearer edge of the foot on a face, to and fro in a direction (3,), mm.

    0 without a foot.
    """
    corners = []
    for foot in joint.component.footprints:
        datum = datum_across(foot.datum, rail.section.depth, rail.section.flange)
        for along, across in foot.polygon if foot.face == face else ():
            x, level = joint.station + joint.direction * along, datum + across
            corners.append((x, 0.0, level) if face == "web" else (x, level, 0.0))
    if not corners:
        return 0.0
    reach = (np.array(corners) - position.mean(axis=0)) @ direction
    return float(max(min(reach.max(), -reach.min()), 0.0))
