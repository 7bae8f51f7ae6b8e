"""The chain: records numbered without a gap, each holding the digest of the one before.

A record's body is JSON in one fixed spelling; its digest is the sha256 of the body's bytes. Whoever knows the digest
of the last record, the head, can tell whether anything before it was changed, removed, swapped or put in between.
Contents lie beside the chain by the sha256 of their bytes; a body names each with the sha256 of what is stored, too.
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, select

from railgen.data.messages import InputError, Problem
from railgen.records.register_store import CONTENT, RECORD

FORMAT = 1
"""Version of the records' form."""
BEFORE_ALL = "0" * 64
"""Stands for the digest before the first record."""
RELEASE, RELEASE_AGAIN, FACT = "release", "release-again", "fact"
_BESIDE = ("number", "kind", "serial", "revision", "part", "value")
_LEVEL = 6
_ROWS_AT_ONCE = 200


@dataclass(frozen=True)
class Record:
    """One record: a release, a part released again, or a fact; ``body`` holds all of it."""

    number: int
    digest: str
    body: Mapping[str, Any]

    @property
    def kind(self) -> str:
        """RELEASE, RELEASE_AGAIN or FACT."""
        return str(self.body["kind"])

    @property
    def serial(self) -> str:
        return str(self.body["serial"])

    @property
    def revision(self) -> str:
        return str(self.body["revision"])

    @property
    def part(self) -> str:
        """LH-rail, RH-rail, LH-liner or RH-liner; empty where the record is about the whole serial."""
        return str(self.body["part"])

    def __getitem__(self, key: str) -> Any:
        return self.body[key]


def spelled(body: Mapping[str, Any]) -> str:
    """A body in its one spelling: keys sorted, no spaces, ASCII."""
    return json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)


def digest_of(body: str) -> str:
    """sha256 of a body as spelled."""
    return hashlib.sha256(body.encode("utf-8", "surrogatepass")).hexdigest()


def columns_beside(body: Mapping[str, Any]) -> dict[str, Any]:
    """What of a body stands in columns beside it."""
    return {name: body[name] for name in _BESIDE}


def head(connection: Connection) -> tuple[int, str]:
    """Number and digest of the last record; 0 and BEFORE_ALL where there is none."""
    row = connection.execute(select(RECORD.c.number, RECORD.c.digest).order_by(RECORD.c.number.desc()).limit(1)).first()
    return (row.number, row.digest) if row else (0, BEFORE_ALL)


def append(connection: Connection, kind: str, said: Mapping[str, Any]) -> Record:
    """Add a record with what is said in it (serial, revision, part and value among it) to the end of the chain."""
    number, previous = head(connection)
    body = {"register": FORMAT, "number": number + 1, "previous": previous, "kind": kind, **said}
    text = spelled(body)
    digest = digest_of(text)
    connection.execute(RECORD.insert(), {**columns_beside(body), "body": text, "digest": digest})
    return Record(number + 1, digest, body)


def record_of(row: Row[Any]) -> Record:
    """A row of RECORD as a record. Raises InputError where its body is not what was written."""
    try:
        body = json.loads(row.body)
        record = Record(row.number, row.digest, body)
        intact = digest_of(row.body) == row.digest and columns_beside(body) == {n: getattr(row, n) for n in _BESIDE}
    except (ValueError, KeyError, TypeError, AttributeError):
        intact = False
    if not intact:
        raise damaged(f"record {row.number}")
    return record


def damaged(what: str) -> InputError:
    """The refusal to work with what was changed after it was written."""
    hint = "`railgen register audit` says what else was; restore a backup."
    return InputError([Problem("register", what, "not what was written", "what was written", hint)])


def records(connection: Connection, *conditions: Any) -> Iterator[Record]:
    """Records in their order, as they are asked for."""
    query = select(RECORD).where(*conditions).order_by(RECORD.c.number).execution_options(yield_per=_ROWS_AT_ONCE)
    return (record_of(row) for row in connection.execute(query))


def keep(connection: Connection, contents: Mapping[str, bytes]) -> dict[str, dict[str, str]]:
    """Store contents that are not stored yet; returns for each name how a body refers to it."""
    digests = {name: hashlib.sha256(content).hexdigest() for name, content in contents.items()}
    stored = {sha256: hashlib.sha256(row).hexdigest() for sha256, row in _stored(connection, [*digests.values()])}
    new: dict[str, bytes] = {}
    for name, content in contents.items():
        if digests[name] not in stored:
            new[digests[name]] = zlib.compress(content, _LEVEL)
    if new:
        connection.execute(CONTENT.insert(), [{"sha256": key, "stored": packed} for key, packed in new.items()])
    stored |= {key: hashlib.sha256(packed).hexdigest() for key, packed in new.items()}
    return {name: {"sha256": sha256, "stored": stored[sha256]} for name, sha256 in digests.items()}


def _stored(connection: Connection, digests: Sequence[str]) -> Iterator[tuple[str, bytes]]:
    query = select(CONTENT.c.sha256, CONTENT.c.stored).where(CONTENT.c.sha256.in_(digests))
    return ((row.sha256, bytes(row.stored)) for row in connection.execute(query))


def contents(connection: Connection, references: Mapping[str, Mapping[str, str]]) -> dict[str, bytes]:
    """Contents by name, as they were given. Raises InputError where one is missing or changed."""
    by_digest = dict(_stored(connection, [reference["sha256"] for reference in references.values()]))
    return {name: _unpacked(name, reference, by_digest) for name, reference in references.items()}


def _unpacked(name: str, reference: Mapping[str, str], stored: Mapping[str, bytes]) -> bytes:
    content = unpacked(reference["sha256"], stored.get(reference["sha256"], b""))
    if content is None:
        raise damaged(f"content {name}")
    return content


def unpacked(sha256: str, stored: bytes) -> bytes | None:
    """A stored content as it was given, or None where it is not what its name says."""
    try:
        content = zlib.decompress(stored)
    except zlib.error:
        return None
    return content if hashlib.sha256(content).hexdigest() == sha256 else None
