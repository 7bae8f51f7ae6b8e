"""The oracle's own bending on cases worked out by hand on the rail of ``hand_rail``."""

import math

import pytest
from hand_rail import COLUMNS, FILES, ORDER, hole, write_library
from oracle.bending_rules import through_hangers
from oracle.run import findings


def test_a_weight_between_the_axles(tmp_path):
    library = write_library(tmp_path / "library", FILES | {"components/bracket.toml": 'id = "bracket"\nmass = 1000'})
    row = {"rule": "bending", "measure": "stress", "error": 0.05, "unit": "ratio", "source": "invented"}
    zone = {"from": 2400.0, "to": 2600.0, "reason": "trial", "approver": "engineer", "rows": [row]}
    order = ORDER | {"loads": {"dynamic_factor": 2.0, "front_axle_load": 10.0}, "limits": {"zones": [zone]}}
    rows = "\n".join([COLUMNS, hole("bracket.1.a", "web", 2500, 150, d=20)])
    found = findings(rows, order, library, placed=[("bracket", "LH", 1, 2500.0, 1.0)])
    stress, note = (finding for finding in found if finding["rule"] == "bending")
    # 2 x 60 x 10 + 240 x 10 + (pi/2)(30^2 - 20^2) = 4385.398 mm2, 7000 long, less a hole of 20 through 10
    bends = math.pi / 2 * (30**2 - 20**2)
    weight = ((3600 + bends) * 7000 - math.pi * 10**2 * 10) * 7850e-9 * 9.80665
    # supports at 0 and 5000, 1000 mm over each: P L / 4 + w (L^2 / 8 - a^2 / 2)
    moment = 9806.65 * 5000 / 4 + weight / 7000 * (5000**2 / 8 - 1000**2 / 2)
    # about mid-depth: web, flanges, and two quarter rings whose centres lie 120 from it, less the hole
    offset = (30**3 - 20**3) / 3 / (bends / 2)
    rings = 2 * (math.pi / 16 * (30**4 - 20**4) + bends / 2 * (2 * 120 * offset + 120**2))
    inertia = 10 * 240**3 / 12 + 2 * (60 * 10**3 / 12 + 600 * 145**2) + rings - 10 * 20**3 / 12
    assert stress["value"] == pytest.approx(2 * moment / (inertia / 150) / 700, rel=1e-9)
    assert (stress["side"], stress["severity"], stress["limit"]) == ("LH", "error", 0.05)
    assert (stress["station_mm"], stress["holes"]) == (2500, ["bracket.1.a"])
    # the RH rail has no hole and no weight but its own; both rails rest half on each support
    rh_weight = (3600 + bends) * 7000 * 7850e-9 * 9.80665
    assert (note["measure"], note["severity"], note["limit"]) == ("front-axle", "note", 10.0)
    assert note["value"] == pytest.approx((9806.65 + weight + rh_weight) / 2 / 1000, rel=1e-9)


def test_a_bogie_comes_in_at_its_hangers():
    # half at 4350: 350/1500 of it to 5500, the rest to 4000; half at 5650: 150/500 to 6000, the rest to 5500
    forces = dict(through_hangers([4350.0, 5650.0], 5000.0, [4000.0, 5500.0, 6000.0], 2000.0))
    assert forces == pytest.approx({4000.0: 1150 / 1.5, 5500.0: 350 / 1.5 + 700, 6000.0: 300})
    # no hanger behind the rear axle: all of it from the centre to its neighbours
    neighbours = dict(through_hangers([4350.0, 5650.0], 5000.0, [4000.0, 5500.0], 3000.0))
    assert neighbours == pytest.approx({4000.0: 1000, 5500.0: 2000})
    # none on either side of the centre
    assert through_hangers([4350.0, 5650.0], 5000.0, [5500.0], 3000.0) == [(5000.0, 3000.0)]
