"""The audit: whatever is changed, removed, swapped or lost after it was written is found."""

from __future__ import annotations

import json
import random
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest
from register_folders import serial_folder
from register_places import NOTHING, WHO, put, run
from sqlalchemy import Connection

from railgen.records.register_audit import audit
from railgen.records.register_chain import BEFORE_ALL, digest_of, spelled
from railgen.records.register_facts import Fact, add_fact
from railgen.records.register_folder import read_release_folder
from railgen.records.register_release import release, release_again
from railgen.records.register_store import TABLES, Store, open_store

pytest_plugins = ["register_fixtures"]
COLUMNS = [(table.name, column.name) for table in TABLES for column in table.columns]


def filled(store: Store, tmp_path: Path) -> list[str]:
    """Three releases, a part released again and a fact; the head digest after each record."""
    heads = []
    for serial in ("P-1", "P-2", "P-3"):
        folder = put(store, tmp_path, serial, holes=3, filler=20)
        heads.append(audit(store).head)
    release_again(store, read_release_folder(folder), "LH-rail", "scrap", WHO)
    heads.append(audit(store).head)
    add_fact(store, "P-2", Fact("coil", "LH-rail", "C-1"), WHO)
    return [*heads, audit(store).head]


def without_guards(store: Store, connection: Connection) -> None:
    """What somebody with the owner's rights can do."""
    for table in TABLES:
        if store.is_sqlite:
            for event in ("update", "delete", "insert"):
                connection.exec_driver_sql(f"DROP TRIGGER {table.name}_{event}")
        else:
            connection.exec_driver_sql(f"ALTER TABLE {table.name} DISABLE TRIGGER USER")


def with_guards(store: Store, connection: Connection) -> None:
    """Put the guards back, so that only the change itself is left to find."""
    from railgen.records import register_store

    if store.is_sqlite:
        for statement in register_store._sqlite_guards():
            connection.exec_driver_sql(statement)
    else:
        for table in TABLES:
            connection.exec_driver_sql(f"ALTER TABLE {table.name} ENABLE TRIGGER USER")


def tampered(store: Store, *statements: str, **values: Any) -> tuple[str, ...]:
    """What the audit finds after statements by somebody who took the guards away and put them back."""
    with store.engine.begin() as connection:
        without_guards(store, connection)
        for statement in statements:
            connection.exec_driver_sql(statement, values) if values else connection.exec_driver_sql(statement)
        with_guards(store, connection)
    return audit(store).problems


def test_an_untouched_register_is_as_written(store: Store, tmp_path: Path) -> None:
    heads = filled(store, tmp_path)
    assert len(set(heads)) == 5
    for number, head in enumerate(heads, 1):
        found = audit(store, head)
        assert (found.problems, found.known_at, found.records) == ((), number, 5)
    assert audit(store, BEFORE_ALL).known_at == 0


def test_guards_that_were_taken_away_are_missed(store: Store, tmp_path: Path) -> None:
    filled(store, tmp_path)
    with store.engine.begin() as connection:
        without_guards(store, connection)
    assert len(audit(store).problems) == 9
    assert all("guard" in problem for problem in audit(store).problems)


CHANGES: dict[str, list[str]] = {
    "a record removed": ["DELETE FROM railgen_record WHERE number = 2"],
    "the first record removed": ["DELETE FROM railgen_record WHERE number = 1"],
    "two records swapped": [
        "UPDATE railgen_record SET number = 99 WHERE number = 2",
        "UPDATE railgen_record SET number = 2 WHERE number = 4",
        "UPDATE railgen_record SET number = 4 WHERE number = 99",
    ],
    "records moved up after one was removed": [
        "DELETE FROM railgen_record WHERE number = 4",
        "UPDATE railgen_record SET number = 4 WHERE number = 5",
    ],
    "a record said to be of another serial": ["UPDATE railgen_record SET serial = 'P-9' WHERE number = 1"],
    "a content removed": [
        "DELETE FROM railgen_content WHERE sha256 = (SELECT min(sha256) FROM railgen_content)",
    ],
    "a content more": ["INSERT INTO railgen_content SELECT 'ab', stored FROM railgen_content LIMIT 1"],
    "a span removed": ["DELETE FROM railgen_span WHERE number = 1 AND side = 'LH'"],
    "a span more": ["INSERT INTO railgen_span VALUES (1, 'LH', 'liner', 'stay', 0, 1, 2)"],
    "a span of no release": ["INSERT INTO railgen_span VALUES (5, 'LH', 'liner', 'stay', 0, 1, 2)"],
}


@pytest.mark.parametrize("case", CHANGES)
def test_a_change_behind_the_guards_is_found(store: Store, tmp_path: Path, case: str) -> None:
    filled(store, tmp_path)
    assert tampered(store, *CHANGES[case])


def test_a_record_written_anew_with_a_digest_of_its_own_does_not_fit_the_chain(store: Store, tmp_path: Path) -> None:
    filled(store, tmp_path)
    with store.reading() as connection:
        body = json.loads(connection.exec_driver_sql("SELECT body FROM railgen_record WHERE number = 2").scalar_one())
    forged = spelled(body | {"by": "somebody else"})
    found = tampered(
        store, f"UPDATE railgen_record SET body = '{forged}', digest = '{digest_of(forged)}' WHERE number = 2"
    )
    assert found == ("record 3: does not follow the record before it",)


def test_a_forger_who_writes_no_record_at_all_is_found(store: Store, tmp_path: Path) -> None:
    filled(store, tmp_path)
    forged = spelled(dict.fromkeys(("number", "kind", "serial", "revision", "part", "value"), "") | {"number": 6})
    values = f"(6, '', '', '', '', '', '{forged}', '{digest_of(forged)}')"
    assert tampered(store, f"INSERT INTO railgen_record VALUES {values}") == (
        "record 6: is no record as this program writes them",
    )


def test_a_lost_tail_shows_by_the_head_digest_alone(store: Store, tmp_path: Path) -> None:
    heads = filled(store, tmp_path)
    assert tampered(store, "DELETE FROM railgen_record WHERE number = 5") == ()
    assert audit(store).records == 4
    found = audit(store, heads[-1])
    assert len(found.problems) == 1
    assert "lost or replaced" in found.problems[0]
    assert audit(store, heads[3]).problems == ()


def test_a_lost_tail_with_its_contents_left_is_missed_without_any_digest(store: Store, tmp_path: Path) -> None:
    put(store, tmp_path, "P-1")
    put(store, tmp_path, "P-2")
    found = tampered(store, "DELETE FROM railgen_record WHERE number = 2")
    assert any("no record names it" in problem for problem in found)


def test_any_byte_changed_in_any_column_of_any_row_is_found(tmp_path: Path) -> None:
    place = tmp_path / "register.sqlite"
    store = open_store(str(place), make=True)
    filled(store, tmp_path)
    store.close()
    rng = random.Random(7)
    for table, column in COLUMNS:
        with sqlite3.connect(place) as raw:
            rows = raw.execute(f"SELECT rowid, {column} FROM {table}").fetchall()
        for rowid, value in rng.sample(rows, min(4, len(rows))):
            changed = _another(value, rng)
            if changed == value:
                continue
            copy = tmp_path / "copy.sqlite"
            shutil.copy(place, copy)
            opened = open_store(str(copy))
            with opened.engine.begin() as connection:
                without_guards(opened, connection)
                statement = f"UPDATE {table} SET {column} = ? WHERE rowid = ?"
                connection.exec_driver_sql(statement, (changed, rowid))
                with_guards(opened, connection)
            assert audit(opened).problems, (table, column, rowid, value, changed)
            opened.close()


def _another(value: Any, rng: random.Random) -> Any:
    """The value with one byte, letter or digit changed."""
    if isinstance(value, int):
        return value + 1000
    if isinstance(value, float):
        return value + 1e-9 * max(1.0, abs(value))
    if not value:
        return "x"
    at = rng.randrange(len(value))
    if isinstance(value, bytes):
        return value[:at] + bytes([value[at] ^ (1 << rng.randrange(8))]) + value[at + 1 :]
    return value[:at] + ("x" if value[at] != "x" else "y") + value[at + 1 :]


def test_every_byte_of_a_record_and_of_a_content_matters(tmp_path: Path) -> None:
    store = open_store(str(tmp_path / "register.sqlite"), make=True)
    release(store, read_release_folder(serial_folder(tmp_path, "P-1", holes=1, filler=1)), WHO, NOTHING)
    with store.reading() as connection:
        body = connection.exec_driver_sql("SELECT body FROM railgen_record").scalar_one()
        contents = connection.exec_driver_sql("SELECT sha256, stored FROM railgen_content").all()
    with store.engine.begin() as connection:
        without_guards(store, connection)
    # With the guards away for good each audit finds nine missing, and one thing more.
    for at in range(len(body)):
        changed = body[:at] + chr(ord(body[at]) ^ 1) + body[at + 1 :]
        assert _problems_with(store, "UPDATE railgen_record SET body = ?", (changed,)) > 9
    _problems_with(store, "UPDATE railgen_record SET body = ?", (body,))
    sha256, stored = min(contents, key=lambda row: len(row[1]))
    for at in range(len(stored)):
        changed_bytes = stored[:at] + bytes([stored[at] ^ 1]) + stored[at + 1 :]
        values = (changed_bytes, sha256)
        assert _problems_with(store, "UPDATE railgen_content SET stored = ? WHERE sha256 = ?", values) > 9
    assert _problems_with(store, "UPDATE railgen_content SET stored = ? WHERE sha256 = ?", (stored, sha256)) == 9


def _problems_with(store: Store, statement: str, values: tuple[Any, ...]) -> int:
    with store.engine.begin() as connection:
        connection.exec_driver_sql(statement, values)
    return len(audit(store).problems)


def test_the_command_prints_the_head_digest_and_ends_with_1_where_something_changed(tmp_path: Path) -> None:
    place = tmp_path / "register.sqlite"
    store = open_store(str(place), make=True)
    heads = filled(store, tmp_path)
    assert f"5 records, as written; head digest {heads[-1]}" in run("register", "audit", "--register", place).output
    known = run("register", "audit", "--head", heads[2], "--register", place).output
    assert "that of record 3; added since: 2" in known
    plain = json.loads(run("register", "audit", "--json", "--head", heads[4], "--register", place).output)
    assert plain == {"records": 5, "head": heads[4], "known_at": 5, "problems": []}
    tampered(store, "DELETE FROM railgen_record WHERE number = 5")
    lost = run("register", "audit", "--head", heads[4], "--register", place, code=1).output
    assert "lost or replaced" in lost
    assert "NOT as written" in lost


def test_a_changed_content_is_never_given_back(tmp_path: Path) -> None:
    place = tmp_path / "register.sqlite"
    store = open_store(str(place), make=True)
    put(store, tmp_path, "P-1")
    tampered(store, "UPDATE railgen_content SET stored = substr(stored, 1, 40)")
    assert "not what was written" in run("register", "holes", "P-1", "--register", place, code=2).output
