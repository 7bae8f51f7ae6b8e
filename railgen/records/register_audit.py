"""The audit: every record, content and span of a register held to the chain of digests."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import Connection, Row, select

from railgen.data.messages import InputError
from railgen.data.reading import Source
from railgen.formats.hole_table import hole_rows
from railgen.formats.names import holes_name
from railgen.records.register_chain import (
    BEFORE_ALL,
    RELEASE,
    Record,
    digest_of,
    record_of,
    unpacked,
)
from railgen.records.register_release import spans
from railgen.records.register_store import CONTENT, RECORD, SPAN, Store, missing_guards

_ROWS_AT_ONCE = 200
_SPAN_COLUMNS = ("side", "part", "component", "least", "greatest", "holes")


@dataclass(frozen=True)
class Audit:
    """What an audit found: number of records and digest of the last one, and everything that is not as written.

    known_at: the number of the record whose digest was given to compare with; None where none was given or none has
    it, which then is among the problems.
    """

    records: int
    head: str
    problems: tuple[str, ...]
    known_at: int | None = None


@dataclass
class _Walk:
    """Where the walk along the chain stands: what the next record must hold, and the contents named so far."""

    number: int = 0
    digest: str = BEFORE_ALL
    known_at: int | None = None
    references: dict[bytes, bytes] = field(default_factory=dict)


def audit(store: Store, known_head: str | None = None) -> Audit:
    """Hold the whole register to its chain; `known_head` is a head digest noted at an earlier time.

    Memory grows with the number of different contents by some 200 bytes each, and with nothing else.
    """
    with store.reading() as connection:
        return audit_connection(store, connection, known_head)


def audit_connection(store: Store, connection: Connection, known_head: str | None = None) -> Audit:
    """As ``audit``, within a view of the register that is open already."""
    walk, problems = _Walk(), [f"guard {name} is missing" for name in missing_guards(store, connection)]
    if known_head == BEFORE_ALL:
        walk.known_at = 0
    query = select(RECORD).order_by(RECORD.c.number).execution_options(yield_per=_ROWS_AT_ONCE)
    for row in connection.execute(query):
        problems += _record_problems(connection, row, walk)
        if known_head is not None and row.digest == known_head:
            walk.known_at = row.number
    problems += _content_problems(connection, walk)
    problems += _stray_spans(connection)
    if known_head is not None and walk.known_at is None:
        problems.append(f"no record has the digest {known_head}: records after it or up to it were lost or replaced")
    return Audit(walk.number, walk.digest, tuple(problems), walk.known_at)


def _record_problems(connection: Connection, row: Row[Any], walk: _Walk) -> Iterator[str]:
    """What is wrong with the next record; the walk then stands at it."""
    name, expected = f"record {row.number}", walk.number + 1
    if row.number != expected:
        missing = f"records {expected} to {row.number - 1}" if row.number > expected + 1 else f"record {expected}"
        yield f"{missing} missing before {name}"
    previous, walk.number, walk.digest = walk.digest, row.number, row.digest
    try:
        record = record_of(row)
    except InputError:
        yield f"{name}: {_difference(row)}"
        return
    try:
        if record["previous"] != previous:
            yield f"{name}: does not follow the record before it"
        yield from _reference_problems(name, record, walk)
        if record.kind == RELEASE:
            yield from _span_problems(connection, name, record)
    except (KeyError, ValueError, TypeError, AttributeError, InputError):
        # Its digest is its own, so somebody who knows the chain wrote it.
        yield f"{name}: is no record as this program writes them"


def _difference(row: Row[Any]) -> str:
    try:
        if digest_of(row.body) != row.digest:
            return "its text or its digest was changed"
        return "columns beside its text were changed"
    except AttributeError:
        return "its text was changed"


def _references(record: Record) -> Iterator[dict[str, str]]:
    yield from record.body.get("files", {}).values()
    for name in ("library", "order"):
        kept = record.body.get(name, {}).get("kept")
        if kept:
            yield kept


def _reference_problems(name: str, record: Record, walk: _Walk) -> Iterator[str]:
    for reference in _references(record):
        key, stored = bytes.fromhex(reference["sha256"]), bytes.fromhex(reference["stored"])
        if walk.references.setdefault(key, stored) != stored:
            yield f"{name}: names content {reference['sha256'][:12]} with another stored form than earlier records"


def _content_problems(connection: Connection, walk: _Walk) -> Iterator[str]:
    """Each content against its name and against what the records say is stored."""
    left = dict(walk.references)
    query = select(CONTENT).order_by(CONTENT.c.sha256).execution_options(yield_per=_ROWS_AT_ONCE)
    for row in connection.execute(query):
        try:
            stored = left.pop(bytes.fromhex(row.sha256), None)
        except (ValueError, TypeError):
            stored = None
        if stored is None:
            yield f"content {str(row.sha256)[:12]}: no record names it (its record was lost, or its name changed)"
        elif not isinstance(row.stored, bytes | memoryview) or hashlib.sha256(row.stored).digest() != stored:
            yield f"content {row.sha256[:12]}: was changed"
        elif unpacked(row.sha256, bytes(row.stored)) is None:
            yield f"content {row.sha256[:12]}: is not what its name says"
    yield from (f"content {key.hex()[:12]}: is missing" for key in left)


def _span_problems(connection: Connection, name: str, record: Record) -> Iterator[str]:
    """The spans of a release against its hole table."""
    query = select(*(SPAN.c[column] for column in _SPAN_COLUMNS)).where(SPAN.c.number == record.number)
    there = {tuple(row) for row in connection.execute(query)}
    file = holes_name(record.serial)
    reference = record["files"][file]
    found = connection.execute(select(CONTENT.c.stored).where(CONTENT.c.sha256 == reference["sha256"])).scalar()
    content = unpacked(reference["sha256"], bytes(found)) if isinstance(found, bytes | memoryview) else None
    if content is None:
        return  # said among the contents
    needed = {tuple(span[column] for column in _SPAN_COLUMNS) for span in spans(hole_rows(Source(file, content)))}
    if there != needed:
        yield f"{name}: {len(there ^ needed)} rows of {SPAN.name} are not as its hole table says"


def _stray_spans(connection: Connection) -> Iterator[str]:
    releases = select(RECORD.c.number).where(RECORD.c.kind == RELEASE)
    strays = connection.execute(select(SPAN.c.number).where(SPAN.c.number.not_in(releases)).distinct()).scalars()
    yield from (f"{SPAN.name} has rows for {number}, which is no release" for number in sorted(strays))
