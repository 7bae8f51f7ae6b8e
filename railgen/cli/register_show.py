"""Records of the register on a screen, and as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from rich.markup import escape
from rich.table import Table

from railgen.records.register_chain import FACT, RELEASE, Record
from railgen.records.register_queries import Found


def as_plain(record: Record) -> dict[str, Any]:
    """A record as it stands, with its digest."""
    return {**record.body, "digest": record.digest}


def history_table(shown: Sequence[Record], later: Mapping[int, int]) -> Table:
    """A row a record; `later`: the number of the record that supersedes or corrects one."""
    table = _table("record", "serial", "revision", "what", "says", "by", "on")
    for record in shown:
        what, says = _what(record), _says(record)
        if record.number in later:
            word = "superseded" if record.kind == RELEASE else "corrected"
            what += f" ({word} by record {later[record.number]})"
        cells = (record.serial, record.revision, what, says, record["by"], record["on"])
        table.add_row(str(record.number), *(escape(str(cell)) for cell in cells))
    return table


def _table(*columns: str) -> Table:
    table = Table(pad_edge=False, header_style="bold")
    for name in columns:
        table.add_column(name, overflow="fold")
    return table


def _what(record: Record) -> str:
    if record.kind == FACT:
        part = f" {record.part}, blank {record['blank']}" if record.part else ""
        return f"{record['fact']}{part}"
    if record.kind == RELEASE:
        return f"release of {', '.join(record['parts'])}"
    return f"{record.part} released again, blank {record['blank']}"


def _says(record: Record) -> str:
    if record.kind == RELEASE:
        counts = ", ".join(f"{record['findings'][name]} {name}s" for name in ("warning", "note"))
        library = f"library revision {record['library']['revision']}"
        return "; ".join(words for words in (counts, library, record["reason"]) if words)
    if record.kind != FACT:
        return str(record["reason"])
    added = [_added(hole) for hole in record["added"]]
    return "; ".join(words for words in (record["value"], record["note"], *record["holes"], *added) if words)


def _added(hole: Mapping[str, Any]) -> str:
    size = "" if hole["diameter_mm"] is None else f", diameter {hole['diameter_mm']:g}"
    place = f"{hole['side']} {hole['part']} {hole['face']}"
    return f"hole in no plan: {place} at {hole['station_mm']:.2f}, {hole['across_mm']:.2f}{size}"


def found_as_plain(found: Found) -> dict[str, Any]:
    """A release that was sought, and where its features lie."""
    reaches = {
        part: {"least": reach.least, "greatest": reach.greatest, "holes": reach.holes}
        for part, reach in found.reaches.items()
    }
    record = found.record
    return {"serial": record.serial, "revision": record.revision, "record": record.number, "parts": reaches}


def found_table(found: Sequence[Found]) -> Table:
    """A row a release."""
    table = _table("serial", "revision", "features at stations")
    for release in found:
        words = [
            f"{part}: {reach.holes} from {reach.least:.1f} to {reach.greatest:.1f}"
            for part, reach in release.reaches.items()
        ]
        table.add_row(release.record.serial, release.record.revision, "\n".join(words))
    return table
