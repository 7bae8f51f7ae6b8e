"""A panel of a rail as a plane: blank axes, in which holes are measured, and the finished part's station and across."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from railgen.frame.development import develop, fold
from railgen.frame.panel_shapes import panel_corners
from railgen.frame.panels import FACE_OF_PANEL, Face, Panel
from railgen.frame.rail import RailShape
from railgen.holes.table import FloatArray, IntArray

FAR = 2e4
"""mm; farther than any rail reaches."""
_SEGMENTS = 32
"""Straight pieces a quarter circle: circles lie outside the true ones, by less than 0.03 mm at 80 mm."""
_OUTSIDE = 1 / np.cos(np.pi / (4 * _SEGMENTS))


@dataclass(frozen=True)
class Frame:
    """One panel of the rail of either side, in un-mirrored blank axes."""

    rail: RailShape
    panel: Panel

    @property
    def face(self) -> Face:
        """The face that the panel is on."""
        return Face(int(FACE_OF_PANEL[self.panel]))

    @cached_property
    def corners(self) -> FloatArray:
        """Corners of the finished panel, (n, 2) station and across, mm."""
        return panel_corners(self.rail, self.panel)

    @cached_property
    def span(self) -> tuple[float, float]:
        """Stations between which the panel lies, mm."""
        return float(self.corners[:, 0].min()), float(self.corners[:, 0].max())

    def to_blank(self, finished: shapely.Geometry) -> shapely.Geometry:
        """Geometry of station and across in blank axes."""
        return shapely.transform(finished, self._developed)

    def to_finished(self, blank: shapely.Geometry) -> shapely.Geometry:
        """Geometry in blank axes as station and across of the finished part."""
        return shapely.transform(blank, self._folded)

    def stations(self, low: float, high: float) -> shapely.Geometry:
        """All of the panel's plane between two stations, in blank axes."""
        return self.to_blank(shapely.box(low, -FAR, high, FAR))

    def inside(self, station: float) -> tuple[float, float]:
        """A place on the panel at a station (mm), off its edges as far as may be."""
        line = shapely.LineString([(station, -FAR), (station, FAR)]).intersection(shapely.Polygon(self.corners))
        low, high = line.bounds[1], line.bounds[3]
        return station, (low + high) / 2

    def _developed(self, points: FloatArray) -> FloatArray:
        u, v = develop(self.rail, self.panel, points[:, 0], points[:, 1])
        return np.stack([u, v], axis=-1)

    def _folded(self, points: FloatArray) -> FloatArray:
        station, across = fold(self.rail, self.panel, points[:, 0], points[:, 1])
        return np.stack([station, across], axis=-1)


def grown(geometries: np.ndarray, distance: FloatArray | float) -> np.ndarray:
    """Everything within distances (mm) of geometries, round corners drawn on the outside; empty for none or less."""
    distance = np.broadcast_to(np.asarray(distance, dtype=np.float64), np.shape(geometries))
    kept = np.flatnonzero(distance > 0)
    return np.asarray(shapely.buffer(np.asarray(geometries)[kept], distance[kept] * _OUTSIDE, quad_segs=_SEGMENTS))


def each_grown(geometries: np.ndarray, distance: FloatArray, rows: IntArray) -> Iterator[tuple[shapely.Geometry, int]]:
    """Geometries grown by distances (mm), each with its row; those of no distance are left out."""
    kept = np.flatnonzero(distance > 0)
    yield from zip(grown(geometries[kept], distance[kept]), rows[kept].tolist(), strict=True)


def quarter(centre: FloatArray, way: FloatArray, radius: float) -> shapely.Polygon:
    """The quarter of a disc about a centre (2,), mm, that lies within 45 degrees of a way (2,) of length one."""
    turn = np.linspace(-np.pi / 4, np.pi / 4, _SEGMENTS + 1)
    aside = np.array([-way[1], way[0]])
    arc = centre + radius * _OUTSIDE * (np.cos(turn)[:, None] * way + np.sin(turn)[:, None] * aside)
    return shapely.Polygon(np.concatenate([centre[None], arc]))


def cone(point: FloatArray, first: FloatArray, second: FloatArray) -> shapely.Geometry:
    """What is seen from a point (2,) through the opening from first to second (2,), beyond it."""
    far = 1e3
    corners = [first, second, point + (second - point) * far, point + (first - point) * far]
    return shapely.make_valid(shapely.Polygon(corners))
