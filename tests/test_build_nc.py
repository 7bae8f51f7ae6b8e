"""``railgen nc`` and the programs of ``railgen build``: complete, read back, and nothing to run with an error."""

from __future__ import annotations

import json
import shutil
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from building import CLASHING, run
from pypdf import PdfReader

from railgen.data.library import load_library
from railgen.data.messages import InputError
from railgen.formats.cut_file import read_cut_file
from railgen.formats.nc_reader import Program, read_program
from railgen.formats.press_file import PressFile, press_json, read_press
from railgen.records.verify import verify_folder

ROOT = Path(__file__).parent.parent
DEMO, SAMPLES, SMALL = ROOT / "hole_libraries", ROOT / "samples", Path(__file__).parent / "small_library"


def programs(folder: Path, serial: str) -> dict[str, Program]:
    """The programs of a folder by side and part, read by the post-processor that lies beside them."""
    post = read_press(folder / f"{serial}-press.json").post
    assert post is not None
    files = sorted(folder.glob(f"*.{post.ending}"))
    return {file.stem.removeprefix(f"{serial}-"): read_program(file.read_bytes(), post, file.name) for file in files}


@pytest.mark.parametrize(("press", "resolution"), [("gantry-2000", 0.001), ("feed-line-1500", 0.00254)])
def test_programs_of_both_presses_hit_what_cut_files_draw(tmp_path: Path, press: str, resolution: float) -> None:
    order = SAMPLES / "P-1001.toml"
    status, text = run("nc", order, "--library", DEMO, "--output", tmp_path, "--press", press)
    assert status == 0, text
    assert "of possible gain" in text
    folder = tmp_path / "P-1001"
    found = programs(folder, "P-1001")
    assert sorted(found) == ["LH-liner", "LH-rail", "RH-liner", "RH-rail"]
    for name, program in found.items():
        assert (program.head.press, program.resolution) == (press, pytest.approx(resolution))
        drawn = [f for f in read_cut_file(folder / f"P-1001-{name}.dxf").features if f.layer != "SECOND"]
        x, y = program.blank_places()
        plain = [place for place, hit in enumerate(program.hits) if hit.text is None]
        # The feed line's crib has no tool for slots of 50 mm: strings of eight hits cut them, 4 mm apart.
        strung = [feature for feature in drawn if feature.length == 50.0] if press == "feed-line-1500" else []
        assert len(plain) == len(drawn) + 7 * len(strung) > 50
        for slot in strung:
            on_axis = sorted(
                u - slot.x for u, v in zip(x, y, strict=True) if abs(v - slot.y) < 0.01 and abs(u - slot.x) < 15
            )
            assert np.allclose(on_axis, np.linspace(-14.0, 14.0, 8), rtol=0, atol=resolution)
        drawn = [feature for feature in drawn if feature not in strung]
        written = sorted(zip(x[plain].tolist(), y[plain].tolist(), strict=True))
        wanted = sorted((feature.x, feature.y) for feature in drawn)
        near = [min(abs(a - u) + abs(b - v) for u, v in written) for a, b in wanted]
        assert max(near) <= 1.1 * resolution
        stamps = [hit.text for hit in program.hits if hit.text is not None]
        side, part = name.split("-")
        assert any(f"P-1001 {side} {part.upper()}" in text for text in stamps)
    assert verify_folder(folder).discrepancies == ()
    sheet = PdfReader(folder / "P-1001-setup-sheet.pdf")
    assert len(sheet.pages) >= 8
    settings = json.loads((folder / "manifest.json").read_text())["settings"]
    assert settings["press"] == press


def test_build_writes_the_same_programs(tmp_path: Path) -> None:
    order = SAMPLES / "S-3002.toml"
    assert run("build", order, "--library", DEMO, "--output", tmp_path / "build")[0] == 0
    status, text = run("nc", order, "--library", DEMO, "--output", tmp_path / "nc", "--json", "--zip")
    assert status == 0
    with zipfile.ZipFile(tmp_path / "nc" / "S-3002.zip") as archive:
        packed = {Path(name).name: archive.read(name) for name in archive.namelist()}
    assert packed == {file.name: file.read_bytes() for file in (tmp_path / "nc" / "S-3002").iterdir()}
    for name in ("LH-rail.nc", "RH-rail.nc", "press.json", "setup-sheet.pdf"):
        built, alone = (tmp_path / verb / "S-3002" / f"S-3002-{name}" for verb in ("build", "nc"))
        assert built.read_bytes() == alone.read_bytes()
    rows = json.loads(text)
    assert [(row["side"], row["part"], row["press"]) for row in rows] == [
        ("LH", "rail", "gantry-2000"),
        ("RH", "rail", "gantry-2000"),
    ]
    for row in rows:
        parts = ("load_s", "moves_s", "changes_s", "hits_s", "clamps_s", "mounting_s")
        assert sum(row[part] for part in parts) == pytest.approx(row["cycle_s"])
        assert row["least_cycle_s"] <= row["cycle_s"] <= row["plain_cycle_s"]


def test_an_error_finding_leaves_no_program_not_even_an_old_one(tmp_path: Path) -> None:
    order, library = tmp_path / "X-7.toml", tmp_path / "library"
    shutil.copytree(SMALL, library)
    (library / "posts").mkdir()
    shutil.copy(DEMO / "posts" / "gantry-absolute.toml", library / "posts")
    press = library / "presses" / "bench-press.toml"
    press.write_text('post = "gantry-absolute"\n' + press.read_text())
    order.write_text(CLASHING.replace('"AAA03"', '"AAA02"').replace("1100", "1500"))
    clean = order.read_text()
    for verb in ("build", "nc"):
        order.write_text(clean)
        assert run("nc", order, "--library", library, "--output", tmp_path / "out", "--zip")[0] == 0
        assert (tmp_path / "out" / "X-7" / "X-7-LH-rail.nc").exists()
        order.write_text(CLASHING)
        assert run(verb, order, "--library", library, "--output", tmp_path / "out")[0] == 1
        names = {file.name for file in (tmp_path / "out" / "X-7").iterdir()} - {"X-7-drawing.pdf"}
        assert names == {"X-7-findings.json", "X-7-holes.csv", "manifest.json"}
        assert verify_folder(tmp_path / "out" / "X-7").discrepancies == ()
        assert not (tmp_path / "out" / "X-7.zip").exists()


def test_a_press_without_a_post_processor_has_a_setup_sheet_and_no_programs(tmp_path: Path) -> None:
    order = tmp_path / "X-7.toml"
    order.write_text(CLASHING.replace('"AAA03"', '"AAA02"').replace("1100", "1500"))
    assert run("build", order, "--library", SMALL, "--output", tmp_path / "out")[0] == 0
    names = {file.name for file in (tmp_path / "out" / "X-7").iterdir()}
    assert {"X-7-setup-sheet.pdf", "X-7-press.json"} <= names
    assert not [name for name in names if name.endswith(".nc")]
    status, text = run("nc", order, "--library", SMALL, "--output", tmp_path / "nc")
    assert status == 2
    assert "bench-press.toml: post: found nothing; allowed: the post-processor that writes its programs" in text
    assert not (tmp_path / "nc").exists()


def test_an_unknown_press_is_refused_with_the_nearest(tmp_path: Path) -> None:
    order = SAMPLES / "S-3002.toml"
    status, text = run("nc", order, "--library", DEMO, "--output", tmp_path, "--press", "gantry-200")
    assert status == 2
    assert "found 'gantry-200'" in text
    assert "Did you mean 'gantry-2000'?" in text
    assert not list(tmp_path.iterdir())


def test_press_and_post_processor_read_back_as_they_were(tmp_path: Path) -> None:
    library = load_library(DEMO)
    for press in library.presses.values():
        post = library.posts[press.post] if press.post else None
        file = tmp_path / "press.json"
        file.write_bytes(press_json(press, post))
        assert read_press(file) == PressFile(press=press.model_copy(update={"units": "mm"}), post=post)
    file.write_text('{"press": {"id": "a"}, "post": null, "pots": 1}')
    with pytest.raises(InputError, match=r"press\.json: pots: found an unknown key"):
        read_press(file)


def without_tool(press: str) -> str:
    """The crib without its tool for holes of 17.5 mm."""
    first = press.index('[[tools]]\nid = "R 17.5"')
    return press[:first] + press[press.index("[[tools]]", first + 1) :]


BARE = """
id = "bare"
name = "Nothing of presses"
source = "common practice"

[[rows]]
rule = "off-rail"
measure = "outside"
error = 0.0
source = "common practice"
"""


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (without_tool, "S-3001 LH rail: sweeper-closing-cross-member.1.a1: found no tool for a round 17.5"),
        (
            lambda text: text.replace("longest_blank = 12500", "longest_blank = 5000"),
            "S-3001 RH rail: blank length: found 7010.400 mm; allowed: at most 5000 mm on the press gantry-2000",
        ),
        (
            lambda text: text.replace("station = 2700, width = 120", "station = 2700, width = 5200, depth = 150"),
            "found a hole under a clamp wherever the clamps stand; allowed: 25 mm clear of every clamp",
        ),
    ],
    ids=["no tool", "blank too long", "under a clamp everywhere"],
)
def test_what_the_press_cannot_make_is_named_and_nothing_is_written(
    tmp_path: Path, change: Callable[[str], str], words: str
) -> None:
    """Under a limit set that holds nothing of presses; under others it is a finding already."""
    library = tmp_path / "library"
    shutil.copytree(DEMO, library)
    (library / "limits" / "bare.toml").write_text(BARE)
    press = library / "presses" / "gantry-2000.toml"
    text = change(press.read_text())
    assert text != press.read_text()
    press.write_text(text)
    for verb in ("build", "nc"):
        arguments = ("--library", library, "--limits", "bare", "--output", tmp_path / "out")
        status, shown = run(verb, SAMPLES / "S-3001.toml", *arguments)
        assert status == 2, shown
        assert words in shown, shown
        assert not (tmp_path / "out").exists()


def test_a_post_processor_with_an_unknown_field_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    library = tmp_path / "library"
    shutil.copytree(DEMO, library)
    post = library / "posts" / "gantry-absolute.toml"
    post.write_text(post.read_text().replace("X{x} Y{y} M20", "X{x} Y{yy} M20"))
    for verb in ("nc", "build"):
        status, text = run(verb, SAMPLES / "S-3001.toml", "--library", library, "--output", tmp_path / "out")
        assert status == 2
        assert "gantry-absolute.toml: hit: found" in text.replace("\n", "")
        assert "{yy} in 'X{x} Y{yy} M20' is no place of hit; allowed: one of x, y" in text.replace("\n", "")
    assert not (tmp_path / "out").exists()


def test_what_is_left_to_people_is_said(tmp_path: Path) -> None:
    """Text is stamped by hand where the post-processor has no block for it; a tool is ground again in time."""
    library = tmp_path / "library"
    shutil.copytree(DEMO, library)
    press, post = library / "presses" / "gantry-2000.toml", library / "posts" / "gantry-absolute.toml"
    press.write_text(press.read_text().replace("hits_since_regrind = 12552", "hits_since_regrind = 29990"))
    text = post.read_text()
    post.write_text("\n".join(line for line in text.splitlines() if not line.startswith("stamp ")))
    assert len(post.read_text()) < len(text) - 20
    status, shown = run("nc", SAMPLES / "S-3002.toml", "--library", library, "--output", tmp_path / "out")
    assert status == 0, shown
    assert "regrind due: R 17.5 on the LH rail, 300" in shown
    folder = tmp_path / "out" / "S-3002"
    assert all(hit.text is None for program in programs(folder, "S-3002").values() for hit in program.hits)
    assert verify_folder(folder).discrepancies == ()
    pages = "".join(page.extract_text() for page in PdfReader(folder / "S-3002-setup-sheet.pdf").pages)
    assert "Nothing is stamped on the press: mark the part by hand." in pages.replace("\n", " ")
