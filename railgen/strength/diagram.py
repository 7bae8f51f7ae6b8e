"""Shear and moment of a beam on two supports, exact in every piece.

Between two neighbouring breaks (loads, supports, ends of uniform loads) the load along the beam is constant, so shear
is linear and moment parabolic; nothing is sampled. Source: statics of a rigid beam.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railgen.holes.table import FloatArray, IntArray


@dataclass(frozen=True)
class BeamLoads:
    """Loads on one beam, downward positive: n points (station mm, force N), m uniform loads (mm, mm, N/mm)."""

    point_station: FloatArray
    point_force: FloatArray
    uniform_start: FloatArray
    uniform_end: FloatArray
    uniform_force: FloatArray

    @cached_property
    def total(self) -> float:
        """Sum of all loads, N."""
        return float(self.point_force.sum() + (self.uniform_force * self._lengths).sum())

    @property
    def _lengths(self) -> FloatArray:
        return self.uniform_end - self.uniform_start

    def moment_about(self, station: float) -> float:
        """Moment of all loads about a station, N mm; loads behind it count positive."""
        middle = (self.uniform_start + self.uniform_end) / 2
        points = self.point_force * (self.point_station - station)
        return float(points.sum() + (self.uniform_force * self._lengths * (middle - station)).sum())

    def scaled(self, factor: float) -> BeamLoads:
        """The same loads times a factor."""
        return BeamLoads(
            self.point_station,
            self.point_force * factor,
            self.uniform_start,
            self.uniform_end,
            self.uniform_force * factor,
        )


@dataclass(frozen=True)
class PointForces:
    """Forces (N, upward positive) at stations (mm), both of length n."""

    station: FloatArray
    force: FloatArray


@dataclass(frozen=True)
class Diagram:
    """Shear and moment by pieces; all arrays of length m, one row a break, in order of station.

    station: of the break, mm; shear: just behind it, N, the upward forces ahead of it less the loads ahead of it;
    load: per length behind it, N/mm downward; moment: at it, N mm, positive where the bottom flange is pulled.
    Ahead of the first break and behind the last one there is neither shear nor moment.
    """

    station: FloatArray
    shear: FloatArray
    load: FloatArray
    moment: FloatArray

    def moment_at(self, stations: FloatArray) -> FloatArray:
        """Moment at stations (mm, any shape), N mm."""
        piece, along, on_beam = self._piece(stations, "right")
        moment = self.moment[piece] + along * (self.shear[piece] - along * self.load[piece] / 2)
        return np.where(on_beam, moment, 0.0)

    def shear_at(self, stations: FloatArray, ahead: bool = False) -> FloatArray:
        """Shear just behind stations (mm, any shape), or just ahead of them, N."""
        piece, along, on_beam = self._piece(stations, "left" if ahead else "right")
        return np.where(on_beam, self.shear[piece] - along * self.load[piece], 0.0)

    @cached_property
    def turning_stations(self) -> FloatArray:
        """Stations between breaks where the shear is zero: the moment is extreme there, mm."""
        with np.errstate(divide="ignore", invalid="ignore"):
            along = self.shear[:-1] / self.load[:-1]
        inside = (along > 0) & (along < np.diff(self.station)) & (self.load[:-1] != 0)
        return np.asarray(self.station[:-1][inside] + along[inside])

    @cached_property
    def stations(self) -> FloatArray:
        """All breaks and all stations of zero shear, in order: every extreme of shear and moment is at one, mm."""
        return np.sort(np.concatenate([self.station, self.turning_stations]))

    def _piece(self, stations: FloatArray, side: str) -> tuple[IntArray, FloatArray, FloatArray]:
        """Index of the break that opens the piece of each station, the distance from it, whether it is on the beam."""
        last = len(self.station) - 1
        found = np.searchsorted(self.station, stations, side="left" if side == "left" else "right") - 1
        piece = np.clip(found, 0, last).astype(np.int64)
        return piece, stations - self.station[piece], (found >= 0) & (stations <= self.station[last])


@dataclass(frozen=True)
class DiagramLine:
    """A diagram as it is drawn: a row a point; a jump in shear is two points at one station. mm, N, N mm."""

    station: FloatArray
    shear: FloatArray
    moment: FloatArray


def reactions(loads: BeamLoads, ahead: float, behind: float) -> tuple[float, float]:
    """Upward reactions of two supports at stations ahead and behind (mm), N; below zero where a support holds down.

    Raises ValueError unless the one lies behind the other.
    """
    if not behind > ahead:
        raise ValueError(f"the support at {behind:g} mm must lie behind the one at {ahead:g} mm")
    rear = loads.moment_about(ahead) / (behind - ahead)
    return loads.total - rear, rear


def diagram_of(loads: BeamLoads, supports: PointForces) -> Diagram:
    """The diagram of loads held by upward forces; where these do not balance, the last row's shear or moment is left.

    A force of nothing still makes a break, so that every load and support is a point of the drawing.
    """
    forces = np.concatenate([supports.station, loads.point_station])
    upward = np.concatenate([supports.force, -loads.point_force])
    station = np.unique(np.concatenate([forces, loads.uniform_start, loads.uniform_end]))
    jump = np.bincount(np.searchsorted(station, forces), weights=upward, minlength=len(station))
    change = np.bincount(np.searchsorted(station, loads.uniform_start), loads.uniform_force, len(station))
    change -= np.bincount(np.searchsorted(station, loads.uniform_end), loads.uniform_force, len(station))
    load = _cleaned(np.cumsum(change), loads.uniform_force)
    length = np.diff(station)
    shed = np.concatenate([[0.0], np.cumsum(load[:-1] * length)])
    shear = np.cumsum(jump) - shed
    gained = length * (shear[:-1] - load[:-1] * length / 2)
    return Diagram(station, shear, load, np.concatenate([[0.0], np.cumsum(gained)]))


def _cleaned(load: FloatArray, parts: FloatArray) -> FloatArray:
    """Loads per length without what rounding leaves where all uniform loads have ended."""
    return np.where(np.abs(load) > 1e-12 * np.abs(parts).sum(), load, 0.0)


def drawn(diagram: Diagram, step: float = 50.0) -> DiagramLine:
    """Points of the diagram for drawing: breaks, stations of zero shear, and between them no further apart than step.

    The shear's line through them is exact; the moment's is within load x step2 / 8 of the parabola.
    """
    first, last = diagram.station[0], diagram.station[-1]
    grid = np.linspace(first, last, max(int(np.ceil((last - first) / step)), 1) + 1)
    behind = np.unique(np.concatenate([diagram.stations, grid]))
    ahead = diagram.station
    station = np.concatenate([ahead, behind])
    shear = np.concatenate([diagram.shear_at(ahead, ahead=True), diagram.shear_at(behind)])
    order = np.argsort(station, kind="stable")
    return DiagramLine(station[order], shear[order], diagram.moment_at(station[order]))
