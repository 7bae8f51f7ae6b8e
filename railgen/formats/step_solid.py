"""The finished rail or liner of one side as one Open CASCADE solid, with its holes and its taper.

Built in the part's own axes: x the station, y across from the rail's outside face inboard, z the height; mm. Bends are
true quarter rings. Of a tapered rail the upper panel is turned down about the hinge and meets the straight one in a
mitre on the bisector: upset steel is cut off there instead of thickening the web, by far less than 0.05 % of the
volume. The root gap stays open, weld metal is not drawn. Holes go through at their own size; countersinks, marks and
studs are not drawn.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import cos, radians, sin, sqrt, tan
from typing import Any, NamedTuple

import numpy as np
from OCP.BRep import BRep_Builder
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common, BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeWire,
    BRepBuilderAPI_Transform,
)
from OCP.BRepPrimAPI import BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakePrism
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1, gp_Ax2, gp_Dir, gp_Pnt, gp_Trsf, gp_Vec
from OCP.ShapeUpgrade import ShapeUpgrade_UnifySameDomain
from OCP.TopAbs import TopAbs_SOLID
from OCP.TopExp import TopExp_Explorer
from OCP.TopoDS import TopoDS_Compound

from railgen.formats.names import Part, Side
from railgen.frame.panels import FACE_OF_PANEL, Face, Panel
from railgen.frame.rail import RailShape, part_section, required_liner, required_taper
from railgen.frame.section import Section
from railgen.frame.taper import TaperShape
from railgen.holes.shapes import Cores, cores_of
from railgen.holes.table import MARK, PARTS, ROUND, SIDES, FloatArray, HoleTable

_BEYOND = 500.0
"""mm by which cutting shapes stand out of the steel."""
_THROUGH = 1.5
"""Thicknesses that a hole's tool reaches either side of mid-thickness: through its panel, and into nothing else."""


class Axis(NamedTuple):
    """Frame of one hole: centre at mid-thickness, unit vectors through the panel, along it and across it."""

    centre: FloatArray
    through: FloatArray
    along: FloatArray
    across: FloatArray


def part_solid(rail: RailShape, holes: HoleTable, side: Side, part: Part, frame_width: float) -> Any:
    """One solid of a part in vehicle axes: x rearward, y to the right, z up; mm, origin as said in ``step``.

    holes: the whole hole table; frame_width: between the outside faces of both webs. Raises ValueError when a liner is
    asked for and there is none, or where the steel is not one piece.
    """
    rows = holes.rows((holes.side == SIDES.index(side)) & (holes.part == PARTS.index(part)))
    gross = _tapered(rail) if part == "rail" and rail.taper else _straight(rail, part)
    tools = list(_tools(rail, rows, part))
    if tools:
        gross = BRepAlgoAPI_Cut(gross, _compound(tools)).Shape()
    return _in_vehicle(_only_solid(gross), side, frame_width)


def _in_vehicle(solid: Any, side: Side, frame_width: float) -> Any:
    """From the part's own axes to the vehicle's: LH moved to the left, RH mirrored to the right."""
    move = gp_Trsf()
    move.SetTranslation(gp_Vec(0.0, -frame_width / 2, 0.0))
    if side == "RH":
        mirror = gp_Trsf()
        mirror.SetMirror(gp_Ax2(gp_Pnt(0, 0, 0), gp_Dir(0, 1, 0)))
        move = mirror.Multiplied(move)
    return _only_solid(BRepBuilderAPI_Transform(solid, move, True).Shape())


def _only_solid(shape: Any) -> Any:
    found = []
    explorer = TopExp_Explorer(shape, TopAbs_SOLID)
    while explorer.More():
        found.append(explorer.Current())
        explorer.Next()
    if len(found) != 1:
        raise ValueError(f"the part falls into {len(found)} solids")
    return found[0]


# --- steel without holes ---------------------------------------------------------------------------------------------


def _straight(rail: RailShape, part: Part) -> Any:
    if part == "rail":
        return _prism(_channel(rail.section, 0.0, 0.0, 0.0), rail.front, rail.rear)
    liner = required_liner(rail)
    return _prism(_channel(liner.section, liner.offset_y, liner.offset_z, 0.0), liner.start, liner.end)


def _tapered(rail: RailShape) -> Any:
    """The straight rail less all that lies behind the bisector and above the lower cut, and the panel turned down."""
    taper, section = required_taper(rail), rail.section
    top, (hinge_x, hinge_z) = section.depth + _BEYOND, taper.hinge
    lean = tan(taper.slope / 2)
    above = (hinge_x + (top - hinge_z) * lean, top)
    below = (hinge_x - (hinge_z + _BEYOND) * lean, -_BEYOND)
    far = rail.rear + _BEYOND
    tip = taper.apex[0] - taper.root_gap * sin(taper.slope), taper.apex[1] - taper.root_gap * cos(taper.slope)
    gone = [taper.apex, tip, (far, float(taper.lower_cut_z(far))), (far, top), above]
    if taper.root_gap == 0:
        del gone[1]
    lower = BRepAlgoAPI_Cut(_straight(rail, "rail"), _side_prism(gone, section.flange)).Shape()

    straight = _prism(_channel(section, 0.0, 0.0, taper.apex[1]), hinge_x - _BEYOND, taper.blank_rear + _BEYOND)
    turn = gp_Trsf()
    # Right-handed about +y, z turns towards x: the tail goes down rearward by a positive angle.
    turn.SetRotation(gp_Ax1(gp_Pnt(hinge_x, 0, hinge_z), gp_Dir(0, 1, 0)), taper.slope)
    turned = BRepBuilderAPI_Transform(straight, turn, True).Shape()
    kept = [below, (rail.rear, -_BEYOND), (rail.rear, top), above]
    upper = BRepAlgoAPI_Common(turned, _side_prism(kept, section.flange)).Shape()

    whole = BRepAlgoAPI_Fuse(lower, upper).Shape()
    relief = _cylinder(_relief_axis(taper), taper.relief_radius, section.thickness)
    unify = ShapeUpgrade_UnifySameDomain(BRepAlgoAPI_Cut(whole, relief).Shape(), True, True, False)
    unify.Build()
    return unify.Shape()


def _relief_axis(taper: TaperShape) -> Axis:
    x, z = taper.apex
    return Axis(np.array([x, taper.thickness / 2, z]), _Y, _X, _Z)


def _channel(section: Section, y: float, z: float, above: float) -> Any:
    """Face of the channel in the plane x = 0, moved to (y, z); of its part above a height (0: all of it), mm."""
    outside, inside, t = section.tangent, section.inside_radius, section.thickness
    high, edge = section.depth - outside, section.flange
    pieces: list[tuple[tuple[float, float], float]] = []
    """Corners (y, z) in turn, and the radius of the arc that leads to the next, left turn above 0."""
    if above > 0:
        pieces += [((t, above), 0.0), ((t, high), -inside)]
    else:
        pieces += [((edge, 0.0), 0.0), ((edge, t), 0.0), ((outside, t), -inside), ((t, outside), 0.0)]
        pieces += [((t, high), -inside)]
    pieces += [((outside, section.depth - t), 0.0), ((edge, section.depth - t), 0.0), ((edge, section.depth), 0.0)]
    pieces += [((outside, section.depth), outside), ((0.0, high), 0.0)]
    pieces += [((0.0, above), 0.0)] if above > 0 else [((0.0, outside), outside), ((outside, 0.0), 0.0)]
    points = [gp_Pnt(0.0, y + corner[0], z + corner[1]) for corner, _ in pieces]
    return _face(points, [radius for _, radius in pieces], gp_Dir(1, 0, 0))


def _side_prism(corners: Sequence[tuple[float, float]], flange: float) -> Any:
    """A block over a polygon of (station, z), right through the rail."""
    points = [gp_Pnt(x, -_BEYOND, z) for x, z in corners]
    face = _face(points, [0.0] * len(points), gp_Dir(0, 1, 0))
    return BRepPrimAPI_MakePrism(face, gp_Vec(0, flange + 2 * _BEYOND, 0)).Shape()


def _prism(face: Any, start: float, end: float) -> Any:
    move = gp_Trsf()
    move.SetTranslation(gp_Vec(start, 0, 0))
    placed = BRepBuilderAPI_Transform(face, move, True).Shape()
    return BRepPrimAPI_MakePrism(placed, gp_Vec(end - start, 0, 0)).Shape()


def _face(points: Sequence[Any], radii: Sequence[float], normal: Any) -> Any:
    """A plane face inside points in turn; a radius other than 0 is a quarter circle from its point to the next.

    A quarter that turns left as seen against the normal has a radius above 0.
    """
    wire = BRepBuilderAPI_MakeWire()
    for index, (first, radius) in enumerate(zip(points, radii, strict=True)):
        second = points[(index + 1) % len(points)]
        if first.Distance(second) == 0:
            continue
        if radius == 0:
            wire.Add(BRepBuilderAPI_MakeEdge(first, second).Edge())
            continue
        middle = _middle_of_quarter(first, second, radius, normal)
        wire.Add(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(first, middle, second).Value()).Edge())
    return BRepBuilderAPI_MakeFace(wire.Wire(), True).Face()


def _middle_of_quarter(first: Any, second: Any, radius: float, normal: Any) -> Any:
    """The point half-way along a quarter circle."""
    chord = gp_Vec(first, second)
    bulge = abs(radius) * (1 - sqrt(0.5))
    right = chord.Crossed(gp_Vec(normal)).Normalized().Multiplied(bulge if radius > 0 else -bulge)
    half = first.Translated(chord.Multiplied(0.5))
    return half.Translated(right)


# --- holes -----------------------------------------------------------------------------------------------------------

_X, _Y, _Z = np.eye(3)


def _tools(rail: RailShape, rows: HoleTable, part: Part) -> Iterator[Any]:
    """A solid for each opening of a part, to be cut out of it."""
    thickness = part_section(rail, part).thickness
    cores = cores_of(rows, np.full(len(rows), thickness))
    for row, axis in enumerate(hole_axes(rail, rows, part)):
        if rows.shape[row] == MARK:
            continue
        if rows.shape[row] == ROUND:
            yield _cylinder(axis, float(rows.diameter[row]) / 2, thickness)
        else:
            yield _opening(axis, cores, row, radians(float(rows.angle[row])), thickness)


def hole_axes(rail: RailShape, rows: HoleTable, part: Part) -> list[Axis]:
    """Where each row of one part is in the part's own axes, finished."""
    section = part_section(rail, part)
    y0, z0 = 0.0, 0.0
    if part == "liner":
        y0, z0 = required_liner(rail).offset_y, required_liner(rail).offset_z
    half = section.thickness / 2
    axes = []
    for row in range(len(rows)):
        x, across, panel = float(rows.station[row]), float(rows.across[row]), Panel(int(rows.panel[row]))
        face = Face(int(FACE_OF_PANEL[panel]))
        if face == Face.WEB:
            axes.append(Axis(np.array([x, y0 + half, across]), _Y, _X, _Z))
        elif face == Face.BOTTOM:
            axes.append(Axis(np.array([x, across, z0 + half]), _Z, _X, _Y))
        elif panel == Panel.TAIL_TOP:
            axes.append(_ramp_axis(required_taper(rail), x, across))
        else:
            axes.append(Axis(np.array([x, across, z0 + section.depth - half]), _Z, _X, _Y))
    return axes


def _ramp_axis(taper: TaperShape, x: float, across: float) -> Axis:
    fall = taper.slope
    centre = np.array([x, across, taper.hinge[1] - (x - taper.start) * tan(fall)])
    return Axis(centre, np.array([sin(fall), 0.0, cos(fall)]), np.array([cos(fall), 0.0, -sin(fall)]), _Y)


def _cylinder(axis: Axis, radius: float, thickness: float) -> Any:
    base = axis.centre - axis.through * thickness * _THROUGH
    frame = gp_Ax2(gp_Pnt(*base.tolist()), gp_Dir(*axis.through.tolist()), gp_Dir(*axis.along.tolist()))
    return BRepPrimAPI_MakeCylinder(frame, radius, 2 * thickness * _THROUGH).Shape()


def _opening(axis: Axis, cores: Cores, row: int, angle: float, thickness: float) -> Any:
    """A slot or rectangle with its rounded corners."""
    a, b, r = (float(column[row]) for column in (cores.half_length, cores.half_width, cores.radius))
    # Counter-clockwise along and across; each corner is a quarter circle.
    corners = [(a, -b - r, 0.0), (a, -b - r, r), (a + r, -b, 0.0), (a + r, b, r), (a, b + r, 0.0)]
    corners += [(-a, b + r, r), (-a - r, b, 0.0), (-a - r, -b, r), (-a, -b - r, 0.0)]
    points, radii = [], []
    for u, v, radius in corners[1:]:
        along, across = u * cos(angle) - v * sin(angle), u * sin(angle) + v * cos(angle)
        place = axis.centre + along * axis.along + across * axis.across - axis.through * thickness * _THROUGH
        points.append(gp_Pnt(*place.tolist()))
        radii.append(radius)
    normal = np.cross(axis.along, axis.across)
    face = _face(points, radii, gp_Dir(*normal.tolist()))
    return BRepPrimAPI_MakePrism(face, gp_Vec(*(axis.through * 2 * thickness * _THROUGH).tolist())).Shape()


def _compound(shapes: Sequence[Any]) -> Any:
    """Several shapes as one."""
    found, builder = TopoDS_Compound(), BRep_Builder()
    builder.MakeCompound(found)
    for shape in shapes:
        builder.Add(found, shape)
    return found
