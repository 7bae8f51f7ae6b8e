"""``railgen build`` and ``check`` as a user runs them: files, exit statuses, same bytes every time."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from pathlib import Path

import ezdxf
import jsonschema
import pytest
from building import CLASHING, run
from pypdf import PdfReader

from railgen.data.schemas import MODELS, schema
from railgen.formats.cut_file import read_cut_file
from railgen.formats.hole_table import read_hole_table

ROOT = Path(__file__).parent.parent
DEMO, SAMPLES, SMALL = ROOT / "hole_libraries", ROOT / "samples", Path(__file__).parent / "small_library"


def digests(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.iterdir())}


def build_in_process(order: Path, output: Path, zone: str, seed: str, *more: str) -> dict[str, str]:
    code = "import sys, runpy; sys.argv = ['railgen', *sys.argv[1:]]; from railgen.cli.main import main; main()"
    environment = {**os.environ, "TZ": zone, "PYTHONHASHSEED": seed}
    arguments = ["build", str(order), "--library", str(DEMO), "--output", str(output), *more]
    done = subprocess.run([sys.executable, "-c", code, *arguments], env=environment, capture_output=True, check=False)
    assert done.returncode == 0, done.stderr.decode()
    (folder,) = (path for path in output.iterdir())
    return digests(folder)


@pytest.mark.parametrize(("sample", "version"), [("P-1001", "R12"), ("T-2001", "R2018")])
def test_same_inputs_same_bytes_in_other_processes_and_time_zones(tmp_path: Path, sample: str, version: str) -> None:
    order = SAMPLES / f"{sample}.toml"
    first = build_in_process(order, tmp_path / "a", "UTC", "1", "--dxf", version)
    second = build_in_process(order, tmp_path / "b", "Pacific/Auckland", "77", "--dxf", version)
    assert first == second
    assert f"{sample}-LH-rail.dxf" in first


def test_the_serial_that_is_kept_is_as_the_program_writes_it(tmp_path: Path) -> None:
    kept = SAMPLES.parent / "outputs/P-1001"
    status, text = run("build", SAMPLES / "P-1001.toml", "--library", DEMO, "--output", tmp_path)
    assert status == 0, text
    made = tmp_path / "P-1001"
    assert sorted(path.name for path in made.iterdir()) == sorted(path.name for path in kept.iterdir())
    for path in sorted(made.iterdir()):
        if path.suffix == ".pdf":  # compressed, which another zlib may do otherwise
            pages = [[page.extract_text() for page in PdfReader(one / path.name).pages] for one in (made, kept)]
            assert pages[0] == pages[1], path.name
        elif path.name != "manifest.json":
            assert path.read_bytes() == (kept / path.name).read_bytes(), path.name


def test_a_clean_order_gets_every_file_and_a_true_manifest(tmp_path: Path) -> None:
    status, text = run("build", SAMPLES / "P-1001.toml", "--library", DEMO, "--output", tmp_path, "--drawing", "svg")
    assert status == 0, text
    folder = tmp_path / "P-1001"
    found = digests(folder)
    expected = {f"P-1001-{hand}-{part}.dxf" for hand in ("LH", "RH") for part in ("rail", "liner")}
    expected |= {"P-1001-holes.csv", "P-1001-findings.json", "P-1001-drawing.pdf", "P-1001-route-card.pdf"}
    expected |= {"P-1001-kit.csv", "P-1001-kit.pdf", "P-1001-jig.pdf"}
    assert expected | {"manifest.json", "P-1001-drawing-1.svg"} <= set(found)
    manifest = json.loads((folder / "manifest.json").read_text())
    assert manifest["files"] == {name: digest for name, digest in found.items() if name != "manifest.json"}
    order_digest = hashlib.sha256((SAMPLES / "P-1001.toml").read_bytes()).hexdigest()
    assert order_digest in manifest["inputs"].values()
    library = {p.relative_to(DEMO).as_posix() for p in DEMO.rglob("*.toml")}
    assert {name.removeprefix("library/") for name in manifest["inputs"] if name.startswith("library/")} == library


def test_a_drawing_is_written_as_dxf_and_in_the_units_and_projection_asked_for(tmp_path: Path) -> None:
    order, common = tmp_path / "order.toml", ("--library", SMALL, "--output", tmp_path / "out")
    order.write_text(CLASHING.replace('"AAA03"', '"AAA02"').replace("1100", "1500"))
    assert run("build", order, *common)[0] == 0
    plain = digests(tmp_path / "out" / "X-7")
    assert "X-7-drawing.dxf" not in plain
    status, text = run("build", order, *common, "--drawing", "dxf", "--units", "both", "--projection", "first")
    assert status == 0, text
    folder = tmp_path / "out" / "X-7"
    found = digests(folder)
    assert found.keys() - plain.keys() == {"X-7-drawing.dxf"}
    assert found["X-7-drawing.pdf"] != plain["X-7-drawing.pdf"]
    assert not ezdxf.readfile(folder / "X-7-drawing.dxf").audit().errors
    manifest = json.loads((folder / "manifest.json").read_text())
    assert manifest["settings"]["drawing"] == "both, first-angle projection"
    assert run("build", order, *common, "--units", "feet")[0] == 2


def test_cut_files_hold_the_hole_table(tmp_path: Path) -> None:
    run("build", SAMPLES / "P-1001.toml", "--library", DEMO, "--output", tmp_path)
    rows = read_hole_table(tmp_path / "P-1001" / "P-1001-holes.csv")
    for hand in ("LH", "RH"):
        for part in ("rail", "liner"):
            drawn = read_cut_file(tmp_path / "P-1001" / f"P-1001-{hand}-{part}.dxf").features
            table = [
                (rows.blank_x_mm[i], rows.blank_y_mm[i], rows.operation[i], rows.shape[i])
                for i in range(len(rows))
                if rows.side[i] == hand and rows.part[i] == part
            ]
            assert len(drawn) == len(table) > 50
            for feature in drawn:
                near = [row for row in table if abs(row[0] - feature.x) <= 1e-6 and abs(row[1] - feature.y) <= 1e-6]
                assert len(near) == 1
                made_later = near[0][2] in ("drill", "countersink")
                assert (feature.layer == "SECOND") == made_later
                assert feature.shape == near[0][3]


def test_an_error_finding_leaves_no_cut_file_not_even_an_old_one(tmp_path: Path) -> None:
    order = tmp_path / "order.toml"
    order.write_text(CLASHING.replace('"AAA03"', '"AAA02"').replace("1100", "1500"))
    out = tmp_path / "out"
    assert run("build", order, "--library", SMALL, "--output", out)[0] == 0
    assert (out / "X-7" / "X-7-LH-rail.dxf").exists()
    order.write_text(CLASHING)
    status, text = run("build", order, "--library", SMALL, "--output", out)
    assert status == 1, text
    assert sorted(digests(out / "X-7")) == ["X-7-drawing.pdf", "X-7-findings.json", "X-7-holes.csv", "manifest.json"]
    assert [p.name for p in out.iterdir()] == ["X-7"]


def test_wrong_input_touches_nothing(tmp_path: Path) -> None:
    order = tmp_path / "order.toml"
    order.write_text(CLASHING.replace('"AAA03"', '"AAA02"').replace("1100", "1500"))
    out = tmp_path / "out"
    run("build", order, "--library", SMALL, "--output", out)
    before = digests(out / "X-7")
    order.write_text(CLASHING + "wheelbase = nan\n")
    assert run("build", order, "--library", SMALL, "--output", out)[0] == 2
    assert digests(out / "X-7") == before


def test_the_highest_status_of_several_orders_is_returned(tmp_path: Path) -> None:
    good, clash, wrong = (tmp_path / f"{name}.toml" for name in ("good", "clash", "wrong"))
    good.write_text(CLASHING.replace("X-7", "X-8").replace(', "AAA03"', ""))
    clash.write_text(CLASHING)
    wrong.write_text("serial = 3\n")
    assert run("check", good, "--library", SMALL)[0] == 0
    assert run("check", good, clash, "--library", SMALL)[0] == 1
    status, text = run("check", wrong, clash, good, "--library", SMALL)
    assert status == 2
    assert "X-7" in text
    assert "X-8" in text


def test_findings_as_json_are_those_of_the_file(tmp_path: Path) -> None:
    order = tmp_path / "order.toml"
    order.write_text(CLASHING)
    status, text = run("check", order, "--library", SMALL, "--json")
    assert status == 1
    shown = json.loads(text)
    run("build", order, "--library", SMALL, "--output", tmp_path / "out")
    written = json.loads((tmp_path / "out" / "X-7" / "X-7-findings.json").read_text())
    assert shown == [{"serial": "X-7", "findings": written}]
    assert {f["rule"] for f in written} >= {"edge-distance", "hole-spacing"}


def test_limits_of_the_command_line_win(tmp_path: Path) -> None:
    order = tmp_path / "order.toml"
    order.write_text(CLASHING)
    _, text = run("check", order, "--library", SMALL, "--limits", "en-1993-1-8", "--json")
    sources = {f["source"] for f in json.loads(text)[0]["findings"] if f["rule"] == "edge-distance"}
    assert sources == {"EN 1993-1-8 table 3.3 (e1, e2)"}
    status, text = run("check", order, "--library", SMALL, "--limits", "hause")
    assert status == 2
    assert "Did you mean 'house'?" in text


def test_the_library_is_found_by_option_then_environment_then_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("RAILGEN_LIBRARY", raising=False)
    assert "Aldmoor" in run("library", "check")[1]  # the one that comes with the program
    monkeypatch.setenv("RAILGEN_LIBRARY", str(SMALL))
    assert "Small library" in run("library", "check")[1]
    assert "Aldmoor" in run("library", "check", "--library", DEMO)[1]
    monkeypatch.delenv("RAILGEN_LIBRARY")
    (tmp_path / "hole_libraries").symlink_to(SMALL)
    assert "Small library" in run("library", "check")[1]


def test_schemas_accept_the_demo_files_and_refuse_a_misspelt_key(tmp_path: Path) -> None:
    import tomllib

    status, _ = run("schema", "--output", tmp_path)
    assert status == 0
    assert sorted(p.name for p in (tmp_path / "schemas").iterdir()) == sorted(f"{kind}.schema.json" for kind in MODELS)
    kinds = {"families": "family", "options": "option", "limits": "limits", "presses": "press"}
    for folder, kind in kinds.items():
        for path in (DEMO / folder).glob("*.toml"):
            table = json.loads(json.dumps(tomllib.loads(path.read_text()), default=str))
            jsonschema.validate(table, schema(kind))
            with pytest.raises(jsonschema.ValidationError):
                jsonschema.validate({**table, "naem": "x"}, schema(kind))


def test_help_starts_without_the_heavy_libraries() -> None:
    code = (
        "import sys; sys.argv = ['railgen', '--help']\n"
        "from railgen.cli.main import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "heavy = {'matplotlib', 'ortools', 'reportlab', 'ezdxf', 'numpy', 'shapely', 'pydantic'}\n"
        "print('LOADED', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "LOADED []" in done.stdout
    assert "build" in done.stdout
