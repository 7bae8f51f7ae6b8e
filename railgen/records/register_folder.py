"""A serial's folder as it is to be released: every file as its manifest says, no error finding."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pydantic import TypeAdapter, ValidationError

from railgen.data.bank import BankRow
from railgen.data.findings import Finding, has_errors
from railgen.data.messages import InputError, Problem, shown
from railgen.data.order_files import unread_orders
from railgen.data.values import Revision, Serial
from railgen.formats.findings_file import read_findings
from railgen.formats.hole_table import HoleRows, read_hole_table
from railgen.formats.json_text import json_bytes
from railgen.formats.manifest import Manifest, read_manifest
from railgen.formats.names import MANIFEST, findings_name, holes_name
from railgen.holes.table import PARTS, SIDES

_LIBRARY, _ORDER = "library/", "order/"
_SERIAL, _REVISION = TypeAdapter[str](Serial), TypeAdapter[str](Revision)
_NEEDED = ("revision", "library_revision")
PART_NAMES = tuple(f"{side}-{part}" for side in SIDES for part in PARTS)


@dataclass(frozen=True)
class ReleaseFolder:
    """What is to be released: the bytes of all files by name, and what was read from them."""

    folder: str
    manifest: Manifest
    files: Mapping[str, bytes] = field(repr=False)
    holes: HoleRows = field(repr=False)
    findings: tuple[Finding, ...] = field(repr=False)

    @property
    def serial(self) -> str:
        return self.manifest.serial

    @property
    def revision(self) -> str:
        return self.manifest.settings["revision"]

    @property
    def order(self) -> tuple[str, str]:
        """Name and sha256 of the order's input."""
        name, digest = next(item for item in self.manifest.inputs.items() if item[0].startswith(_ORDER))
        return name.removeprefix(_ORDER), digest

    @property
    def library(self) -> dict[str, str]:
        """sha256 of each file of the library that shaped the serial."""
        inputs = self.manifest.inputs.items()
        return {name.removeprefix(_LIBRARY): digest for name, digest in inputs if name.startswith(_LIBRARY)}

    @property
    def parts(self) -> tuple[str, ...]:
        """LH-rail, RH-rail and so on: the parts that the hole table has."""
        there = {f"{side}-{part}" for side, part in zip(self.holes.side, self.holes.part, strict=True)}
        return tuple(name for name in PART_NAMES if name in there)


def read_release_folder(folder: Path) -> ReleaseFolder:
    """A serial's folder, whole. Raises InputError with all that speaks against its release."""
    if not folder.is_dir():
        raise InputError([Problem(str(folder), "", "no such folder", "the folder of a serial")])
    manifest = read_manifest(folder / MANIFEST)
    files = _read_all(folder)
    problems = [*_against_manifest(folder, manifest, files), *_manifest_problems(folder, manifest)]
    if problems:
        raise InputError(problems)
    holes = read_hole_table(folder / holes_name(manifest.serial))
    findings = read_findings(folder / findings_name(manifest.serial))
    found = ReleaseFolder(str(folder), manifest, files, holes, findings)
    problems = list(_refusals(found))
    if problems:
        raise InputError(problems)
    return found


def _read_all(folder: Path) -> dict[str, bytes]:
    try:
        return {path.name: path.read_bytes() for path in sorted(folder.iterdir()) if path.is_file()}
    except OSError as error:
        found = error.strerror or type(error).__name__
        raise InputError([Problem(error.filename or str(folder), "", found, "a file that can be read")]) from None


def _against_manifest(folder: Path, manifest: Manifest, files: Mapping[str, bytes]) -> Iterator[Problem]:
    hint = "Build the serial again."
    for name, digest in manifest.files.items():
        if name not in files:
            yield Problem(str(folder / name), "", "no such file", "the file that the manifest lists", hint)
        elif hashlib.sha256(files[name]).hexdigest() != digest:
            yield Problem(str(folder / name), "", "changed since it was built", "the file as built", hint)
    for name in files:
        if name not in manifest.files and name != MANIFEST:
            yield Problem(str(folder / name), "", "a file that the manifest does not list", "none besides", hint)


def _manifest_problems(folder: Path, manifest: Manifest) -> Iterator[Problem]:
    file, hint = str(folder / MANIFEST), "Build the serial again."
    for name in (holes_name(manifest.serial), findings_name(manifest.serial)):
        if name not in manifest.files:
            yield Problem(file, f"files.{name}", "nothing", "this file is needed for a release", hint)
    for name in _NEEDED:
        if not manifest.settings.get(name):
            yield Problem(file, f"settings.{name}", "nothing", "this key is needed for a release", hint)
    for name, value, kind in (
        ("serial", manifest.serial, _SERIAL),
        ("settings.revision", manifest.settings.get("revision", "A"), _REVISION),
    ):
        try:
            kind.validate_python(value)
        except ValidationError:
            yield Problem(file, name, shown(value), f"a {name.split('.')[-1]} as an order may have it", hint)
    if sum(name.startswith(_ORDER) for name in manifest.inputs) != 1:
        yield Problem(file, "inputs", "no order, or several", "the digest of one order", hint)


def _refusals(found: ReleaseFolder) -> Iterator[Problem]:
    if has_errors(found.findings):
        errors = sum(finding.severity == "error" for finding in found.findings)
        place = f"{found.folder}/{findings_name(found.serial)}"
        yield Problem(place, "", f"{errors} error findings", "none in what is released", "Change the order.")
    if set(found.holes.serial) != {found.serial}:
        yield Problem(f"{found.folder}/{holes_name(found.serial)}", "serial", "another serial", found.serial)


@dataclass(frozen=True)
class Inputs:
    """Inputs at hand that may be kept beside a release: library folders and orders, by digest."""

    library: Path | None = None
    orders: Mapping[tuple[str, str], bytes] = field(default_factory=dict, repr=False)

    def library_of(self, found: ReleaseFolder) -> bytes | None:
        """The library that shaped the serial as one JSON object of texts by name, or None where it is not at hand."""
        if self.library is None:
            return None
        texts = {}
        for name, digest in sorted(found.library.items()):
            if ".." in Path(name).parts or Path(name).is_absolute():
                return None
            try:
                content = (self.library / name).read_bytes()
                texts[name] = content.decode("utf-8")
            except (OSError, UnicodeDecodeError):
                return None
            if hashlib.sha256(content).hexdigest() != digest:
                return None
        return json_bytes(texts)

    def order_of(self, found: ReleaseFolder) -> bytes | None:
        """The order that shaped the serial, or None where it is not at hand; see ``read_inputs`` for its form."""
        return self.orders.get(found.order)


def read_inputs(library: Path | None, order_files: Sequence[Path]) -> Inputs:
    """The inputs at hand: an order as its TOML file's bytes; a row of a bank as JSON, its cells by column."""
    orders: dict[tuple[str, str], bytes] = {}
    for given in unread_orders(order_files):
        if isinstance(given, BankRow):
            cells = dict(zip(given.header, given.cells, strict=False))
            orders[given.read().name, given.sha256] = json_bytes(cells)
        elif given.error is not None:
            raise given.error
        else:
            orders[given.name, given.sha256] = Path(given.place).read_bytes()
    return Inputs(library, orders)
