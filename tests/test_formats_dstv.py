"""DSTV files: lines against the public description, writer against reader, files made by others, damaged files."""

from __future__ import annotations

import random
from math import hypot, pi
from pathlib import Path

import numpy as np
import pytest
import shapely
from builders import SECTION, Hole, rail_shape, rail_table, resolved_order

from railgen.data.messages import InputError
from railgen.formats.dstv import RESOLUTION, ContourPoint, DstvPiece, Outline, features
from railgen.formats.dstv_piece import dstv_file, dstv_piece
from railgen.formats.dstv_read import read_dstv
from railgen.formats.dstv_text import dstv_bytes
from railgen.formats.names import Part, Piece, Side
from railgen.frame.blank import blank_outline
from railgen.frame.contour import Contour, contour_points
from railgen.frame.rail import part_length, part_section
from railgen.holes.table import PARTS, SHAPES, SIDES

SHARED = Path(__file__).parents[2] / "shared" / "data" / "dstv"
needs_shared = pytest.mark.skipif(not SHARED.is_dir(), reason="files made by others are not on this machine")

HOLES = [
    Hole(-800.1234, 150, diameter=17),
    Hole(-700, 61.7, diameter=13, operation="drill"),
    Hole(-600, 180.03, diameter=17.5, operation="countersink", fastener="M16x1.5 flush"),
    Hole(-500, 120, diameter=11, shape="slot", length=27.3, angle=33.3),
    Hole(-450, 120, diameter=11, shape="slot", length=27.3, angle=90),
    Hole(-400, 150, diameter=40, shape="rectangle", length=90, angle=12.5),
    Hole(-300, 150, diameter=40, shape="rectangle", length=40, corner_radius=8),
    Hole(-200, 150, shape="mark"),
    Hole(-150, 90, shape="mark", operation="stud"),
    Hole(-100, 55, diameter=9, face="top", shape="slot", length=20, angle=160),
    Hole(-50, 60, diameter=11, face="bottom"),
    Hole(0, 60, diameter=9, face="bottom", shape="slot", length=20, angle=20, operation="drill"),
    Hole(700.1, 140, diameter=17),
    Hole(1300, 66, diameter=9, face="top", shape="slot", length=20, angle=100),
    Hole(4300, 250.5, diameter=17),
    Hole(4500, 238, diameter=9, shape="slot", length=22, angle=175),
    Hole(4200, 60, diameter=11, face="top", shape="slot", length=30, angle=45),
    Hole(1500, 100, diameter=14, sides=("LH",)),
]
RAILS = {
    "plain": rail_shape(),
    "liner": rail_shape(liner=True),
    "cut later": rail_shape("after-forming"),
    "cut in blank": rail_shape("in-blank", liner=True),
}
PIECES = [
    (name, side, part, piece)
    for name, rail in RAILS.items()
    for side in SIDES
    for part in (PARTS if rail.liner else PARTS[:1])
    for piece in ("formed", "blank")
]
HEADER = ["ST", *("  1", "  2", "  3", "  4", "  S355", "  1", "  PL10*100", "  B")]
HEADER += ["  1000.00", "  100.00", "  10.00", "  10.00", "  10.00", "  0.00", "  7.85", "  0.22", *["  0.00"] * 4]


def read(folder: Path, *lines: str) -> DstvPiece:
    file = folder / "piece.nc1"
    file.write_text("\n".join(lines) + "\n")
    return read_dstv(file)


# --- lines against the public description, by hand -------------------------------------------------------------------


def test_header_fields_stand_in_the_order_of_the_standard(tmp_path: Path) -> None:
    values = ["ORDER", "DRAWING", "PHASE", "PIECE", "S355J2", "4", "UPN200", "U"]
    values += ["2500.00,2510.00", "200.00", "75.00", "11.50", "8.50", "11.00", "25.300", "0.661"]
    values += ["1.000", "2.000", "3.000", "4.000", "first text", "second text"]
    header = read(tmp_path, "ST", "** a comment", *(f"  {value}" for value in values), "EN").header
    assert (header.order, header.drawing, header.phase, header.piece) == ("ORDER", "DRAWING", "PHASE", "PIECE")
    assert (header.steel, header.quantity, header.profile, header.code) == ("S355J2", 4, "UPN200", "U")
    assert (header.length, header.saw_length) == (2500, 2510)
    assert (header.height, header.flange_width, header.flange_thickness) == (200, 75, 11.5)
    assert (header.web_thickness, header.radius, header.mass, header.surface) == (8.5, 11, 25.3, 0.661)
    assert (header.web_start_cut, header.web_end_cut, header.flange_start_cut, header.flange_end_cut) == (1, 2, 3, 4)
    assert header.texts == ("first text", "second text")


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("  v     100.00u     50.00      18.00      0.00", ("v", "round", 100, 50, 18, 0, 0, 0)),
        ("  v     100.00u     50.00      18.00", ("v", "round", 100, 50, 18, 0, 0, 0)),
        ("  o 150.00o    50.00    40.00    0.0    0.0    0.0", ("o", "round", 150, 50, 40, 0, 0, 0)),
        # A public sample: a slot in the middle of a beam 458.78 long; the first end radius lies half the 22 before it.
        (
            "  o   218.39u   102.00  18.00   0.00l  22.00    0.00   0.00",
            ("o", "slot", 458.78 / 2, 102, 18, 40, 0, 0),
        ),
        ("  u   100.00s    50.00  18.00   0.00l  22.00    0.00  90.00", ("u", "slot", 100, 61, 18, 40, 90, 0)),
        ("  h   100.00s    50.00  18.00   0.00l   0.00   22.00   0.00", ("h", "slot", 100, 61, 18, 40, 90, 0)),
        (
            "  v   100.00u    50.00  10.00   0.00l  60.00   20.00   0.00",
            ("v", "rectangle", 130, 60, 30, 70, 0, 5),
        ),
        (
            "  v   100.00u    50.00  10.00   0.00l  60.00   20.00  90.00",
            ("v", "rectangle", 90, 80, 30, 70, 90, 5),
        ),
        ("\tv\t100.00u\t\t50.00\t18.00\t", ("v", "round", 100, 50, 18, 0, 0, 0)),
        ("  v   100.00 s  50.00 g   18.00    0.00", ("v", "round", 100, 50, 18, 0, 0, 0)),
    ],
)
def test_lines_of_holes(line: str, expected: tuple[object, ...], tmp_path: Path) -> None:
    (feature,) = features(read(tmp_path, *HEADER, "BO", line, "EN"))
    assert feature[:2] == expected[:2]
    assert feature[2:] == pytest.approx(expected[2:], abs=1e-9)


def test_letters_and_faces_of_lines(tmp_path: Path) -> None:
    lines = ["BO", "  v  1.00s  2.00g  3.00  0.00", "     4.00   5.00   6.00", "  o  7.00o  8.00  9.00  1.50"]
    first, second, third = read(tmp_path, *HEADER, *lines, "EN").holes
    assert (first.reference, first.kind, first.face) == ("s", "g", "v")
    assert (second.face, second.x, second.y, second.diameter, second.reference) == ("v", 4, 5, 6, "")
    assert (third.face, third.depth) == ("o", 1.5)


def test_a_channel_by_hand_lies_in_space_as_it_is_written(tmp_path: Path) -> None:
    """A channel of 200 x 75 open to the front, one hole in each face: where each lies in space.

    x along the piece, forward from the web's outside face, up from the bottom. Both flanges count y from the heel, at
    the back; the outer contours run counter-clockwise as seen from outside, whatever they do in their own axes, and
    that of v as seen from the front, from where it shows the web's inside.
    """
    header = [*HEADER[:7], "  UPN200", "  U", "  1000.00", "  200.00", "  75.00", *HEADER[12:]]
    corners = {"v": 200.0, "o": 75.0, "u": 75.0}
    ways = {
        "v": ((0, 0), (1, 0), (1, 1), (0, 1)),
        "o": ((0, 0), (0, 1), (1, 1), (1, 0)),
        "u": ((0, 0), (1, 0), (1, 1), (0, 1)),
    }
    lines = ["BO", "  v  250.00u  60.00  18.00", "  o  250.00o  35.00  18.00", "  u  250.00o  35.00  18.00"]
    for face, way in ways.items():
        lines += ["AK", *(f"  {face} {x * 1000:.2f}u {y * corners[face]:.2f} 0.00" for x, y in (*way, way[0]))]
    piece = read(tmp_path, *header, *lines, "EN")

    def in_space(face: str, x: float, y: float) -> tuple[float, float, float]:
        inside, depth = piece.header.web_thickness, piece.header.height
        return {"v": (x, -inside, y), "o": (x, -y, depth), "u": (x, -y, 0.0)}[face]

    web = piece.header.web_thickness
    assert [in_space(f.face, f.x, f.y) for f in features(piece)] == [(250, -web, 60), (250, -35, 200), (250, -35, 0)]
    outward = {"v": (0, -1, 0), "o": (0, 0, 1), "u": (0, 0, -1)}
    for outline in piece.outlines:
        a, b, c = (np.array(in_space(outline.face, *point[:2])) for point in outline.points[:3])
        normal = np.cross(b - a, c - b)
        assert (normal / np.linalg.norm(normal)).tolist() == pytest.approx(outward[outline.face])


def test_contours_stamps_and_other_blocks(tmp_path: Path) -> None:
    lines = ["AK", "  v  0.00u  0.00  0.00", "  1000.00  0.00w  5.00  45.00  1.00", "  o 1.00 2.00 0.00"]
    lines += ["SI", "  v  10.00u  20.00  90.00  12 MARK 7", "  v  2.00u  2.00  0.00  20r68"]
    lines += ["KO", "  v  1.00  2.00  0.00", "KO", "  v  3.00  4.00  0.00", "  v  5.00  6.00  0.00"]
    lines += ["SC", "  v 1.00 2.00 3.00", "E1", "  0.00 0.00 90.00"]
    piece = read(tmp_path, *HEADER, *lines, "EN", "")
    first, second, mark, _ = piece.outlines
    assert first == Outline("AK", "v", (ContourPoint(0, 0, 0, "u"), ContourPoint(1000, 0, 5, "", "w", (45.0, 1.0))))
    assert (second.block, second.face) == ("AK", "o")
    assert [(stamp.text, stamp.height, stamp.angle) for stamp in piece.stamps] == [("MARK 7", 12, 90), ("68", 20, 0)]
    assert mark.points[0][:2] == (1, 2)
    assert [feature.shape for feature in features(piece)] == ["mark"]
    assert piece.others == (("SC", ("  v 1.00 2.00 3.00",)), ("E1", ("  0.00 0.00 90.00",)))


def test_columns_as_written() -> None:
    rail = rail_shape()
    holes = [Hole(0, 150, diameter=17), Hole(100, 150, diameter=9, shape="slot", length=29, angle=90)]
    text = dstv_file(resolved_order(rail), rail_table(rail, holes), "LH", "rail", "formed").decode()
    assert "BO\n  v   5000.000u   150.000     17.000     0.000\n" in text
    assert "\n  v   4900.000u   140.000      9.000     0.000l    20.000     0.000    90.000\n" in text
    lines = text.splitlines()
    start = next(i for i, line in enumerate(lines[1:], 1) if not line.startswith("**"))
    assert lines[0] == "ST"
    words = ["P-1001", "P-1001", "A", "P-1001-LH-rail", "S700MC", "1", "300x90x9.5", "U"]
    assert [line[2:] for line in lines[start : start + 8]] == words
    assert [float(line) for line in lines[start + 8 : start + 14]] == [6000, 300, 90, 9.5, 9.5, 24]
    assert lines[-1] == "EN"
    assert max(map(len, lines)) <= 83


def test_mass_and_surface_per_metre(tmp_path: Path) -> None:
    """kg/m and m2/m by hand: flats and quarter rings of 300 x 90 x 9.5, inside radius 24."""
    rail = rail_shape()
    order, table = resolved_order(rail), rail_table(rail, HOLES)
    formed = dstv_piece(order, table, "LH", "rail", "formed").header
    flats = 2 * (90 - 33.5) + 300 - 67
    area = flats * 9.5 + 2 * pi / 4 * (33.5**2 - 24**2)
    assert formed.mass == pytest.approx(area * 7.85e-3)
    edge = 2 * flats + 2 * pi / 2 * (33.5 + 24) + 2 * 9.5
    assert formed.surface == pytest.approx(edge / 1000)
    blank = dstv_piece(order, table, "LH", "rail", "blank").header
    assert (blank.code, blank.height) == ("B", SECTION.developed_width)
    assert blank.mass == pytest.approx(SECTION.developed_width * 9.5 * 7.85e-3)


# --- writer against reader -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "side", "part", "piece"), PIECES)
def test_what_is_written_is_read(name: str, side: Side, part: Part, piece: Piece, tmp_path: Path) -> None:
    """Round trip to the format's resolution; and what was read is written with the same bytes."""
    rail = RAILS[name]
    order, table = resolved_order(rail), rail_table(rail, HOLES)
    meant = dstv_piece(order, table, side, part, piece)
    content = dstv_file(order, table, side, part, piece)
    file = tmp_path / "piece.nc1"
    file.write_bytes(content)
    found = read_dstv(file)
    assert dstv_bytes(found) == content
    assert len(found.holes) == len(meant.holes)
    for a, b in zip(meant.holes, found.holes, strict=True):
        assert (a.face, a.reference) == (b.face, b.reference)
        assert [*b[1:2], *b[3:9]] == pytest.approx([*a[1:2], *a[3:9]], abs=RESOLUTION / 2 + 1e-9)
    assert [len(o.points) for o in found.outlines] == [len(o.points) for o in meant.outlines]
    assert [stamp.text for stamp in found.stamps] == [f"P-1001 {side} {part.upper()}"]


@pytest.mark.parametrize(("name", "side", "part", "piece"), PIECES)
def test_file_equals_table(name: str, side: Side, part: Part, piece: Piece, tmp_path: Path) -> None:
    """Each feature on its face, where the hole table has it; on the formed part by z and y, not by the blank."""
    rail = RAILS[name]
    table = rail_table(rail, HOLES)
    section, length = part_section(rail, part), part_length(rail, part)
    file = tmp_path / "piece.nc1"
    file.write_bytes(dstv_file(resolved_order(rail), table, side, part, piece))
    left = list(features(read_dstv(file)))
    rows = np.flatnonzero((table.side == SIDES.index(side)) & (table.part == PARTS.index(part)))
    assert len(left) == len(rows) > 0
    origin = rail.front if part == "rail" or rail.liner is None else rail.liner.start
    rise = 0.0 if part == "rail" or rail.liner is None else rail.liner.offset_z
    inward = 0.0 if part == "rail" or rail.liner is None else rail.liner.offset_y
    for row in rows.tolist():
        station, across, on = table.station[row], table.across[row], int(table.face[row])
        x, y = (table.blank_x[row], table.v[row])
        if piece == "formed" and table.panel[row] < 3:
            x = station - origin if side == "RH" else length - (station - origin)
            y = across - rise if on == 0 else across - inward
        elif piece == "formed":
            x, y = length - x, section.across(0, y) if on == 0 else across
        feature = min(left, key=lambda f: hypot(f.x - x, f.y - y))
        left.remove(feature)
        shape = SHAPES[table.shape[row]]
        assert (feature.face, feature.shape) == ("v" if piece == "blank" else "vou"[on], shape)
        assert hypot(feature.x - x, feature.y - y) < 2 * RESOLUTION
        if shape == "mark":
            continue
        assert feature.diameter == pytest.approx(table.diameter[row], abs=2 * RESOLUTION)
        if shape == "round":
            continue
        assert feature.length == pytest.approx(table.length[row], abs=2 * RESOLUTION)
        # On v angles are as seen from within the channel, where x runs forward on RH parts only.
        angle = table.blank_angle[row]
        if piece == "formed" and table.panel[row] < 3:
            angle = table.angle[row] if side == "RH" else -table.angle[row]
        elif piece == "formed" and on != 2:
            angle = -angle
        turn = 90 if table.length[row] == table.diameter[row] else 180
        off = (feature.angle - angle) % turn
        assert min(off, turn - off) < 2 * RESOLUTION


def as_polygon(outline: Outline) -> shapely.Polygon:
    """A contour of AK with its arcs, read as the standard has it: radius of the edge that leaves a point."""
    points = outline.points[:-1]
    corners = np.array([(point.x, point.y) for point in points])
    chords = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    bulges = []
    for point, chord in zip(points, chords, strict=True):
        ratio = 0.0 if point.radius == 0 else min(chord / (2 * abs(point.radius)), 1.0)
        bulges.append(np.sign(point.radius) * np.tan(np.arcsin(ratio) / 2))
    return shapely.Polygon(contour_points(Contour(corners, np.array(bulges)), 256))


@pytest.mark.parametrize(("name", "side", "part", "piece"), PIECES)
def test_outlines_close_and_are_the_piece(name: str, side: Side, part: Part, piece: Piece) -> None:
    rail = RAILS[name]
    order, table = resolved_order(rail), rail_table(rail, HOLES)
    meant = dstv_piece(order, table, side, part, piece)
    outer = [outline for outline in meant.outlines if outline.block == "AK"]
    assert [outline.face for outline in outer] == (["v"] if piece == "blank" else ["v", "o", "u"])
    for outline in outer:
        assert outline.points[0][:2] == outline.points[-1][:2]
        # Counter-clockwise as seen from outside; y on o runs towards the reader, so there it looks the other way round.
        ring = shapely.Polygon([point[:2] for point in outline.points]).exterior
        assert ring.is_ccw == (outline.face != "o")
    length, section = part_length(rail, part), part_section(rail, part)
    found = as_polygon(outer[0])
    if piece == "blank":
        points = contour_points(blank_outline(rail, part))
        expected = shapely.Polygon(points if side == "LH" else points * [-1, 1] + [length, 0])
        assert found.symmetric_difference(expected).area < 0.1
        return
    gone = section.depth * length - found.area
    taper = rail.taper if part == "rail" else None
    if taper is None:
        assert gone == pytest.approx(0)
        return
    # Wedge: a triangle from the apex, its legs the seam's run to the blank's rear edge and its fall there; with the
    # relief hole's part outside it.
    run = taper.blank_rear - taper.apex[0]
    fall = taper.apex[1] - float(taper.lower_cut_z(taper.blank_rear))
    assert run * fall / 2 < gone < run * fall / 2 + pi * taper.relief_radius**2 + taper.root_gap * run
    assert not found.contains(shapely.Point(length - 5 if side == "RH" else 5, taper.apex[1] - 5))


def test_mirrored_hands() -> None:
    """The RH file is the LH file end for end: x from the other end, y the same, radii the same way round."""
    rail = RAILS["cut later"]
    order, table = resolved_order(rail), rail_table(rail, [hole for hole in HOLES if len(hole.sides) == 2])
    for piece in ("formed", "blank"):
        left, right = (dstv_piece(order, table, side, "rail", piece) for side in ("LH", "RH"))
        length = left.header.length
        for a in features(left):
            near = min(features(right), key=lambda b: hypot(length - a.x - b.x, a.y - b.y))
            assert hypot(length - a.x - near.x, a.y - near.y) < 1e-9
            assert near.face == a.face
        assert sorted(p.radius for p in left.outlines[0].points) == pytest.approx(
            sorted(p.radius for p in right.outlines[0].points)
        )


def test_drilled_holes_stand_in_a_block_of_their_own() -> None:
    rail = rail_shape()
    piece = dstv_piece(resolved_order(rail), rail_table(rail, HOLES), "LH", "rail", "blank")
    punched, later = piece.hole_blocks
    assert sorted(hole.diameter for hole in later) == [9, 13, 17.5]
    assert len(punched) + len(later) == len([hole for hole in HOLES if hole.shape != "mark"])


def test_text_that_does_not_fit_is_refused() -> None:
    rail = rail_shape()
    piece = dstv_piece(resolved_order(rail), rail_table(rail, HOLES), "LH", "rail", "blank")
    for comment in ("x" * 90, "Stärke", "two\nlines"):
        with pytest.raises(ValueError, match="cannot hold"):
            dstv_bytes(DstvPiece(piece.header, comments=(comment,)))


# --- files made by others, and damaged ones --------------------------------------------------------------------------


@needs_shared
def test_beam_made_by_others() -> None:
    piece = read_dstv(SHARED / "P1.nc")
    assert (piece.header.code, piece.header.length, piece.header.web_end_cut) == ("I", 6236.88, 15.0)
    assert [(f.face, f.x, f.y, f.diameter) for f in features(piece)] == [
        ("o", 674.41, 38.1, 20.64),
        ("o", 1829.55, 127.0, 20.64),
        ("o", 2200.15, 127.0, 20.64),
    ]
    assert [stamp.text for stamp in piece.stamps] == ["B_1", "pl"]
    assert [len(outline.points) for outline in piece.outlines] == [3, 2, 3, 2, 2]


@needs_shared
def test_plate_made_by_others() -> None:
    piece = read_dstv(SHARED / "product2.NC1")
    assert (piece.header.code, piece.header.height, piece.header.quantity) == ("B", 300, 15)
    assert len(list(features(piece))) == 8
    (outline,) = piece.outlines
    assert shapely.Polygon([point[:2] for point in outline.points]).area == 320 * 300 - 50 * 50
    assert outline.points[4].bevels == (45.0, 0.0)


@needs_shared
def test_older_dialect_made_by_others() -> None:
    piece = read_dstv(SHARED / "RST37-2.nc")
    assert (piece.header.code, piece.header.texts) == ("SO", ("Pfette",))
    assert [(code, len(lines)) for code, lines in piece.others] == [("PR", 17), ("E1", 2), ("B1", 2), ("S1", 1)]


def test_other_dialects_are_read(tmp_path: Path) -> None:
    text = "\n".join([*HEADER, "", "", "", "", "BO", "  v  1.0  2.0  3.0", "EN"])
    file = tmp_path / "piece.nc1"
    for ends in ("\n", "\r\n", "\r"):
        file.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", ends).encode() + ends.encode() * 2)
        assert len(read_dstv(file).holes) == 1
    sizes = [line.replace("7.85", "7,85").replace("1000.00", "1000,5") for line in HEADER]
    header = read(tmp_path, *sizes, "EN").header
    assert (header.length, header.saw_length, header.mass) == (1000.5, 1000.5, 7.85)
    assert read(tmp_path, *[line if "0.22" not in line else "  " for line in HEADER], "EN").header.surface == 0


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([], "line 1: found ''; allowed: ST"),
        (["0", "SECTION"], "line 1: found '0'; allowed: ST"),
        (HEADER[:12], "line 13: found the end of the file; allowed: 20 lines of ST"),
        ([*HEADER[:12], "BO", "  v 1 2 3", "EN", *[""] * 9], "line 13: found BO after 11 lines of ST"),
        ([*HEADER[:8], "  Q", *HEADER[9:], "EN"], "line 9: found 'Q'; allowed: one of B, C"),
        ([*HEADER[:10], "  wide", *HEADER[11:], "EN"], "line 11: found 'wide'; allowed: a number"),
        ([*HEADER[:9], "  1,2.0,3", *HEADER[10:], "EN"], "line 10: found '1,2.0,3'; allowed: length"),
        ([*HEADER, "BO", "  v 1.0 2.0 3.0"], "found the end of the file; allowed: EN"),
        ([*HEADER, "BO", "  v 1.0 2.0", "EN"], "line 23: found 2 numbers; allowed: 3 to 7"),
        ([*HEADER, "BO", "  v 1.0 2.0 -3.0", "EN"], "line 23: found .*a diameter above 0"),
        ([*HEADER, "BO", "  v 1.0 2.0 x3", "EN"], "line 23: found 'x3'; allowed: a number in a line of BO"),
        ([*HEADER, "BO", "  1.0 2.0 3.0", "EN"], "line 23: .* with its face, one of h, o, u, v"),
        ([*HEADER, *["  text"] * 4, "  v 1.0 2.0 3.0", "EN"], "line 26: found .*at most 4 lines of text"),
        ([*HEADER, "AK", "  v 1.0", "EN"], "line 23: found 1 numbers; allowed: 2 to 9 numbers in a line of AK"),
        ([*HEADER, "SI", "  v 1.0 2.0", "EN"], "line 23: .*x, y, angle, height and text"),
        ([*HEADER, "EN", "ST"], "line 23: found 'ST'; allowed: nothing after EN"),
        ([*HEADER, "BO", "  v nan 2.0 3.0", "EN"], "line 23: found 'nan'"),
    ],
)
def test_damaged_files_name_the_place(lines: list[str], words: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=words):
        read(tmp_path, *lines)


def test_random_damage_never_crashes_the_reader(tmp_path: Path) -> None:
    rng = random.Random(11)
    rail = RAILS["cut later"]
    content = bytearray(dstv_file(resolved_order(rail), rail_table(rail, HOLES), "RH", "rail", "formed"))
    file, refused = tmp_path / "piece.nc1", 0
    for _ in range(300):
        damaged = bytearray(content)
        at = rng.randrange(len(damaged))
        damaged[at : at + rng.randrange(1, 40)] = bytes(rng.randrange(256) for _ in range(rng.randrange(3)))
        file.write_bytes(damaged)
        try:
            read_dstv(file)
        except InputError:
            refused += 1
    assert refused > 20
