"""The section left at a station by plain polygons, and by the product."""

from __future__ import annotations

import numpy as np
import shapely
from builders import LINER_SECTION, SECTION, Hole, rail_table
from shapely import affinity

from railgen.frame.rail import RailShape
from railgen.frame.section import Section
from railgen.holes.shapes import cores_of
from railgen.strength.net_section import NetSection, net_section

ARC = 64  # segments of a quarter circle


def channel(section: Section, depth: float, y: float = 0.0, z: float = 0.0) -> shapely.Polygon:
    """A channel in (across, height), its web's outside face at y and its underside at z; bends as quarter rings."""
    t, corner, big = section.thickness, section.tangent, 10 * section.flange
    outer = shapely.box(corner, corner, big, depth - corner).buffer(corner, quad_segs=ARC)
    inside = section.inside_radius
    inner = shapely.box(t + inside, t + inside, big, depth - t - inside).buffer(inside, quad_segs=ARC)
    whole = outer.difference(inner).intersection(shapely.box(0, 0, section.flange, depth))
    return affinity.translate(whole, y, z)


def integrated(area: shapely.Geometry) -> np.ndarray:
    """Area, first and second moment about height 0, by integration along a polygon's edges."""
    total = np.zeros(3)
    for polygon in shapely.get_parts(area):
        polygon = shapely.geometry.polygon.orient(polygon)  # holes then run the other way and count as less
        for ring in (polygon.exterior, *polygon.interiors):
            y, z = np.array(ring.coords).T
            cross = y[:-1] * z[1:] - y[1:] * z[:-1]
            powers = 1 / 2, (z[:-1] + z[1:]) / 6, (z[:-1] ** 2 + z[:-1] * z[1:] + z[1:] ** 2) / 12
            total += [(cross * power).sum() for power in powers]
    return total


def modulus(parts: list[shapely.Geometry]) -> float:
    """Section modulus of parts side by side about the axis through their common centroid, for the lesser fibre.

    The plain sum: where a liner's corner digs into the rail's bend (which is a finding of its own) both count.
    """
    size, first, second = np.sum([integrated(part) for part in parts], axis=0)
    axis = first / size
    low, high = min(part.bounds[1] for part in parts), max(part.bounds[3] for part in parts)
    return float((second - first**2 / size) / max(high - axis, axis - low))


def cut(hole: Hole, station: float) -> tuple[float, float] | None:
    """What the line at a station cuts out of a hole's true shape, across."""
    if hole.shape == "round":
        core = shapely.Point(hole.station, hole.across)
        shape = core.buffer(hole.diameter / 2, quad_segs=512)
    else:
        half = hole.length / 2
        inner = hole.diameter / 2 if hole.shape == "slot" else max(SECTION.thickness / 2, 3.0)
        box = shapely.box(-half + inner, -hole.diameter / 2 + inner, half - inner, hole.diameter / 2 - inner)
        core = shapely.LineString([(-half + inner, 0), (half - inner, 0)]) if hole.shape == "slot" else box
        shape = affinity.translate(
            affinity.rotate(core.buffer(inner, quad_segs=512), hole.angle, origin=(0, 0)), hole.station, hole.across
        )
    line = shape.intersection(shapely.LineString([(station, -999), (station, 999)]))
    return None if line.is_empty else (line.bounds[1], line.bounds[3])


def left(rail: RailShape, holes: list[Hole], station: float, with_liner: bool = False) -> tuple[float, float]:
    """Net and gross modulus at a station, by polygons."""
    depth = float(rail.depth_at(station))
    parts = [channel(SECTION, depth)]
    if with_liner and rail.liner:
        parts.append(channel(LINER_SECTION, LINER_SECTION.depth, rail.liner.offset_y, rail.liner.offset_z))
    taken = [opening(hole, *ends, depth) for hole in holes if (ends := cut(hole, station))]
    return modulus([part.difference(shapely.union_all(taken)) for part in parts]), modulus(parts)


def opening(hole: Hole, low: float, high: float, depth: float) -> shapely.Polygon:
    """What is gone of the cross-section where a hole is cut from low to high."""
    if hole.face == "web":
        return shapely.box(-1, low, SECTION.thickness + LINER_SECTION.thickness + 1, high)
    return (
        shapely.box(low, -1, high, depth / 2) if hole.face == "bottom" else shapely.box(low, depth / 2, high, depth + 1)
    )


def made(rail: RailShape, holes: list[Hole], with_liner: bool = False) -> NetSection:
    """The product's net section of some holes on the LH side."""
    table = rail_table(rail, [Hole(**(vars(hole) | {"sides": ("LH",)})) for hole in holes])
    thickness = np.where(table.part == 1, LINER_SECTION.thickness, SECTION.thickness)
    return net_section(rail, table, cores_of(table, thickness), with_liner)


def left_by_product(rail: RailShape, holes: list[Hole], station: float, with_liner: bool = False) -> float:
    return float(made(rail, holes, with_liner).least_moduli(np.array([0]), np.array([station]))[0])


OVERLAPPING = [
    Hole(1000.0, 90.0, 40.0),
    Hole(1014.0, 104.0, 30.0),  # overlaps the first one: the steel they share is taken once
    Hole(1009.0, 205.0, 26.0),
    Hole(1016.0, 150.0, 22.0, shape="slot", length=60.0, angle=30.0),
    Hole(1003.0, 240.0, 17.0),
]
FLANGES = [Hole(1000.0, 60.0, 17.0, face="top"), Hole(1006.0, 55.0, 13.0, face="bottom"), Hole(1004.0, 70.0, 40.0)]
PASSAGE = [Hole(1000.0, 150.0, 50.0, shape="rectangle", length=90.0, angle=20.0), Hole(1030.0, 220.0, 21.0)]
