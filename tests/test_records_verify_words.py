"""What ``verify`` says, and to whom: words, exit statuses, folders that are none, files of other programs."""

from __future__ import annotations

import json
import random
import time
from pathlib import Path

import ezdxf
import pytest
from builders import Hole
from click.testing import CliRunner
from corruptions import redigest, rewrite
from verify_folders import random_holes, serial_folder

from railgen.cli.main import main
from railgen.data.findings import Finding
from railgen.data.messages import InputError
from railgen.data.order_files import read_orders
from railgen.formats.cut_entities import Circle, Entity
from railgen.formats.findings_file import findings_json
from railgen.formats.folder import write_folder
from railgen.pipeline import Choices, plan, serial_files
from railgen.records.verify import folders_in, verify_folder

SAMPLES = Path(__file__).parent.parent / "samples"
HOLES = [Hole(100.0 * i, 150, diameter=17, tool="R 17", component="bracket", feature=f"a{i}") for i in range(8)]


def run(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["verify", *(str(argument) for argument in arguments)], catch_exceptions=False)
    return result.exit_code, result.output


def messages(folder: Path) -> list[str]:
    return [f"{one.kind}: {one.message}" for one in verify_folder(folder).discrepancies]


def change_circle(folder: Path, number: int, change: dict[str, float]) -> None:
    def work(entities: list[Entity]) -> list[Entity]:
        circles = [i for i, e in enumerate(entities) if isinstance(e, Circle)]
        entities[circles[number]] = entities[circles[number]]._replace(**change)  # type: ignore[arg-type]
        return entities

    rewrite(folder / f"{folder.name}-LH-rail.dxf", work)
    redigest(folder)


def test_words_name_hole_place_and_distance(tmp_path: Path) -> None:
    folder = serial_folder(tmp_path, "P-1", "plain", HOLES, more=())
    change_circle(folder, 2, {"x": 1200.02})
    assert messages(folder) == [
        "hole moved: bracket.1.a2 is moved by 0.020 mm (x +0.020, y +0.000): at x 1200.020, y 217.050, "
        "should be at x 1200.000, y 217.050"
    ]
    change_circle(folder, 2, {"x": 1200.0, "radius": 9.0})
    assert messages(folder) == [
        "wrong size: bracket.1.a2 at x 1200.000, y 217.050 is round 18.000 mm, should be round 17.000 mm"
    ]


def test_a_shift_of_all_is_said_once(tmp_path: Path) -> None:
    folder = serial_folder(tmp_path, "P-1", "plain", HOLES, more=())

    def work(entities: list[Entity]) -> list[Entity]:
        return [e._replace(x=e.x + 0.02) if isinstance(e, Circle) else e for e in entities]

    rewrite(folder / "P-1-RH-rail.dxf", work)
    redigest(folder)
    (found,) = verify_folder(folder).discrepancies
    assert found.message == "8 holes are all moved by 0.020 mm (x +0.020, y +0.000)"
    assert sorted(found.holes) == [f"bracket.1.a{i}" for i in range(8)]
    assert found.by_mm == pytest.approx(0.02)


def test_a_file_saved_by_another_program_is_still_compared(tmp_path: Path) -> None:
    folder = serial_folder(tmp_path, "P-1", "plain", HOLES, more=())
    file = folder / "P-1-LH-rail.dxf"
    document = ezdxf.readfile(file)
    circles = document.modelspace().query("CIRCLE")
    circles[3].dxf.center = (circles[3].dxf.center.x + 0.5, circles[3].dxf.center.y, 0)
    document.modelspace().query("LINE")[0].dxf.thickness = 2.0
    document.saveas(file)
    found = messages(folder)
    assert "file changed: has changed since it was written" in found
    assert any(message.startswith("hole moved: bracket.1.a3 is moved by 0.500 mm") for message in found)
    assert any(message.startswith("file unreadable: not as this program writes it") for message in found)


def test_a_swapped_folder_is_of_the_wrong_serial(tmp_path: Path) -> None:
    serial_folder(tmp_path, "P-1", "plain", HOLES, more=()).rename(tmp_path / "P-2")
    assert messages(tmp_path / "P-2") == ["wrong serial: the folder is named P-2, the manifest is of P-1"]
    (tmp_path / "P-2").rename(tmp_path / "to the press")
    assert messages(tmp_path / "to the press") == []


def change_program(folder: Path, old: str, new: str) -> None:
    file = folder / f"{folder.name}-LH-rail.nc"
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new, 1))
    redigest(folder)


def test_words_of_programs_name_line_hole_and_tool(tmp_path: Path) -> None:
    folder = serial_folder(
        tmp_path, "P-2", "plain", [*HOLES, Hole(300, 60, diameter=13, tool="R 13", face="bottom")], more=("nc",)
    )
    assert messages(folder) == []
    text = (folder / "P-2-LH-rail.nc").read_text()
    line = next(line for line in text.splitlines() if "X1200.000 Y217.050" in line)
    change_program(folder, line, line.replace("Y217.050", "Y217.070"))
    assert messages(folder) == [
        "hole moved: bracket.1.a2 is moved by 0.020 mm (x +0.000, y +0.020): at x 1200.000, y 217.070, "
        "should be at x 1200.000, y 217.050"
    ]
    change_program(folder, "Y217.070", "Y217.050")
    change_program(folder, "A0 R 17)", "A0 R 20)")
    assert messages(folder)[0].startswith("wrong size: bracket.1.a0 at x 1000.000, y 217.050 is round 20.000 mm")
    assert "wrong tool: bracket.1.a0 at x 1000.000, y 217.050 is made by R 20, should be made by R 17" in messages(
        folder
    )
    change_program(folder, "A0 R 20)", "A0 R 17)")
    change_program(folder, "X1300.000 Y30.000", "X700.000 Y30.000")
    found = messages(folder)
    assert any("lies in a clamp's dead zone" in message for message in found), found


def test_files_to_cut_from_beside_an_error_finding(tmp_path: Path) -> None:
    folder = serial_folder(tmp_path, "P-1", "plain", HOLES, more=("dstv",))
    finding = Finding("off-rail", "outside", "error", "LH", "rail", "web", (), (), 1.0, 1.0, 0.0, "mm", "x", "y")
    (folder / "P-1-findings.json").write_bytes(findings_json([finding]))
    redigest(folder)
    found = verify_folder(folder).discrepancies
    assert {one.kind for one in found} == {"file added"}
    assert sorted(one.file for one in found) == sorted(p.name for p in folder.iterdir() if p.suffix in (".dxf", ".nc1"))


@pytest.mark.parametrize(
    ("damage", "words"),
    [
        (lambda f: (f / "P-1-holes.csv").unlink(), "without the hole table there is nothing"),
        (lambda f: (f / "P-1-holes.csv").write_text("serial\n"), "column side: found nothing"),
        (lambda f: (f / "P-1-LH-rail.dxf").write_text("no DXF"), "found no EOF"),
        (lambda f: (f / "P-1-LH-rail-blank.nc1").write_text("ST\n"), "found the end of the file"),
        (lambda f: (f / "P-1-findings.json").write_text("{"), "line 1, column 2"),
    ],
)
def test_damaged_files_of_a_folder(damage: object, words: str, tmp_path: Path) -> None:
    folder = serial_folder(tmp_path, "P-1", "plain", HOLES, more=("dstv",))
    damage(folder)  # type: ignore[operator]
    assert any(words in message for message in messages(folder)), messages(folder)
    assert run(folder)[0] == 1


def test_what_is_no_folder_of_a_serial(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="found no folder"):
        verify_folder(tmp_path / "nothing")
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match="a serial's folder with its manifest"):
        folders_in(tmp_path / "empty")
    folder = serial_folder(tmp_path, "P-1", "plain", HOLES, more=())
    (folder / "manifest.json").write_text('{"serial": 1}')
    with pytest.raises(InputError, match="files: found nothing"):
        verify_folder(folder)
    assert run(tmp_path / "nothing")[0] == 2
    assert run(folder)[0] == 2


def test_command_looks_at_folders_and_at_output_folders(tmp_path: Path) -> None:
    good = serial_folder(tmp_path / "outputs", "P-1", "plain", HOLES, more=())
    bad = serial_folder(tmp_path / "outputs", "P-2", "plain", HOLES, more=())
    assert run(good) == (0, f"P-1 {good}: 5 files, 16 holes: as written\n")
    change_circle(bad, 0, {"radius": 8.0})
    status, text = run(tmp_path / "outputs")
    assert status == 1
    assert "1 discrepancy" in text
    assert "bracket.1.a0" in text
    status, text = run("--json", tmp_path / "outputs")
    first, second = json.loads(text)
    assert (status, first["discrepancies"]) == (1, [])
    assert second["discrepancies"][0]["kind"] == "wrong size"
    assert second["discrepancies"][0]["holes"] == ["bracket.1.a0"]


@pytest.mark.parametrize("version", ["R12", "R2018"])
def test_sample_orders_verify(version: str, tmp_path: Path) -> None:
    """All samples without error findings, as the flow writes them."""
    from railgen.data.library import find_library, load_library
    from railgen.layout.catalogue import compile_catalogue

    catalogue = compile_catalogue(load_library(find_library(str(SAMPLES.parent / "hole_libraries"))))
    choices = Choices("R12" if version == "R12" else "R2018", kinds=("holes", "findings", "cut"))
    for given in read_orders(tuple(sorted(SAMPLES.glob("*.toml")))):
        assert given.order is not None
        planned = plan(given.order, catalogue, given.place)
        folder = write_folder(tmp_path, planned.serial, serial_files(planned, given.name, given.sha256, choices))
        assert messages(folder) == [], given.name


def test_checking_a_large_serial_is_quick(tmp_path: Path) -> None:
    """A rail of 400 holes with liner: far below the second that a person would notice, on any machine."""
    holes = random_holes(random.Random(3), tapered=False, count=400)
    folder = serial_folder(tmp_path, "P-1", "liner", holes, more=())
    start = time.perf_counter()
    assert verify_folder(folder).discrepancies == ()
    assert time.perf_counter() - start < 0.5
