"""The release register: what is released stays as it was, and is given back to the byte."""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
import uuid
from collections.abc import Iterator
from pathlib import Path

import pytest
from register_folders import COMPONENTS, serial_folder
from register_places import NOTHING, WHO, new_database, put, run
from sqlalchemy.exc import DBAPIError

from railgen.data.messages import InputError
from railgen.formats.hole_table import read_hole_table
from railgen.records.register_audit import audit
from railgen.records.register_copy import backup, restore
from railgen.records.register_facts import Fact, add_fact
from railgen.records.register_folder import read_inputs, read_release_folder
from railgen.records.register_queries import Sought, find, history, kept_inputs, released_files
from railgen.records.register_release import release, release_again
from railgen.records.register_store import Store, open_store

ROOT = Path(__file__).parent.parent
pytest_plugins = ["register_fixtures"]


@pytest.fixture(params=["sqlite", "postgresql"])
def quick_place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """A place for a new register; SQLite's on a file system in memory where there is one.

    A thousand releases wait for the disk a thousand times.
    """
    if request.param == "postgresql":
        yield from new_database()
        return
    parent = Path("/dev/shm") if Path("/dev/shm").is_dir() else tmp_path
    file = parent / f"register-{uuid.uuid4().hex}.sqlite"
    yield str(file)
    file.unlink(missing_ok=True)


def test_a_thousand_serials_come_back_to_the_byte_and_a_chain_over_them_holds(quick_place: str, tmp_path: Path) -> None:
    register = open_store(quick_place, make=True)
    try:
        kept: dict[str, dict[str, str]] = {}
        for number in range(1000):
            serial = f"P-{number}"
            folder = put(register, tmp_path, serial, holes=4, filler=50)
            kept[serial] = {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.iterdir()}
            shutil.rmtree(folder)
        for serial, digests in kept.items():
            files = released_files(register, serial)[1]
            assert {name: hashlib.sha256(content).hexdigest() for name, content in files.items()} == digests
        found = audit(register)
        assert (found.records, found.problems) == (1000, ())
    finally:
        register.close()


def test_a_release_gives_back_every_file_and_says_who_and_when(place: str, tmp_path: Path) -> None:
    folder = serial_folder(tmp_path, "P-1", holes=30)
    run("release", folder, "--by", WHO.by, "--on", WHO.on, "--register", place)
    given_back = run("register", "holes", "P-1", "--register", place)
    assert given_back.stdout_bytes == (folder / "P-1-holes.csv").read_bytes()
    run("register", "holes", "P-1", "--all", "--output", tmp_path / "out", "--register", place)
    assert {p.name: p.read_bytes() for p in (tmp_path / "out/P-1-A-released").iterdir()} == {
        p.name: p.read_bytes() for p in folder.iterdir()
    }
    (record,) = json.loads(run("register", "list", "P-1", "--json", "--register", place).output)
    assert (record["by"], record["on"], record["serial"], record["revision"]) == (WHO.by, WHO.on, "P-1", "A")
    assert record["library"] == {"revision": "C", "kept": None}
    assert record["order"] == {"name": "P-1.toml", "sha256": "3" * 64, "kept": None}
    run("register", "holes", "P-1", "--drawing", "--output", tmp_path / "drawing", "--register", place)
    assert [p.name for p in (tmp_path / "drawing/P-1-A-released").iterdir()] == ["P-1-drawing.pdf"]
    run("register", "holes", "P-1", "--dxf", "--output", tmp_path / "dxf", "--register", place)
    names = sorted(p.name for p in (tmp_path / "dxf/P-1-A-released").iterdir())
    assert names == ["P-1-LH-rail.dxf", "P-1-RH-rail.dxf"]


def test_a_new_revision_supersedes_and_the_old_one_stays(store: Store, tmp_path: Path) -> None:
    first = put(store, tmp_path, "P-1", "A")
    second = put(store, tmp_path, "P-1", "B", seed=1)
    current, files = released_files(store, "P-1")
    assert (current.revision, current["supersedes"]) == ("B", 1)
    assert files["P-1-holes.csv"] == (second / "P-1-holes.csv").read_bytes()
    assert released_files(store, "P-1", "A")[1]["P-1-holes.csv"] == (first / "P-1-holes.csv").read_bytes()


@pytest.mark.parametrize("seed", [0, 1], ids=["same files", "other files"])
def test_a_revision_is_released_once(store: Store, tmp_path: Path, seed: int) -> None:
    put(store, tmp_path / "first", "P-1")
    again = serial_folder(tmp_path / "second", "P-1", seed=seed)
    with pytest.raises(InputError, match="with the same files" if seed == 0 else "with other files.*new revision"):
        release(store, read_release_folder(again), WHO, NOTHING)
    assert audit(store).records == 1


def test_one_part_is_released_again_after_scrap_as_it_was(store: Store, tmp_path: Path) -> None:
    folder = put(store, tmp_path, "P-1")
    found = read_release_folder(folder)
    again = release_again(store, found, "RH-rail", "scrapped at the jig", WHO)
    third = release_again(store, found, "RH-rail", "scrapped in the furnace", WHO)
    assert [(r["blank"], r["release"], r["reason"]) for r in (again, third)] == [
        (2, 1, "scrapped at the jig"),
        (3, 1, "scrapped in the furnace"),
    ]
    fact = add_fact(store, "P-1", Fact("coil", "RH-rail", "C-77"), WHO)
    assert (fact["blank"], fact["release"]) == (3, 1)
    with pytest.raises(InputError, match=r"LH-liner.*LH-rail, RH-rail"):
        release_again(store, found, "LH-liner", "no such part", WHO)
    changed = read_release_folder(serial_folder(tmp_path / "changed", "P-1", seed=1))
    with pytest.raises(InputError, match="not the file that was released"):
        release_again(store, changed, "RH-rail", "scrap", WHO)
    later = read_release_folder(serial_folder(tmp_path, "P-1", "B"))
    with pytest.raises(InputError, match="A new revision is released whole"):
        release_again(store, later, "RH-rail", "scrap", WHO)


CHANGES = {
    "update": "UPDATE {table} SET {column} = {column}",
    "delete": "DELETE FROM {table}",
    "truncate": "TRUNCATE {table}",
    "replace": "INSERT OR REPLACE INTO {table} SELECT * FROM {table}",
}
THERE = {"sqlite": ("update", "delete", "replace"), "postgresql": ("update", "delete", "truncate")}


@pytest.mark.parametrize("table", ["railgen_record", "railgen_content", "railgen_span"])
@pytest.mark.parametrize(
    ("place", "change"), [(kind, change) for kind in THERE for change in THERE[kind]], indirect=["place"]
)
def test_the_database_itself_refuses_changes(store: Store, tmp_path: Path, table: str, change: str) -> None:
    statement = CHANGES[change]
    put(store, tmp_path, "P-1")
    column = "stored" if table == "railgen_content" else "number"
    with pytest.raises(DBAPIError, match="nothing in it is changed or deleted"), store.engine.begin() as connection:
        connection.exec_driver_sql(statement.format(table=table, column=column))
    assert audit(store).problems == ()


def test_facts_stand_beside_a_release_with_their_holes(place: str, tmp_path: Path) -> None:
    folder = serial_folder(tmp_path, "P-1")
    said = ("--by", "B", "--on", "2027-03-04", "--register", place)
    run("release", folder, *said)
    holes = read_hole_table(folder / "P-1-holes.csv")
    first = next(hole for hole, side in zip(holes.hole, holes.side, strict=True) if side == "LH")
    (tmp_path / "added.csv").write_text("part,side,face,station_mm,across_mm,diameter_mm\nrail,LH,web,120.5,80,\n")
    (tmp_path / "certificate.pdf").write_bytes(b"%PDF of the mill")
    run("register", "add", "P-1", "--kind", "coil", "--value", "C-1", "--part", "LH-rail", *said)
    run(
        "register",
        "add",
        "P-1",
        "--kind",
        "certificate",
        "--value",
        "3.1-7",
        "--file",
        tmp_path / "certificate.pdf",
        *said,
    )
    concession = ("--kind", "concession", "--part", "LH-rail", "--note", "0.6 over, accepted")
    run("register", "add", "P-1", *concession, "--hole", first, *said)
    rework = (
        "--kind",
        "rework",
        "--part",
        "LH-rail",
        "--note",
        "drilled at the jig",
        "--added",
        tmp_path / "added.csv",
    )
    run("register", "add", "P-1", *rework, *said)
    run("register", "add", "P-1", "--kind", "coil", "--value", "C-2", "--part", "LH-rail", "--corrects", "2", *said)
    facts = json.loads(run("register", "list", "P-1", "--json", "--register", place).output)[1:]
    assert [fact["fact"] for fact in facts] == ["coil", "certificate", "concession", "rework", "coil"]
    assert facts[2]["holes"] == [first]
    assert facts[3]["added"] == [
        {"part": "rail", "side": "LH", "face": "web", "station_mm": 120.5, "across_mm": 80.0, "diameter_mm": None}
    ]
    assert facts[1]["files"]["certificate.pdf"]["sha256"] == hashlib.sha256(b"%PDF of the mill").hexdigest()
    screen = run("register", "list", "P-1", "--register", place).output
    assert "corrected by record 6" in screen
    for value, found in (("C-1", []), ("C-2", ["P-1"])):
        rows = run("register", "find", "--kind", "coil", "--value", value, "--json", "--register", place).output
        assert [row["serial"] for row in json.loads(rows)] == found
    # The released hole table is as it was.
    assert run("register", "holes", "P-1", "--register", place).stdout_bytes == (folder / "P-1-holes.csv").read_bytes()
    assert run("register", "audit", "--register", place).output.startswith("6 records, as written")


def test_find_names_the_serials_whose_component_has_features_there(store: Store, tmp_path: Path) -> None:
    tables = {}
    for number in range(1, 9):
        folder = put(store, tmp_path, f"P-{number}", holes=6)
        tables[f"P-{number}"] = read_hole_table(folder / f"P-{number}-holes.csv")
    put(store, tmp_path, "P-1", "B", holes=1, seed="none")
    tables["P-1"] = read_hole_table(tmp_path / "P-1-B-none/P-1-holes.csv")
    for component in COMPONENTS:
        for least, greatest in ((-1000.0, 5000.0), (0.0, 900.0), (1500.0, 1700.0), (2000.0, 2000.1)):
            found = {f.record.serial: f for f in find(store, Sought(component, least, greatest))}
            for serial, rows in tables.items():
                there = [
                    station
                    for station, owners in zip(rows.station_mm.tolist(), rows.components, strict=True)
                    if component in owners and least <= station <= greatest
                ]
                assert (
                    sum(reach.holes for reach in found[serial].reaches.values()) == len(there)
                    if there
                    else (serial not in found)
                )
    both = [f.record.revision for f in find(store, Sought("bracket", every_revision=True)) if f.record.serial == "P-1"]
    assert "A" in both


def test_inputs_are_kept_where_they_are_at_hand_as_they_were(store: Store, tmp_path: Path) -> None:
    library = tmp_path / "library"
    library.mkdir()
    (library / "library.toml").write_text('name = "x"\n')
    order = tmp_path / "P-1.toml"
    shutil.copy(ROOT / "samples/P-1001.toml", order)
    digests = {f"library/{p.name}": hashlib.sha256(p.read_bytes()).hexdigest() for p in library.iterdir()}
    order_digest = hashlib.sha256(order.read_bytes()).hexdigest()
    folder = serial_folder(tmp_path, "P-1", inputs=digests, order_digest=order_digest)
    kept = release(store, read_release_folder(folder), WHO, read_inputs(library, [order]))
    found = kept_inputs(store, kept)
    assert json.loads(found["library"]) == {"library.toml": 'name = "x"\n'}
    assert found["order"] == order.read_bytes()
    # A library that has moved on is not taken for the one that shaped the serial.
    (library / "library.toml").write_text('name = "y"\n')
    moved = serial_folder(tmp_path, "P-2", inputs=digests)
    not_kept = release(store, read_release_folder(moved), WHO, read_inputs(library, [order]))
    assert kept_inputs(store, not_kept) == {}
    assert audit(store).problems == ()


def test_a_backup_is_a_register_and_restores_elsewhere_to_the_byte(store: Store, tmp_path: Path) -> None:
    put(store, tmp_path, "P-1")
    folder = put(store, tmp_path, "P-1", "B", seed=1)
    add_fact(store, "P-1", Fact("heat", value="H-1"), WHO)
    saved = tmp_path / "saved.sqlite"
    copied = backup(store, saved)
    assert (copied.records, copied.head, copied.problems) == (3, audit(store).head, ())
    elsewhere = open_store(str(tmp_path / "elsewhere.sqlite"), make=True)
    restored = restore(elsewhere, saved)
    assert restored.head == copied.head
    assert released_files(elsewhere, "P-1")[1]["P-1-holes.csv"] == (folder / "P-1-holes.csv").read_bytes()
    assert [r.body for r in history(elsewhere)] == [r.body for r in history(store)]
    with pytest.raises(InputError, match="a register with records"):
        restore(store, saved)
    with pytest.raises(InputError, match="no backup is overwritten"):
        backup(store, saved)
    assert sorted(p.name for p in tmp_path.iterdir() if p.name.startswith(".")) == []


def test_a_backup_goes_from_one_kind_of_database_to_the_other(tmp_path: Path) -> None:
    local = open_store(str(tmp_path / "register.sqlite"), make=True)
    folder = put(local, tmp_path, "P-1")
    found = backup(local, tmp_path / "saved.sqlite")
    for url in new_database():
        run("register", "restore", tmp_path / "saved.sqlite", "--register", url)
        server = open_store(url)
        assert audit(server).head == found.head
        given_back = run("register", "holes", "P-1", "--register", url).stdout_bytes
        assert given_back == (folder / "P-1-holes.csv").read_bytes()
        put(server, tmp_path, "P-2")
        server.close()


def test_nothing_is_restored_from_a_backup_that_was_changed(tmp_path: Path) -> None:
    local = open_store(str(tmp_path / "register.sqlite"), make=True)
    put(local, tmp_path, "P-1")
    backup(local, tmp_path / "saved.sqlite")
    with sqlite3.connect(tmp_path / "saved.sqlite") as raw:
        raw.execute("DROP TRIGGER railgen_span_update")
        raw.execute("UPDATE railgen_span SET greatest = greatest + 1")
    target = open_store(str(tmp_path / "target.sqlite"), make=True)
    with pytest.raises(InputError, match="are not as its hole table says"):
        restore(target, tmp_path / "saved.sqlite")
    assert audit(target).records == 0
