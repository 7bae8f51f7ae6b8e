"""As-built facts: what was used and done for a released serial, added beside the release, never over it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

import railgen
from railgen.data.messages import InputError, Problem, nearest, one_of
from railgen.formats.hole_table import HoleRows
from railgen.formats.measured import MeasuredRows, read_measured
from railgen.records.register_chain import FACT, Record, append, keep, records
from railgen.records.register_queries import released, released_holes
from railgen.records.register_release import Signed, blanks_of
from railgen.records.register_store import RECORD, Store

FACT_KINDS: dict[str, str] = {
    "coil": "coil number of the steel",
    "heat": "heat number of the steel",
    "certificate": "number of a certificate",
    "peening-lot": "peening lot",
    "coating-lot": "coating lot",
    "concession": "a departure that was accepted, with its holes",
    "rework": "work beside the plan, with its holes",
    "inspection": "a measurement and its report",
}
"""Kinds of fact and what each is."""
_WITH_VALUE = ("coil", "heat", "certificate", "peening-lot", "coating-lot")
_WITH_HOLES = ("concession", "rework")
_LONGEST_VALUE = 300
_LARGEST_FILE = 50_000_000
_PLACE = "railgen register add"


@dataclass(frozen=True)
class Fact:
    """A fact as given: its kind and part (LH-rail ..., empty for the whole serial), a value, words, holes and files.

    holes: ids of released holes that it is about; added: measured holes that no plan has; corrects: number of the
    fact that it stands in for.
    """

    kind: str
    part: str = ""
    value: str = ""
    note: str = ""
    holes: tuple[str, ...] = ()
    added: MeasuredRows | None = None
    files: Mapping[str, bytes] = field(default_factory=dict)
    corrects: int | None = None


def add_fact(store: Store, serial: str, fact: Fact, signed: Signed, revision: str | None = None) -> Record:
    """Add a fact to a released serial, to its current release or to one revision's.

    Raises InputError for an unknown serial, revision, part, hole or fact, and for what the kind needs.
    """
    with store.writing() as connection:
        release = released(connection, serial, revision)
        holes = released_holes(connection, release)
        problems = [*_needs(fact), *_part_problems(fact, release), *_hole_problems(fact, holes)]
        problems += _correction_problems(connection, serial, fact)
        if problems:
            raise InputError(problems)
        about = {"serial": serial, "revision": release.revision, "part": fact.part, "value": fact.value}
        body = {
            **about,
            "by": signed.by,
            "on": signed.on,
            "recorded_by": railgen.__version__,
            "fact": fact.kind,
            "release": release.number,
            "blank": blanks_of(connection, serial, fact.part) if fact.part else None,
            "note": fact.note,
            "holes": list(fact.holes),
            "added": _plain(fact.added),
            "corrects": fact.corrects,
            "files": keep(connection, fact.files),
        }
        return append(connection, FACT, body)


def _needs(fact: Fact) -> Iterator[Problem]:
    if fact.kind not in FACT_KINDS:
        yield unknown_kind(fact.kind)
    if fact.kind in _WITH_VALUE and not fact.value:
        yield Problem(_PLACE, "--value", "nothing", f"the {FACT_KINDS[fact.kind]}")
    if len(fact.value) > _LONGEST_VALUE:
        yield Problem(_PLACE, "--value", f"{len(fact.value)} characters", f"at most {_LONGEST_VALUE}")
    if fact.kind in _WITH_HOLES:
        if not fact.holes and fact.added is None:
            yield Problem(_PLACE, "--hole, --added", "neither", f"the holes of the {fact.kind}")
        if not fact.note:
            yield Problem(_PLACE, "--note", "nothing", f"words for the {fact.kind}: what, why, approved by whom")
    if fact.kind == "inspection" and not fact.files:
        yield Problem(_PLACE, "--file", "nothing", "the measured holes, or the report")


def _part_problems(fact: Fact, release: Record) -> Iterator[Problem]:
    parts: Sequence[str] = release["parts"]
    if fact.part and fact.part not in parts:
        yield Problem(_PLACE, "--part", repr(fact.part), one_of(parts), nearest(fact.part, parts))
    if fact.holes and not fact.part:
        yield Problem(_PLACE, "--part", "nothing", f"the part whose holes are meant: {one_of(parts)}")


def _hole_problems(fact: Fact, holes: HoleRows) -> Iterator[Problem]:
    parts = (f"{side}-{part}" for side, part in zip(holes.side, holes.part, strict=True))
    there = {hole for hole, part in zip(holes.hole, parts, strict=True) if part == fact.part}
    for hole in fact.holes:
        if fact.part and hole not in there:
            allowed = f"a hole of the released {fact.part}"
            yield Problem(_PLACE, "--hole", repr(hole), allowed, nearest(hole, there))
    rows = fact.added
    if rows is not None and fact.part:
        for row in range(len(rows)):
            if f"{rows.side[row]}-{rows.part[row]}" != fact.part:
                found = f"a hole of the {rows.side[row]}-{rows.part[row]} in row {row + 1}"
                yield Problem(_PLACE, "--added", found, f"holes of the {fact.part}")


def _correction_problems(connection: Connection, serial: str, fact: Fact) -> Iterator[Problem]:
    if fact.corrects is None:
        return
    facts = {r.number for r in records(connection, RECORD.c.serial == serial, RECORD.c.kind == FACT)}
    if fact.corrects not in facts:
        allowed = f"the number of a fact of {serial}: {one_of(map(str, facts))}"
        yield Problem(_PLACE, "--corrects", str(fact.corrects), allowed)


def _plain(rows: MeasuredRows | None) -> list[dict[str, Any]]:
    if rows is None:
        return []
    numbers = zip(rows.station_mm.tolist(), rows.across_mm.tolist(), rows.diameter_mm.tolist(), strict=True)
    return [
        {
            "part": rows.part[row],
            "side": rows.side[row],
            "face": rows.face[row],
            "station_mm": station,
            "across_mm": across,
            "diameter_mm": None if diameter != diameter else diameter,
        }
        for row, (station, across, diameter) in enumerate(numbers)
    ]


def read_attachments(paths: Sequence[Path]) -> dict[str, bytes]:
    """Files to keep with a fact, by name without folder. Raises InputError for one that cannot be read or kept."""
    contents: dict[str, bytes] = {}
    for path in paths:
        try:
            size = path.stat().st_size
            if size > _LARGEST_FILE:
                raise InputError([Problem(str(path), "", f"{size} bytes", f"at most {_LARGEST_FILE} bytes")])
            content = path.read_bytes()
        except OSError as error:
            found = error.strerror or type(error).__name__
            raise InputError([Problem(str(path), "", found, "a file that can be read")]) from None
        if path.name in contents:
            raise InputError([Problem(str(path), "", f"a second file {path.name}", "each name once")])
        contents[path.name] = content
    return contents


def read_added(path: Path | None) -> MeasuredRows | None:
    """Holes that no plan has, from a file of measured holes."""
    return None if path is None else read_measured(path)


def refuse_unknown_kind(kind: str) -> None:
    """Raise InputError for what is no kind of fact."""
    if kind not in FACT_KINDS:
        raise InputError([unknown_kind(kind)])


def unknown_kind(kind: str) -> Problem:
    """The problem of a kind of fact that there is not."""
    return Problem("railgen register", "--kind", repr(kind), one_of(FACT_KINDS), nearest(kind, FACT_KINDS))
