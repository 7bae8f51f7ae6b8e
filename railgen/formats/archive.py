"""All files of one serial as a ZIP archive, the same bytes each time."""

from __future__ import annotations

import zipfile
from collections.abc import Mapping
from io import BytesIO
from pathlib import Path

from railgen.data.messages import InputError, Problem
from railgen.formats.folder import write_whole
from railgen.formats.names import archive_name

_EARLIEST = (1980, 1, 1, 0, 0, 0)
"""The first time that a ZIP archive can hold: there is no clock in it."""
_PLAIN_FILE = 0o100644 << 16
_LEVEL = 6
_UNIX = 3


def archive_bytes(folder: str, files: Mapping[str, bytes]) -> bytes:
    """A ZIP archive of files by name, all in one folder, sorted by name.

    The same files give the same bytes with the same zlib, whatever the clock, the system and the order given: fixed
    time, rights and level, no extra fields, no comment.
    """
    buffer = BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED, compresslevel=_LEVEL) as archive:
        for name in sorted(files):
            entry = zipfile.ZipInfo(f"{folder}/{name}", _EARLIEST)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.create_system = _UNIX
            entry.external_attr = _PLAIN_FILE
            archive.writestr(entry, files[name])
    return buffer.getvalue()


def write_archive(output: Path, serial: str, files: Mapping[str, bytes]) -> Path:
    """Write a serial's files as ``output/SERIAL.zip`` in place of the one before; returns that file.

    Raises InputError where it cannot be written.
    """
    target = output / archive_name(serial)
    write_whole(target, archive_bytes(serial, files))
    return target


def remove_archive(output: Path, serial: str) -> Path | None:
    """Remove the archive of an earlier build, so that nobody cuts from it; returns it, None where there was none.

    Raises InputError where it cannot be removed.
    """
    target = output / archive_name(serial)
    if not target.is_file():
        return None
    try:
        target.unlink()
    except OSError as error:
        found = error.strerror or type(error).__name__
        raise InputError([Problem(str(target), "", found, "an archive that can be removed", "Remove it.")]) from None
    return target
