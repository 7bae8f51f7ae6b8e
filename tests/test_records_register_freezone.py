"""Where another hole may go in a released serial, holes drilled into it since counted in."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from register_places import run

ROOT = Path(__file__).parent.parent
ORDER = 'serial = "X-1"\nfamily = "tractor"\nbuild_date = 2027-01-05\nwheelbase = 5000\noptions = ["AAA01"]\n'


@pytest.fixture
def register(tmp_path: Path) -> Path:
    """A register with one serial, its library and its order kept."""
    library, order, place = ROOT / "tests" / "small_library", tmp_path / "X-1.toml", tmp_path / "r.sqlite"
    order.write_text(ORDER)
    run("bank", order, "--workers", "1", "--write", "holes,findings", "--output", tmp_path, "--library", library)
    said = ("--by", "A", "--on", "2027-01-06", "--register", place)
    run("release", tmp_path / "X-1", "--order", order, "--library", library, *said)
    return place


def asked(register: Path, *words: str, code: int = 0) -> str:
    hole = ("--diameter", "15", "--operation", "drill")
    return str(run("register", "freezone", "X-1", *hole, *words, "--register", register, code=code).output)


def test_a_hole_drilled_since_the_release_closes_the_places_round_it(register: Path, tmp_path: Path) -> None:
    at = ("--at", "4000,150", "--json")
    assert json.loads(asked(register, *at))["free"] is True
    measured = tmp_path / "drilled.csv"
    measured.write_text("part,side,face,station_mm,across_mm,diameter_mm\nrail,LH,web,4020,150,16\n")
    said = ("--by", "B", "--on", "2028-01-06", "--register", register)
    run("register", "add", "X-1", "--kind", "rework", "--part", "LH-rail", "--added", measured, "--note", "lamp", *said)
    answer = json.loads(asked(register, *at, code=1))
    assert {"as-built-1"} <= {name for finding in answer["findings"] for name in finding["components"]}
    assert json.loads(asked(register, *at, "--side", "RH"))["free"] is True
    zone = json.loads(asked(register, "--side", "LH", "--json", "--output", str(tmp_path / "out")))
    assert zone["areas"]
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        f"X-1-freezone.{e}" for e in ("dxf", "json", "pdf")
    ]


def test_an_added_hole_without_a_diameter_is_asked_for(register: Path, tmp_path: Path) -> None:
    measured = tmp_path / "drilled.csv"
    measured.write_text("part,side,face,station_mm,across_mm,diameter_mm\nrail,LH,web,4020,150,\n")
    said = ("--by", "B", "--on", "2028-01-06", "--register", register)
    run("register", "add", "X-1", "--kind", "rework", "--part", "LH-rail", "--added", measured, "--note", "lamp", *said)
    assert "no diameter of the added hole LH web at 4020, 150" in asked(register, "--at", "4000,150", code=2)
