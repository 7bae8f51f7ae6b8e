"""Released files chosen by what they are, and kept inputs written as a library and an order again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from railgen.data.messages import InputError, Problem
from railgen.formats.folder import write_whole
from railgen.formats.names import drawing_name, holes_name
from railgen.records.register_chain import Record
from railgen.records.register_queries import kept_inputs
from railgen.records.register_rebuild import rebuilt, write_library
from railgen.records.register_store import Store


def choose(store: Store, record: Record, files: Mapping[str, bytes], drawing: bool, dxf: bool) -> dict[str, bytes]:
    """The drawing, the cut files, or both; the hole table where neither is asked for.

    What was not released is made anew from the kept inputs. Raises InputError where that cannot be done.
    """
    chosen: dict[str, bytes] = {}
    if drawing:
        name = drawing_name(record.serial)
        chosen |= {name: files[name]} if name in files else rebuilt(store, record, "drawing")
    if dxf:
        cut = {name: content for name, content in files.items() if name.endswith(".dxf")}
        chosen |= cut or rebuilt(store, record, "cut files")
    return chosen or {holes_name(record.serial): files[holes_name(record.serial)]}


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
