"""The rail that the oracle is worked out on by hand, rows of its holes.csv, and what the oracle finds of them.

The rail: H 300, B 90, t 10, r 20, so T = r + t = 30; K 0.4, so A = (pi/2)(20 + 4) = 37.699 112 mm. Ends at -1000
and 6000. Steel of 750 MPa. Screws M12, M16, M20 in holes of 13/13.5/14.5, 17/17.5/18.5, 21/22/24 with washers of
24, 30, 37 mm. The limits are those of the demo library.
"""

import datetime
import math
import shutil
from pathlib import Path

import pytest
from oracle.run import findings

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
        pitch = 1.5
        stress_area = {area}
        proof_stress = 830
        clamp = {clamp}
        washer_outside = {washer}
        washer_thickness = 4
        socket_outside = {socket}
        head_height = 10
        nut_height = 12
        holes = {{ fine = {fine}, medium = {medium}, coarse = {coarse} }}
        """
        for name, diameter, area, clamp, washer, socket, fine, medium, coarse in (
            ("M12", 12, 92, 57, 24, 28, 13, 13.5, 14.5),
            ("M16", 16, 167, 104, 30, 38, 17, 17.5, 18.5),
            ("M20", 20, 272, 170, 37, 46, 21, 22, 24),
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
    "finishing.toml": """
        rack = { longest_part = 9000, tank_length = 9000, oven_length = 9000 }
        coating = { film_most = 35 }
    """,
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
    "components/pin.toml": """
        id = "pin"
        plies = [{ thickness = 12, surface = "outside" }]
        loads = [{ force = 48, direction = [0, 0, -2], height = 150 }]
    """,
    "components/plate.toml": 'id = "plate"\nflange_holes = true',
    "components/left.toml": 'id = "left"\nmates = "pair"',
    "components/right.toml": 'id = "right"\nmates = "pair"',
    "components/window.toml": """
        id = "window"
        groups = [{ face = "web", features = [{ id = "wide", corner_radius = 12 }] }]
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


def write_library(folder, files):
    """A library folder of some files, with the limit sets of the demo library."""
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        # the dimensions table is laid out over lines here; TOML wants an inline table on one
        path.write_text("\n".join(line.strip() for line in text.replace(",\n", ",").splitlines()), encoding="utf-8")
    shutil.copytree(LIMITS, folder / "limits")
    return folder


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
