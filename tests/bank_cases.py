"""Banks for tests: rows of the sample bank, runs of ``railgen bank``, and what stands in a folder afterwards."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent
DEMO = ROOT / "hole_libraries"
SMALL = ROOT / "tests" / "small_library"
SAMPLES = ROOT / "samples" / "bank-200.csv"


def sample_bank(path: Path, orders: int, *more: str) -> Path:
    """The first rows of the sample bank, and more rows (as text) below them."""
    lines = SAMPLES.read_text().splitlines()[: orders + 1]
    path.write_text("\n".join([*lines, *more, ""]))
    return path


def small_bank(path: Path, *rows: str) -> Path:
    """A bank for the small library: rows of serial, options and wheelbase."""
    head = "serial,options,wheelbase,family,build_date"
    path.write_text("\n".join([head, *(f"{row},tractor,2027-01-05" for row in rows), ""]))
    return path


def command(bank: Path, output: Path, *more: str, library: Path = DEMO) -> list[str]:
    """The command line of a run."""
    start = [sys.executable, "-m", "railgen.cli.main", "bank", str(bank), "--output", str(output)]
    return [*start, "--library", str(library), *more]


def environment() -> dict[str, str]:
    """The environment of a run: this program, whatever folder it is run from."""
    return os.environ | {"PYTHONPATH": os.pathsep.join([str(ROOT), *sys.path[:1]]), "COLUMNS": "150"}


def run(bank: Path, output: Path, *more: str, library: Path = DEMO) -> subprocess.CompletedProcess[str]:
    """A run of the command in a process of its own."""
    line = command(bank, output, *more, library=library)
    return subprocess.run(line, env=environment(), capture_output=True, text=True, check=False)


def tree(folder: Path) -> dict[str, str]:
    """Digest of every file below a folder by its path, hidden ones too."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def whole_serials(output: Path) -> dict[str, tuple[int, int]]:
    """Serials whose folder is complete, with what tells one writing of it from another."""
    whole = {}
    for manifest in output.glob("*-*/manifest.json"):
        found = json.loads(manifest.read_text())
        names = {path.name for path in manifest.parent.iterdir()} - {"manifest.json"}
        assert names == set(found["files"]), f"{manifest.parent} is half written"
        for name, digest in found["files"].items():
            assert hashlib.sha256((manifest.parent / name).read_bytes()).hexdigest() == digest
        status = manifest.stat()
        whole[manifest.parent.name] = (status.st_ino, status.st_mtime_ns)
    return whole
