"""A serial's folder is replaced whole or not at all."""

from __future__ import annotations

import os
import shutil
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from railgen.data.messages import InputError
from railgen.formats import names
from railgen.formats.folder import sweep, write_folder, write_whole

OLD = {"P-1001-LH-rail.dxf": b"old blank", "manifest.json": b"old"}
NEW = {"P-1001-holes.csv": b"new holes", "manifest.json": b"new"}


def contents(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}


def test_folder_is_made_with_its_parents(tmp_path: Path) -> None:
    target = write_folder(tmp_path / "some" / "outputs", "P-1001", NEW)
    assert target == tmp_path / "some" / "outputs" / "P-1001"
    assert contents(target) == NEW
    assert [entry.name for entry in target.parent.iterdir()] == ["P-1001"]


def test_nothing_of_the_old_folder_survives(tmp_path: Path) -> None:
    write_folder(tmp_path, "P-1001", OLD)
    (tmp_path / "P-1001" / "notes").mkdir()
    write_folder(tmp_path, "P-1002", OLD)
    write_folder(tmp_path, "P-1001", NEW)
    assert contents(tmp_path / "P-1001") == NEW
    assert contents(tmp_path / "P-1002") == OLD
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["P-1001", "P-1002"]


def test_rights_are_those_of_any_new_folder(tmp_path: Path) -> None:
    (tmp_path / "plain").mkdir()
    target = write_folder(tmp_path, "P-1001", NEW)
    assert stat.S_IMODE(target.stat().st_mode) == stat.S_IMODE((tmp_path / "plain").stat().st_mode)


class Stop(BaseException):
    """Somebody pulls the plug."""


@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), Stop()])
@pytest.mark.parametrize("writes", [0, 1])
def test_failure_while_writing_leaves_the_old_folder(
    writes: int, error: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_folder(tmp_path, "P-1001", OLD)
    write_bytes, done = Path.write_bytes, []

    def failing(self: Path, content: bytes) -> int:
        if len(done) == writes:
            write_bytes(self, content[:2])
            raise error
        done.append(self)
        return write_bytes(self, content)

    monkeypatch.setattr(Path, "write_bytes", failing)
    with pytest.raises(InputError if isinstance(error, OSError) else Stop):
        write_folder(tmp_path, "P-1001", NEW)
    monkeypatch.undo()
    assert contents(tmp_path / "P-1001") == OLD
    assert [entry.name for entry in tmp_path.iterdir()] == ["P-1001"]


@pytest.mark.parametrize("error", [OSError(5, "Input/output error"), Stop()])
@pytest.mark.parametrize("renames", [0, 1])
def test_failure_while_moving_leaves_the_old_folder(
    renames: int, error: BaseException, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_folder(tmp_path, "P-1001", OLD)
    rename, done = Path.rename, []

    def failing(self: Path, target: Path) -> Path:
        done.append(self)
        if len(done) == renames + 1:
            raise error
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(InputError if isinstance(error, OSError) else Stop):
        write_folder(tmp_path, "P-1001", NEW)
    monkeypatch.undo()
    assert contents(tmp_path / "P-1001") == OLD
    assert [entry.name for entry in tmp_path.iterdir()] == ["P-1001"]


def test_old_folder_is_never_thrown_away(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    write_folder(tmp_path, "P-1001", OLD)
    rename, done = Path.rename, []

    def failing(self: Path, target: Path) -> Path:
        done.append(self)
        if len(done) > 1:
            raise OSError(5, "Input/output error")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", failing)
    with pytest.raises(InputError):
        write_folder(tmp_path, "P-1001", NEW)
    (stuck,) = tmp_path.glob(".P-1001-*/old")
    assert contents(stuck) == OLD


def test_output_that_is_a_file(tmp_path: Path) -> None:
    (tmp_path / "outputs").write_text("a file")
    with pytest.raises(InputError, match="an output folder that can be written"):
        write_folder(tmp_path / "outputs", "P-1001", NEW)
    assert (tmp_path / "outputs").read_text() == "a file"


@pytest.mark.skipif(os.geteuid() == 0 if hasattr(os, "geteuid") else True, reason="root may write anywhere")
def test_output_without_rights(tmp_path: Path) -> None:
    write_folder(tmp_path, "P-1001", OLD)
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(InputError, match="Permission denied"):
            write_folder(tmp_path, "P-1001", NEW)
    finally:
        tmp_path.chmod(0o700)
    assert contents(tmp_path / "P-1001") == OLD


def test_single_file_is_replaced_whole(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "schemas" / "order.schema.json"
    write_whole(path, b"old")
    write_whole(path, b"new")
    assert contents(path.parent) == {"order.schema.json": b"new"}

    def failing(self: Path, target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", failing)
    with pytest.raises(InputError, match="No space left on device"):
        write_whole(path, b"newer")
    assert contents(path.parent) == {"order.schema.json": b"new"}
    with pytest.raises(InputError, match="a place in an output folder"):
        write_whole(path / "below", b"")


def test_serial_that_is_a_file_or_a_link(tmp_path: Path) -> None:
    (tmp_path / "P-1001").write_text("mine")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "P-1002").symlink_to(tmp_path / "elsewhere")
    for serial in ("P-1001", "P-1002"):
        with pytest.raises(InputError, match="a folder, or nothing yet"):
            write_folder(tmp_path, serial, NEW)
    assert (tmp_path / "P-1001").read_text() == "mine"
    assert not list((tmp_path / "elsewhere").iterdir())


@pytest.mark.parametrize("serial", ["../P-1001", "..", ".", "", "a/b", "/etc", ".hidden"])
def test_only_plain_names(serial: str, tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="plain file name"):
        write_folder(tmp_path / "outputs", serial, NEW)
    with pytest.raises(ValueError, match="plain file name"):
        write_folder(tmp_path / "outputs", "P-1001", {f"{serial}/x": b""})
    assert not (tmp_path / "outputs").exists()


def test_names_of_files() -> None:
    assert names.cut_file_name("P-1001", "LH", "rail") == "P-1001-LH-rail.dxf"
    assert names.cut_file_name("P-1001", "RH", "liner") == "P-1001-RH-liner.dxf"
    assert names.taper_name("P-1001", "RH") == "P-1001-RH-taper.dxf"
    assert names.holes_name("P-1001") == "P-1001-holes.csv"
    assert names.findings_name("P-1001") == "P-1001-findings.json"
    assert names.drawing_name("P-1001") == "P-1001-drawing.pdf"
    assert names.drawing_name("P-1001", "png", 2) == "P-1001-drawing-2.png"
    assert names.route_card_name("P-1001") == "P-1001-route-card.pdf"


def test_writing_again_and_again_leaves_one_folder(tmp_path: Path) -> None:
    """Writing again and again leaves one folder and no more."""
    for round_number in range(5):
        write_folder(tmp_path, "P-1001", NEW | {"round.txt": str(round_number).encode()})
    assert [entry.name for entry in tmp_path.iterdir()] == ["P-1001"]
    assert contents(tmp_path / "P-1001")["round.txt"] == b"4"
    shutil.rmtree(tmp_path / "P-1001")


KILLED = """
import os, signal, sys, time
from pathlib import Path
from railgen.formats.folder import write_folder
rename, done = Path.rename, []
def dying(self, target):
    done.append(self)
    if len(done) == int(sys.argv[2]):
        if sys.argv[3] == "kill":
            os.kill(os.getpid(), signal.SIGKILL)
        print("waiting", flush=True)
        time.sleep(60)
    return rename(self, target)
Path.rename = dying
write_folder(Path(sys.argv[1]), "P-1001", {"P-1001-holes.csv": b"new holes", "manifest.json": b"new"})
"""


@pytest.mark.parametrize("renames", [1, 2])
def test_what_a_killed_process_left_is_swept_away(renames: int, tmp_path: Path) -> None:
    write_folder(tmp_path, "P-1001", OLD)
    killed = subprocess.run([sys.executable, "-c", KILLED, str(tmp_path), str(renames), "kill"], check=False)
    assert killed.returncode == -signal.SIGKILL
    assert list(tmp_path.glob(".P-1001-*"))
    sweep(tmp_path)
    assert contents(tmp_path / "P-1001") == OLD
    assert [entry.name for entry in tmp_path.iterdir()] == ["P-1001"]


def test_what_a_living_process_writes_is_not_swept_away(tmp_path: Path) -> None:
    command = [sys.executable, "-c", KILLED, str(tmp_path), "1", "wait"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writing:
        assert writing.stdout is not None
        assert writing.stdout.readline() == "waiting\n"
        sweep(tmp_path)
        (beside,) = tmp_path.glob(".P-1001-*")
        assert contents(beside / "new") == NEW
        writing.kill()
    sweep(tmp_path)
    assert not list(tmp_path.iterdir())


KILLED_FILE = """
import os, signal, sys, time
from pathlib import Path
from railgen.formats.folder import whole_file
with whole_file(Path(sys.argv[1])) as stream:
    stream.write(b"half")
    stream.flush()
    print("waiting", flush=True)
    time.sleep(60)
"""


def test_a_file_half_written_is_swept_away_once_its_process_is_gone(tmp_path: Path) -> None:
    write_whole(tmp_path / "P-1.json", b"old")
    command = [sys.executable, "-c", KILLED_FILE, str(tmp_path / "P-1.json")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writing:
        assert writing.stdout is not None
        assert writing.stdout.readline() == "waiting\n"
        sweep(tmp_path)
        (beside,) = tmp_path.glob(".P-1.json-*")
        assert beside.read_bytes() == b"half"
        writing.kill()
    assert beside.exists()
    sweep(tmp_path)
    assert contents(tmp_path) == {"P-1.json": b"old"}


def test_a_files_rights_are_those_of_any_new_file(tmp_path: Path) -> None:
    (tmp_path / "plain").write_bytes(b"")
    write_whole(tmp_path / "whole", b"")
    assert stat.S_IMODE((tmp_path / "whole").stat().st_mode) == stat.S_IMODE((tmp_path / "plain").stat().st_mode)


def test_sweeping_takes_nothing_else(tmp_path: Path) -> None:
    (tmp_path / ".hidden").mkdir()
    (tmp_path / ".P-1001-notes").mkdir()
    (tmp_path / "P-1001").mkdir()
    sweep(tmp_path)
    sweep(tmp_path / "absent")
    assert sorted(entry.name for entry in tmp_path.iterdir()) == [".P-1001-notes", ".hidden", "P-1001"]
