"""What the assembly jig is set to: locating pins, cross members, frame width and check dimensions of the ladder.

In the jig both rails stand on their bottom flanges, webs upright and parallel, flanges inboard. Across is measured
from the outside face of the LH web, which is at 0, to that of the RH web, at the frame width.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot

import numpy as np

from railgen.frame.panels import Face
from railgen.frame.rail import RailShape
from railgen.holes.table import LH, LINER, RH, IntArray
from railgen.layout.feet import INSIDE, Feet, feet_of
from railgen.layout.owners import rows_by_owner
from railgen.layout.plan import SerialPlan

CROSS_MEMBER = "cross member"
LEAST_BAY = 50.0
"""Cross members nearer to each other than this (mm, foot to foot) bound no bay: nothing is measured between them."""


@dataclass(frozen=True)
class LocatingHole:
    """A locating hole and the same one on the other rail: stations and heights on LH and RH, NaN where it has none."""

    hole: str
    diameter: float
    station: tuple[float, float]
    height: tuple[float, float]


@dataclass(frozen=True)
class MemberEnd:
    """One end of a cross member: mm of its datum, its foot from front to rear, and the face it lies on.

    face: across, from the outside face of its own rail's web; low, high: heights of its lowest and highest bolt, or of
    its foot where it has none; bolts: how many.
    """

    station: float
    front: float
    rear: float
    face: float
    low: float
    high: float
    bolts: int


@dataclass(frozen=True)
class CrossMember:
    """A cross member by component and instance, with its ends on LH and RH; None where it has none."""

    component: str
    instance: int
    ends: tuple[MemberEnd | None, MemberEnd | None]

    @property
    def front(self) -> float:
        """Station of its foremost edge, mm."""
        return min(end.front for end in self.ends if end)

    @property
    def rear(self) -> float:
        """Station of its rearmost edge, mm."""
        return max(end.rear for end in self.ends if end)


@dataclass(frozen=True)
class Diagonals:
    """Two diagonals that are measured and compared, mm: from LH at the front to RH at the rear, and the other.

    front, rear: (station, across) of the corners at the front and at the rear, each of LH and RH.
    """

    front: tuple[tuple[float, float], tuple[float, float]]
    rear: tuple[tuple[float, float], tuple[float, float]]
    lh_to_rh: float
    rh_to_lh: float


@dataclass(frozen=True)
class Bay:
    """The ladder between two cross members, by their places in the list, with its clear length on LH and diagonals."""

    ahead: int
    behind: int
    clear: float
    diagonals: Diagonals


@dataclass(frozen=True)
class JigSetting:
    """Everything that the jig of one serial is set to, along the rail from the front."""

    frame_width: float
    locating: tuple[LocatingHole, ...]
    members: tuple[CrossMember, ...]
    by_pins: Diagonals | None
    by_ends: Diagonals
    bays: tuple[Bay, ...]


def jig_setting(plan: SerialPlan) -> JigSetting:
    """The setting of a planned serial; with fewer than two locating holes on either rail there is no check by pins."""
    width, rail = plan.order.dimensions["frame_width"], plan.order.rail
    locating, members = locating_holes(plan), cross_members(plan)
    ends = diagonals(((rail.front, 0.0), (rail.front, width)), ((rail.rear, 0.0), (rail.rear, width)))
    return JigSetting(width, locating, members, _by_pins(locating, width), ends, _bays(members, width))


def locating_holes(plan: SerialPlan) -> tuple[LocatingHole, ...]:
    """The locating holes of the rails' webs, each with its like on the other rail, by station."""
    holes = plan.holes
    found: dict[str, list[int | None]] = {}
    for row in np.flatnonzero(holes.locating & (holes.part != LINER) & (holes.face == Face.WEB)).tolist():
        found.setdefault(holes.hole_id(row), [None, None])[holes.side[row]] = row
    pins = []
    for hole, rows in found.items():
        own = next(row for row in rows if row is not None)
        station, height = (
            tuple(float("nan") if row is None else float(column[row]) for row in rows)
            for column in (holes.station, holes.across)
        )
        pins.append(LocatingHole(hole, float(holes.diameter[own]), (station[0], station[1]), (height[0], height[1])))
    return tuple(sorted(pins, key=lambda pin: (float(np.nanmin(pin.station)), pin.hole)))


def cross_members(plan: SerialPlan) -> tuple[CrossMember, ...]:
    """The cross members that are placed, by their front edges."""
    placed, library = plan.placements, plan.order.library
    names, owned = plan.holes.names.components, rows_by_owner(plan)
    feet = feet_of(plan.order.rail, library, placed)
    ends: dict[tuple[str, int], list[MemberEnd | None]] = {}
    for at in range(len(placed.component)):
        name = names[placed.component[at]]
        if library.components[name].kind != CROSS_MEMBER:
            continue
        side, instance = int(placed.side[at]), int(placed.instance[at])
        rows = owned.get((side, int(placed.component[at]), instance), np.zeros(0, dtype=np.int64))
        ends.setdefault((name, instance), [None, None])[side] = _end(plan, feet, at, rows)
    members = [CrossMember(name, instance, (pair[LH], pair[RH])) for (name, instance), pair in ends.items()]
    return tuple(sorted(members, key=lambda member: (member.front, member.component, member.instance)))


def _end(plan: SerialPlan, feet: Feet, at: int, rows: IntArray) -> MemberEnd:
    """The end that stands at one placement, with its holes at `rows`; without foot or holes all is at its datum."""
    holes, rail = plan.holes, plan.order.rail
    station = float(plan.placements.station[at])
    on_web = (feet.placement == at) & (feet.face == Face.WEB)
    own = np.flatnonzero(on_web & (feet.surface == INSIDE))
    own = own if len(own) else np.flatnonzero(on_web)
    bolts = rows[holes.face[rows] == Face.WEB]
    points = np.concatenate(
        [feet.low[own], feet.high[own]] if len(own) else [np.column_stack([holes.station[bolts], holes.across[bolts]])]
    )
    points = points if len(points) else np.array([[station, 0.0]])
    front, rear = float(points[:, 0].min()), float(points[:, 0].max())
    heights = holes.across[bolts] if len(bolts) else points[:, 1]
    face = inside_face(rail, front, rear)
    return MemberEnd(station, front, rear, face, float(heights.min()), float(heights.max()), len(bolts))


def inside_face(rail: RailShape, front: float, rear: float) -> float:
    """Across (mm) of the face that a foot from station to station lies on: the liner's where it reaches over one."""
    liner = rail.liner
    lined = liner is not None and rear > liner.start and front < liner.end
    return rail.section.thickness + (liner.section.thickness if liner and lined else 0.0)


def diagonals(
    front: tuple[tuple[float, float], tuple[float, float]],
    rear: tuple[tuple[float, float], tuple[float, float]],
    rise: tuple[float, float] = (0.0, 0.0),
) -> Diagonals:
    """Diagonals between the corners of LH and RH at front and rear, each (station, across) mm.

    rise: difference in height of the two ends of each diagonal, mm.
    """
    (lf, rf), (lr, rr) = front, rear
    first = hypot(rr[0] - lf[0], rr[1] - lf[1], rise[0])
    second = hypot(lr[0] - rf[0], lr[1] - rf[1], rise[1])
    return Diagonals(front, rear, first, second)


def _by_pins(locating: tuple[LocatingHole, ...], width: float) -> Diagonals | None:
    """Between the foremost and the rearmost locating holes that both rails have, centres at the webs' outside faces."""
    both = [pin for pin in locating if not np.isnan(pin.station).any()]
    if len(both) < 2:
        return None
    front, rear = both[0], both[-1]
    rise = rear.height[RH] - front.height[LH], rear.height[LH] - front.height[RH]
    corners = [((pin.station[LH], 0.0), (pin.station[RH], width)) for pin in (front, rear)]
    return diagonals(corners[0], corners[1], rise)


def _bays(members: tuple[CrossMember, ...], width: float) -> tuple[Bay, ...]:
    """The bays between cross members with both ends; those that are near each other, or overlap, count as one."""
    bays, ahead, reach = [], -1, -np.inf
    for behind, member in enumerate(members):
        front = _corners(members[ahead], width, at_rear=True) if ahead >= 0 else None
        rear = _corners(member, width, at_rear=False)
        if front and rear and member.front >= reach + LEAST_BAY:
            bays.append(Bay(ahead, behind, rear[LH][0] - front[LH][0], diagonals(front, rear)))
        if member.rear > reach:
            ahead, reach = behind, member.rear
    return tuple(bays)


def _corners(
    member: CrossMember, width: float, at_rear: bool
) -> tuple[tuple[float, float], tuple[float, float]] | None:
    """Where the front or rear edges of both ends meet the rails, (station, across) of LH and RH; None without both."""
    left, right = member.ends
    if left is None or right is None:
        return None
    stations = (left.rear, right.rear) if at_rear else (left.front, right.front)
    return (stations[LH], left.face), (stations[RH], width - right.face)
