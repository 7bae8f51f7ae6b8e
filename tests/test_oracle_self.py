"""The oracle itself on cases worked out by hand; the arithmetic stands beside each.

The rail: H 300, B 90, t 10, r 20, so T = r + t = 30; K 0.4, so A = (pi/2)(20 + 4) = 37.699 112 mm. Ends at -1000
and 6000. Steel of 750 MPa. Screws M12, M16, M20 in holes of 13/13.5/14.5, 17/17.5/18.5, 21/22/24 with washers of
24, 30, 37 mm. The limits are those of the demo library.
"""

import datetime
import math
import shutil
from pathlib import Path

import pytest
from oracle.run import findings, misplaced
from oracle.same import differences

LIMITS = Path(__file__).parent.parent / "hole_libraries" / "limits"
FILES = {
    "sections.toml": """
        [sections."300x90x10"]
        depth = 300
        flange = 90
        thickness = 10
        inside_radius = 20
        neutral_line = 0.4
        [sections."278x70x6"]
        depth = 278
        flange = 70
        thickness = 6
        inside_radius = 14
        neutral_line = 0.4
        [sections."280x82x6"]
        depth = 280
        flange = 82
        thickness = 6
        inside_radius = 4
        neutral_line = 0.4
    """,
    "steels.toml": """
        [steels.S700]
        standard = "invented"
        bands = [{ thickness_to = 12, yield_strength = 700, tensile_least = 750, tensile_most = 950 }]
    """,
    "fasteners.toml": "".join(
        f"""
        [fasteners.{name}]
        diameter = {diameter}
        washer_outside = {washer}
        washer_thickness = 4
        socket_outside = {socket}
        head_height = 10
        nut_height = 12
        holes = {{ fine = {fine}, medium = {medium}, coarse = {coarse} }}
        """
        for name, diameter, washer, socket, fine, medium, coarse in (
            ("M12", 12, 24, 28, 13, 13.5, 14.5),
            ("M16", 16, 30, 38, 17, 17.5, 18.5),
            ("M20", 20, 37, 46, 21, 22, 24),
        )
    ),
    "library.toml": 'press = "plain"',
    "presses/plain.toml": """
        id = "plain"
        force = 1500
        longest_blank = 9000
        widest_blank = 600
        thickest_blank = 12
        reach = 500
    """,
    "finishing.toml": "rack = { longest_part = 9000, tank_length = 9000, oven_length = 9000 }",
    "families/plain.toml": """
        id = "plain"
        drive = "left"
        section = "300x90x10"
        steel = "S700"
        dimensions = { wheelbase = { default = 5000 }, axle_spread = { default = 0 },
            front_overhang = { default = 1000 }, rear_overhang = { default = 1000 },
            frame_width = { default = 850 } }
        anchors = { last_axle = { per = { wheelbase = 1.0 } }, front_hanger = { offset = -400 } }
    """,
    "components/bracket.toml": 'id = "bracket"',
    "components/plate.toml": 'id = "plate"\nflange_holes = true',
    "components/left.toml": 'id = "left"\nmates = "pair"',
    "components/right.toml": 'id = "right"\nmates = "pair"',
    "components/window.toml": """
        id = "window"
        groups = [{ features = [{ id = "wide", corner_radius = 12 }] }]
    """,
    "options/AAA01.toml": 'code = "AAA01"\nfamilies = ["plain"]\nrequires = ["AAA02"]\nexcludes = ["AAA03"]',
    "options/AAA02.toml": 'code = "AAA02"\nfamilies = ["plain"]',
    "options/AAA03.toml": 'code = "AAA03"\nfamilies = ["other"]\nvalid_to = "X-50"',
    "options/AAA04.toml": 'code = "AAA04"\nfamilies = ["plain"]\nvalid_from = 2026-07-01',
}
ORDER = {"serial": "X-100", "family": "plain", "build_date": datetime.date(2026, 5, 1)}
COLUMNS = (
    "serial,side,part,hole,face,station_mm,across_mm,blank_x_mm,blank_y_mm,shape,"
    "diameter_mm,length_mm,angle_deg,tool,components,fastener,operation"
)
A = math.pi / 2 * 24


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    folder = tmp_path_factory.mktemp("library")
    for name, text in FILES.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        # the dimensions table is laid out over lines here; TOML wants an inline table on one
        path.write_text("\n".join(line.strip() for line in _joined(text)), encoding="utf-8")
    shutil.copytree(LIMITS, folder / "limits")
    return folder


def _joined(text):
    return text.replace(",\n", ",").splitlines()


def hole(name, face, station, across, d=17.0, **others):
    """A row of holes.csv; blank coordinates are left at 0, since only ``misplaced`` reads them."""
    row = dict.fromkeys(COLUMNS.split(","), "")
    row |= {"serial": "X-100", "side": "LH", "part": "rail", "hole": name, "face": face}
    row |= {"station_mm": station, "across_mm": across, "blank_x_mm": 0, "blank_y_mm": 0}
    row |= {"shape": "round", "diameter_mm": d, "components": name.split(".")[0], "operation": "punch"}
    row |= {"tool": "T"}
    return ",".join(str(value) for value in (row | others).values())


def check(library, rows, rule, measure=None, **order):
    """Findings of one rule as (measure, severity, holes, value, limit)."""
    found = findings("\n".join([COLUMNS, *rows]), ORDER | order, library)
    return [
        (f["measure"], f["severity"], f["holes"], pytest.approx(f["value"]), pytest.approx(f["limit"]))
        for f in found
        if f["rule"] == rule and measure in (None, f["measure"])
    ]


def test_a_hole_in_the_middle_of_the_web_breaks_nothing(library):
    row = hole("bracket.1.a", "web", 2000, 150, fastener="M16")
    assert findings("\n".join([COLUMNS, row]), ORDER, library) == []


def test_bends_of_the_web(library):
    rows = [hole("bracket.1.a", "web", 2000, 35, fastener="M16"), hole("bracket.1.b", "web", 2000, 245)]
    # a: 35 - 30 = 5 to the tangent; hole edge 5 - 8.5 = -3.5, washer edge 5 - 15 = -10
    # b: 270 - 245 = 25 to the upper tangent; edge 16.5, less than 2 t = 20
    assert check(library, rows, "off-rail") == [("outside", "error", ["bracket.1.a"], 3.5, 0)]
    assert check(library, rows, "bend-clearance") == [
        ("tangent", "error", ["bracket.1.a"], -3.5, 20),
        ("tangent", "error", ["bracket.1.b"], 16.5, 20),
    ]
    assert check(library, rows, "washer-seat") == [("tangent", "error", ["bracket.1.a"], -10, 0)]


def test_flange_inside_under_the_body_builder_set(library):
    # inside face of the top flange at 290: 290 - 245 - 8.5 = 36.5, less than 1.5 in = 38.1
    rows = [hole("bracket.1.a", "web", 2000, 245)]
    limits = {"set": "body-builder"}
    assert check(library, rows, "bend-clearance", limits=limits) == [
        ("flange-inside", "error", ["bracket.1.a"], 36.5, 38.1)
    ]


def test_edges_of_round_slot_and_rectangle(library):
    rows = [
        # rear end at 6000: centre 28 away, 2 d = 40, 1.5 d = 30
        hole("bracket.1.a", "web", 5972, 100, d=20),
        # slot 20 x 50 along x at 5950: nearest end-radius centre 50 - 15 = 35 away; 1.5 d = 30, 2 d = 40
        hole("bracket.1.b", "web", 5950, 150, d=20, length_mm=50, angle_deg=0, shape="slot"),
        # rectangle 40 x 60 upright at 5955: edge 45 - 20 = 25 away, plus d/2 = 45; 1.5 d = 60
        hole("bracket.1.c", "web", 5955, 210, d=40, length_mm=60, angle_deg=90, shape="rectangle"),
    ]
    assert check(library, rows, "edge-distance") == [
        ("edge", "error", ["bracket.1.a"], 28, 30),
        ("rail-end", "error", ["bracket.1.a"], 28, 30),
        ("edge", "warning", ["bracket.1.b"], 35, 40),
        ("edge", "error", ["bracket.1.c"], 45, 60),
    ]


def test_corner_radius_of_a_turned_rectangle(library):
    # R is max(0.5 t, 3, given) = 5, or 12 as the component's file gives it. At 45 degrees the corner nearest to the
    # rear end is rounded: core 60 - 2 R by 40 - 2 R, reach (30 - R + 20 - R) / sqrt 2 + R
    for name, radius in (("window.1.plain", 5.0), ("window.1.wide", 12.0)):
        row = hole(name, "web", 5960, 150, d=40, length_mm=60, angle_deg=45, shape="rectangle")
        reach = (50 - 2 * radius) / math.sqrt(2) + radius
        assert check(library, [row], "edge-distance", "edge") == [("edge", "error", [name], 40 - reach + 20, 60)]


def test_spacing_of_two_round_holes_and_their_washers(library):
    rows = [
        hole("bracket.1.a", "web", 2000, 150, fastener="M16"),
        hole("bracket.1.b", "web", 2024, 168, fastener="M16"),
    ]
    # sqrt(24^2 + 18^2) = 30: less than 2.5 x 17 = 42.5; ligament 30 - 17 = 13 < 20; washers 30 - 30 = 0 < 1
    both = ["bracket.1.a", "bracket.1.b"]
    assert check(library, rows, "hole-spacing") == [
        ("centre", "error", both, 30, 42.5),
        ("ligament", "error", both, 13, 20),
    ]
    assert check(library, rows, "washer-seat") == [("washer", "warning", both, 0, 1)]


def test_spacing_of_slots_and_rectangles(library):
    slot = hole("bracket.1.a", "web", 2000, 150, d=20, length_mm=60, angle_deg=90, shape="slot")
    rectangle = hole("bracket.1.b", "web", 2060, 175, d=40, length_mm=60, angle_deg=0, shape="rectangle")
    # slot's centres at 130 and 170; rectangle from 2030 to 2090 and 155 to 195. From (2000, 170) to its edge: 30;
    # held centre distance 30 + 20 = 50 < 2.5 x 40 = 100; ligament 30 - 10 = 20, less than 25
    both = ["bracket.1.a", "bracket.1.b"]
    assert check(library, [slot, rectangle], "hole-spacing") == [
        ("centre", "error", both, 50, 100),
        ("ligament", "warning", both, 20, 25),
    ]


def test_spacing_across_a_bend_in_the_blank(library):
    rows = [
        hole("plate.1.t", "top", 2000, 38, d=17),
        hole("bracket.1.w", "web", 2000, 264, d=17),
    ]
    # from the web to its tangent 6, over the bend A, from the flange's tangent 8: A + 14 = 51.699 in the blank, more
    # than 3 x 17 = 51; 2 mm nearer the bend it is less
    assert check(library, rows, "hole-spacing") == []
    rows[0] = hole("plate.1.t", "top", 2000, 36, d=17)
    both = ["bracket.1.w", "plate.1.t"]
    assert check(library, rows, "hole-spacing") == [("centre", "warning", both, A + 12, 51)]


def test_direction_decides_under_en_1993_1_8(library):
    # d 20: p1 = 44 along, p2 = 48 across; 46 apart passes along the rail and fails across it
    along = [hole("bracket.1.a", "web", 2000, 150, d=20), hole("bracket.1.b", "web", 2046, 150, d=20)]
    across = [hole("bracket.1.a", "web", 2000, 150, d=20), hole("bracket.1.b", "web", 2000, 196, d=20)]
    limits = {"set": "en-1993-1-8"}
    assert check(library, along, "hole-spacing", limits=limits) == []
    assert check(library, across, "hole-spacing", limits=limits) == [
        ("centre", "error", ["bracket.1.a", "bracket.1.b"], 46, 48)
    ]


def test_bolt_tables_after_aisc(library):
    limits = {"set": "aisc-360"}
    rows = [
        # a hole of 18 takes an M16 at most (17 fine): edge 22; it lies 21 from the rear end
        hole("bracket.1.a", "web", 5979, 80, d=18),
        # an M20 asks 26
        hole("bracket.1.b", "web", 5975, 150, d=22, fastener="M20"),
        # a hole of 40 takes no screw: its own diameter is above 36, so 1.25 x 40 = 50
        hole("bracket.1.c", "web", 5951, 220, d=40),
    ]
    assert check(library, rows, "edge-distance", limits=limits) == [
        ("edge", "error", ["bracket.1.a"], 21, 22),
        ("edge", "error", ["bracket.1.b"], 25, 26),
        ("edge", "error", ["bracket.1.c"], 49, 50),
    ]


def test_coincident_and_overlapping_holes(library):
    rows = [
        hole("bracket.1.a", "web", 2000, 150),
        hole("bracket.1.b", "web", 2000.03, 150.03),  # 0.042 426 away, alike
        hole("plate.1.a", "web", 3000, 150),
        hole("plate.1.b", "web", 3000.03, 150, d=20),  # of another size: ligament 0.03 - 18.5
        hole("plate.1.c", "web", 3015, 150),  # 15 from the first, 14.97 from the second
    ]
    assert check(library, rows, "duplicate-hole") == [
        ("pair", "error", ["bracket.1.a", "bracket.1.b"], 0.03 * math.sqrt(2), 0.05)
    ]
    assert check(library, rows, "size-conflict") == [
        ("pair", "error", ["plate.1.a", "plate.1.b"], -18.47, 0),
        ("pair", "error", ["plate.1.a", "plate.1.c"], -2, 0),
        ("pair", "error", ["plate.1.b", "plate.1.c"], 14.97 - 18.5, 0),
    ]
    assert check(library, rows, "hole-spacing") == []


def test_marks_enter_off_rail_alone(library):
    stud = {"shape": "mark", "d": "", "operation": "stud"}
    rows = [
        hole("bracket.1.a", "web", 2000, 31, **stud),
        hole("bracket.1.b", "web", 2000, 31, **stud),
        hole("bracket.1.c", "web", 2000, 29, **stud),
    ]
    found = findings("\n".join([COLUMNS, *rows]), ORDER, library)
    assert [(f["rule"], f["holes"], f["value"]) for f in found] == [("off-rail", ["bracket.1.c"], 1)]


def test_flange_holes(library):
    rows = [
        hole("bracket.1.a", "top", 5100, 60, d=16),  # behind the last axle, but of a component without leave
        hole("plate.1.a", "top", 2000, 60, d=18),  # between front hanger and last axle; above 17
        hole("plate.1.b", "top", 5400, 50, d=16),
        hole("plate.1.c", "top", 5412, 70, d=16),  # extents 5392-5408 and 5404-5420 share 4 mm
        hole("plate.1.d", "top", 5428, 50, d=16),  # touches 5420
    ]
    assert check(library, rows, "flange-hole") == [
        ("zone", "error", ["bracket.1.a"], 1, 0),
        ("zone", "error", ["plate.1.a"], 1, 0),
        ("size", "error", ["plate.1.a"], 18, 17),
        ("count", "error", ["plate.1.b", "plate.1.c"], 2, 1),
    ]


def test_hole_sizes(library):
    rows = [
        hole("bracket.1.a", "web", 2000, 150, d=12),  # 750 MPa: 1.25 t = 12.5; 4 x 562.5 x 10 / 12 = 1875
        hole("bracket.1.b", "web", 2200, 150, d=12, operation="drill"),
        hole("bracket.1.c", "web", 2400, 150, d=24, fastener="M20"),  # above 22
        # a slot 40 x 70 upright reaches 70 over the web: above 0.2 H = 60
        hole("bracket.1.d", "web", 2600, 150, d=40, length_mm=70, angle_deg=90, shape="slot"),
        # turned to 30 degrees: (70 - 40) sin 30 + 40 = 55, above 0.15 H = 45
        hole("bracket.1.e", "web", 2800, 150, d=40, length_mm=70, angle_deg=30, shape="slot"),
    ]
    assert check(library, rows, "hole-size") == [
        ("least", "error", ["bracket.1.a"], 12, 12.5),
        ("punch-stress", "warning", ["bracket.1.a"], 1875, 1800),
        ("largest", "error", ["bracket.1.c"], 24, 22),
        ("passage", "error", ["bracket.1.d"], 70, 60),
        ("passage", "warning", ["bracket.1.e"], 55, 45),
    ]


def test_liner_features_and_washers_inside_a_liner(library):
    # gap 300 - 20 - 278 = 2: the liner's z starts at 11, its y at 10; its T = 20, so web tangents at 31 and 269
    liner = {"start": 1000, "end": 3000, "section": "278x70x6", "steel": "S700"}
    rows = [
        hole("bracket.1.a", "web", 2000, 254, fastener="M16"),
        hole("bracket.1.a", "web", 2000, 254, fastener="M16", part="liner"),
        hole("bracket.1.b", "web", 2985, 150, d=20, part="liner"),
        hole("bracket.1.c", "bottom", 2000, 40, d=20, part="liner"),
    ]
    # a: rail 270 - 254 - 15 = 1, liner 269 - 254 - 15 = 0 is nearer, short of 1
    assert check(library, rows, "washer-seat", liner=liner) == [("tangent", "warning", ["bracket.1.a"], 0, 1)]
    # b: 15 to the liner's end, 1.5 d = 30; of a liner's end there is no rail-end
    assert check(library, rows, "edge-distance", liner=liner) == [("edge", "error", ["bracket.1.b"], 15, 30)]
    # in the rail a: 270 - 254 - 8.5 = 7.5 (2 t = 20); in the liner 6.5 (2 t = 12)
    # c: tangent at y = 10 + 20, so 40 - 30 - 10 = 0
    assert check(library, rows, "bend-clearance", liner=liner) == [
        ("tangent", "error", ["bracket.1.a"], 7.5, 20),
        ("tangent", "error", ["bracket.1.a"], 6.5, 12),
        ("tangent", "error", ["bracket.1.c"], 0, 12),
    ]
    # radius outside 20 = the rail's inside radius and a gap of 1: nothing meets; 10 + 70 is less than 90
    assert check(library, rows, "liner-fit", liner=liner) == []


def test_liner_that_does_not_fit(library):
    liner = {"start": 1000, "end": 3000, "section": "280x82x6", "steel": "S700"}
    # no gap; outside radius 10 in an inside radius of 20: (sqrt 2 - 1)(20 - 10); 10 + 82 - 90 = 2 proud
    assert check(library, [], "liner-fit", liner=liner) == 2 * [
        ("interference", "error", [], 10 * (math.sqrt(2) - 1), 0),
        ("proud", "error", [], 2, 0),
    ]


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


def test_mated_components(library):
    rows = [
        hole("left.1.a", "web", 2000, 150),
        hole("right.1.a", "web", 2000.2, 150.04, side="RH"),
        hole("left.2.a", "web", 2500, 150),
        hole("right.2.a", "web", 2500, 149, side="RH"),
        hole("left.3.a", "web", 3000, 150),
    ]
    assert check(library, rows, "pair-match") == [
        ("station", "error", ["left.1.a", "right.1.a"], 0.2, 0.05),
        ("height", "error", ["left.2.a", "right.2.a"], 1, 0.05),
    ]


def test_options(library):
    found = findings(COLUMNS, ORDER | {"options": ["AAA01", "AAA03", "AAA04"]}, library)
    assert [(f["measure"], f["components"]) for f in found] == [
        ("requires", ["AAA01", "AAA02"]),
        ("family", ["AAA03"]),
        ("validity", ["AAA03"]),  # X-100 is after X-50
        ("validity", ["AAA04"]),  # built before 1 July
        ("excludes", ["AAA01", "AAA03"]),
    ]


def test_zones_of_an_order_replace_the_rows_between_stations(library):
    row = {"rule": "hole-spacing", "measure": "centre", "error": 2.0, "of": "hole", "source": "trial"}
    zone = {"from": 1900.0, "to": 2000.0, "reason": "trial", "approver": "engineer", "rows": [row]}
    limits = {"zones": [zone]}
    inside = [hole("bracket.1.a", "web", 1960, 150), hole("bracket.1.b", "web", 2000, 150)]
    beside = [hole("bracket.1.a", "web", 1960, 150), hole("bracket.1.b", "web", 2000.5, 150)]
    # 40 is more than 2 x 17; a pair across the zone's end is held to the stricter 2.5 x 17
    assert check(library, inside, "hole-spacing", "centre", limits=limits) == []
    assert check(library, beside, "hole-spacing", "centre", limits=limits) == [
        ("centre", "error", ["bracket.1.a", "bracket.1.b"], 40.5, 42.5)
    ]


def test_inches_are_converted_once(library):
    order = {"units": "in", "wheelbase": 200.0, "rear_overhang": 40.0, "front_overhang": 40.0}
    # rear end at 240 in = 6096: centre 31 away, 2 d = 34
    row = hole("bracket.1.a", "web", 6096 - 31, 150)
    assert check(library, [row], "edge-distance", **order) == [("edge", "warning", ["bracket.1.a"], 31, 34)]


def test_same_findings_and_what_differs(library):
    rows = [hole("bracket.1.a", "web", 2000, 245), hole("bracket.1.b", "web", 2000, 100, d=12)]
    found = findings("\n".join([COLUMNS, *rows]), ORDER, library)
    assert differences(found, list(reversed(found))) == []
    near = [{**f, "value": f["value"] + 5e-7} for f in found]
    assert differences(near, found) == []
    far = [{**found[0], "value": found[0]["value"] + 5e-6}, *found[1:]]
    assert len(differences(far, found)) == 1
    other = [{**found[0], "severity": "note"}, *found[1:]]
    assert len(differences(other, found)) == 2
    assert len(differences(found[1:], found)) == 1
