"""DSTV files read: lines against the public description, files made by others, damaged files."""

from __future__ import annotations

import random
from math import pi
from pathlib import Path

import numpy as np
import pytest
import shapely
from builders import SECTION, Hole, rail_shape, rail_table, resolved_order
from dstv_cases import HEADER, HOLES, RAILS, read

from railgen.data.messages import InputError
from railgen.formats.dstv import ContourPoint, Outline, features
from railgen.formats.dstv_piece import dstv_file, dstv_piece
from railgen.formats.dstv_read import read_dstv

SHARED = Path(__file__).parents[2] / "shared" / "data" / "dstv"
needs_shared = pytest.mark.skipif(not SHARED.is_dir(), reason="files made by others are not on this machine")


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
