"""The oracle itself on cases worked out by hand on the rail of ``hand_rail``; the arithmetic stands beside each."""

import math

import pytest
from hand_rail import COLUMNS, FILES, ORDER, A, check, hole, write_library
from oracle.run import findings
from oracle.same import differences


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    return write_library(tmp_path_factory.mktemp("library"), FILES)


def test_a_hole_in_the_middle_of_the_web_breaks_nothing_but_its_low_grip(library):
    row = hole("bracket.1.a", "web", 2000, 150, fastener="M16")
    found = findings("\n".join([COLUMNS, row]), ORDER, library)
    assert [(f["rule"], f["severity"], f["value"]) for f in found] == [("grip", "warning", 10 / 16)]


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
