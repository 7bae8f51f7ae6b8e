"""Bending of each rail: stress on the net section at every line of holes, and where the margin is lowest."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from railgen.frame.rail import RailShape
from railgen.holes.shapes import is_hole
from railgen.holes.table import RAIL, FloatArray, HoleTable, IntArray
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.strength.diagram import Diagram
from railgen.strength.loads import RailLoads, rail_loads

ModulusAt = Callable[[IntArray, FloatArray], FloatArray]
"""From sides (0 LH, 1 RH) and stations (mm), both of length n, to the section modulus left there, mm3.

That of the rail, or of the rail with its liner where there is one, for the fibre of the greatest stress; all holes
that meet the station taken out.
"""


class Moduli(Protocol):
    """The section left along both rails."""

    def least_moduli(self, side: IntArray, station: FloatArray) -> FloatArray:
        """Least modulus at stations (mm) of sides, both of length n, mm3."""


_ONE_LINE = 1e-6  # mm: lines no further apart are one
_OUTSIDE = 1e-3  # mm outside a liner's end: there the rail is alone
_TAPER_STEP = 50.0  # mm


@dataclass(frozen=True)
class RailBending:
    """Bending of one rail at n stations in order: lines of holes, and wherever shear or moment is extreme.

    station mm; moment N mm, with the dynamic factor; modulus mm3, of the net section; stress MPa, never below zero;
    yield_strength MPa, of the weaker steel where there is a liner.
    """

    loads: RailLoads
    station: FloatArray
    moment: FloatArray
    modulus: FloatArray
    stress: FloatArray
    yield_strength: FloatArray

    @property
    def utilisation(self) -> FloatArray:
        """Stress over yield at each station."""
        return self.stress / self.yield_strength

    @property
    def resistance(self) -> FloatArray:
        """Moment of resistance of the net section at each station, N mm: modulus times yield."""
        return self.modulus * self.yield_strength

    @property
    def margin(self) -> FloatArray:
        """Margin to yield at each station: resistance over moment, less one; infinite where there is no moment."""
        with np.errstate(divide="ignore"):
            return np.asarray(self.yield_strength / self.stress - 1)

    @property
    def lowest(self) -> int:
        """Index of the station with the lowest margin, the foremost of equals."""
        return int(np.argmax(self.utilisation))


def net_section_stress(moment: FloatArray, modulus: FloatArray) -> FloatArray:
    """Greatest bending stress, MPa, from moments (N mm) and section moduli (mm3) of one shape: |M| / S.

    Source: elastic bending of a beam, the published form of resisting moment = section modulus x yield turned round.
    """
    return np.asarray(np.abs(moment) / modulus)


def modulus_along(rail: RailShape, alone: Moduli, with_liner: Moduli | None = None) -> ModulusAt:
    """The section modulus that bending is held against: with its liner between the liner's ends, else of the rail."""

    def at(side: IntArray, station: FloatArray) -> FloatArray:
        modulus = alone.least_moduli(side, station)
        if rail.liner is None or with_liner is None:
            return modulus
        lined = (station >= rail.liner.start) & (station <= rail.liner.end)
        together = modulus.copy()
        together[lined] = with_liner.least_moduli(side[lined], station[lined])
        return together

    return at


def bending_of(
    order: ResolvedOrder,
    placements: Placements,
    holes: HoleTable,
    modulus_at: ModulusAt,
    lines: Sequence[FloatArray] = (),
) -> tuple[RailBending, ...]:
    """Bending of both rails, LH first; none where the order has no [loads].

    lines: for each side, stations besides the holes' own at which the net section is least (holes that overlap along
    the rail have theirs between their centres).
    """
    rails = rail_loads(order, placements, holes)
    if not rails:
        return ()
    more = lines or [np.zeros(0)] * len(rails)
    stations = [
        checked_stations(order.rail, rail.diagram, np.concatenate([hole_lines(holes, rail.side), more[rail.side]]))
        for rail in rails
    ]
    sides = [np.full(len(station), rail.side) for rail, station in zip(rails, stations, strict=True)]
    modulus = modulus_at(np.concatenate(sides), np.concatenate(stations))
    parted = np.split(modulus, np.cumsum([len(station) for station in stations])[:-1])
    return tuple(_of_rail(order, *columns) for columns in zip(rails, stations, parted, strict=True))


def hole_lines(holes: HoleTable, side: int) -> FloatArray:
    """Stations of all holes of one side's rail, mm, in no order; marks take no steel and have no line."""
    return np.asarray(holes.station[(holes.side == side) & (holes.part == RAIL) & is_hole(holes)])


def checked_stations(rail: RailShape, diagram: Diagram, lines: FloatArray) -> FloatArray:
    """Stations on the rail where bending is looked at, each once, in order, mm.

    Lines of holes; breaks and extremes of the diagram, between which the moment only grows or falls, so that steel
    without holes is worst at one of them; just outside a liner's ends; and at steps along a taper, where the depth
    falls with the moment.
    """
    ends = [lines, diagram.stations]
    if rail.liner:
        ends.append(np.array([rail.liner.start - _OUTSIDE, rail.liner.end + _OUTSIDE]))
    if rail.taper:
        length = rail.rear - rail.taper.start
        ends.append(np.linspace(rail.taper.start, rail.rear, int(np.ceil(length / _TAPER_STEP)) + 1))
    station = np.sort(np.concatenate(ends))
    on_rail = (station >= rail.front) & (station <= rail.rear)
    new = np.diff(station, prepend=-np.inf) > _ONE_LINE
    return np.asarray(station[on_rail & new])


def yield_along(order: ResolvedOrder, station: FloatArray) -> FloatArray:
    """Yield strength held against the stress at stations, MPa: the weaker of rail and liner where both are.

    The liner's fibres lie inside the rail's and are stressed less than the rail's outermost one, so this is safe.
    """
    values = np.full(len(station), order.rail_steel.yield_strength)
    liner, steel = order.rail.liner, order.liner_steel
    if liner is None or steel is None:
        return values
    lined = (station >= liner.start) & (station <= liner.end)
    return np.where(lined, np.minimum(values, steel.yield_strength), values)


def _of_rail(order: ResolvedOrder, loads: RailLoads, station: FloatArray, modulus: FloatArray) -> RailBending:
    moment = loads.diagram.moment_at(station)
    stress = net_section_stress(moment, modulus)
    return RailBending(loads, station, moment, modulus, stress, yield_along(order, station))
