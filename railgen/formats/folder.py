"""The folder of one serial, or a single file, replaced whole or not at all."""

from __future__ import annotations

import re
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from railgen.data.messages import InputError, Problem

_PLAIN_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


def write_folder(output: Path, serial: str, files: Mapping[str, bytes]) -> Path:
    """Write a serial's files as ``output/serial`` in place of whatever folder stood there; returns that folder.

    The new folder is built beside the old one and moved into place when it is complete. Whatever goes wrong before
    that, the old folder stays as it was and nothing of the new one is left. Raises InputError where the output folder
    cannot be written, ValueError for a serial or a file name that is more than a plain name.
    """
    for name in (serial, *files):
        if not _PLAIN_NAME.fullmatch(name):
            raise ValueError(f"{name!r} is no plain file name")
    target = output / serial
    try:
        if target.is_symlink() or (target.exists() and not target.is_dir()):
            found, hint = "a file or a link", "Move it away."
            raise InputError([Problem(str(target), "", found, "a folder, or nothing yet", hint)])
        output.mkdir(parents=True, exist_ok=True)
        beside = Path(tempfile.mkdtemp(prefix=f".{serial}-", dir=output))
        try:
            _build(beside / "new", files)
            _swap(beside / "new", target, beside / "old")
        finally:
            # Should the old folder ever be stuck beside its place, it is not thrown away.
            if target.exists() or not (beside / "old").exists():
                shutil.rmtree(beside, ignore_errors=True)
    except OSError as error:
        raise _cannot_write(output, error) from None
    return target


def write_whole(path: Path, content: bytes) -> None:
    """Write one file in place of whatever file stood there, whole or not at all; its folder is made where it lacks.

    Raises InputError where it cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=f".{path.name}-", dir=path.parent) as beside:
            new = Path(beside) / "new"
            new.write_bytes(content)
            new.replace(path)
    except OSError as error:
        raise _cannot_write(path, error) from None


def _cannot_write(path: Path, error: OSError) -> InputError:
    reason = error.strerror or type(error).__name__
    hint = "Nothing was replaced: check rights and space, or choose another --output."
    return InputError([Problem(str(path), "", reason, "a place in an output folder that can be written", hint)])


def _build(folder: Path, files: Mapping[str, bytes]) -> None:
    folder.mkdir()
    for name, content in files.items():
        (folder / name).write_bytes(content)


def _swap(new: Path, target: Path, old: Path) -> None:
    """Put the new folder in the target's place and the one that stood there aside, or leave all as it was."""
    try:
        if target.exists():
            target.rename(old)
        new.rename(target)
    except BaseException:
        if old.exists() and not target.exists():
            old.rename(target)
        raise
