"""The register under stress: two writers at once, a killed writer, a full disk, a folder that cannot be written."""

from __future__ import annotations

import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from register_folders import serial_folder
from register_places import put, run

from railgen.data.messages import InputError
from railgen.records.register_audit import audit
from railgen.records.register_queries import history, released_files
from railgen.records.register_store import open_store

pytest_plugins = ["register_fixtures"]
_ROOT = Path(__file__).parent.parent
_WRITER = """
import sys
from pathlib import Path
from railgen.records.register_folder import Inputs, read_release_folder
from railgen.records.register_release import Signed, release
from railgen.records.register_store import open_store

store = open_store(sys.argv[1], make=True)
for folder in sys.argv[2:]:
    made = release(store, read_release_folder(Path(folder)), Signed("A", "2027-03-01"), Inputs())
    print(made.serial, flush=True)
"""


def writer(place: str, folders: list[Path]) -> subprocess.Popen[str]:
    """A process that releases folders one after the other and names each serial when it is released."""
    environment = {**os.environ, "PYTHONPATH": str(_ROOT)}
    arguments = [sys.executable, "-c", _WRITER, place, *map(str, folders)]
    return subprocess.Popen(arguments, env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def test_two_writers_at_once_make_one_chain_with_everything_in_it(place: str, tmp_path: Path) -> None:
    # No register is there yet: both find that out and make it.
    groups = [[serial_folder(tmp_path, f"{prefix}-{n}", holes=3) for n in range(25)] for prefix in ("P", "T")]
    writers = [writer(place, folders) for folders in groups]
    for process in writers:
        errors = process.communicate(timeout=120)[1]
        assert process.returncode == 0, errors
    store = open_store(place)
    found = audit(store)
    assert (found.records, found.problems) == (50, ())
    serials = [record.serial for record in history(store)]
    assert sorted(serials) == sorted(folder.name[: -len("-A-0")] for folders in groups for folder in folders)
    store.close()


def test_a_killed_writer_leaves_what_it_said_was_released_and_nothing_half(place: str, tmp_path: Path) -> None:
    rng = random.Random(5)
    folders = [serial_folder(tmp_path, f"P-{n}", holes=40, filler=60_000) for n in range(40)]
    left, said = list(folders), list[str]()
    open_store(place, make=True).close()
    for _ in range(6):
        process = writer(place, left)
        assert process.stdout is not None
        said.append(process.stdout.readline().strip())
        time.sleep(rng.uniform(0, 0.03))
        process.send_signal(signal.SIGKILL)
        said += process.communicate(timeout=60)[0].split()
        store = open_store(place)
        found, serials = audit(store), [record.serial for record in history(store)]
        assert found.problems == ()
        assert serials[: len(said)] == said
        # Killed between writing and saying so: at most one more than was said.
        assert len(serials) - len(said) in (0, 1)
        said = serials
        left = folders[len(serials) :]
        for serial in serials[-2:]:
            folder = tmp_path / f"{serial}-A-0"
            given_back = released_files(store, serial)[1]
            assert given_back == {path.name: path.read_bytes() for path in folder.iterdir()}
        store.close()
    assert len(said) < len(folders)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system in memory of one megabyte."""
    disk = tmp_path / "disk"
    disk.mkdir()
    mounted = shutil.which("mount") and hasattr(os, "geteuid") and os.geteuid() == 0
    if not mounted or subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "tmpfs", disk], check=False).returncode:
        pytest.skip("only a user who may mount a file system can fill one")
    yield disk
    subprocess.run(["umount", disk], check=True)


def test_a_full_disk_is_said_and_nothing_released_is_lost(small_disk: Path, tmp_path: Path) -> None:
    place = small_disk / "register.sqlite"
    said = ("--by", "A", "--on", "2027-03-01", "--register", place)
    folders = [serial_folder(tmp_path, f"P-{n}", filler=150_000) for n in range(10)]
    for released, folder in enumerate(folders):  # noqa: B007
        try:
            run("release", folder, *said)
        except AssertionError:
            break
    assert 1 <= released < len(folders) - 1
    refused = run("release", folders[released], *said, code=2)
    assert "full" in refused.output
    assert "Make room" in refused.output
    store = open_store(str(place))
    assert (audit(store).records, audit(store).problems) == (released, ())
    with pytest.raises(InputError, match="full"):
        put(store, tmp_path, "P-99", filler=150_000)
    store.close()
    subprocess.run(["mount", "-o", "remount,size=8m", small_disk], check=True)
    run("release", *folders[released:], *said)
    store = open_store(str(place))
    assert (audit(store).records, audit(store).problems) == (len(folders), ())
    store.close()


def test_a_full_disk_leaves_no_half_backup(small_disk: Path, tmp_path: Path) -> None:
    store = open_store(str(tmp_path / "register.sqlite"), make=True)
    for number in range(10):
        put(store, tmp_path, f"P-{number}", filler=150_000)
    refused = run("register", "backup", small_disk / "saved.sqlite", "--register", tmp_path / "register.sqlite", code=2)
    assert "full" in refused.output
    assert list(small_disk.iterdir()) == []
    store.close()


def test_a_register_in_a_read_only_folder_can_be_asked_and_not_added_to(small_disk: Path, tmp_path: Path) -> None:
    place = small_disk / "register.sqlite"
    store = open_store(str(place), make=True)
    folder = put(store, tmp_path, "P-1")
    store.close()
    subprocess.run(["mount", "-o", "remount,ro", small_disk], check=True)
    assert run("register", "holes", "P-1", "--register", place).stdout_bytes == (folder / "P-1-holes.csv").read_bytes()
    said = ("--by", "A", "--on", "2027-03-01")
    refused = run("release", serial_folder(tmp_path, "P-2"), *said, "--register", place, code=2)
    assert "readonly" in refused.output
    assert "Check the rights" in refused.output
    other = run("release", serial_folder(tmp_path, "P-3"), *said, "--register", small_disk / "new.sqlite", code=2)
    assert "unable to open database file" in other.output
