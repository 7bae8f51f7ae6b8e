"""STEP files read back: what solid stands in one, and where its round faces lie."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from railgen.data.messages import InputError, Problem
from railgen.formats.step import quiet, require_binding
from railgen.holes.table import FloatArray

_MILLIMETRES = b"SI_UNIT(.MILLI.,.METRE.)"


@dataclass(frozen=True, eq=False)
class StepSolid:
    """The one solid of a STEP file: volume (mm3), and its round faces, which are cylinders.

    ``points`` (n, 3) mm on their axes, ``ways`` (n, 3) unit vectors along them, ``radii`` (n,) mm.
    """

    volume: float
    points: FloatArray
    ways: FloatArray
    radii: FloatArray


def read_step(content: bytes, file: str) -> StepSolid:
    """The solid of a STEP file in millimetres; ``file`` names it in messages.

    Raises InputError without the binding, and for what is no STEP file, not in millimetres, or not one solid.
    """
    require_binding()
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.STEPControl import STEPControl_Reader
    from OCP.TopAbs import TopAbs_SOLID

    if _MILLIMETRES not in content:
        raise InputError([Problem(file, "", "no lengths in millimetres", "a STEP file in millimetres")])
    with quiet(), tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "part.step"
        path.write_bytes(content)
        reader = STEPControl_Reader()
        if reader.ReadFile(str(path)) != IFSelect_RetDone:
            raise InputError([Problem(file, "", "what cannot be read", "a STEP file")])
        reader.TransferRoots()
        shape = reader.OneShape()
    solids = len(list(_each(shape, TopAbs_SOLID)))
    if solids != 1:
        raise InputError([Problem(file, "", f"{solids} solids", "one solid")])
    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    return StepSolid(float(found.Mass()), *_round_faces(shape))


def _round_faces(shape: Any) -> tuple[FloatArray, FloatArray, FloatArray]:
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_Cylinder
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopoDS import TopoDS

    as_face = getattr(TopoDS, "Face_s", None) or TopoDS.Face
    points, ways, radii = [], [], []
    for face in _each(shape, TopAbs_FACE):
        surface = BRepAdaptor_Surface(as_face(face))
        if surface.GetType() == GeomAbs_Cylinder:
            axis = surface.Cylinder().Axis()
            place, way = axis.Location(), axis.Direction()
            points.append((place.X(), place.Y(), place.Z()))
            ways.append((way.X(), way.Y(), way.Z()))
            radii.append(surface.Cylinder().Radius())
    return np.array(points).reshape(-1, 3), np.array(ways).reshape(-1, 3), np.array(radii, dtype=np.float64)


def _each(shape: Any, kind: Any) -> Any:
    from OCP.TopExp import TopExp_Explorer

    explorer = TopExp_Explorer(shape, kind)
    while explorer.More():
        yield explorer.Current()
        explorer.Next()
