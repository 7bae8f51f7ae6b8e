"""``manifest.json``: digests of a serial's files and of the inputs that shaped them, and the program's version."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import railgen
from railgen.data.library import Library
from railgen.data.messages import InputError, Problem, one_of, shown
from railgen.data.reading import read_bytes
from railgen.formats.json_text import json_bytes, parse_json
from railgen.formats.names import MANIFEST

_SHA256 = re.compile(r"[0-9a-f]{64}")
_TEXTS = ("program", "version", "serial")
_TABLES = ("settings", "inputs", "files")


@dataclass(frozen=True)
class Manifest:
    """What a serial's folder holds and what it was made from.

    files: sha256 of every other file by name; inputs: sha256 of every input by name; settings: choices made on the
    command line that shaped the files, such as the limit set, and the revisions that order and library bear.
    """

    serial: str
    files: Mapping[str, str]
    inputs: Mapping[str, str]
    settings: Mapping[str, str] = field(default_factory=dict)
    version: str = railgen.__version__


def inputs_of(name: str, sha256: str, library: Library) -> dict[str, str]:
    """Digests of the order, by the name of its file without the folder, and of every file of the library."""
    inputs = {f"library/{name}": digest for name, digest in library.sources.items()}
    return {f"order/{Path(name).name}": sha256, **inputs}


def manifest_of(
    serial: str,
    files: Mapping[str, bytes],
    inputs: Mapping[str, str],
    settings: Mapping[str, str] | None = None,
) -> Manifest:
    """The manifest of a serial's files, given as they will be written."""
    digests = {name: hashlib.sha256(content).hexdigest() for name, content in files.items() if name != MANIFEST}
    return Manifest(serial, digests, dict(inputs), dict(settings or {}))


def manifest_json(manifest: Manifest) -> bytes:
    """A manifest as JSON, every table sorted by name; there is no clock in it."""
    plain: dict[str, object] = {"program": "railgen", "version": manifest.version, "serial": manifest.serial}
    return json_bytes(plain | {name: dict(sorted(getattr(manifest, name).items())) for name in _TABLES})


def read_manifest(path: Path) -> Manifest:
    """A manifest.json; raises InputError, naming the key, for all that is wrong with it."""
    source = read_bytes(path)
    plain = parse_json(source)
    if not isinstance(plain, dict):
        raise InputError([Problem(source.file, "", shown(plain), "an object")])
    problems = list(_problems(source.file, plain))
    if problems:
        raise InputError(problems)
    return Manifest(plain["serial"], plain["files"], plain["inputs"], plain["settings"], plain["version"])


def _problems(file: str, plain: dict[str, Any]) -> Iterator[Problem]:
    for key in (*_TEXTS, *_TABLES):
        if key not in plain:
            yield Problem(file, key, "nothing", "this key is required")
    for key, value in plain.items():
        if key in _TEXTS:
            if not isinstance(value, str):
                yield Problem(file, key, shown(value), "a text")
        elif key not in _TABLES:
            yield Problem(file, shown(key), "an unknown key", one_of((*_TEXTS, *_TABLES)))
        elif not isinstance(value, dict):
            yield Problem(file, key, shown(value), "an object")
        else:
            yield from _table_problems(file, key, value)


def _table_problems(file: str, key: str, table: dict[str, Any]) -> Iterator[Problem]:
    for name, value in table.items():
        if not isinstance(value, str):
            yield Problem(file, f"{key}.{name}", shown(value), "a text")
        elif key != "settings" and not _SHA256.fullmatch(value):
            yield Problem(file, f"{key}.{name}", shown(value), "a sha256 of 64 hexadecimal digits")
