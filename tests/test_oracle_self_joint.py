"""The oracle's bolt groups and screws on cases worked out by hand; the arithmetic stands beside each."""

from __future__ import annotations

import math

import pytest
from hand_rail import COLUMNS, FILES, ORDER, hole, write_library
from oracle.bolt_groups import dot, principal_axes, shared
from oracle.grip_rules import shank, thread
from oracle.library import read_library
from oracle.run import findings

PLACED = [("pin", "LH", 1, 2000.0, 1.0)]
SQUARE = [[x, 0.0, z] for x in (-30.0, 30.0) for z in (-40.0, 40.0)]


def test_a_pull_through_the_middle_is_shared_alike() -> None:
    forces, left = shared(SQUARE, [0.0, 0.0, -4000.0], [0.0, 0.0, 500.0])
    for force in forces:
        assert force == pytest.approx([0.0, 0.0, -1000.0])
    assert left == pytest.approx([0.0, 0.0, 0.0])


def test_a_pull_beside_the_group_turns_it() -> None:
    # AISC Manual part 7: 4 kN at 100 mm, sum of squares 4 x 50 x 50 = 10 000 mm2, so M / sum = 40 N a mm of arm:
    # the lower bolts 1600 N forward, the upper ones rearward, and 1200 N up or down beside the direct 1000 N down.
    forces, _ = shared(SQUARE, [0.0, 0.0, -4000.0], [100.0, 0.0, 0.0])
    assert forces[0] == pytest.approx([-1600.0, 0.0, -1000.0 + 1200.0])
    assert forces[3] == pytest.approx([1600.0, 0.0, -1000.0 - 1200.0])


def test_a_pull_before_the_group_bends_it() -> None:
    # 4 kN down at 120 mm outboard: M = 480 000 N mm over 4 x 40 x 40 mm2 is 75 N a mm: 3000 N on either row.
    forces, _ = shared(SQUARE, [0.0, 0.0, -4000.0], [0.0, -120.0, 0.0])
    assert [force[1] for force in forces] == pytest.approx([3000.0, -3000.0] * 2)


def test_bolts_on_a_line_have_no_arms_about_it() -> None:
    line = [[0.0, 0.0, 0.0], [30.0, 0.0, 40.0]]
    forces, left = shared(line, [0.0, -1000.0, 0.0], [15.0 - 8.0, 0.0, 20.0 + 6.0])
    assert [force[1] for force in forces] == pytest.approx([-500.0, -500.0])
    assert left == pytest.approx([10_000.0 * 0.6, 0.0, 10_000.0 * 0.8])
    alone, rest = shared([[5.0, 5.0, 5.0]], [10.0, 0.0, 0.0], [5.0, 5.0, 12.0])
    assert (alone, rest) == ([[10.0, 0.0, 0.0]], pytest.approx([0.0, 70.0, 0.0]))


def test_principal_axes_of_a_matrix() -> None:
    # Of [[2, 1], [1, 2]] they are 1 and 3 along the diagonals.
    found = sorted(principal_axes([[2.0, 1.0, 0.0], [1.0, 2.0, 0.0], [0.0, 0.0, 5.0]]))
    assert [size for size, _ in found] == pytest.approx([1.0, 3.0, 5.0])
    assert abs(dot(found[0][1], [math.sqrt(0.5), -math.sqrt(0.5), 0.0])) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("is_inch", "length", "threaded"),
    [(False, 125.0, 38.0), (False, 130.0, 44.0), (False, 20.0, 20.0), (True, 76.2, 38.35)],
)
def test_thread_and_shank_of_a_screw(is_inch: bool, length: float, threaded: float) -> None:
    # ISO 4014: 2 d + 6 to 125 mm, 2 d + 12 above; ASME B18.2.1: 2 d + 1/4 in; run-out 5 pitches.
    fastener = {"is_inch": is_inch, "diameter": 16.0, "pitch": 1.5}
    assert thread(fastener, length) == pytest.approx(threaded)
    assert shank(fastener, length) == pytest.approx(max(0.0, length - threaded - 7.5))


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> dict[str, object]:
    return read_library(write_library(tmp_path_factory.mktemp("hand"), FILES))


def test_the_clamp_governs_a_pull_in_the_plane(library: dict[str, object]) -> None:
    # 12 kN a bolt on 12 + 10 mm: two plies of two faces each settle by 0.1 of 0.035 mm, 0.014 mm in all, which
    # takes of 104 kN 0.014 x 210 000 x 201.062 / (22 + 8 + 16) = 12 850.5 N. Needed: 12 000 x 1.1 / 0.15 = 88 000 N.
    rows = [
        hole(f"pin.1.{name}", "web", 2000 + x, 150 + z, fastener="M16")
        for name, x, z in (("a", -50, -40), ("b", -50, 40), ("c", 50, -40), ("d", 50, 40))
    ]
    found = findings("\n".join([COLUMNS, *rows]), ORDER, library, placed=PLACED)
    joints = [finding for finding in found if finding["rule"] == "joint"]
    assert [finding["holes"] for finding in joints] == [["pin.1.a"], ["pin.1.b"], ["pin.1.c"], ["pin.1.d"]]
    for finding in joints:
        assert (finding["severity"], finding["limit"]) == ("warning", 0.9)
        assert finding["value"] == pytest.approx(88_000 / (104_000 - 12_850.5), abs=1e-6)
    grips = [finding["value"] for finding in found if finding["rule"] == "grip"]
    assert grips == pytest.approx([22 / 16] * 4)


def test_bearing_and_tear_out_govern_at_the_end(library: dict[str, object]) -> None:
    # One bolt 20 mm from the rail's front end, pulled forward with 6 kN through its middle, and nothing to slip on:
    # alpha b = 20 / 51 and k1 = 2.5, so 0.392 157 x 2.5 x 750 x 16 x 10 / 1.25 = 94 118 N in bearing; in tear-out
    # 0.75 x 1.2 x (20 - 8.5) x 10 x 750 = 77 625 N.
    load = {"vector": [-6000.0, 0.0, 0.0], "point": (0.0, 0.0, 150.0)}
    pin = library["components"]["pin"] | {"loads": [load]}
    stiff = {"components": library["components"] | {"pin": pin}, "coating": {"friction": 9.0, "settling": 0.0}}
    row = hole("pin.1.a", "web", -980, 150, fastener="M16")
    zone = {"from": -1000, "to": 0, "reason": "trial", "approver": "nobody"}
    limit = {"rule": "joint", "measure": "utilisation", "error": 0.01, "unit": "ratio", "source": "trial"}
    order = ORDER | {"limits": {"zones": [zone | {"rows": [limit]}]}}
    placed = [("pin", "LH", 1, -980.0, 1.0)]
    found = findings("\n".join([COLUMNS, row]), order, library | stiff, placed=placed)
    value = next(finding["value"] for finding in found if finding["rule"] == "joint")
    assert value == pytest.approx(max(6000 / 94_117.647, 6000 / 77_625, 6000 / (0.5 * 996 * 167 / 1.25)))
    assert value == pytest.approx(6000 / 66_532.8)
