"""STEP solids: mass, hole axes and sections of the frame's own figures; units, names and places in the truck."""

from __future__ import annotations

import sys
from math import cos, pi, sin, tan
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from builders import Hole, no_placements, rail_shape, rail_table, resolved_order
from click.testing import CliRunner

from railgen.cli.main import main
from railgen.data.messages import InputError
from railgen.formats import step
from railgen.frame.measure import STEEL_DENSITY, part_measures
from railgen.frame.rail import part_section
from railgen.frame.section import properties
from railgen.holes.shapes import areas, perimeters
from railgen.holes.table import PARTS, ROUND, SIDES, HoleTable
from railgen.layout.plan import SerialPlan

WIDTH = 860.0
HOLES = [
    Hole(-800.123456789, 150, diameter=17),
    Hole(-600, 180.03, diameter=17.5, operation="countersink", fastener="M16x1.5 flush"),
    Hole(-500, 120, diameter=11, shape="slot", length=27.3, angle=33.3),
    Hole(-400, 150, diameter=40, shape="rectangle", length=90, angle=12.5),
    Hole(-300, 150, diameter=40, shape="rectangle", length=40, corner_radius=20),
    Hole(-200, 150, shape="mark"),
    Hole(-100, 55, diameter=9, face="top", shape="slot", length=20, angle=160),
    Hole(-50, 60, diameter=11, face="bottom"),
    Hole(700.1, 140, diameter=17),
    Hole(1300, 66, diameter=9, face="top"),
    Hole(4300, 250.5, diameter=17),
    Hole(4500, 238, diameter=9, shape="slot", length=22, angle=175),
    Hole(4200, 60, diameter=11, face="top"),
    Hole(4600, 70, diameter=13),
    Hole(1500, 100, diameter=14, sides=("LH",)),
]
RAILS = {
    "plain": rail_shape(),
    "liner": rail_shape(liner=True),
    "cut later": rail_shape("after-forming"),
    "cut in blank": rail_shape("in-blank", liner=True),
}
SOLIDS = [(n, s, p) for n, r in RAILS.items() for s in SIDES for p in (PARTS if r.liner else PARTS[:1])]


@pytest.fixture(scope="module")
def ocp() -> None:
    pytest.importorskip("OCP", reason="the optional extra step (an Open CASCADE binding) is not installed")


def rows_of(name: str, side: str, part: str) -> HoleTable:
    table = rail_table(RAILS[name], HOLES)
    return table.rows((table.side == SIDES.index(side)) & (table.part == PARTS.index(part)))


def solid(name: str, side: str, part: str, holes: list[Hole] = HOLES) -> Any:
    from railgen.formats.step_solid import part_solid

    return part_solid(RAILS[name], rail_table(RAILS[name], holes), side, part, WIDTH)


def volume(shape: Any) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    return float(found.Mass())


def surface(shape: Any) -> float:
    from OCP.BRepGProp import BRepGProp
    from OCP.GProp import GProp_GProps

    found = GProp_GProps()
    BRepGProp.SurfaceProperties_s(shape, found)
    return float(found.Mass())


def area_at(shape: Any, x: float) -> float:
    """Area of the section of a shape at a station."""
    from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
    from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeFace
    from OCP.BRepGProp import BRepGProp
    from OCP.gp import gp_Dir, gp_Pln, gp_Pnt
    from OCP.GProp import GProp_GProps

    plane = gp_Pln(gp_Pnt(x, 0, 0), gp_Dir(1, 0, 0))
    face = BRepBuilderAPI_MakeFace(plane, -2000.0, 2000.0, -2000.0, 2000.0).Face()
    found = GProp_GProps()
    BRepGProp.SurfaceProperties_s(BRepAlgoAPI_Common(shape, face).Shape(), found)
    return float(found.Mass())


def box(shape: Any) -> tuple[np.ndarray, np.ndarray]:
    from OCP.Bnd import Bnd_Box
    from OCP.BRepBndLib import BRepBndLib

    found = Bnd_Box()
    BRepBndLib.AddOptimal_s(shape, found, False, False)
    corners = (found.CornerMin(), found.CornerMax())
    low, high = (np.array([corner.X(), corner.Y(), corner.Z()]) for corner in corners)
    return low, high


def cylinders(shape: Any) -> list[tuple[np.ndarray, np.ndarray, float]]:
    """Point, direction and radius of every cylindrical face."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.GeomAbs import GeomAbs_Cylinder
    from OCP.TopAbs import TopAbs_FACE
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    cast = getattr(TopoDS, "Face_s", None) or TopoDS.Face
    explorer, found = TopExp_Explorer(shape, TopAbs_FACE), []
    while explorer.More():
        surface = BRepAdaptor_Surface(cast(explorer.Current()))
        if surface.GetType() == GeomAbs_Cylinder:
            axis = surface.Cylinder().Axis()
            place, way = axis.Location(), axis.Direction()
            point = np.array([place.X(), place.Y(), place.Z()])
            found.append((point, np.array([way.X(), way.Y(), way.Z()]), float(surface.Cylinder().Radius())))
        explorer.Next()
    return found


def in_truck(side: str, point: np.ndarray) -> np.ndarray:
    """Where a point (station, y inboard, z) of one side stands in the truck, said once more."""
    x, inboard, z = point
    return np.array([x, inboard - WIDTH / 2 if side == "LH" else WIDTH / 2 - inboard, z])


@pytest.mark.parametrize(("name", "side", "part"), SOLIDS)
def test_one_sound_solid_of_the_computed_mass(ocp: None, name: str, side: str, part: str) -> None:
    from OCP.BRepCheck import BRepCheck_Analyzer

    shape, rows = solid(name, side, part), rows_of(name, side, part)
    assert BRepCheck_Analyzer(shape).IsValid()
    thickness = np.full(len(rows), part_section(RAILS[name], part).thickness)
    holes = float(areas(rows, thickness).sum()), float(perimeters(rows, thickness).sum())
    expected = part_measures(RAILS[name], part, *holes)
    assert volume(shape) * STEEL_DENSITY == pytest.approx(expected.mass, rel=5e-4)
    # What a bath wets is the solid's whole surface, hole walls among it; its seam stands open, the weld not drawn.
    taper = RAILS[name].taper if part == "rail" else None
    seam = 2 * taper.seam_length * thickness[0] if taper else 0.0
    assert surface(shape) == pytest.approx(expected.surface + seam, rel=5e-4)
    if RAILS[name].taper is None or part == "liner":
        assert volume(shape) == pytest.approx(expected.volume, rel=1e-9)
        assert surface(shape) == pytest.approx(expected.surface, rel=1e-9)


@pytest.mark.parametrize(("name", "side", "part"), SOLIDS)
def test_hole_axes_are_the_tables(ocp: None, name: str, side: str, part: str) -> None:
    """The axis of every round hole passes through its place in the hole table, square to its panel."""
    rail, rows = RAILS[name], rows_of(name, side, part)
    section = part_section(rail, part)
    inner = rail.liner if part == "liner" else None
    y0, z0 = (inner.offset_y, inner.offset_z) if inner else (0.0, 0.0)
    found = cylinders(solid(name, side, part))
    round_rows = np.flatnonzero(rows.shape == ROUND)
    assert len(round_rows) > 3 or part == "liner"
    for row in round_rows.tolist():
        x, across, face = rows.station[row], rows.across[row], int(rows.face[row])
        way = np.array([0.0, 0.0, 1.0])
        if face == 0:
            point, way = np.array([x, y0, across]), np.array([0.0, 1.0, 0.0])
        elif face == 2:
            point = np.array([x, across, z0])
        elif rail.taper and part == "rail" and x > rail.taper.start:
            slope = rail.taper.slope
            point = np.array([x, across, section.depth - section.thickness / 2 - (x - rail.taper.start) * tan(slope)])
            way = np.array([sin(slope), 0.0, cos(slope)])
        else:
            point = np.array([x, across, z0 + section.depth])
        point = in_truck(side, point)
        off = [
            float(np.linalg.norm(np.cross(point - on, along)))
            for on, along, radius in found
            if abs(radius - rows.diameter[row] / 2) < 1e-9 and abs(abs(float(way @ along)) - 1) < 1e-12
        ]
        assert min(off) < 1e-6, rows.hole_id(row)


@pytest.mark.parametrize(("name", "side", "part"), SOLIDS)
def test_sections_between_holes_are_the_sections(ocp: None, name: str, side: str, part: str) -> None:
    """Ten stations without a hole, ahead of any taper."""
    rail, shape, rows = RAILS[name], solid(name, side, part), rows_of(name, side, part)
    start, end = rail.front + 1, (rail.taper.front if rail.taper else rail.rear) - 1
    if part == "liner" and rail.liner:
        start, end = rail.liner.start + 1, rail.liner.end - 1
    candidates = np.linspace(start, end, 60)
    clear = [x for x in candidates if np.all(np.abs(rows.station - x) > 60)]
    stations = [clear[i] for i in np.linspace(0, len(clear) - 1, 10).astype(int)]
    assert len(set(stations)) == 10
    expected = properties(part_section(rail, part)).area
    for x in stations:
        assert area_at(shape, float(x)) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("name", ["cut later", "cut in blank"])
def test_tail_falls_to_its_end_depth(ocp: None, name: str) -> None:
    """Highest and lowest of the rear end, the section there by hand, and the relief hole."""
    rail = RAILS[name]
    taper = rail.taper
    assert taper is not None
    low, high = box(solid(name, "LH", "rail"))
    assert low == pytest.approx([rail.front, -WIDTH / 2, 0.0], abs=1e-6)
    assert high[0] == pytest.approx(rail.rear, abs=1e-6)
    assert high[2] == pytest.approx(rail.section.depth, abs=0.05)  # the mitre stands up by t/2 tan2(alpha/2)
    t, upright = taper.thickness, 1 / cos(taper.slope)
    bend = pi / 4 * (taper.tangent**2 - (taper.tangent - t) ** 2)
    flat = rail.section.flat_flange * t
    # The turned panel is cut square to the rail, so its areas there are longer by 1 / cos(alpha).
    upper = (flat + bend + (taper.slit_depth - taper.tangent) * t) * upright
    lower = flat + bend + (float(taper.lower_cut_z(rail.rear - 0.5)) - taper.tangent) * t
    assert area_at(solid(name, "LH", "rail", []), rail.rear - 0.5) == pytest.approx(upper + lower, rel=1e-6)
    relief = [r for _, _, r in cylinders(solid(name, "LH", "rail", [])) if abs(r - taper.relief_radius) < 1e-9]
    assert relief


def test_both_hands_stand_a_frame_width_apart(ocp: None) -> None:
    boxes = {side: box(solid("liner", side, "rail")) for side in SIDES}
    assert boxes["LH"][0][1] == pytest.approx(-WIDTH / 2, abs=1e-6)
    assert boxes["RH"][1][1] == pytest.approx(WIDTH / 2, abs=1e-6)
    assert boxes["LH"][1][1] == pytest.approx(-WIDTH / 2 + 90, abs=1e-6)
    assert boxes["RH"][0][1] == pytest.approx(WIDTH / 2 - 90, abs=1e-6)
    only_left = Hole(1500, 100, diameter=14, sides=("LH",))
    assert any(abs(radius - 7) < 1e-9 for _, _, radius in cylinders(solid("plain", "LH", "rail", [only_left])))
    assert not any(abs(radius - 7) < 1e-9 for _, _, radius in cylinders(solid("plain", "RH", "rail", [only_left])))


def test_file_has_units_name_and_no_clock(ocp: None, tmp_path: Path) -> None:
    from OCP.IFSelect import IFSelect_RetDone
    from OCP.STEPControl import STEPControl_Reader

    shape = solid("cut later", "RH", "rail")
    content = step.solid_bytes(shape, "P-1001-RH-rail")
    assert step.solid_bytes(solid("cut later", "RH", "rail"), "P-1001-RH-rail") == content
    text = content.decode()
    assert "PRODUCT('P-1001-RH-rail','P-1001-RH-rail'" in text
    assert "SI_UNIT(.MILLI.,.METRE.)" in text
    assert text.count("MANIFOLD_SOLID_BREP") == 1
    assert "'1970-01-01T00:00:00'" in text
    assert "release of the responsible chassis engineer" in text
    file = tmp_path / "part.step"
    file.write_bytes(content)
    reader = STEPControl_Reader()
    assert reader.ReadFile(str(file)) == IFSelect_RetDone
    reader.TransferRoots()
    read = reader.OneShape()
    # The edge of relief hole and mitre is a free curve, which a STEP file holds to its own tolerance.
    assert volume(read) == pytest.approx(volume(shape), rel=1e-7)
    for found, expected in zip(box(read), box(shape), strict=True):
        assert found == pytest.approx(expected, abs=1e-6)


def test_nothing_is_printed(ocp: None, capfd: pytest.CaptureFixture[str]) -> None:
    step.solid_bytes(solid("plain", "LH", "rail", []), "P-1-LH-rail")
    assert capfd.readouterr() == ("", "")


def test_without_the_binding_a_message_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "OCP", None)
    order = resolved_order(RAILS["plain"])
    with pytest.raises(InputError, match=r"pip install 'railgen\[step\]'"):
        step.step_files(SerialPlan(order, no_placements(), rail_table(RAILS["plain"], HOLES), ()))
    result = CliRunner().invoke(main, ["step", "order.toml"])
    assert result.exit_code == 2
    assert "no package OCP" in result.output


def test_command_writes_a_file_a_part(ocp: None, tmp_path: Path) -> None:
    root = Path(__file__).parent.parent
    arguments = ["step", str(root / "samples/T-2001.toml"), "--library", str(root / "hole_libraries")]
    result = CliRunner().invoke(main, [*arguments, "--output", str(tmp_path)], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    names = sorted(file.name for file in (tmp_path / "T-2001-step").iterdir())
    assert names == ["T-2001-LH-rail.step", "T-2001-RH-rail.step"]
