"""The oracle on a tapered tail, worked out by hand on the rail of ``hand_rail``; the arithmetic stands beside each."""

import math

import pytest
from hand_rail import COLUMNS, FILES, ORDER, A, check, hole, write_library
from oracle.run import findings, misplaced


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return write_library(tmp_path_factory.mktemp("library"), FILES)


# A steep taper with round numbers: tan alpha = 3/4, so sin 0.6, cos 0.8, tan(alpha/2) = 1/3. It starts at 5800;
# D = 200 to the rear end takes 150 of the depth. s = 65: slit at z = 235, h = 60, upset half width 20, hinge at
# (5800, 295), apex at (5780, 235). Fold half width max(20, 2 t) = 20.
TAPER = {
    "start": 5800.0,
    "end_depth": 150.0,
    "slit_depth": 65.0,
    "root_gap": 5.0,
    "trim": 10.0,
    "relief_diameter": 60.0,
}


def test_taper_as_a_whole(library):
    # relief radius 30 is less than h sin alpha = 36; upset 2 x 20 x 60 / cos(alpha/2), cos(alpha/2) = 3 / sqrt 10
    assert check(library, [], "taper-shape", "relief", taper=TAPER) == 2 * [("relief", "error", [], 30, 36)]
    found = findings(COLUMNS, ORDER | {"taper": TAPER}, library)
    notes = [f["value"] for f in found if f["measure"] == "upset"]
    assert notes == pytest.approx(2 * [2400 * math.sqrt(10) / 3])


def test_where_the_features_of_a_tapered_tail_lie_in_the_blank(library):
    # on the ramp at 5880 the flange is 80 / 0.8 = 100 behind the fold: u = 6800 + 100, v as on any top flange
    # on the web strip at hinge + (80, -100): turned up by alpha to (80 x 0.8 + 100 x 0.6, 80 x 0.6 - 100 x 0.8) =
    # (124, -32), so u = 6924 and z = 263: v = 60 + A + 233
    # the blank is as long as the strip: 7000 - 200 + (200 + 60 x 0.6) / 0.8 = 7095, and 10 of trim
    top, web = 240 + 2 * A + 60 + 60 - 50, 60 + A + 233
    rows = [
        hole("plate.1.a", "top", 5880, 40, d=10, blank_x_mm=6900, blank_y_mm=top),
        hole("plate.1.b", "web", 5880, 195, d=10, blank_x_mm=6924, blank_y_mm=web),
        hole("plate.1.a", "top", 5880, 40, d=10, blank_x_mm=7105 - 6900, blank_y_mm=top, side="RH"),
        hole("plate.1.b", "web", 5880, 195, d=10, blank_x_mm=7105 - 6924, blank_y_mm=web, side="RH"),
    ]
    assert misplaced("\n".join([COLUMNS, *rows]), ORDER | {"taper": TAPER}, library) == []
    moved = rows[0].replace("6900", "6900.001")
    assert len(misplaced("\n".join([COLUMNS, moved]), ORDER | {"taper": TAPER}, library)) == 1


def test_edges_and_bends_of_a_tapered_tail(library):
    rows = [
        # strip, turned up to (5924, 263): 28 above its edge at 235 and 7 below the tangent at 270
        hole("plate.1.a", "web", 5880, 195, d=10),
        # ramp at 5836: 45 behind the fold, 25 behind its tangent: hole edge 25 - 5 = 20, less than 2.5 t
        hole("plate.1.b", "top", 5836, 60, d=10),
        # rear end of the ramp in its own plane: (6000 - 5980) / 0.8 = 25, short of 2 d = 28 and of 30 mm
        hole("plate.1.c", "top", 5980, 62, d=14),
        # lower web: the cut edge runs from the apex, 5 lower across it: from (5777, 231) down along (0.8, -0.6).
        # (5845, 140) is 68 x 0.6 - 91 x 0.8 = -32 from it: 32, short of 2 d
        hole("plate.1.d", "web", 5845, 140, d=20),
        # front of the relief hole: 48 ahead of the apex, 18 from its edge
        hole("plate.1.e", "web", 5732, 235, d=10),
    ]
    assert check(library, rows, "edge-distance", taper=TAPER) == [
        ("edge", "warning", ["plate.1.c"], 25, 28),
        ("rail-end", "error", ["plate.1.c"], 25, 30),
        ("edge", "warning", ["plate.1.d"], 32, 40),
        ("edge", "warning", ["plate.1.e"], 18, 20),
    ]
    assert check(library, rows, "bend-clearance", taper=TAPER) == [
        ("tangent", "error", ["plate.1.a"], 2, 20),
        ("tangent", "warning", ["plate.1.b"], 20, 25),
    ]


def test_off_rail_in_a_tapered_tail(library):
    rows = [
        # top flange 12 ahead of the fold, its tangent 20 ahead of it: 8 outside, and 10 of radius
        hole("plate.1.a", "top", 5788, 60, d=20),
        # ramp at station 5808: 10 behind the fold, 10 short of the tangent
        hole("plate.1.b", "top", 5808, 60, d=20),
        # web beside the apex: relief radius 30, centre 36 ahead of it, radius 10
        hole("plate.1.c", "web", 5744, 235, d=20),
        # lower web, 32 from the cut edge (see above) with a radius of 35
        hole("plate.1.d", "web", 5845, 140, d=70),
        # strip, turned up to (5924, 240): 5 above its edge, radius 8; finished hinge + (124 c - 55 s, -124 s - 55 c)
        hole("plate.1.e", "web", 5800 + 99.2 - 33, 295 - 74.4 - 44, d=16),
        # strip beside the relief hole, turned up to (5841, 263): 21 and 28, so 35 from the apex at (5820, 235), radii
        # 30 and 8; finished hinge + (41 c - 32 s, -41 s - 32 c)
        hole("plate.1.f", "web", 5800 + 32.8 - 19.2, 295 - 24.6 - 25.6, d=16),
    ]
    assert check(library, rows, "off-rail", taper=TAPER) == [
        ("outside", "error", ["plate.1.a"], 18, 0),
        ("outside", "error", ["plate.1.b"], 20, 0),
        ("outside", "error", ["plate.1.c"], 4, 0),
        ("outside", "error", ["plate.1.d"], 3, 0),
        ("outside", "error", ["plate.1.e"], 3, 0),
        ("outside", "error", ["plate.1.f"], 3, 0),
    ]


def test_pairs_over_the_bisector_of_a_taper(library):
    # Both 25 below the hinge, one 45 ahead of it, the other turned down with the strip; the line between them
    # crosses the bisector above the apex. Turned up it would be 100 behind the first:
    # straight (5855, 270) is finished hinge + (55 c - 25 s, -55 s - 25 c) = (5829, 242)
    front = hole("plate.1.a", "web", 5755, 270, d=40, operation="drill")
    strip = hole("plate.1.b", "web", 5829, 242, d=40, operation="drill")
    apart = math.hypot(74, 28)
    both = ["plate.1.a", "plate.1.b"]
    assert check(library, [front, strip], "hole-spacing", taper=TAPER) == [("centre", "error", both, apart, 100)]
    # Below the slit on the front side the line to the strip crosses the bisector below the apex: not measured
    low = hole("plate.1.c", "web", 5775, 200, d=40, operation="drill")
    assert check(library, [low, strip], "hole-spacing", taper=TAPER) == []
