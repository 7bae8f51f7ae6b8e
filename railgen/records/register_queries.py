"""Questions to the register: what was released, the exact files, which serials have a component at a station."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import Any

from sqlalchemy import Connection, func, select

from railgen.data.messages import InputError, Problem, nearest, one_of
from railgen.data.reading import Source
from railgen.formats.hole_table import HoleRows, hole_rows
from railgen.formats.names import holes_name
from railgen.records.register_chain import FACT, RELEASE, Record, contents, record_of, records
from railgen.records.register_release import current_release
from railgen.records.register_store import RECORD, SPAN, Store


def released(connection: Connection, serial: str, revision: str | None = None) -> Record:
    """The current release of a serial, or that of one revision.

    Raises InputError, with the nearest serial or the revisions there are, where there is none.
    """
    found = current_release(connection, serial, revision)
    if found is not None:
        return found
    others = list(records(connection, RECORD.c.serial == serial, RECORD.c.kind == RELEASE))
    if others:
        allowed = f"a released revision of {serial}: {one_of(record.revision for record in others)}"
        raise InputError([Problem("register", "--revision", repr(revision), allowed)])
    serials = connection.execute(select(RECORD.c.serial).distinct()).scalars().all()
    raise InputError([Problem("register", serial, "no release", "a released serial", nearest(serial, serials))])


def released_files(store: Store, serial: str, revision: str | None = None) -> tuple[Record, dict[str, bytes]]:
    """A release and all its files by name, byte for byte. Raises InputError as ``released`` does."""
    with store.reading() as connection:
        record = released(connection, serial, revision)
        return record, contents(connection, record["files"])


def released_holes(connection: Connection, record: Record) -> HoleRows:
    """The rows of a release's hole table."""
    name = holes_name(record.serial)
    content = contents(connection, {name: record["files"][name]})[name]
    return hole_rows(Source(name, content))


def kept_inputs(store: Store, record: Record) -> dict[str, bytes]:
    """What was kept of the inputs of a release, by "library" and "order"; either may be missing."""
    references = {name: record[name]["kept"] for name in ("library", "order") if record[name]["kept"]}
    with store.reading() as connection:
        return contents(connection, references)


def history(store: Store, serials: Sequence[str] = ()) -> Iterator[Record]:
    """All records in their order, or all of some serials. Raises InputError for a serial that has none."""
    with store.reading() as connection:
        for serial in serials:
            released(connection, serial)
        conditions = [RECORD.c.serial.in_(serials)] if serials else []
        yield from records(connection, *conditions)


def superseded(found: Sequence[Record]) -> dict[int, int]:
    """For each record that a later one supersedes or corrects the number of that one."""
    later = {}
    for record in found:
        before = record.body.get("supersedes") or record.body.get("corrects")
        if before:
            later[int(before)] = record.number
    return later


@dataclass(frozen=True)
class Sought:
    """What serials are sought by; what is None or empty does not matter. Stations in mm, both ends included.

    fact and value: a kind of fact and what it says; every_revision: superseded releases count, too.
    """

    component: str | None = None
    least: float = -inf
    greatest: float = inf
    fact: str | None = None
    value: str = ""
    every_revision: bool = False

    @property
    def limited(self) -> bool:
        """Whether stations matter."""
        return isfinite(self.least) or isfinite(self.greatest)


@dataclass(frozen=True)
class Reach:
    """The features sought on one part: the least and greatest of their stations (mm), and how many they are."""

    least: float
    greatest: float
    holes: int


@dataclass(frozen=True)
class Found:
    """A release that was sought, and where a component was, its features in question by part (LH-rail ...)."""

    record: Record
    reaches: dict[str, Reach]


def find(store: Store, sought: Sought) -> Iterator[Found]:
    """The releases that have what is sought, in the order of their release."""
    with store.reading() as connection:
        numbers = _with_fact(connection, sought) if sought.fact else None
        for record in _candidates(connection, sought):
            if numbers is not None and record.number not in numbers:
                continue
            reaches = _reaches(connection, record, sought) if sought.component else {}
            if reaches or not sought.component:
                yield Found(record, reaches)


def _candidates(connection: Connection, sought: Sought) -> Iterator[Record]:
    """Releases whose component reaches into the stations sought."""
    query = select(RECORD).where(RECORD.c.kind == RELEASE).order_by(RECORD.c.number)
    if not sought.every_revision:
        # Numbers only grow, so a serial's last release is its current one.
        last = select(func.max(RECORD.c.number)).where(RECORD.c.kind == RELEASE).group_by(RECORD.c.serial)
        query = query.where(RECORD.c.number.in_(last))
    if sought.component:
        query = query.where(RECORD.c.number.in_(select(SPAN.c.number).where(*_overlaps(sought))))
    return (record_of(row) for row in connection.execute(query).all())


def _overlaps(sought: Sought) -> list[Any]:
    span = SPAN.c
    ends = [span.least <= sought.greatest, span.greatest >= sought.least]
    return [span.component == sought.component, *(end for end in ends if sought.limited)]


def _reaches(connection: Connection, record: Record, sought: Sought) -> dict[str, Reach]:
    """From the spans where they lie within the stations sought, else feature by feature."""
    query = select(SPAN).where(SPAN.c.number == record.number, *_overlaps(sought)).order_by(SPAN.c.side, SPAN.c.part)
    spans = connection.execute(query).all()
    if all(sought.least <= span.least and span.greatest <= sought.greatest for span in spans):
        return {f"{span.side}-{span.part}": Reach(span.least, span.greatest, span.holes) for span in spans}
    holes, found = released_holes(connection, record), dict[str, list[float]]()
    for row, station in enumerate(holes.station_mm.tolist()):
        if sought.component in holes.components[row] and sought.least <= station <= sought.greatest:
            found.setdefault(f"{holes.side[row]}-{holes.part[row]}", []).append(station)
    return {part: Reach(min(stations), max(stations), len(stations)) for part, stations in found.items()}


def _with_fact(connection: Connection, sought: Sought) -> set[int]:
    """Numbers of the releases that have the fact sought, where no later fact stands in for it."""
    conditions: list[Any] = [RECORD.c.kind == FACT]
    if sought.value:
        serials = select(RECORD.c.serial).where(RECORD.c.kind == FACT, RECORD.c.value == sought.value)
        conditions.append(RECORD.c.serial.in_(serials))
    facts = list(records(connection, *conditions))
    corrected = superseded(facts)
    return {
        int(fact["release"])
        for fact in facts
        if fact["fact"] == sought.fact and sought.value in ("", fact["value"]) and fact.number not in corrected
    }


def component_names(store: Store) -> list[str]:
    """Names of all components that released hole tables have."""
    with store.reading() as connection:
        return list(connection.execute(select(SPAN.c.component).distinct()).scalars())
