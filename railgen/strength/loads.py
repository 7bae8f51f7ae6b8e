"""What loads each rail and what holds it up: masses at their stations, a distributed body, two supports.

The two supports are the front axle and the centre of the rear axle or bogie. The reactions follow from the loads;
axle loads that the order gives are compared with them and change nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.data.order import Loads
from railgen.frame.measure import GRAVITY, STEEL_DENSITY, part_measures
from railgen.frame.rail import Part, RailShape
from railgen.frame.section import properties
from railgen.holes.shapes import areas
from railgen.holes.table import PARTS, SIDES, FloatArray, HoleTable
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.strength.diagram import BeamLoads, Diagram, PointForces, diagram_of, reactions

FRONT_AXLE = 0.0
"""Station of the front axle's centreline, mm."""
Stretch = tuple[float, float, float]
"""Start and end (mm) and the mass (kg) spread evenly between them."""
_AT_ONE = 1e-6  # mm: stations that agree so far are one


@dataclass(frozen=True)
class RailLoads:
    """One rail under its loads.

    side: 0 LH, 1 RH; loads: at rest, N and mm; front and rear: reactions of the two supports at rest, N;
    supports: all upward forces at rest, the rear one brought in at the bogie's hangers; dynamic_factor: what the
    loads at rest are multiplied by; diagram: shear and moment with that factor.
    """

    side: int
    loads: BeamLoads
    front: float
    rear: float
    supports: PointForces
    dynamic_factor: float
    diagram: Diagram


@dataclass(frozen=True)
class AxleComparison:
    """An axle load of the order beside the reaction of what the program knows of, both rails together, at rest, kN."""

    axle: str
    given: float
    computed: float

    @property
    def difference(self) -> float:
        """Given less computed, kN: axles, wheels, and whatever has no mass in the library."""
        return self.given - self.computed


def rail_loads(order: ResolvedOrder, placements: Placements, holes: HoleTable) -> tuple[RailLoads, ...]:
    """Both rails under their loads, LH first; none where the order has no [loads].

    A side's components load that side's rail; a body loads each rail with half its mass.
    """
    given = order.order.loads
    if given is None:
        return ()
    own = _rail_masses(order, holes)
    components = order.library.components.values()
    mass = np.array([component.mass for component in components])[placements.component]
    hanger = np.array([component.kind == "hanger" for component in components])[placements.component]
    # Those nearer the front axle are its own.
    hanger &= placements.station > (FRONT_AXLE + order.dimensions["wheelbase"]) / 2
    rails = []
    for side in range(len(SIDES)):
        loading = (placements.side == side) & (mass > 0)
        loads = _side_loads(given, placements.station[loading], mass[loading], own[side])
        hangers = placements.station[hanger & (placements.side == side)]
        rails.append(_one_rail(order, side, loads, hangers, given.dynamic_factor))
    return tuple(rails)


def compare_axle_loads(order: ResolvedOrder, rails: tuple[RailLoads, ...]) -> tuple[AxleComparison, ...]:
    """The axle loads that the order gives beside the reactions at rest of both rails, kN."""
    given = order.order.loads
    if given is None:
        return ()
    front, rear = sum(rail.front for rail in rails), sum(rail.rear for rail in rails)
    pairs = (("front axle", given.front_axle_load, front), ("rear axle", given.rear_axle_load, rear))
    return tuple(AxleComparison(axle, load, sum_ / 1e3) for axle, load, sum_ in pairs if load is not None)


def bogie_forces(axles: FloatArray, centre: float, hangers: FloatArray, reaction: float) -> PointForces:
    """The rear reaction (N) as upward forces on the rail at its hangers' stations (mm), centred on the bogie.

    axles: stations of the n rear axles; centre: of the bogie; hangers: of those on this rail, in any order.

    An equalised bogie's axles carry alike. Each axle's share goes to the hanger ahead of it and the one behind it by
    the lever rule, as a spring between the two hands it on. Where an axle has no hanger on one side (a trunnion,
    trailing arms) the whole reaction goes so from the bogie's centre to its neighbours, and where that lies beyond all
    hangers, or there are none, it enters at the centre. In every case the resultant passes through the centre.
    Source: statics; the choice of hangers is common practice.
    """
    station = np.unique(hangers)
    for points in (axles, np.array([centre])):
        if len(station) and station[0] <= points.min() + _AT_ONE and points.max() <= station[-1] + _AT_ONE:
            shares = np.full(len(points), reaction / len(points))
            return PointForces(station, _levered(points, shares, station))
    return PointForces(np.array([centre]), np.array([reaction]))


def _levered(points: FloatArray, forces: FloatArray, station: FloatArray) -> FloatArray:
    """Forces at points handed to the stations on either side of each; a point at a station gives it all."""
    behind = np.clip(np.searchsorted(station, points, side="left"), 0, len(station) - 1)
    ahead = np.maximum(behind - 1, 0)
    span = station[behind] - station[ahead]
    share = np.where(span > 0, (points - station[ahead]) / np.where(span > 0, span, 1.0), 1.0)
    handed = np.bincount(behind, forces * share, len(station))
    return np.asarray(handed + np.bincount(ahead, forces * (1 - share), len(station)))


def _one_rail(order: ResolvedOrder, side: int, loads: BeamLoads, hangers: FloatArray, factor: float) -> RailLoads:
    centre = order.dimensions["wheelbase"]
    front, rear = reactions(loads, FRONT_AXLE, centre)
    spread = order.dimensions["axle_spread"]
    axles = np.unique([centre - spread / 2, centre + spread / 2])
    behind = bogie_forces(axles, centre, hangers, rear)
    supports = PointForces(np.append(behind.station, FRONT_AXLE), np.append(behind.force, front))
    dynamic = PointForces(supports.station, supports.force * factor)
    return RailLoads(side, loads, front, rear, supports, factor, diagram_of(loads.scaled(factor), dynamic))


def _side_loads(given: Loads, station: FloatArray, mass: FloatArray, own: list[Stretch]) -> BeamLoads:
    """Loads at rest of one rail: component masses (kg) at stations, its own steel (start, end, kg), half the body."""
    spread = list(own)
    if given.body_mass > 0 and given.body_start is not None and given.body_end is not None:
        spread.append((given.body_start, given.body_end, given.body_mass / 2))
    start, end, total = np.array(spread).T
    return BeamLoads(station, mass * GRAVITY, start, end, total * GRAVITY / (end - start))


def _rail_masses(order: ResolvedOrder, holes: HoleTable) -> list[list[Stretch]]:
    """For each side, the finished rail and liner as (start mm, end mm, kg) less their holes, each spread evenly.

    A tapered tail is spread apart from the straight rail ahead of it.
    """
    index = holes.side * len(PARTS) + holes.part
    opened = np.bincount(index, areas(holes, order.thicknesses_of(holes)), len(SIDES) * len(PARTS))
    parts: tuple[Part, ...] = ("rail", "liner") if order.rail.liner else ("rail",)
    return [
        [
            stretch
            for number, part in enumerate(parts)
            for stretch in _part_masses(order.rail, part, float(opened[side * len(PARTS) + number]))
        ]
        for side in range(len(SIDES))
    ]


def _part_masses(rail: RailShape, part: Part, opened: float) -> list[Stretch]:
    mass = part_measures(rail, part, opened, 0.0).mass
    if part == "liner" and rail.liner:
        return [(rail.liner.start, rail.liner.end, mass)]
    if rail.taper is None:
        return [(rail.front, rail.rear, mass)]
    whole = part_measures(rail, part, 0.0, 0.0).mass
    ahead = properties(rail.section).area * (rail.taper.start - rail.front) * STEEL_DENSITY
    left = mass / whole
    return [(rail.front, rail.taper.start, ahead * left), (rail.taper.start, rail.rear, (whole - ahead) * left)]
