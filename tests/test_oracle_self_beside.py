"""The oracle's rules of what stands beside the rail on cases worked out by hand; the arithmetic stands beside each.

The rail is that of ``hand_rail``: 300 x 90 x 10 with bends of 20 inside, so T = 30, and A = 37.699 112 mm; frame
width 850. M16: washer 30, socket 38, head 10, nut 12, washers 4 thick.
"""

import math
from dataclasses import dataclass

import pytest
from hand_rail import COLUMNS, FILES, ORDER, A, hole, write_library
from oracle.features import read_features
from oracle.library import read_library
from oracle.order import resolve
from oracle.run import findings
from oracle.sections import LONG, openings_of, ratio, whole_channel

COMPONENTS = {
    "plate": """
        head = "outside"
        plies = [{ thickness = 8, surface = "outside" }]
        footprints = [{ face = "web", surface = "outside", datum = "bottom",
            polygon = [[0, 60], [100, 60], [100, 200], [0, 200]] }]
    """,
    "notched": """
        footprints = [{ face = "web", surface = "outside", datum = "middle",
            polygon = [[0, -60], [100, -60], [100, 60], [0, 60], [40, 0]] }]
    """,
    "ramp": """
        plies = [{ thickness = 6, surface = "outside" }, { thickness = 3, surface = "inside" }]
        footprints = [{ face = "top", surface = "outside", datum = "web", polygon = [[0, 40], [50, 40], [50, 80]] }]
    """,
    "tank": """
        envelopes = [{ clearance = "static", station = [0, 100], height = [50, 250], across = [-200, -40] }]
    """,
    "pipe": """
        envelopes = [{ clearance = "heat", station = [0, 100], height = [50, 250], across = [-34, -20] }]
    """,
    "stacked": 'stacks_onto = ["plate"]\nfootprints = [{ face = "web", surface = "outside", datum = "bottom", '
    "polygon = [[0, 60], [50, 60], [50, 100]] }]",
}


@pytest.fixture(scope="module")
def library(tmp_path_factory):
    more = {f"components/{name}.toml": f'id = "{name}"\n{text}' for name, text in COMPONENTS.items()}
    return read_library(write_library(tmp_path_factory.mktemp("beside"), FILES | more))


@dataclass
class At:
    """Where a component stands on the LH rail, as a plan says it."""

    component: str
    station: float
    side: str = "LH"
    instance: int = 1

    @property
    def placement(self):
        return (self.component, self.side, self.instance, self.station, 1.0)


def check(library, rule, placed=(), rows=(), **order):
    """Findings of one rule as (measure, severity, components, station, value, limit)."""
    text = "\n".join([COLUMNS, *rows])
    found = findings(text, ORDER | order, library, placed=[at.placement for at in placed])
    return [
        (
            f["measure"],
            f["severity"],
            f["components"],
            pytest.approx(f["station_mm"]),
            pytest.approx(f["value"]),
            f["limit"],
        )
        for f in found
        if f["rule"] == rule
    ]


TAPER = {"start": 5000, "end_depth": 200, "slit_depth": 70, "root_gap": 3, "trim": 15, "relief_diameter": 40}


def test_feet_apart_on_a_bend_and_past_an_end(library):
    # the notch's tip at 140, 150 lies 40 into the second foot: from 100 to 100 + 40 - 39.5
    plates = [At("plate", 1000), At("notched", 1060.5)]
    assert check(library, "footprint-clash", plates)[0] == ("feet", "error", ["notched", "plate"], 1050, 0, 1)
    assert check(library, "footprint-clash", [At("plate", 1000), At("notched", 1102)]) == [
        ("feet", "warning", ["notched", "plate"], 1050, 2, 3)
    ]
    # foot to the rear end at 6000: 5910 + 100
    assert check(library, "footprint-clash", [At("plate", 5910)]) == [("end", "error", ["plate"], 5960, -10, 0)]
    assert check(library, "footprint-clash", [At("plate", 1000), At("stacked", 1020)]) == []


def test_a_foreign_washer_by_a_foot(library):
    row = hole("bracket.1.a", "web", 980, 100, fastener="M16")
    # 20 to the foot, less 15 of the washer: more than 3; 19 of the socket: less than 2
    assert check(library, "footprint-clash", [At("plate", 1000)], [row]) == []
    near = hole("bracket.1.a", "web", 983, 100, fastener="M16")
    assert check(library, "footprint-clash", [At("plate", 1000)], [near]) == [
        ("washer", "error", ["bracket", "plate"], 983, 2, 3)
    ]
    assert ("radial", "error", ["bracket", "plate"], 980, 1, 2) in check(
        library, "wrench-access", [At("plate", 1000)], [row]
    )


def test_boxes_on_one_side_and_the_other(library):
    # 6 mm apart across, unshielded heat asks for 100, which is more than the static box's 10
    assert check(library, "space-clash", [At("tank", 1000), At("pipe", 1000)]) == [
        ("heat", "error", ["pipe", "tank"], 1050, 6, 100)
    ]
    # on the other rail the pipe lies from 850 + 20 to 850 + 34
    assert check(library, "space-clash", [At("tank", 1000), At("pipe", 1000, "RH")]) == []


def test_the_length_free_before_a_head(library):
    row = hole("bracket.1.a", "web", 1050, 150, fastener="M16")
    own = hole("plate.1.a", "web", 1050, 150, fastener="M16")
    # from the web to the tank 40, less than 60 for a head; the plate's 8 mm come off it
    expected = ("head-length", "error", ["bracket", "tank"], 1050, 40, 60)
    assert check(library, "wrench-access", [At("tank", 1000)], [row]) == [expected]
    assert check(library, "wrench-access", [At("tank", 1000)], [own])[-1][4] == 32


def test_a_socket_inside_a_flange(library):
    # 10 of the flange, 19 of the socket: 1.5 left at 30.5
    row = hole("bracket.1.a", "web", 2000, 30.5, fastener="M16")
    assert check(library, "wrench-access", (), [row]) == [("radial", "error", ["bracket"], 2000, 1.5, 2)]


def test_welds_studs_and_the_ends_of_a_liner(library):
    stud = hole("bracket.1.s", "web", 2000, 45, d="", shape="mark", fastener="M16")
    other = hole("bracket.1.b", "web", 2036, 45)
    # to the tangent 15, less than 2 t = 20; to the hole's edge 36 - 8.5 = 27.5, less than 30
    assert check(library, "weld-clearance", (), [stud, other]) == [
        ("stud-tangent", "error", ["bracket"], 2000, 15, 20),
        ("stud-hole", "warning", ["bracket"], 2000, 27.5, 30),
    ]
    liner = {"start": 1000.0, "end": 3000.0, "section": "278x70x6", "steel": "S700"}
    row = hole("bracket.1.b", "web", 3021, 150, fastener="M16")
    # 21 - 8.5 = 12.5, less than 13; 21 - 15 = 6 is more than 2
    assert check(library, "liner-edge", (), [row], liner=liner) == [("hole", "error", ["bracket"], 3021, 12.5, 13)]


def test_holes_on_one_line(library):
    rows = [hole(f"bracket.1.{name}", "web", 2000 + 3 * i, 60 + 40 * i) for i, name in enumerate("abcde")]
    assert check(library, "holes-in-line", (), rows) == [("count", "error", ["bracket"], 2000, 5, 4)]
    assert check(library, "holes-in-line", (), rows[:4]) == []


def test_what_stands_proud_of_a_ramp(library):
    row = hole("ramp.1.a", "top", 5500, 50, fastener="M16")
    # plies outside 6, head and washer 10 + 4
    assert check(library, "ramp-flush", [At("ramp", 5480)], [row], taper=TAPER) == [
        ("proud", "error", ["ramp"], 5500, 20, 0),
        ("proud", "error", ["ramp"], 5505, 6, 0),
    ]


def test_what_the_press_can_take(library):
    # perimeter 100 pi, t 10, 0.75 x 950: 2 238.4 kN of 1 500
    found = check(library, "press-limit", (), [hole("bracket.1.a", "web", 2000, 150, d=100)])
    assert found == [("force", "error", ["bracket"], 2000, math.pi * 100 * 10 * 0.75 * 950 / 1.5e6, 0.8)]
    # the web hole's centre from the bottom edge: 60 + A + 265 - 30; none of the press's 500
    high = [hole("bracket.1.a", "top", 2000, 40)]
    up = 60 + A + 240 + A + 10
    assert (up > 500) == any(entry[0] == "reach" for entry in check(library, "press-limit", (), high))


def test_moduli_by_hand(library):
    """Area 90 x 300 - 80 x 280 less the corners' squares, plus what the rings leave of them."""
    order = resolve(ORDER, library)
    area, first, _ = (float(value) for value in whole_channel(order["rail"], LONG(300)))
    # sharp corners: 90 x 300 - 80 x 280; outside each loses (1 - pi/4) 30^2, inside gains (1 - pi/4) 20^2
    sharp = 90 * 300 - 80 * 280
    assert area == pytest.approx(sharp - 2 * (1 - math.pi / 4) * (30**2 - 20**2))
    assert first == pytest.approx(area * 150)
    row = "\n".join([COLUMNS, hole("bracket.1.a", "web", 2000, 150, d=100)])
    openings = openings_of(read_features(row, order, library), "LH", order)
    stations = LONG(2000) + LONG(1) * range(2)
    whole = whole_channel(order["rail"], LONG(300))
    inertia = float(whole[2] - whole[1] ** 2 / whole[0])
    # a hole at mid-depth leaves the axis: its own t d^3 / 12 is gone
    value = float(ratio(order, [(openings[0], slice(None))], stations, False)[0])
    assert value == pytest.approx(1 - 10 * 100**3 / 12 / inertia)
