"""``verify``: no untouched folder is flagged, every corruption is found, and named for what it is.

500 corruptions and 200 untouched folders; ``benchmarks/bench_corruptions.py`` tries as many more as are asked for.
"""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from verify_cases import Folders, told, tried, untouched_folder, untouched_folders

from railgen.records.verify import verify_folder

CORRUPTIONS, UNTOUCHED = 500, 200


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Folders:
    return untouched_folders(tmp_path_factory.mktemp("outputs"))


def test_no_untouched_folder_is_flagged(tmp_path: Path) -> None:
    for number in range(UNTOUCHED):
        folder = untouched_folder(tmp_path, number)
        found = verify_folder(folder)
        assert found.discrepancies == (), number
        assert found.holes > 0
        shutil.rmtree(folder)


def test_corruptions_that_the_manifest_vouches_for_are_all_named(untouched: Folders, tmp_path: Path) -> None:
    """With every digest made to fit: found in the files, by kind and by file."""
    for what, meant, found in tried(untouched, tmp_path, CORRUPTIONS * 2 // 3, vouched=True):
        assert told(found, meant), (what, meant, found.discrepancies[:5])


def test_corruptions_that_the_manifest_does_not_vouch_for_are_all_named(untouched: Folders, tmp_path: Path) -> None:
    """Of any file, byte flips among them: the changed file is named."""
    for what, meant, found in tried(untouched, tmp_path, CORRUPTIONS - CORRUPTIONS * 2 // 3, vouched=False):
        assert told(found, meant), (what, meant, found.discrepancies[:5])
        assert [one for one in found.discrepancies if one.kind in ("file changed", "file added", "file missing")]
