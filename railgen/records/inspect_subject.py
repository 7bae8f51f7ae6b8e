"""What an inspection needs besides the measured holes: the hole table and the library, from folder or register."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from pathlib import Path

from railgen.data.library import Library, find_library, load_library
from railgen.data.messages import InputError, Problem
from railgen.formats.hole_table import HoleRows, read_hole_table
from railgen.formats.manifest import read_manifest
from railgen.formats.names import MANIFEST, holes_name
from railgen.records.register_queries import kept_inputs, released, released_holes
from railgen.records.register_rebuild import write_library
from railgen.records.register_store import Store


@dataclass(frozen=True)
class InspectionSubject:
    """A serial's hole table with its revision (empty where unknown), and the library that says what its names mean."""

    serial: str
    revision: str
    table: HoleRows
    library: Library


def subject_from_folder(serial: str, folder: Path, library: str | None) -> InspectionSubject:
    """From a serial's folder as built. Raises InputError where it is another serial's, or cannot be read."""
    table = read_hole_table(folder / holes_name(serial))
    if set(table.serial) != {serial}:
        raise InputError([Problem(str(folder / holes_name(serial)), "serial", "another serial", serial)])
    manifest = folder / MANIFEST
    revision = read_manifest(manifest).settings.get("revision", "") if manifest.is_file() else ""
    return InspectionSubject(serial, revision, table, load_library(find_library(library)))


def subject_from_register(serial: str, revision: str | None, store: Store, library: str | None) -> InspectionSubject:
    """From a release, with the library named, else the one kept with the release, else the one found as ever."""
    with store.reading() as connection:
        record = released(connection, serial, revision)
        table = released_holes(connection, record)
    kept = kept_inputs(store, record).get("library") if library is None else None
    if kept is None:
        return InspectionSubject(serial, record.revision, table, load_library(find_library(library)))
    with tempfile.TemporaryDirectory() as folder:
        write_library(kept, Path(folder))
        return InspectionSubject(serial, record.revision, table, load_library(Path(folder)))
