"""``railgen build`` with DSTV files, split cut files and an archive: complete, verified, nothing left from before."""

from __future__ import annotations

import zipfile
from pathlib import Path

from building import CLASHING
from click.testing import CliRunner

from railgen.cli.main import main
from railgen.records.verify import verify_folder

ROOT = Path(__file__).parent.parent
DEMO, SAMPLES, SMALL = ROOT / "hole_libraries", ROOT / "samples", Path(__file__).parent / "small_library"


def build(order: Path, output: Path, library: Path, *more: str) -> tuple[int, str]:
    arguments = ["build", str(order), "--library", str(library), "--output", str(output), *more]
    result = CliRunner().invoke(main, arguments, catch_exceptions=False)
    return result.exit_code, result.output


def test_every_kind_of_file_is_there_and_verifies(tmp_path: Path) -> None:
    everything = ("--nc1", "--split", "tool", "--split", "layer", "--zip")
    assert build(SAMPLES / "P-1001.toml", tmp_path, DEMO, *everything)[0] == 0
    folder = tmp_path / "P-1001"
    names = {file.name for file in folder.iterdir()}
    for side in ("LH", "RH"):
        for part in ("rail", "liner"):
            assert {f"P-1001-{side}-{part}-{piece}.nc1" for piece in ("formed", "blank")} <= names
            assert f"P-1001-{side}-{part}-layer-HOLES.dxf" in names
            assert any(name.startswith(f"P-1001-{side}-{part}-tool-") for name in names)
    assert verify_folder(folder).discrepancies == ()
    with zipfile.ZipFile(tmp_path / "P-1001.zip") as archive:
        assert {name: archive.read(name) for name in archive.namelist()} == {
            f"P-1001/{file.name}": file.read_bytes() for file in folder.iterdir()
        }


def test_the_archive_is_the_same_each_time(tmp_path: Path) -> None:
    for place in ("a", "b"):
        assert build(SAMPLES / "T-2001.toml", tmp_path / place, DEMO, "--zip")[0] == 0
    assert (tmp_path / "a/T-2001.zip").read_bytes() == (tmp_path / "b/T-2001.zip").read_bytes()


def test_no_archive_of_an_earlier_build_survives(tmp_path: Path) -> None:
    build(SAMPLES / "T-2001.toml", tmp_path, DEMO, "--zip")
    status, text = build(SAMPLES / "T-2001.toml", tmp_path, DEMO)
    assert status == 0
    assert f"removed: {tmp_path / 'T-2001.zip'}, of an earlier build" in text.replace("\n", "")
    assert [entry.name for entry in tmp_path.iterdir()] == ["T-2001"]


def test_an_error_finding_leaves_nothing_to_cut_from(tmp_path: Path) -> None:
    order = tmp_path / "X-7.toml"
    order.write_text(CLASHING)
    output = tmp_path / "out"
    (output / "X-7").mkdir(parents=True)
    (output / "X-7.zip").write_bytes(b"old cut files")
    assert build(order, output, SMALL, "--nc1", "--split", "tool", "--split", "layer", "--zip")[0] == 1
    with zipfile.ZipFile(output / "X-7.zip") as archive:
        names = {name.removeprefix("X-7/") for name in archive.namelist()}
    assert names == {file.name for file in (output / "X-7").iterdir()}
    assert not [name for name in names if name.endswith((".dxf", ".nc1"))]
    assert verify_folder(output / "X-7").discrepancies == ()
