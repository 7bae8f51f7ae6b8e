"""``compare``: every change between two patterns, no other, by component; as a table, as JSON and as a picture."""

from __future__ import annotations

import json
import random
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from builders import Hole, rail_table, resolved_order
from click.testing import CliRunner
from verify_folders import RAILS, random_holes, serial_folder

from railgen.cli.main import main
from railgen.data.library import find_library, load_library
from railgen.data.order_files import read_orders
from railgen.data.reading import Source
from railgen.formats.folder import write_folder
from railgen.formats.hole_table import hole_rows, hole_table_csv
from railgen.layout.catalogue import compile_catalogue
from railgen.papers.overlay import overlay_pdf, overlay_pictures, overlay_sheets
from railgen.papers.overlay_subject import RailEdges
from railgen.papers.sheet import FRAME_BOTTOM, FRAME_LEFT, FRAME_RIGHT, FRAME_TOP, Text
from railgen.pipeline import Choices, plan, serial_files
from railgen.records.compare import Change, Comparison, alike, by_component, compare
from railgen.records.compare_picture import overlay_of
from railgen.records.pattern import Pattern, pattern_of_folder, pattern_of_plan

ROOT = Path(__file__).parent.parent
EDGES = RailEdges(-1000.0, 5000.0, 300.0, 90.0, None, 300.0)
FIRST = [
    Hole(0, 150, component="bracket", feature="a"),
    Hole(60, 150, component="bracket", feature="b"),
    Hole(500, 100, component="tank", feature="a", sides=("LH",)),
    *(Hole(1000.0 + 400 * n, 200, component="stud", feature="s", shape="mark", instance=n + 1) for n in range(4)),
]


def pattern(holes: list[Hole], rail: str = "plain", edges: RailEdges | None = EDGES) -> Pattern:
    table = rail_table(RAILS[rail], holes)
    rows = hole_rows(Source("holes.csv", hole_table_csv(resolved_order(RAILS[rail]).serial, table)))
    return Pattern("P-1", "A", rows, edges)


def changed(before: list[Hole], after: list[Hole]) -> tuple[Change, ...]:
    return compare(pattern(before), pattern(after)).changes


def test_nothing_has_changed() -> None:
    found = compare(pattern(FIRST), pattern(FIRST))
    assert (found.changes, found.rail, found.differ) == ((), (), False)
    assert len(found.same) == 2 * 6 + 1
    assert by_component(found) == ()


def test_moved_resized_and_changed() -> None:
    now = [replace(FIRST[0], station=12.5, across=140), replace(FIRST[1], diameter=20, fastener="M18x1.5"), *FIRST[2:]]
    left_a, left_b, right_a, right_b = changed(FIRST, now)
    for moved in (left_a, right_a):
        assert (moved.kinds, moved.along_mm, moved.across_mm, moved.details) == (("moved",), 12.5, -10.0, ())
        assert moved.hole.hole == "bracket.1.a"
    for resized in (left_b, right_b):
        assert resized.kinds == ("resized", "changed")
        assert resized.details == ("round 17 to round 20", "fastener none to M18x1.5")


def test_added_and_removed() -> None:
    now = [*FIRST[:2], *FIRST[3:], Hole(700, 90, component="valve", feature="a", sides=("RH",))]
    gone, new = changed(FIRST, now)
    assert (gone.kinds, gone.hole.hole, gone.hole.side, gone.after) == (("removed",), "tank.1.a", "LH", None)
    assert (new.kinds, new.hole.hole, new.hole.side, new.before) == (("added",), "valve.1.a", "RH", None)


def test_one_more_in_front_of_a_repeat_moves_nothing() -> None:
    """All instances get another number; the steel has one more hole a side."""
    more = [replace(hole, instance=hole.instance + 1) for hole in FIRST[3:]]
    first = Hole(600, 200, component="stud", feature="s", shape="mark", instance=1)
    found = changed(FIRST, [*FIRST[:3], first, *more])
    assert [(change.kinds, change.hole.station_mm) for change in found] == [(("added",), 600.0)] * 2


def test_another_pitch_moves_all_but_the_first() -> None:
    now = [replace(hole, station=1000.0 + 300 * n) for n, hole in enumerate(FIRST[3:])]
    found = compare(pattern(FIRST), pattern([*FIRST[:3], *now]))
    (stud,) = by_component(found)
    assert (stud.component, stud.same, stud.counts) == ("stud", 2, {"moved": 6})
    assert stud.moves == ((-300.0, 0.0), (-200.0, 0.0), (-100.0, 0.0))
    assert [group.words for group in alike(found)] == [f"moved -{step}.000 along" for step in (100, 200, 300)]


def test_a_hole_that_changes_its_owner_stays() -> None:
    now = [replace(FIRST[0], component="hanger", feature="x"), *FIRST[1:]]
    found = changed(FIRST, now)
    assert [(change.kinds, change.details) for change in found] == [(("changed",), ("owners bracket to hanger",))] * 2


def test_other_rails() -> None:
    shorter = replace(EDGES, rear=4900.0, fold=3800.0, end_depth=220.0)
    found = compare(pattern(FIRST), pattern(FIRST, edges=shorter))
    assert [change.words for change in found.rail] == [
        "rear end at station 5000.000 to 4900.000 mm",
        "taper's start at station none to 3800.000 mm",
        "depth at the rear end 300.000 to 220.000 mm",
    ]
    assert found.differ
    assert compare(pattern(FIRST), pattern(FIRST, edges=None)).rail == ()


def test_random_edits_are_found_and_nothing_else() -> None:
    """Plain bookkeeping as the oracle: each hole is left, moved, resized or removed, and some are added."""
    for seed in range(25):
        rng = random.Random(seed)
        before, after, meant = random_holes(rng, tapered=False, count=30), list[Hole](), Counter[tuple[str, ...]]()
        for hole in before:
            edit = rng.choice(("left", "left", "moved", "resized", "removed"))
            edit = "left" if edit == "resized" and hole.shape == "mark" else edit
            meant[(edit,)] += len(hole.sides)
            if edit == "moved":
                hole = replace(hole, station=hole.station + rng.choice((0.02, -3.5, 11.0)))
            elif edit == "resized":
                hole = replace(hole, diameter=hole.diameter + rng.choice((0.5, -0.5)))
            if edit != "removed":
                after.append(hole)
        for number in range(rng.randrange(4)):
            after.append(Hole(-980 + number, 110, component="new", feature=f"n{number}"))
            meant[("added",)] += 2
        found = compare(pattern(before), pattern(after))
        assert len(found.same) == meant.pop(("left",), 0)
        assert Counter(change.kinds for change in found.changes) == +meant, seed
        back = compare(pattern(after), pattern(before))
        turned = {("added",): ("removed",), ("removed",): ("added",)}
        assert Counter(change.kinds for change in back.changes) == Counter(
            {turned.get(kinds, kinds): count for kinds, count in (+meant).items()}
        )


@pytest.fixture(scope="module")
def plans() -> dict[str, tuple[object, object]]:
    catalogue = compile_catalogue(load_library(find_library(str(ROOT / "hole_libraries"))))
    given = read_orders(tuple(ROOT / f"samples/{name}.toml" for name in ("P-1001", "T-2001", "S-3001")))
    return {one.order.serial: (one, plan(one.order, catalogue, one.place)) for one in given if one.order}


@pytest.mark.parametrize("serial", ["P-1001", "T-2001", "S-3001"])
def test_a_folder_is_its_order(serial: str, plans: dict, tmp_path: Path) -> None:
    """Holes to the digit, and the rail's edges as its cut files show them."""
    given, planned = plans[serial]
    files = serial_files(planned, given.name, given.sha256, Choices(kinds=("holes", "findings", "cut")))
    folder = write_folder(tmp_path, serial, files)
    found = compare(pattern_of_folder(folder), pattern_of_plan(planned))
    assert found.before.edges is not None
    assert not found.differ
    assert len(found.same) == len(planned.holes)
    assert found.before.title == found.after.title == f"{serial}, revision A"


def test_two_serials_of_one_family_and_of_two(plans: dict) -> None:
    first, other = (pattern_of_plan(plans[serial][1]) for serial in ("P-1001", "T-2001"))
    found = compare(first, other)
    total = len(found.same) + sum(change.before is not None for change in found.changes)
    assert total == len(first.holes)
    assert len(found.same) + sum(change.after is not None for change in found.changes) == len(other.holes)


# --- the picture ------------------------------------------------------------------------------------------------------


def edited() -> Comparison:
    rng = random.Random(5)
    before = random_holes(rng, tapered=True, count=40)
    after = [replace(hole, station=hole.station + 25) if n % 3 == 0 else hole for n, hole in enumerate(before[:-4])]
    after[1] = replace(after[1], diameter=after[1].diameter + 2)
    tapered = replace(EDGES, fold=3800.0, end_depth=220.0)
    now = replace(tapered, rear=5100.0)
    return compare(pattern(before, "cut later", tapered), pattern(after, "cut later", now))


def test_everything_stays_within_the_frame() -> None:
    for sheet in overlay_sheets(overlay_of(edited())):
        for item in sheet.items:
            if isinstance(item, Text):
                left, bottom, right, top = item.box
            elif len(item.points):
                (left, bottom), (right, top) = item.points.min(axis=(0, 1)), item.points.max(axis=(0, 1))
            else:
                continue
            assert FRAME_LEFT - 0.5 <= left <= right <= FRAME_RIGHT + 0.5
            assert FRAME_BOTTOM - 0.5 <= bottom <= top <= FRAME_TOP + 0.5


def test_every_changed_hole_is_drawn() -> None:
    overlay = overlay_of(edited())
    states = Counter(hole.state for hole in overlay.holes)
    changes = [change for change in edited().changes if change.hole.part == "rail"]
    both = sum(change.before is not None and change.after is not None for change in changes)
    assert states["before"] == states["after"] == both > 10
    assert states["removed"] == len(changes) - both > 2
    assert len(overlay.moves) == sum("moved" in change.kinds for change in changes)
    names = {row[1] for row in overlay.rows}
    assert names == {change.hole.component for change in edited().changes}


@pytest.mark.parametrize("kind", ["png", "svg"])
def test_same_pictures_each_time(kind: str) -> None:
    overlay = overlay_of(edited())
    assert overlay_pictures(overlay, kind) == overlay_pictures(overlay_of(edited()), kind)
    assert overlay_pdf(overlay) == overlay_pdf(overlay_of(edited()))


# --- the command ------------------------------------------------------------------------------------------------------


def run(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["compare", *(str(a) for a in arguments)], catch_exceptions=False)
    return result.exit_code, result.output


def test_command(tmp_path: Path) -> None:
    holes = random_holes(random.Random(2), tapered=False, count=20)
    first = serial_folder(tmp_path / "a", "P-1", "plain", holes, more=())
    other = serial_folder(tmp_path / "b", "P-1", "plain", [replace(holes[0], station=holes[0].station + 1), *holes[1:]])
    assert run(first, first)[0] == 0
    status, text = run(first, other, "--picture", tmp_path / "both.pdf")
    assert status == 1
    assert "moved +1.000 along" in text
    assert f"written: {tmp_path / 'both.pdf'}" in text.replace("\n", "")
    assert (tmp_path / "both.pdf").read_bytes().startswith(b"%PDF")
    status, text = run(first, other, "--json")
    plain = json.loads(text)
    assert status == 1
    assert {tuple(change["kinds"]) for change in plain["changes"]} == {("moved",)}
    assert plain["components"][0]["moves_mm"] == [[1.0, 0.0]]
    run(first, other, "--picture", tmp_path / "sheet.svg")
    assert sorted(file.name for file in tmp_path.glob("*.svg")) == ["sheet-1.svg", "sheet-2.svg", "sheet-3.svg"]


def test_command_refuses_what_it_cannot_read(tmp_path: Path) -> None:
    folder = serial_folder(tmp_path, "P-1", "plain", random_holes(random.Random(2), False, 4), more=())
    (tmp_path / "empty").mkdir()
    assert run(folder, tmp_path / "empty")[0] == 2
    assert run(folder, tmp_path / "none.toml", "--library", ROOT / "hole_libraries")[0] == 2
    status, text = run(folder, ROOT / "samples/bank-200.csv", "--library", ROOT / "hole_libraries")
    assert (status, "found 200 orders; allowed: one order" in text) == (2, True)
    status, text = run(folder, folder, "--picture", tmp_path / "both.gif")
    assert (status, "must end in one of .pdf, .png, .svg" in text) == (2, True)
    (folder / "P-1-holes.csv").unlink()
    status, text = run(folder, folder)
    assert (status, "the hole table of the serial" in text) == (2, True)
