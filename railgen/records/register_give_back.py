"""Released files chosen by what they are, and kept inputs written as a library and an order again."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from railgen.data.messages import InputError, Problem
from railgen.formats.folder import write_whole
from railgen.formats.names import drawing_name, holes_name
from railgen.records.register_chain import Record
from railgen.records.register_queries import kept_inputs
from railgen.records.register_store import Store


def choose(record: Record, files: Mapping[str, bytes], drawing: bool, dxf: bool) -> dict[str, bytes]:
    """The drawing, the cut files, or both; the hole table where neither is asked for.

    Raises InputError where the release has none.
    """
    chosen: dict[str, bytes] = {}
    if drawing:
        chosen |= _all_of(record, files, "drawing", [drawing_name(record.serial)])
    if dxf:
        chosen |= _all_of(record, files, "cut files", [name for name in files if name.endswith(".dxf")])
    return chosen or {holes_name(record.serial): files[holes_name(record.serial)]}


def _all_of(record: Record, files: Mapping[str, bytes], what: str, names: list[str]) -> dict[str, bytes]:
    found = {name: files[name] for name in names if name in files}
    if not found:
        place = f"revision {record.revision} of {record.serial}"
        raise InputError([Problem("register", place, f"no {what}", "what was built and released with it")])
    return found


def write_inputs(store: Store, record: Record, folder: Path) -> list[Path]:
    """Write the kept library as `folder`/library and the kept order beside it; returns what was written.

    Raises InputError where nothing was kept, or it cannot be written.
    """
    kept = kept_inputs(store, record)
    if not kept:
        place = f"revision {record.revision} of {record.serial}"
        raise InputError([Problem("register", place, "no library and no order", "what was kept at the release")])
    written = []
    if "library" in kept:
        write_library(kept["library"], folder / "library")
        written.append(folder / "library")
    if "order" in kept:
        name = Path(record["order"]["name"]).name
        path = folder / (name if name.endswith(".toml") else f"{record.serial}-order.json")
        write_whole(path, kept["order"])
        written.append(path)
    return written


def write_library(kept: bytes, folder: Path) -> None:
    """Write a kept library as the folder of files that it was."""
    for name, words in json.loads(kept).items():
        write_whole(folder / name, words.encode("utf-8"))
