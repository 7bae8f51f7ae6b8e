"""The folder of one serial, or a single file, replaced whole or not at all."""

from __future__ import annotations

import os
import re
import secrets
import shutil
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from railgen.data.messages import InputError, Problem

try:
    import fcntl
except ImportError:  # Windows has none, and refuses to remove a file that is held open
    fcntl = None  # type: ignore[assignment]

_PLAIN_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_BESIDE = re.compile(r"\.([A-Za-z0-9][A-Za-z0-9._-]*)-[a-z0-9_]{8}")
_LOCK = "lock"


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
        with _beside(target) as beside:
            _build(beside / "new", files)
            _swap(beside / "new", target, beside / "old")
    except OSError as error:
        raise _cannot_write(output, error) from None
    return target


def write_whole(path: Path, content: bytes) -> None:
    """Write one file in place of whatever file stood there, whole or not at all; its folder is made where it lacks.

    Raises InputError where it cannot be written.
    """
    with whole_file(path) as stream:
        stream.write(content)


@contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """A stream that becomes a file in place of whatever file stood there once all is written; its folder is made.

    With an exception nothing is replaced. Raises InputError where it cannot be written.
    """
    try:
        new, stream = _file_beside(path)
        try:
            with stream:
                yield stream
                stream.flush()
                if not fcntl:
                    stream.close()
                new.replace(path)  # while it is locked, so that nobody sweeps it away
        finally:
            new.unlink(missing_ok=True)
    except OSError as error:
        raise _cannot_write(path, error) from None


def _file_beside(path: Path) -> tuple[Path, BinaryIO]:
    """A new file beside the target, locked as long as it is open; its folder is made where it lacks."""
    if not path.parent.is_dir():
        path.parent.mkdir(parents=True, exist_ok=True)
    while True:
        new = path.with_name(f".{path.name}-{secrets.token_hex(4)}")
        with suppress(FileExistsError):
            descriptor = os.open(new, os.O_CREAT | os.O_EXCL | os.O_WRONLY | getattr(os, "O_BINARY", 0), 0o666)
            # Another process may sweep the file away before it is locked: once more.
            if _locked(descriptor) and os.fstat(descriptor).st_nlink:
                return new, os.fdopen(descriptor, "wb")
            os.close(descriptor)


def ready_to_write(folder: Path) -> None:
    """Make a folder where it lacks, and sweep it. Raises InputError where it cannot be written."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise _cannot_write(folder, error) from None
    sweep(folder)


def sweep(folder: Path) -> None:
    """Remove what a killed process left beside its target in a folder, and put back a folder that it had moved aside.

    What another process is still writing is left alone. Raises InputError where the folder cannot be read.
    """
    try:
        entries = [entry.name for entry in os.scandir(folder) if entry.name.startswith(".")] if folder.is_dir() else []
    except OSError as error:
        raise _cannot_write(folder, error) from None
    for name in entries:
        if found := _BESIDE.fullmatch(name):
            if (folder / name).is_dir():
                _clear_away(folder / name, folder / found.group(1))
            else:
                _clear_away_file(folder / name)


@contextmanager
def _beside(target: Path) -> Iterator[Path]:
    """A folder to work in beside the target, locked as long as this process lives, and removed afterwards."""
    while True:
        beside = Path(tempfile.mkdtemp(prefix=f".{target.name}-", dir=target.parent))
        with suppress(FileNotFoundError):
            # Another process may sweep the folder away before it is locked; then there is no lock file: once more.
            lock = os.open(beside / _LOCK, os.O_CREAT | os.O_WRONLY, 0o600)
            if _locked(lock) and (beside / _LOCK).exists():
                break
            os.close(lock)
    try:
        yield beside
    finally:
        os.close(lock)
        _clear_away(beside, target)


def _clear_away(beside: Path, target: Path) -> None:
    """Remove a folder beside its target unless its process lives; the old folder in it goes back where none is."""
    try:
        lock = os.open(beside / _LOCK, os.O_WRONLY)
    except OSError:
        lock = None
    try:
        if lock is not None and not _locked(lock):
            return
        if (beside / "old").exists() and not target.exists():
            with suppress(OSError):
                (beside / "old").rename(target)
        # Should the old folder ever be stuck beside its place, it is not thrown away.
        if target.exists() or not (beside / "old").exists():
            shutil.rmtree(beside, ignore_errors=True)
    finally:
        if lock is not None:
            os.close(lock)


def _clear_away_file(new: Path) -> None:
    """Remove a file that was not finished unless its process lives."""
    with suppress(OSError):
        lock = os.open(new, os.O_WRONLY)
        try:
            if _locked(lock):
                new.unlink()
        finally:
            os.close(lock)


def _locked(lock: int) -> bool:
    """Whether the file is this process's now; on a file system without locks it always is."""
    try:
        if fcntl:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True
    return True


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
