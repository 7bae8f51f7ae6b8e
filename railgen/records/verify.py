"""A serial's folder read back: every file against the manifest, every drawn hole against the hole table.

The hole table is the reference, and the manifest vouches for it. Each kind of file has a checker; another kind of
file needs another checker in ``CHECKERS`` and nothing else.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path as FilePath

from railgen.data.findings import has_errors
from railgen.data.messages import InputError, Problem
from railgen.formats.findings_file import read_findings
from railgen.formats.manifest import read_manifest
from railgen.formats.names import MANIFEST, cut_file_name, findings_name, holes_name, press_name, setup_sheet_name
from railgen.records.check_cut_file import check_cut_file, first_problem
from railgen.records.check_dstv import check_dstv
from railgen.records.check_hands import check_hands
from railgen.records.check_program import check_press, check_program, missing_programs
from railgen.records.check_split import check_layer_file, check_tool_file, missing_tool_files
from railgen.records.check_table import check_table
from railgen.records.check_template import check_template
from railgen.records.discrepancy import Discrepancy, in_order
from railgen.records.subject import Subject

Checker = Callable[[Subject, FilePath], "Iterator[Discrepancy] | None"]
"""Takes one file of a folder: what is wrong with it, or None where the file is not of its kind."""

CHECKERS: tuple[Checker, ...] = (
    *(check_cut_file, check_template, check_tool_file, check_layer_file, check_dstv),
    *(check_program, check_press),
)
"""One a kind of file. A checker may raise InputError for a file that cannot be read."""

_SERIAL = re.compile(r"[A-Z]{1,4}-[0-9]{1,9}")


@dataclass(frozen=True)
class Verified:
    """What a check found: the folder, its serial, the files and rows of the hole table looked at, what is wrong."""

    folder: str
    serial: str
    files: int
    holes: int
    discrepancies: tuple[Discrepancy, ...]


def verify_folder(folder: FilePath) -> Verified:
    """Check one serial's folder; raises InputError where it is none or has no manifest that can be read."""
    if not folder.is_dir():
        raise InputError([Problem(str(folder), "", "no folder", "the folder of one serial", "Check the path.")])
    subject = Subject(folder, read_manifest(folder / MANIFEST))
    names = sorted(entry.name for entry in folder.iterdir())
    found = list(_check_files(subject, names))
    holes = 0
    if holes_name(subject.serial) in names:
        try:
            holes = len(subject.holes)
            found += _check_content(subject, names)
        except InputError as error:
            found.append(Discrepancy("file unreadable", holes_name(subject.serial), first_problem(error)))
    else:
        words = "without the hole table there is nothing to hold the other files against"
        found.append(Discrepancy("file missing", holes_name(subject.serial), words))
    return Verified(str(folder), subject.serial, len(names), holes, in_order(found))


def _check_files(subject: Subject, names: list[str]) -> Iterator[Discrepancy]:
    """The folder against its manifest: every file there, as it was written, and no other."""
    serial, listed = subject.serial, subject.manifest.files
    folder = subject.folder.resolve().name
    if folder != serial and _SERIAL.fullmatch(folder):
        yield Discrepancy("wrong serial", MANIFEST, f"the folder is named {folder}, the manifest is of {serial}")
    for name in sorted(listed.keys() - set(names)):
        yield Discrepancy("file missing", name, "stands in the manifest and is not there")
    for name in names:
        if name == MANIFEST:
            continue
        if not name.startswith(f"{serial}-"):
            yield Discrepancy("wrong serial", name, f"is named for another serial than {serial}")
        if name not in listed:
            yield Discrepancy("file added", name, "does not stand in the manifest")
        elif not (subject.folder / name).is_file():
            yield Discrepancy("file changed", name, "is no file")
        elif hashlib.sha256((subject.folder / name).read_bytes()).hexdigest() != listed[name]:
            yield Discrepancy("file changed", name, "has changed since it was written")


def _check_content(subject: Subject, names: list[str]) -> Iterator[Discrepancy]:
    """What stands in the files against the hole table."""
    yield from check_table(subject)
    for name in names:
        yield from _check_one(subject, subject.folder / name)
    yield from check_hands(subject)
    yield from missing_tool_files(subject)
    yield from _check_complete(subject, names)


def _check_one(subject: Subject, file: FilePath) -> Iterator[Discrepancy]:
    """One file by the first checker that knows its kind."""
    try:
        for checker in CHECKERS:
            found = checker(subject, file)
            if found is not None:
                yield from found
                return
    except InputError as error:
        yield Discrepancy("file unreadable", file.name, first_problem(error))


def _check_complete(subject: Subject, names: list[str]) -> Iterator[Discrepancy]:
    """A cut file for every blank with holes, unless an error finding forbids all of them."""
    try:
        forbidden = has_errors(read_findings(subject.folder / findings_name(subject.serial)))
    except InputError as error:
        if findings_name(subject.serial) in names:
            yield Discrepancy("file unreadable", findings_name(subject.serial), first_problem(error))
        forbidden = False
    if forbidden:
        for name in names:
            if _is_to_work_from(name, subject.serial):
                yield Discrepancy("file added", name, "an error finding stands: there may be no file to cut from")
        return
    yield from missing_programs(subject, names)
    if "cut" not in subject.manifest.settings.get("written", "cut"):
        return
    for name, (side, part) in subject.blanks.items():
        if len(subject.rows(side, part)) and name not in names and name not in subject.manifest.files:
            yield Discrepancy("file missing", cut_file_name(subject.serial, side, part), "the cut file is missing")


def _is_to_work_from(name: str, serial: str) -> bool:
    """Whether a file is of one blank or part, or sets the press: nothing of that may be there with an error finding."""
    of_a_part = name.startswith((f"{serial}-LH-", f"{serial}-RH-"))
    return of_a_part or name in (press_name(serial), setup_sheet_name(serial))


def folders_in(place: FilePath) -> list[FilePath]:
    """The serial's folder itself, or the folders with a manifest in an output folder; raises InputError for neither."""
    if (place / MANIFEST).is_file() or not place.is_dir():
        return [place]
    found = sorted(entry for entry in place.iterdir() if (entry / MANIFEST).is_file())
    if not found:
        hint = "Name a folder that railgen build wrote."
        raise InputError([Problem(str(place), MANIFEST, "nothing", "a serial's folder with its manifest", hint)])
    return found
