"""The records of a bank's serials on disk, one small file each: what a later run need not do again.

``DIR/records/P-1/P-1101.json`` holds a key that changes with the order, the library, the program or what was asked for,
the digest of the manifest in the serial's folder, and the record itself.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from railgen.bank.record import SerialRecord, record_from
from railgen.formats.folder import ready_to_write, write_whole
from railgen.formats.names import MANIFEST

FOLDER = "records"
_SERIALS_A_FOLDER = 1000


def record_path(output: Path, serial: str) -> Path:
    """Where a serial's record stands."""
    prefix, _, number = serial.partition("-")
    return output / FOLDER / f"{prefix}-{int(number) // _SERIALS_A_FOLDER}" / f"{serial}.json"


def remember(output: Path, record: SerialRecord, key: str, files: Mapping[str, bytes]) -> None:
    """Write a serial's record; files are those of its folder, none where none was asked for."""
    manifest = hashlib.sha256(files[MANIFEST]).hexdigest() if files else ""
    kept = {"key": key, "manifest": manifest, "record": record.as_dict()}
    write_whole(record_path(output, record.serial), (json.dumps(kept, separators=(",", ":")) + "\n").encode())


def kept_record(output: Path, serial: str, key: str, with_folder: bool) -> SerialRecord | None:
    """The record of a serial that stands complete and unchanged, its folder too where one is asked for; else None."""
    try:
        kept = json.loads(record_path(output, serial).read_bytes())
        if kept["key"] != key or (with_folder and not _is_whole(output / serial, kept["manifest"])):
            return None
        return record_from(kept["record"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _is_whole(folder: Path, manifest_sha256: str) -> bool:
    """Whether a folder holds the files of that manifest, unchanged, and no others."""
    manifest = (folder / MANIFEST).read_bytes()
    if hashlib.sha256(manifest).hexdigest() != manifest_sha256:
        return False
    digests = json.loads(manifest)["files"]
    if {path.name for path in folder.iterdir()} != {*digests, MANIFEST}:
        return False
    return all(hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest for name, digest in digests.items())


def ready_for_bank(output: Path) -> None:
    """Make the folders that a bank is written to, and sweep up after a run that was killed.

    Raises InputError where they cannot be written.
    """
    ready_to_write(output)
    ready_to_write(output / FOLDER)
    for folder in (output / FOLDER).iterdir():
        if folder.is_dir():
            ready_to_write(folder)
