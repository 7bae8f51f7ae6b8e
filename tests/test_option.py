"""``railgen option``: clashes of one option and of a whole catalogue, on the screen, as data and as pages."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path
from xml.etree import ElementTree

import pytest
from click.testing import CliRunner, Result

from railgen.cli.main import main

ROOT = Path(__file__).parent.parent
LIBRARY, BANK = ROOT / "hole_libraries", ROOT / "samples" / "bank-200.csv"


def run(*arguments: str, status: int) -> Result:
    result = CliRunner().invoke(main, ["option", *arguments])
    assert result.exit_code == status, result.output
    return result


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """A library of one's own to change."""
    return Path(shutil.copytree(LIBRARY, tmp_path / "library"))


def a_bracket(folder: Path, code: str, name: str, offset: float, **more: str) -> None:
    """Adds an option of the plough carrier with a bracket of one hole, measured from the front axle."""
    extra = "".join(f"{key} = {value}\n" for key, value in more.items() if key in ("requires", "excludes"))
    place = more.get("per", "")
    (folder / "options" / f"{code}.toml").write_text(
        f'code = "{code}"\nname = "Bracket {name}"\nplace = "test"\nfamilies = ["plough-carrier"]\n{extra}'
    )
    (folder / "components" / f"{name}.toml").write_text(
        f'id = "{name}"\nname = "Bracket {name}"\noptions = ["{code}"]\nkind = "bracket"\nside = "both"\n'
        f'position = {{ anchor = "front_axle", offset = {offset}{place} }}\n'
        '[[groups]]\nface = "web"\ndatum = "middle"\nacross = 7\ndiameter = 20\n'
        'features = [{ id = "a" }]\n'
    )


def test_two_brackets_clash_where_their_holes_come_too_near(library: Path, tmp_path: Path) -> None:
    """Holes of 20 mm at one height, 2.5 d = 50 mm: the wheelbase moves one of them past the other by halves."""
    a_bracket(library, "TST10", "standing", 3300.0)
    a_bracket(library, "TST20", "moving", 0.0, per=", per = { wheelbase = 0.5 }")
    result = run("check", "TST20", "--library", str(library), "--json", "--output", str(tmp_path / "out"), status=1)
    found = json.loads(result.output)["families"][0]
    assert found["options"]["only for"].count("TST10") == 1
    clash = next(one for one in found["clashes"] if one["with"] == "TST10")["clashes"][0]
    (where,) = next(rule["where"] for rule in clash["rules"] if rule["measure"] == "centre")
    # |0.5 wheelbase - 3300| < 50 mm, but for the rule's tolerance; where the holes overlap another rule speaks.
    assert where["along"] == "wheelbase"
    assert where["fixed"] == {}
    assert where["intervals_mm"][0][0] == pytest.approx(6500.0, abs=1e-5)
    assert where["intervals_mm"][-1][1] == pytest.approx(6700.0, abs=1e-5)
    assert clash["where"][0]["values_mm"] == [6550.0, 6600.0, 6650.0]
    assert clash["orders"] == "wheelbase 6 550 to 6 650"
    assert clash["example"]["values_mm"] == {"wheelbase": 6600.0}
    assert clash["example"]["holes"][0]["holes"] == ["moving.1.a", "standing.1.a"]
    assert_well_formed(tmp_path / "out" / "TST20" / "option.html")


def test_clash_in_every_order_and_after_exclusion(library: Path) -> None:
    a_bracket(library, "TST10", "one", 3000.0)
    a_bracket(library, "TST20", "two", 3030.0)
    a_bracket(library, "TST30", "three", 3030.0, requires='["TST40"]')
    a_bracket(library, "TST40", "four", 4000.0, excludes='["TST10"]')
    found = json.loads(run("check", "TST10", "--library", str(library), "--json", status=1).output)["families"][0]
    assert "TST20" in found["options"]["always"]
    # TST30 requires TST40, which excludes TST10.
    assert {"TST30", "TST40"} <= set(found["options"]["not together"])
    assert "TST30" not in [clash["with"] for clash in found["clashes"]]


def test_clash_only_on_one_side_and_with_some_drives(library: Path) -> None:
    a_bracket(library, "TST10", "one", 3000.0)
    a_bracket(library, "TST20", "two", 3030.0)
    for name, side in (("one", "driver"), ("two", "LH")):
        file = library / "components" / f"{name}.toml"
        file.write_text(file.read_text().replace('side = "both"', f'side = "{side}"'))
    found = json.loads(run("check", "TST10", "--library", str(library), "--json", status=1).output)["families"][0]
    clash = next(one for one in found["clashes"] if one["with"] == "TST20")["clashes"][0]
    assert (clash["side"], clash["drives"]) == ("LH", ["left", "dual"])
    assert "TST20" in found["options"]["only for"]


def test_validity_keeps_options_apart(library: Path) -> None:
    a_bracket(library, "TST10", "one", 3000.0)
    a_bracket(library, "TST20", "two", 3030.0)
    for code, bound in (("TST10", 'valid_to = "P-1999"'), ("TST20", 'valid_from = "P-2000"')):
        file = library / "options" / f"{code}.toml"
        file.write_text(f"{file.read_text()}{bound}\n")
    found = json.loads(run("check", "TST10", "--library", str(library), "--json", status=1).output)["families"][0]
    assert "TST20" in found["options"]["not together"]


def test_serials_of_a_bank_that_an_option_affects(library: Path) -> None:
    """A bracket on the front shackle: no serial has it, every plough carrier could take it, and none without errors."""
    a_bracket(library, "TST10", "on-the-shackle", 850.0)
    rows = (ROOT / "samples" / "bank-200.csv").read_text().splitlines()
    bank = library.parent / "bank.csv"
    bank.write_text("\n".join([rows[0], *(row for row in rows if row.startswith("P-"))][:6]) + "\n")
    data = json.loads(
        run("check", "TST10", "--library", str(library), "--orders", str(bank), "--json", status=1).output
    )
    assert [serial["state"] for serial in data["orders"]] == ["could take it"] * 5
    for serial in data["orders"]:
        assert serial["errors"]
        assert all("on-the-shackle" in error["components"] for error in serial["errors"])


def test_matrix_as_csv_and_page(tmp_path: Path) -> None:
    result = run("matrix", "timber-tractor", "--output", str(tmp_path), "--json", status=1)
    data = json.loads(result.output)
    rows = list(csv.DictReader((tmp_path / "timber-tractor" / "matrix.csv").open(newline="", encoding="utf-8")))
    count = len(data["options"])
    assert len(rows) == count * (count + 1) // 2
    told = {(pair["first"], pair["second"]): pair["verdict"] for pair in data["pairs"]}
    for row in rows:
        assert told.get((row["first"], row["second"]), "never") == row["verdict"]
    clash = next(row for row in rows if (row["first"], row["second"]) == ("AXL50", "NRG10"))
    assert clash["verdict"] == "only for"
    assert clash["orders"].startswith("wheelbase 3 400 to ")
    assert_well_formed(tmp_path / "timber-tractor" / "matrix.html")


def test_same_bytes_twice(tmp_path: Path) -> None:
    for name in ("one", "two"):
        run("matrix", "street-sweeper", "--output", str(tmp_path / name), status=1)
    for file in ("matrix.csv", "matrix.html"):
        one, two = ((tmp_path / name / "street-sweeper" / file).read_bytes() for name in ("one", "two"))
        assert one == two


def assert_well_formed(path: Path) -> None:
    """Every picture in a page is whole, and nothing is fetched from elsewhere."""
    text = path.read_text(encoding="utf-8")
    assert "http" not in text
    assert "<script" not in text
    assert text.count("<table") == text.count("</table>")
    pictures = text.split("<svg")[1:]
    assert pictures
    for picture in pictures:
        ElementTree.fromstring("<svg" + picture.split("</svg>")[0] + "</svg>")


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("check", "XYZ99"), "OPTION: found 'XYZ99'"),
        (("check", "axl50"), "Did you mean 'AXL50'?"),
        (("matrix", "plow-carrier"), "Did you mean 'plough-carrier'?"),
        (("matrix", "plough-carrier", "--limits", "home"), "--limits: found 'home'"),
    ],
)
def test_unknown_names(arguments: tuple[str, ...], said: str) -> None:
    assert said in run(*arguments, status=2).output


def test_option_that_excludes_itself_and_unknown_dimension(library: Path) -> None:
    a_bracket(library, "TST10", "one", 3000.0, requires='["TST20"]')
    a_bracket(library, "TST20", "two", 3100.0, excludes='["TST10"]')
    said = run("check", "TST10", "--library", str(library), status=2).output
    assert "TST10.toml: requires: found TST10 excludes itself" in said
    assert "TST20" in said
    assert "TST10.toml" in run("matrix", "plough-carrier", "--library", str(library), status=2).output
    a_bracket(library, "TST20", "two", 3100.0, excludes='["TST20"]')
    assert "TST20 excludes itself" in run("check", "TST10", "--library", str(library), status=2).output
    a_bracket(library, "TST20", "two", 3100.0, per=", per = { wheelbsae = 0.5 }")
    assert "Did you mean 'wheelbase'?" in run("check", "TST10", "--library", str(library), status=2).output


def test_pictures_across_the_frame_and_of_one_component(library: Path, tmp_path: Path) -> None:
    """Boxes of 600 mm from either web meet across the narrowest frame; a hole 5 mm off a bend is wrong by itself."""
    box = '[[envelopes]]\nclearance = "static"\nstation = [-50, 50]\nheight = [100, 200]\nacross = [20, 600]\n'
    a_bracket(library, "TST10", "one", 3000.0)
    a_bracket(library, "TST20", "two", 3300.0)
    for name, side in (("one", "LH"), ("two", "RH")):
        file = library / "components" / f"{name}.toml"
        text = file.read_text().replace('side = "both"', f'side = "{side}"')
        file.write_text(text.replace("3300.0", "3060.0") + box)
    low = library / "components" / "one.toml"
    low.write_text(low.read_text().replace('datum = "middle"\nacross = 7', 'datum = "bottom"\nacross = 35'))
    found = run("check", "TST10", "--library", str(library), "--json", "--output", str(tmp_path), status=1)
    clashes = json.loads(found.output)["families"][0]["clashes"]
    across = next(one for one in clashes if one["with"] == "TST20")["clashes"][0]
    assert across["side"] == "LH-RH"
    assert across["example"]["holes"][0] == {"rule": "space-clash", "measure": "static", "holes": ["one", "two"]}
    alone = next(one for one in clashes if one["with"] == "TST10")["clashes"][0]
    assert alone["components"] == ["one"]
    assert ["one.1.a"] in [touch["holes"] for touch in alone["example"]["holes"]]
    page = (tmp_path / "TST10" / "option.html").read_text(encoding="utf-8")
    assert_well_formed(tmp_path / "TST10" / "option.html")
    figures = [part.split("</figure>")[0] for part in page.split("<figure>")[1:]]
    assert sum(", LH-RH." in figure and "frame width" in figure for figure in figures) == 1
    assert any("one</b>, LH." in figure and 'fill-opacity=".28"' in figure for figure in figures)
