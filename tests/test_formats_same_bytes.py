"""Same inputs, same bytes: two runs, two processes, two time zones, three seeds of Python's hashes."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from pathlib import Path

import ezdxf
from builders import Hole, rail_shape, rail_table, resolved_order, small_library

from railgen.formats.cut_file import cut_file
from railgen.formats.hole_table import hole_table_csv
from railgen.formats.manifest import manifest_json, manifest_of
from railgen.formats.taper_template import taper_file
from railgen.holes.table import PARTS, SIDES


def all_files() -> dict[str, bytes]:
    """Every file of a small serial, by name."""
    rail = rail_shape("after-forming", liner=True)
    holes = [Hole(-900 + 130 * i, 60 + i % 5 * 40, shape=("round", "slot")[i % 2], length=30) for i in range(30)]
    order, table = resolved_order(rail), rail_table(rail, [*holes, Hole(4000, 150, shape="mark")])
    files = {"holes.csv": hole_table_csv(order.serial, table)}
    for version in ("R12", "R2018"):
        for side in SIDES:
            files[f"{side}-taper-{version}"] = taper_file(order, side, version)  # type: ignore[arg-type]
            for part in PARTS:
                content = cut_file(order, table, side, part, version=version)  # type: ignore[arg-type]
                files[f"{side}-{part}-{version}"] = content
    files["manifest.json"] = manifest_json(manifest_of(order.serial, files, small_library().sources))
    return files


def digests(files: dict[str, bytes]) -> list[str]:
    return [f"{name} {hashlib.sha256(content).hexdigest()}" for name, content in files.items()]


def in_another_process(zone: str, seed: str) -> list[str]:
    here = Path(__file__).parent
    program = "from test_formats_same_bytes import *; print('\\n'.join(digests(all_files())))"
    path = os.pathsep.join([str(here), str(here.parent)])
    environment = os.environ | {"TZ": zone, "PYTHONHASHSEED": seed, "PYTHONPATH": path}
    done = subprocess.run(
        [sys.executable, "-c", program], env=environment, check=True, capture_output=True, text=True, cwd=here.parent
    )
    return done.stdout.splitlines()


def test_same_bytes_everywhere() -> None:
    first = digests(all_files())
    assert len(first) == 14
    assert digests(all_files()) == first
    for zone, seed in (("Pacific/Auckland", "1"), ("America/Halifax", "4"), ("UTC", "7")):
        assert in_another_process(zone, seed) == first


def test_ezdxf_is_left_as_it_was() -> None:
    before = ezdxf.options.write_fixed_meta_data_for_testing  # type: ignore[attr-defined]
    all_files()
    assert ezdxf.options.write_fixed_meta_data_for_testing == before is False  # type: ignore[attr-defined]


def test_plain_files_need_no_cad_library() -> None:
    modules = ("hole_table", "findings_file", "manifest", "folder", "names", "cut_file", "taper_template")
    program = (
        f"import sys; {'; '.join(f'import railgen.formats.{name}' for name in modules)}; print('ezdxf' in sys.modules)"
    )
    environment = os.environ | {"PYTHONPATH": str(Path(__file__).parent.parent)}
    done = subprocess.run([sys.executable, "-c", program], env=environment, check=True, capture_output=True, text=True)
    assert done.stdout.strip() == "False"
