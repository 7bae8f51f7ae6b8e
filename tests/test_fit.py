"""``railgen fit`` tells what the free stations are, on one order and over a bank, as text, JSON and pictures."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from placing_world import DEMO, catalogue_of

from railgen.bank.fit import fit_over_bank
from railgen.cli.main import main
from railgen.data.messages import InputError
from railgen.data.order_files import read_order, read_orders
from railgen.layout.plan import SerialPlan
from railgen.papers.fit_curve import FitCurve, fit_curve_sheet
from railgen.papers.fit_sheet import fit_sheets
from railgen.pipeline import plan
from railgen.placing.fit import fit
from railgen.placing.free import free_stations

SAMPLES = Path(__file__).parent.parent / "samples"
TRACTOR = SAMPLES / "T-2001.toml"


def run(*words: object) -> Result:
    return CliRunner().invoke(main, ["fit", *map(str, words), "--library", str(DEMO)])


def planned(path: Path) -> SerialPlan:
    given = read_order(path)
    assert given.order is not None
    return plan(given.order, catalogue_of(), str(path))


def small_bank(folder: Path, rows: int = 12) -> Path:
    lines = (SAMPLES / "bank-200.csv").read_text().splitlines()
    file = folder / "some.csv"
    file.write_text("\n".join(lines[: rows + 1]) + "\n")
    return file


def test_it_tells_the_free_stations_of_each_side() -> None:
    result = run("urea-tank", "--order", TRACTOR, "--json")
    found: dict[str, Any] = json.loads(result.stdout)
    serial = planned(TRACTOR)
    component = catalogue_of().library.components["urea-tank"]
    window = (found["window_mm"][0], found["window_mm"][1])
    anchor = serial.order.anchors[component.position.anchor]
    assert component.floating is not None
    assert window == (anchor + component.floating.least, anchor + component.floating.most)
    free = free_stations(component, serial.order, catalogue_of(), serial.placements, window)
    assert list(found["sides"]) == ["LH"]
    told = [(i["start_mm"], i["end_mm"]) for i in found["sides"]["LH"]]
    assert told == [(i.start, i.end) for i in free.sides["LH"]]
    assert found["on_all_sides_mm"] == [list(i) for i in free.together]
    assert found["wanted_mm"] == anchor + component.position.offset
    assert found["nearest_mm"] == free.nearest(found["wanted_mm"])
    assert result.exit_code == (0 if free.together else 1)


def test_a_window_and_a_wanted_station_may_be_given() -> None:
    result = run("urea-tank", "--order", TRACTOR, "--window", "1000", "99000", "--wanted", "1234.5", "--json")
    found = json.loads(result.stdout)
    assert found["window_mm"] == [1000.0, planned(TRACTOR).order.rail.rear]
    assert found["wanted_mm"] == 1234.5


def test_one_side_of_two_may_be_asked_for() -> None:
    both, left = (
        json.loads(run("midship-cross-member", "--order", TRACTOR, "--json", *more).stdout)
        for more in ((), ("--side", "LH"))
    )
    assert list(both["sides"]) == ["LH", "RH"]
    assert left["sides"] == {"LH": both["sides"]["LH"]}
    assert left["on_all_sides_mm"] == [[i["start_mm"], i["end_mm"]] for i in left["sides"]["LH"]]


def test_a_table_names_what_bounds_each_end() -> None:
    result = run("urea-tank", "--order", TRACTOR)
    assert "closed ahead of it by" in result.stdout
    assert "urea-tank.1." in result.stdout
    assert "from the wanted" in result.stdout


@pytest.mark.parametrize(
    ("words", "named"),
    [
        (("urea-tnk", "--order", TRACTOR), "Did you mean 'urea-tank'?"),
        (("urea-tank", "--order", TRACTOR, "--side", "RH"), "--side: found RH; allowed: sides of urea-tank: LH"),
        (("urea-tank", "--order", TRACTOR, "--window", "20000", "21000"), "--window: found from 20000.0 to 21000.0"),
        (("urea-tank", "--order", TRACTOR, "--window", "900", "800"), "a first station ahead of the last one"),
        (("air-line-clamp", "--order", TRACTOR), "air-line-clamp.toml: repeat.to"),
        (("urea-tank", "--order", SAMPLES / "bank-200.csv"), "found 200 orders; allowed: one order"),
        (("urea-tank", "--order", SAMPLES / "none.toml"), "none.toml"),
        (("urea-tank",), "give --order ORDER for one serial, or --orders BANK for many"),
        (("urea-tank", "--order", TRACTOR, "--orders", TRACTOR), "give --order ORDER for one serial"),
    ],
)
def test_what_cannot_be_is_refused_by_name(words: tuple[object, ...], named: str) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert named in result.stderr
    assert "Traceback" not in result.output


def test_an_anchor_that_the_family_lacks_is_named() -> None:
    serial = planned(TRACTOR)
    library = catalogue_of().library
    lacking = next(c for c in library.components.values() if c.position.anchor not in serial.order.anchors)
    with pytest.raises(InputError, match=r"position\.anchor"):
        fit(lacking.id, serial, catalogue_of())


def test_the_picture_shows_both_sides_the_bars_and_what_bounds_them(tmp_path: Path) -> None:
    found = fit("midship-cross-member", planned(TRACTOR), catalogue_of())
    sheets = fit_sheets(found, catalogue_of())
    words = [text.text for sheet in sheets for text in sheet.texts]
    for expected in ("LH", "RH", "both", f"wanted {found.wanted:g}", "free on both sides at once"):
        assert expected in words
    assert any(word.startswith("Not for use without the release") for word in words)
    bounds = [b.words for intervals in found.free.sides.values() for i in intervals for b in (i.ahead, i.behind) if b]
    told = " ".join(words)
    assert bounds
    assert all(bound.split(" against ")[-1].split()[-1] in told for bound in bounds)
    kinds = {
        kind: run("midship-cross-member", "--order", TRACTOR, "--picture", kind, "--output", tmp_path)
        for kind in ("png", "svg", "pdf")
    }
    for kind, result in kinds.items():
        assert f"fit-T-2001-midship-cross-member.{kind}" in result.stdout
        file = tmp_path / f"fit-T-2001-midship-cross-member.{kind}"
        first = file.read_bytes()
        run("midship-cross-member", "--order", TRACTOR, "--picture", kind, "--output", tmp_path)
        assert file.read_bytes() == first


def test_over_a_bank_every_offset_is_counted(tmp_path: Path) -> None:
    bank = small_bank(tmp_path)
    found = json.loads(run("midship-cross-member", "--orders", bank, "--json").stdout)
    serials = [serial["free_mm"] for serial in found["serials"]]
    assert len(serials) == 12
    for part in found["suited"]:
        middle = (part["start_mm"] + part["end_mm"]) / 2
        suits = sum(any(start <= middle <= end for start, end in free) for free in serials)
        assert suits == part["serials"]
    for start, end in found["on_all_mm"]:
        assert all(any(a <= start and end <= b for a, b in free) for free in serials)
    component = catalogue_of().library.components["midship-cross-member"]
    one = planned_row(bank, 3)
    alone = fit("midship-cross-member", one, catalogue_of())
    anchor = found["serials"][3]["anchor_mm"]
    assert alone.wanted - component.position.offset == anchor
    assert [[round(a - anchor, 9), round(b - anchor, 9)] for a, b in alone.free.together] == serials[3]


def planned_row(bank: Path, row: int) -> SerialPlan:
    given = list(read_orders([bank]))[row]
    assert given.order is not None
    return plan(given.order, catalogue_of(), given.place)


def test_a_bad_row_is_told_and_the_others_go_on(tmp_path: Path) -> None:
    bank = small_bank(tmp_path, 3)
    lines = bank.read_text().splitlines()
    head = lines[0].split(",")
    cells = lines[2].split(",")
    cells[head.index("family")] = "no-such-family"
    bank.write_text("\n".join([lines[0], lines[1], ",".join(cells), lines[3]]) + "\n")
    result = run("midship-cross-member", "--orders", bank, "--json")
    assert result.exit_code == 2
    assert "no-such-family" in result.stderr
    assert len(json.loads(result.stdout)["serials"]) == 2


def test_a_window_off_one_serial_is_told_with_the_serial(tmp_path: Path) -> None:
    bank = small_bank(tmp_path, 2)
    result = run("midship-cross-member", "--orders", bank, "--window", "90000", "91000")
    assert result.exit_code == 2
    assert result.stderr.count("off the rail of") == 2


def test_the_curve_is_drawn_with_what_suits_most(tmp_path: Path) -> None:
    found = fit_over_bank("midship-cross-member", read_orders([small_bank(tmp_path)]), catalogue_of())
    drawn = FitCurve("midship-cross-member", "midship", 12, found.curve, found.on_all, found.wanted, found.nearest)
    words = [text.text for text in fit_curve_sheet(drawn).texts]
    best = max(found.curve, key=lambda part: part.serials)
    assert "midship-cross-member: free stations over 12 serials" in words
    assert f"{100 * best.serials / 12:.1f} %" in words
    assert any(word.startswith("Offsets that suit most serials") for word in words)
