"""STEP solids against the hole table they were made from: every hole's axes and radius, nothing more, and the mass.

Countersinks are not drawn: such holes go through at their own size.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, sin, tan

import numpy as np

from railgen.data.messages import InputError, Problem
from railgen.formats.names import Part, Side, step_name
from railgen.formats.step import step_parts
from railgen.formats.step_read import StepSolid, read_step
from railgen.frame.rail import part_section, required_liner
from railgen.holes.shapes import Cores, cores_of
from railgen.holes.table import FACES, MARK, PARTS, SIDES, BoolArray, FloatArray, HoleTable
from railgen.layout.plan import SerialPlan
from railgen.shop.part_work import measures_of

AXES_AGREE = 1e-6
"""mm"""
VOLUMES_AGREE = 5e-4
_CORNERS = ((1, 1), (1, -1), (-1, 1), (-1, -1))


def read_back(planned: SerialPlan, files: Mapping[str, bytes]) -> int:
    """Read the STEP files of all parts, by name, and return how many holes they were held to.

    Raises InputError naming everything that is not as planned.
    """
    problems = []
    for side, part in step_parts(planned):
        name = step_name(planned.serial, side, part)
        problems += step_problems(planned, side, part, read_step(files[name], name))
    if problems:
        raise InputError(problems)
    return int((planned.holes.shape != MARK).sum())


def step_problems(planned: SerialPlan, side: Side, part: Part, solid: StepSolid) -> list[Problem]:
    """What is wrong with the solid that was read back of one part: holes missing or moved, holes more, another mass."""
    file, table = step_name(planned.serial, side, part), planned.holes
    rows = table.rows((table.side == SIDES.index(side)) & (table.part == PARTS.index(part)))
    cores = cores_of(rows, np.full(len(rows), part_section(planned.order.rail, part).thickness))
    problems, known = [], _no_hole(planned, part, solid)
    for row in np.flatnonzero(rows.shape != MARK).tolist():
        for point, way, radius in _axes(planned, rows, cores, row, side, part):
            there = _on_axis(solid, point, way) & (np.abs(solid.radii - radius) < AXES_AGREE)
            known |= there
            if not there.any():
                found = f"no round face of radius {radius:g} mm about its axis"
                problems.append(Problem(file, rows.hole_id(row), found, "the hole where the hole table has it"))
    for at in np.flatnonzero(~known).tolist():
        x, y, z = solid.points[at]
        found = f"a round face of radius {solid.radii[at]:g} mm about x {x:.3f}, y {y:.3f}, z {z:.3f}"
        problems.append(Problem(file, "", found, "the holes of the hole table alone"))
    volume = measures_of(planned.order.rail, part, rows).volume
    if abs(solid.volume - volume) > VOLUMES_AGREE * volume:
        problems.append(Problem(file, "volume", f"{solid.volume:.0f} mm3", f"{volume:.0f} mm3, as computed"))
    return problems


def _on_axis(solid: StepSolid, point: FloatArray, way: FloatArray) -> BoolArray:
    """Which round faces, (n,), lie about an axis."""
    off = np.linalg.norm(np.cross(point - solid.points, solid.ways), axis=1)
    along = np.abs(solid.ways @ way) > 1.0 - 1e-9
    return np.asarray(along & (off < AXES_AGREE))


def _no_hole(planned: SerialPlan, part: Part, solid: StepSolid) -> BoolArray:
    """Round faces, (n,), that are no hole's: bends, whose axes run along the rail, and the taper's relief hole."""
    bends = np.abs(solid.ways[:, 0]) > 0.7
    taper = planned.order.rail.taper
    if taper is None or part == "liner":
        return np.asarray(bends)
    relief = (np.abs(solid.ways[:, 1]) > 0.7) & (np.abs(solid.radii - taper.relief_radius) < AXES_AGREE)
    return np.asarray(bends | relief)


def _axes(
    planned: SerialPlan, rows: HoleTable, cores: Cores, row: int, side: Side, part: Part
) -> list[tuple[FloatArray, FloatArray, float]]:
    """Point, direction and radius of a feature's round faces in vehicle axes: two of a slot, four of a rectangle."""
    middle, across, way, along = _place(planned, rows, row, part)
    angle = np.radians(np.nan_to_num(rows.angle[row]))
    length = cos(angle) * along + sin(angle) * across
    width = cos(angle) * across - sin(angle) * along
    half = planned.order.dimensions["frame_width"] / 2
    turn, shift = (1.0, -half) if side == "LH" else (-1.0, half)
    faces = []
    for a, b in dict.fromkeys((p * cores.half_length[row], q * cores.half_width[row]) for p, q in _CORNERS):
        point = middle + a * length + b * width
        in_truck = np.array([point[0], turn * point[1] + shift, point[2]])
        faces.append((in_truck, way * (1.0, turn, 1.0), float(cores.radius[row])))
    return faces


def _place(
    planned: SerialPlan, rows: HoleTable, row: int, part: Part
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """A feature's middle (station, y, z), and unit vectors across its face, square to it, and along the rail in it."""
    rail, section = planned.order.rail, part_section(planned.order.rail, part)
    inner = required_liner(rail) if part == "liner" else None
    y0, z0 = (inner.offset_y, inner.offset_z) if inner else (0.0, 0.0)
    x, across, face = float(rows.station[row]), float(rows.across[row]), FACES[int(rows.face[row])]
    ahead, inboard, up = np.eye(3)
    if face == "web":
        return np.array([x, y0, across]), up, inboard, ahead
    if face == "top" and rail.taper and part == "rail" and x > rail.taper.start:
        slope, fall = rail.taper.slope, (x - rail.taper.start) * tan(rail.taper.slope)
        middle = np.array([x, across, section.depth - section.thickness / 2 - fall])
        return middle, inboard, np.array([sin(slope), 0.0, cos(slope)]), np.array([cos(slope), 0.0, -sin(slope)])
    return np.array([x, across, z0 + (section.depth if face == "top" else 0.0)]), inboard, up, ahead
