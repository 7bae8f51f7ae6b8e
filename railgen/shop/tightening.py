"""Joints of a serial and the order in which their screws are tightened: from the joint's centre outward."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from railgen.holes.table import FACES, SIDES, FloatArray, IntArray
from railgen.layout.owners import rows_by_owner
from railgen.shop.kit import Kit
from railgen.shop.screws import heads_outside

_RING_DECIMALS = 1  # of a millimetre: screws this equally far from the centre are tightened crosswise
_PATTERN_DECIMALS = 3


@dataclass(frozen=True, eq=False)
class Joint:
    """Screws that are tightened together: those of components that share holes, on one face of one rail.

    components: sorted ids; screws: (n,) places in the kit's screws, in tightening order.
    """

    side: int
    face: int
    components: tuple[str, ...]
    screws: IntArray


@dataclass(frozen=True)
class ScrewType:
    """A screw as it is called for: fastener by name, length (mm, None where none fits), grip (mm), side of its head."""

    fastener: str
    length: float | None
    grip: float
    head: str


@dataclass(frozen=True, eq=False)
class JointType:
    """Joints that are alike: same components, face, pattern and screws.

    offsets: (n, 2) of the screws from the joint's centre along x and across, mm, in tightening order; screws: what
    each is; stations: of the centres on LH and RH, mm, ascending.
    """

    components: tuple[str, ...]
    face: str
    offsets: FloatArray
    screws: tuple[ScrewType, ...]
    stations: tuple[tuple[float, ...], tuple[float, ...]]

    @property
    def count(self) -> int:
        """How many joints are of this type."""
        return sum(len(stations) for stations in self.stations)


def joints_of(kit: Kit) -> tuple[Joint, ...]:
    """All joints of a kit; every screw is in one of them."""
    holes = kit.holes
    first = np.arange(len(kit.screws.row))

    def root(place: int) -> int:
        while first[place] != place:
            place = int(first[place])
        return place

    for rows in rows_by_owner(kit.plan).values():
        for face in range(len(FACES)):
            own = [kit.place[row] for row in rows[holes.face[rows] == face].tolist() if row in kit.place]
            roots = sorted({root(place) for place in own})
            first[roots] = roots[:1] * len(roots)
    gathered: dict[int, list[int]] = {}
    for place in range(len(first)):
        gathered.setdefault(root(place), []).append(place)
    return tuple(_joint(kit, np.array(places, dtype=np.int64)) for places in gathered.values())


def _joint(kit: Kit, places: IntArray) -> Joint:
    holes, rows = kit.holes, kit.screws.row[places]
    order = tightening_order(np.column_stack([holes.station[rows], holes.across[rows]]))
    components = sorted({name for row in rows.tolist() for name in holes.owners_of(row)})
    return Joint(int(holes.side[rows[0]]), int(holes.face[rows[0]]), tuple(components), places[order])


def tightening_order(points: FloatArray) -> IntArray:
    """Order in which screws at points (n, 2) mm are tightened, (n,).

    Ring by ring from the middle of the joint outward, and within a ring crosswise: next the one furthest from the
    last. Source: common practice, no source.
    """
    away = np.linalg.norm(points - points.mean(axis=0), axis=1).round(_RING_DECIMALS)
    order: list[int] = []
    for ring in np.unique(away):
        left = sorted(np.flatnonzero(away == ring).tolist(), key=lambda place: _front_top(points[place]))
        order.append(left.pop(0))
        while left:
            apart = [
                round(float(np.linalg.norm(points[place] - points[order[-1]])), _PATTERN_DECIMALS) for place in left
            ]
            order.append(left.pop(apart.index(max(apart))))
    return np.array(order, dtype=np.int64)


def _front_top(point: FloatArray) -> tuple[float, float]:
    return round(float(point[0]), _PATTERN_DECIMALS), -round(float(point[1]), _PATTERN_DECIMALS)


def joint_types(kit: Kit) -> tuple[JointType, ...]:
    """The joints of a kit gathered by what is alike in them, from the front of the rails rearward."""
    outside = heads_outside(kit.holes, kit.library)
    gathered: dict[object, tuple[JointType, tuple[list[float], list[float]]]] = {}
    for joint in joints_of(kit):
        centre, offsets = _pattern(kit, joint)
        screws = tuple(_screw_type(kit, place, bool(outside[kit.screws.row[place]])) for place in joint.screws.tolist())
        key = joint.components, joint.face, tuple(map(tuple, offsets.tolist())), screws
        found = JointType(joint.components, FACES[joint.face], offsets, screws, ((), ()))
        gathered.setdefault(key, (found, ([], [])))[1][joint.side].append(centre)
    types = [_with_stations(found, stations) for found, stations in gathered.values()]
    return tuple(
        sorted(types, key=lambda found: (min(min(s) for s in found.stations if s), found.components, found.face))
    )


def _with_stations(found: JointType, stations: Sequence[list[float]]) -> JointType:
    left, right = (tuple(sorted(side)) for side in stations)
    return JointType(found.components, found.face, found.offsets, found.screws, (left, right))


def _pattern(kit: Kit, joint: Joint) -> tuple[float, FloatArray]:
    """Station of a joint's centre, and its screws' offsets from the centre."""
    rows = kit.screws.row[joint.screws]
    points = np.column_stack([kit.holes.station[rows], kit.holes.across[rows]])
    centre = points.mean(axis=0)
    return float(centre[0]), (points - centre).round(_PATTERN_DECIMALS) + 0.0


def _screw_type(kit: Kit, place: int, outside: bool) -> ScrewType:
    grip = round(float(kit.screws.grip[place]), _PATTERN_DECIMALS)
    name = kit.holes.fastener_of(int(kit.screws.row[place]))
    return ScrewType(name, kit.length_at(place), grip, "outside" if outside else "inside")


def stations_by_side(found: JointType) -> dict[str, tuple[float, ...]]:
    """Stations of a type's joints by side, of the sides that have any."""
    return {side: stations for side, stations in zip(SIDES, found.stations, strict=True) if stations}
