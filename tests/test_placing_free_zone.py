"""Where one more hole may go: against the real check of random holes, closed forms, the command and its files."""

from __future__ import annotations

import json
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
from click.testing import CliRunner
from demo_serials import sample
from free_zone_cases import disagreements
from strength_cases import component, planned, web_holes

from railgen.cli.main import main
from railgen.formats.free_zone_file import free_zone_data, free_zone_dxf
from railgen.layout.plan import SerialPlan
from railgen.papers.free_zone_sheet import free_zone_files
from railgen.placing.added_hole import AddedHole, Adding
from railgen.placing.free_zone import FreeZone, free_zone
from railgen.rules.pattern import pattern_of
from railgen.rules.strength import Strength

ROOT = Path(__file__).parent.parent


@pytest.mark.parametrize(
    ("serial", "hole", "warnings"),
    [
        ("P-1003", AddedHole(13), False),
        ("T-2001", AddedHole(13), False),
        ("P-1001", AddedHole(15.5, "drill"), False),
        ("T-2002", AddedHole(15.5), True),
        ("S-3001", AddedHole(17.5, "drill", "5/8-18"), False),
    ],
)
def test_random_holes_agree_with_the_check(serial: str, hole: AddedHole, warnings: bool) -> None:
    wrong, free = disagreements(sample(serial), hole, 24, 7, warnings)
    assert wrong == []
    assert 0 < free < 24


def small(**entries: Any) -> FreeZone:
    """A rail of 300 x 90 x 9.5 with one hole of 17.5 mm at mid-depth at station 2000."""
    serial = planned([component("bracket", 2000, groups=[web_holes((0.0, 0.0))])], **entries)
    return free_zone(serial, AddedHole(15, "drill"), ("LH",))


def web(zone: FreeZone) -> shapely.Geometry:
    return shapely.union_all([area.polygon for area in zone.areas if area.face == "web"])


def test_borders_are_where_the_limits_say() -> None:
    # House limits, common practice: 2.5 x the larger hole apart, 2 t from a bend's tangent to the hole's edge, 30 mm
    # and 1.5 d from the rail's end; section 300 x 90 x 9.5 with r 24: tangent at 33.5.
    free = web(small())
    assert free.distance(shapely.Point(2000, 150)) == pytest.approx(2.5 * 17.5, abs=0.05)
    low, high = free.bounds[1], free.bounds[3]
    assert (low, high) == pytest.approx((33.5 + 19 + 7.5, 300 - 33.5 - 19 - 7.5), abs=0.05)
    assert (free.bounds[0], free.bounds[2]) == pytest.approx((-1200 + 30, 6500 - 30), abs=0.05)
    assert free.covers(shapely.Point(2000, 150 + 43.8))
    assert not free.covers(shapely.Point(2000, 150 + 43.7))


def test_a_zone_of_the_order_moves_the_border_there_only() -> None:
    row = {"rule": "hole-spacing", "measure": "centre", "error": 6.0, "of": "hole", "source": "common practice"}
    zone = {"from": 1000, "to": 2000, "reason": "trial", "approver": "J. Doe", "rows": [row]}
    plain, moved = web(small()), web(small(limits={"set": "house", "zones": [zone]}))
    ahead, behind = shapely.box(1000, 0, 1999.9, 300), shapely.box(2150, 0, 6500, 300)
    centre = shapely.Point(2000, 150)
    # The hole at 2000 itself lies in the zone, so pairs with it are held to the stricter limit on either side.
    assert moved.intersection(ahead).distance(centre) == pytest.approx(6 * 17.5, abs=0.05)
    assert plain.intersection(behind).equals(moved.intersection(behind))


def test_where_a_line_is_full_no_height_is_free() -> None:
    # Holes in line, house: at most 4. Four of 13 mm on one line close their stations, 6.5 + 6.5 mm either way.
    heights = (-80.0, -27.0, 27.0, 80.0)
    groups = [web_holes(*((0.0, height) for height in heights), fastener="M12x1.25")]
    serial = planned([component("bracket", 3000, groups=groups)])
    free = web(free_zone(serial, AddedHole(13, "drill"), ("LH",)))
    line = shapely.box(3000 - 12.9, 0, 3000 + 12.9, 300)
    assert free.intersection(line).is_empty


def test_the_net_section_closes_heights_where_loads_ask_for_it() -> None:
    bracket = component("bracket", 3000, groups=[web_holes((0.0, 0.0))])
    body = {"dynamic_factor": 3.0, "body_mass": 20_000, "body_start": 1500, "body_end": 6200}
    plain, loaded = planned([bracket]), planned([bracket], loads=body)
    hole = AddedHole(22, "drill")
    free, under_load = (web(free_zone(serial, hole, ("LH",))) for serial in (plain, loaded))
    assert under_load.area < free.area
    assert under_load.difference(free.buffer(0.1)).is_empty
    wrong, _ = disagreements(loaded, hole, 40, 3)
    assert wrong == []


def _joint() -> SerialPlan:
    """A pull along the rail on four bolts in soft steel, whose coated faces hold so well that bearing governs."""
    load = {"force": 150.0, "direction": [1, 0, 0], "height": 150.0}
    square = web_holes((-60.0, 50.0), (-60.0, -50.0), (60.0, 50.0), (60.0, -50.0))
    plies = [{"thickness": 12, "surface": "outside"}]
    made = planned([component("pin", 2000, groups=[square], plies=plies, loads=[load])])
    library, steel = made.order.library, made.order.rail_steel
    coating = library.finishing.coating.model_copy(update={"friction": 9.0})
    finishing = library.finishing.model_copy(update={"coating": coating})
    soft = steel.model_copy(update={"tensile_least": 200.0})
    order = replace(made.order, library=replace(library, finishing=finishing), rail_steel=soft)
    return replace(made, order=order)


def test_rated_joints_keep_the_steel_that_their_bolts_bear_on() -> None:
    serial, hole = _joint(), AddedHole(15, "drill")
    free = web(free_zone(serial, hole, ("LH",)))
    loose = web(free_zone(_without_loads(serial), hole, ("LH",)))
    assert loose.contains(free)
    taken = loose.difference(free)
    assert taken.area > 500, "more than spacing asks for"
    # EN 1993-1-8 table 3.4: alpha b = p1 / (3 d0) - 1/4 of a bolt that bears 150 / 4 kN, k1 = 2.5, d0 = 17.5.
    strength = Strength(pattern_of(serial.order, serial.holes, serial.placements))
    full = 2.5 * 200.0 * 16.0 * 9.5 / 1.25
    alpha = float(strength.joints.forces.shear[0]) / full
    pitch = (alpha + 0.25) * 3 * 17.5
    assert pitch > 2.5 * 17.5
    ahead = shapely.LineString([(2060, 200), (2160, 200)]).intersection(free)
    assert ahead.bounds[0] == pytest.approx(2060 + pitch, abs=0.1)
    wrong, found = disagreements(serial, hole, 60, 3)
    assert wrong == []
    assert found


def _without_loads(serial: SerialPlan) -> SerialPlan:
    bare = {name: part.model_copy(update={"loads": ()}) for name, part in serial.order.library.components.items()}
    library = replace(serial.order.library, components=bare)
    return replace(serial, order=replace(serial.order, library=library, components=tuple(bare.values())))


def test_a_screw_that_clamps_too_little_is_refused_where_warnings_count() -> None:
    serial = planned([component("bracket", 2000, groups=[web_holes((0.0, 0.0))])])
    hole = AddedHole(17.5, "drill", "M16x1.5")
    assert free_zone(serial, hole, ("LH",)).areas
    zone = free_zone(serial, hole, ("LH",), warnings=True)
    assert zone.areas == ()
    assert zone.refused[0] == "grip bolt-diameters"


def test_what_closes_every_place_is_named() -> None:
    zone = free_zone(sample("P-1001"), AddedHole(17))
    assert zone.areas == ()
    assert "press-limit tool" in zone.refused
    assert free_zone(sample("P-1001"), AddedHole(17, "drill"), ("LH",)).areas


def test_clear_of_warnings_lies_within_clear_of_errors() -> None:
    for hole in (AddedHole(15.5, "drill"),):
        plain, strict = (web(free_zone(sample("P-1003"), hole, ("LH",), warnings)) for warnings in (False, True))
        assert strict.difference(plain.buffer(0.05)).area == pytest.approx(0, abs=1.0)
        assert strict.area < plain.area


def test_stop_plates_zone_lets_holes_into_the_flange() -> None:
    # The order's zone allows flange holes from 1650 to 1850; the house limits forbid them around it.
    zone = free_zone(sample("P-1003"), AddedHole(13), ("LH",))
    top = shapely.union_all([area.polygon for area in zone.areas if area.face == "top"])
    between = top.intersection(shapely.box(0, 0, 4000, 100))
    assert not between.is_empty
    assert between.bounds[0] >= 1650 - 0.1
    assert between.bounds[2] <= 1850 + 0.1


def run(*words: str) -> tuple[int, str]:
    library = ("--library", str(ROOT / "hole_libraries"))
    result = CliRunner().invoke(main, ["freezone", str(ROOT / "samples/P-1003.toml"), *words, *library])
    return result.exit_code, result.output


def test_one_place_is_answered_by_the_check() -> None:
    status, text = run("--diameter", "13", "--at", "3000,150")
    assert (status, "hole-spacing centre" in text) == (1, True)
    zone = free_zone(sample("P-1003"), AddedHole(13), ("RH",))
    inside = max((a.polygon for a in zone.areas if a.face == "web"), key=lambda area: area.area).representative_point()
    status, text = run("--diameter", "13", "--at", f"{inside.x},{inside.y}", "--side", "RH", "--json")
    answer = json.loads(text)
    assert (status, answer["free"], answer["side"]) == (0, True, "RH")
    assert all(finding["severity"] == "warning" for finding in answer["findings"])


def test_files_are_the_same_twice_and_agree(tmp_path: Path) -> None:
    made = sample("P-1003")
    zone = free_zone(made, AddedHole(13), ("LH",))
    again = free_zone(made, AddedHole(13), ("LH",))
    assert free_zone_data("P-1003", zone) == free_zone_data("P-1003", again)
    assert free_zone_files(made, zone, ("LH",)) == free_zone_files(made, again, ("LH",))
    content = free_zone_dxf(made, zone, ("LH",))
    assert content == free_zone_dxf(made, again, ("LH",))
    document = ezdxf.read(StringIO(content.decode()))  # type: ignore[attr-defined]
    assert not document.audit().errors
    rings = document.modelspace().query('LWPOLYLINE[layer=="FREE"]')
    assert len(rings) == sum(1 + len(area.polygon.interiors) for area in zone.areas)
    data: Any = free_zone_data("P-1003", zone)
    for entry, area in zip(data["areas"], zone.areas, strict=True):
        drawn = shapely.Polygon(entry["outline"], entry["openings"])
        assert drawn.area == pytest.approx(area.polygon.area, rel=1e-4, abs=0.01)


def test_command_writes_three_files(tmp_path: Path) -> None:
    status, text = run("--diameter", "13", "--side", "LH", "--output", str(tmp_path))
    assert status == 0, text
    assert sorted(path.suffix for path in tmp_path.iterdir()) == [".dxf", ".json", ".pdf"]
    assert "LH web:" in text


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (("--diameter", "-3"), "above 0 and at most 1000 mm"),
        ((), "a diameter in mm, or --fastener"),
        (("--fastener", "M14x15"), "Did you mean"),
        (("--fastener", "M8 stud"), "a screw with a plain hole"),
        (("--fastener", "M16x1.5", "--diameter", "12"), "16 mm or more"),
        (("--diameter", "13", "--at", "here"), "is not STATION,ACROSS"),
    ],
)
def test_wrong_questions_are_refused(words: tuple[str, ...], expected: str) -> None:
    status, text = run(*words)
    assert status == 2
    assert expected in text


def test_holes_through_the_liner_are_looked_at_in_the_liner_too() -> None:
    adding = Adding(sample("P-1001"), AddedHole(15.5, "drill"))
    liner = adding.order.rail.liner
    assert liner is not None
    pattern = adding.pattern(0, 0, liner.start + 8.0, 150.0)
    assert len(pattern.table) == len(adding.present.table) + 2
    found = {(f.rule, f.part) for f in adding.findings(0, 0, liner.start + 8.0, 150.0)}
    assert ("edge-distance", "liner") in found
    alone = adding.alone(0, 0, np.array([-1000.0, 1000.0]), np.array([150.0, 150.0]))
    assert alone.table.part.tolist() == [0, 0, 1]
