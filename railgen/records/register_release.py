"""Releases: a serial's files recorded once and for all, superseded by a later revision, a part released again."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

import railgen
from railgen.data.messages import InputError, Problem, nearest, one_of, shown
from railgen.formats.hole_table import HoleRows
from railgen.formats.names import cut_file_name, holes_name
from railgen.records.register_chain import FACT, RELEASE, RELEASE_AGAIN, Record, append, keep, records
from railgen.records.register_folder import Inputs, ReleaseFolder
from railgen.records.register_store import RECORD, SPAN, Store

_LONGEST_NAME = 200


@dataclass(frozen=True)
class Signed:
    """Who and when, as given on the command line: a name, and a date as YYYY-MM-DD."""

    by: str
    on: str

    def __post_init__(self) -> None:
        if not self.by.strip() or not self.by.isprintable() or len(self.by) > _LONGEST_NAME:
            raise InputError([Problem("register", "--by", shown(self.by), f"a name of 1 to {_LONGEST_NAME} letters")])


def release(store: Store, found: ReleaseFolder, signed: Signed, inputs: Inputs, reason: str = "") -> Record:
    """Record a serial's folder; an earlier revision of the serial is superseded and stays.

    Raises InputError where this revision is released already.
    """
    contents, library, order = dict(found.files), inputs.library_of(found), inputs.order_of(found)
    with store.writing() as connection:
        earlier = list(records(connection, RECORD.c.serial == found.serial, RECORD.c.kind == RELEASE))
        for record in earlier:
            _refuse_second(found, record)
        body = {
            **_heading(found, signed, reason),
            "program": found.manifest.version,
            "settings": dict(found.manifest.settings),
            "parts": list(found.parts),
            "findings": {name: sum(f.severity == name for f in found.findings) for name in ("warning", "note")},
            "supersedes": earlier[-1].number if earlier else None,
            "files": keep(connection, contents),
            "library": {
                "revision": found.manifest.settings["library_revision"],
                "kept": keep(connection, {"library": library})["library"] if library is not None else None,
            },
            "order": {
                "name": found.order[0],
                "sha256": found.order[1],
                "kept": keep(connection, {"order": order})["order"] if order is not None else None,
            },
        }
        made = append(connection, RELEASE, body)
        connection.execute(SPAN.insert(), [{"number": made.number, **span} for span in spans(found.holes)])
        return made


def _heading(found: ReleaseFolder, signed: Signed, reason: str, part: str = "") -> dict[str, Any]:
    about = {"serial": found.serial, "revision": found.revision, "part": part, "value": ""}
    return {**about, "by": signed.by, "on": signed.on, "reason": reason, "recorded_by": railgen.__version__}


def _refuse_second(found: ReleaseFolder, record: Record) -> None:
    if record.revision != found.revision:
        return
    same = {name: reference["sha256"] for name, reference in record["files"].items()} == _digests(found)
    what = "the same files" if same else "other files"
    released = f"revision {record.revision} of {record.serial}, released with {what} by {record['by']}"
    hint = "Nothing is left to do." if same else "Give the order a new revision, build it and release that."
    place = f"on {record['on']} (record {record.number})"
    raise InputError([Problem(found.folder, "", f"{released} {place}", "each revision once", hint)])


def _digests(found: ReleaseFolder) -> dict[str, str]:
    return {name: hashlib.sha256(content).hexdigest() for name, content in found.files.items()}


def release_again(store: Store, found: ReleaseFolder, part: str, reason: str, signed: Signed) -> Record:
    """Release one part (LH-rail ...) of a released serial once more, after scrap, as it was released before.

    Raises InputError where the serial is not released, has no such part, or the part's files are others now.
    """
    with store.writing() as connection:
        current = current_release(connection, found.serial)
        if current is None:
            allowed = "a serial that is released"
            raise InputError([Problem(found.folder, "", f"{found.serial}, which is not released", allowed)])
        problems = list(_other_part(found, current, part))
        if problems:
            raise InputError(problems)
        body = {
            **_heading(found, signed, reason, part),
            "release": current.number,
            "blank": blanks_of(connection, found.serial, part) + 1,
        }
        return append(connection, RELEASE_AGAIN, body)


def _other_part(found: ReleaseFolder, current: Record, part: str) -> Iterator[Problem]:
    if part not in current["parts"]:
        hint = nearest(part, current["parts"])
        yield Problem("railgen release", "--part", repr(part), one_of(current["parts"]), hint)
        return
    if found.revision != current.revision:
        hint = "A new revision is released whole, without --part."
        yield Problem(found.folder, "revision", found.revision, f"{current.revision}, as released", hint)
        return
    side, kind = part.split("-")
    cut = cut_file_name(found.serial, side, kind)  # type: ignore[arg-type]
    released, now = current["files"], _digests(found)
    for name in (holes_name(found.serial), cut):
        if released.get(name, {}).get("sha256") != now.get(name):
            hint = "`railgen register holes SERIAL --all` gives back what was released."
            yield Problem(f"{found.folder}/{name}", "", "not the file that was released", "the same file", hint)


def current_release(connection: Connection, serial: str, revision: str | None = None) -> Record | None:
    """The last release of a serial, or that of one revision; None where there is none."""
    conditions = [RECORD.c.serial == serial, RECORD.c.kind == RELEASE]
    if revision is not None:
        conditions.append(RECORD.c.revision == revision)
    found = list(records(connection, *conditions))
    return found[-1] if found else None


def blanks_of(connection: Connection, serial: str, part: str) -> int:
    """How often a part of a serial has been released: the number of its latest blank."""
    found = records(connection, RECORD.c.serial == serial, RECORD.c.kind != FACT)
    return sum(part in record["parts"] if record.kind == RELEASE else record.part == part for record in found)


def spans(holes: HoleRows) -> list[dict[str, Any]]:
    """For each side, part and component its least and greatest station (mm) and the number of its features."""
    stations: dict[tuple[str, str, str], list[float]] = {}
    for row, station in enumerate(holes.station_mm.tolist()):
        for component in holes.components[row]:
            stations.setdefault((holes.side[row], holes.part[row], component), []).append(station)
    return [
        {
            "side": side,
            "part": part,
            "component": component,
            "least": min(found),
            "greatest": max(found),
            "holes": len(found),
        }
        for (side, part, component), found in sorted(stations.items())
    ]
