"""``verify``: no untouched folder is flagged, every corruption is found, and named for what it is."""

from __future__ import annotations

import random
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from corruptions import AGAINST_MANIFEST, IN_FILES, NEEDS_ALL, Corruption, Meant, redigest, template
from verify_folders import MORE, RAILS, random_holes, serial_folder

from railgen.records.verify import Verified, verify_folder

Folders = dict[tuple[str, bool], list[Path]]
"""Folders by kind of rail, and whether they hold every kind of file."""


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Folders:
    output, folders = tmp_path_factory.mktemp("outputs"), Folders()
    for number, (name, full) in enumerate([(name, full) for name in sorted(RAILS) for full in (False, True)] * 2):
        rng = random.Random(f"folder {number}")
        version, more = "R2018" if number in (1, 2) else "R12", MORE if full else ()
        holes = random_holes(rng, bool(RAILS[name].taper))
        folders.setdefault((name, full), []).append(
            serial_folder(output, f"P-{number + 1}", name, holes, version, more)
        )
    return folders


def corrupted(rng: random.Random, folders: Folders, copy_to: Path, work: Corruption) -> Path:
    """A copy of one of the folders that the corruption can be done to."""
    names = [name for name in sorted(RAILS) if RAILS[name].taper or work is not template]
    original = rng.choice(folders[rng.choice(names), work in NEEDS_ALL])
    folder = copy_to / original.name
    shutil.rmtree(folder, ignore_errors=True)
    shutil.copytree(original, folder)
    return folder


def told(found: Verified, meant: Meant) -> bool:
    return any(one.kind in meant.kinds and one.file.startswith(meant.file) for one in found.discrepancies)


def cases(count: int, works: tuple[Corruption, ...]) -> Iterator[tuple[int, Corruption]]:
    for number in range(count):
        yield number, works[number % len(works)]


def test_none_of_200_untouched_folders_is_flagged(tmp_path: Path) -> None:
    for number in range(200):
        rng = random.Random(number)
        name = rng.choice(sorted(RAILS))
        more = MORE if number % 5 == 0 else ("dstv",) if number % 5 == 1 else ()
        holes = random_holes(rng, bool(RAILS[name].taper), count=rng.choice((4, 16)))
        folder = serial_folder(tmp_path, f"P-{number}", name, holes, "R2018" if number % 40 == 7 else "R12", more)
        found = verify_folder(folder)
        assert found.discrepancies == (), (number, name)
        assert found.holes > 0
        shutil.rmtree(folder)


def test_corruptions_that_the_manifest_vouches_for_are_all_named(untouched: Folders, tmp_path: Path) -> None:
    """350 corruptions with every digest made to fit: found in the files, by kind and by file."""
    for number, work in cases(350, IN_FILES):
        rng = random.Random(f"in files {number}")
        folder = corrupted(rng, untouched, tmp_path, work)
        meant = work(rng, folder)
        redigest(folder)
        found = verify_folder(folder)
        assert told(found, meant), (number, work, folder, meant, found.discrepancies[:5])


def test_corruptions_that_the_manifest_does_not_vouch_for_are_all_named(untouched: Folders, tmp_path: Path) -> None:
    """150 corruptions of any file, byte flips among them: the changed file is named."""
    for number, work in cases(150, AGAINST_MANIFEST):
        rng = random.Random(f"manifest {number}")
        folder = corrupted(rng, untouched, tmp_path, work)
        meant = work(rng, folder)
        found = verify_folder(folder)
        assert told(found, meant), (number, work, folder, meant, found.discrepancies[:5])
        changed = [one for one in found.discrepancies if one.kind in ("file changed", "file added", "file missing")]
        assert changed
