"""Drawing and cut files of a release that has none, made anew from the kept inputs, or refused."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from register_places import run

ROOT = Path(__file__).parent.parent
ORDER = 'serial = "X-1"\nfamily = "tractor"\nbuild_date = 2027-01-05\nwheelbase = 5000\noptions = ["AAA01"]\n'


@pytest.mark.parametrize("given", ["a TOML file", "a row of a bank"])
def test_a_drawing_and_cut_files_that_were_not_released_are_made_from_what_was_kept(given: str, tmp_path: Path) -> None:
    """Only the hole table was released, and the library has moved on since."""
    library, order, register = tmp_path / "library", tmp_path / "X-1.toml", tmp_path / "r.sqlite"
    shutil.copytree(ROOT / "tests" / "small_library", library)
    order.write_text(ORDER)
    if given == "a row of a bank":
        order = tmp_path / "bank.csv"
        order.write_text("serial,options,wheelbase,family,build_date\nX-1,AAA01,5000,tractor,2027-01-05\n")
    out, use = tmp_path / "out", ("--library", library)
    for folder, kinds in ((out, "holes,findings"), (tmp_path / "whole", "holes,findings,cut,papers")):
        run("bank", order, "--workers", "1", "--write", kinds, "--output", folder, *use)
    said = ("--by", "A", "--on", "2027-01-06", "--register", register)
    run("release", out / "X-1", "--order", order, *use, *said)
    (library / "library.toml").write_text((library / "library.toml").read_text() + "# moved on\n")
    for component in (library / "components").iterdir():
        component.write_text(component.read_text().replace("diameter = ", "diameter = 1"))
    given_back = run("register", "holes", "X-1", "--drawing", "--dxf", "--register", register, "--output", tmp_path)
    assert "made anew from the kept inputs" in given_back.output
    files = {path.name: path.read_bytes() for path in (tmp_path / "X-1-A-released").iterdir()}
    assert "X-1-drawing.pdf" in files
    assert "X-1-LH-rail.dxf" in files
    assert files == {name: (tmp_path / "whole" / "X-1" / name).read_bytes() for name in files}


def test_nothing_is_made_anew_without_inputs_or_beside_the_released_holes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    library, order, register = ROOT / "tests" / "small_library", tmp_path / "X-1.toml", tmp_path / "r.sqlite"
    order.write_text(ORDER)
    for revision in ("A", "B"):
        order.write_text(order.read_text() + (f'revision = "{revision}"\n' if revision == "B" else ""))
        run("bank", order, "--workers", "1", "--output", tmp_path, "--library", library)
        kept = ("--order", order) if revision == "B" else ()
        said = ("--by", "A", "--on", "2027-01-06", "--register", register)
        run("release", tmp_path / "X-1", *kept, "--library", library, *said)
    ask = ("register", "holes", "X-1", "--drawing", "--register", register, "--output", tmp_path)
    assert "no drawing, and no order kept to make it from" in run(*ask, "--revision", "A", code=2).output
    table = "railgen.records.register_rebuild.hole_table_csv"
    monkeypatch.setattr(table, lambda serial, holes: b"another")
    assert "another hole table by this version of railgen" in run(*ask, code=2).output
