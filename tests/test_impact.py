"""``railgen impact`` against plain builds with both libraries and a comparison of their hole tables."""

from __future__ import annotations

import csv
import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from railgen.cli.main import main

ROOT = Path(__file__).parent.parent
OLD = ROOT / "hole_libraries"
SERIALS = 6


def run(*arguments: str, status: int) -> Result:
    result = CliRunner().invoke(main, list(arguments))
    assert result.exit_code == status, result.output
    return result


@pytest.fixture
def new(tmp_path: Path) -> Path:
    """A library of one's own to change."""
    return Path(shutil.copytree(OLD, tmp_path / "new"))


@pytest.fixture(scope="module")
def bank(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Some orders of every family."""
    header, *rows = (ROOT / "samples" / "bank-200.csv").read_text().splitlines()
    some = [row for prefix in "PST" for row in [r for r in rows if r.startswith(prefix)][: SERIALS // 3]]
    path = tmp_path_factory.mktemp("orders") / "bank.csv"
    path.write_text("\n".join([header, *some]) + "\n")
    return path


@pytest.fixture(scope="module")
def old_build(bank: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bank built with the old library."""
    return built(bank, OLD, tmp_path_factory.mktemp("old"))


def built(bank: Path, library: Path, output: Path) -> Path:
    orders = ["bank", str(bank), "--library", str(library), "--output", str(output), "--workers", "1"]
    assert CliRunner().invoke(main, orders).exit_code in (0, 1)
    return output


def change(library: Path, file: str, old: str, new: str) -> None:
    path = next(library.glob(f"**/{file}"))
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new, 1))


def impact(new: Path, bank: Path, *more: str, status: int = 1) -> dict[str, object]:
    found: dict[str, object] = json.loads(
        run("impact", str(OLD), str(new), "--orders", str(bank), "--json", *more, status=status).output
    )
    return found


def shift_the_lamp_cross_member(new: Path) -> None:
    change(new, "tail-lamp-cross-member.toml", "offset = -", "offset = -1")


def enlarge_a_passage(new: Path) -> None:
    change(new, "harness-passage-front.toml", "length = 50", "length = 55")


def drop_a_stay(new: Path) -> None:
    next(new.glob("**/mudguard-stay-low.toml")).unlink()


CHANGES: list[Callable[[Path], None]] = [shift_the_lamp_cross_member, enlarge_a_passage, drop_a_stay]


@pytest.mark.parametrize("made", CHANGES, ids=lambda made: made.__name__)
def test_impact_is_what_plain_builds_show(
    made: Callable[[Path], None], new: Path, bank: Path, old_build: Path, tmp_path: Path
) -> None:
    made(new)
    found = impact(new, bank)
    changed = {one["serial"]: one for one in found["serials"]}  # type: ignore[attr-defined]
    new_build = built(bank, new, tmp_path / "built")
    some = 0
    for serial in sorted(file.parent.name for file in old_build.glob("*/*-holes.csv")):
        before, after = (rows_of(folder / serial / f"{serial}-holes.csv") for folder in (old_build, new_build))
        told = changed.get(serial, {"changes": [], "new": [], "gone": []})
        assert len([c for c in told["changes"] if c["before"] is None]) >= max(len(after) - len(before), 0)
        differing = before ^ after
        named = {place(c[which]) for c in told["changes"] for which in ("before", "after") if c[which]}
        assert {row[:4] for row in differing} <= named, serial
        assert bool(differing) == (serial in changed and changed[serial]["state"] == "changed")
        some += bool(differing)
        old, fresh = (findings_of(f / serial / f"{serial}-findings.json") for f in (old_build, new_build))
        assert {key(f) for f in told["new"]} == fresh - old
        assert {key(f) for f in told["gone"]} == old - fresh
    assert some


def rows_of(path: Path) -> set[tuple[str, ...]]:
    """Rows of a hole table by side, part, hole and place."""
    with path.open(newline="", encoding="utf-8") as stream:
        return {
            (row["side"], row["part"], row["hole"], f"{float(row['station_mm']):.6f}", *list(row.values())[5:])
            for row in csv.DictReader(stream)
        }


def place(hole: dict[str, object]) -> tuple[object, ...]:
    return hole["side"], hole["part"], hole["hole"], f"{hole['station_mm']:.6f}"


def findings_of(path: Path) -> set[str]:
    return {key(finding) for finding in json.loads(path.read_text())}


def key(finding: dict[str, object]) -> str:
    names = ("rule", "measure", "severity", "side", "part", "face", "holes", "components")
    return json.dumps([finding[name] for name in names])


def test_nothing_changes_with_the_same_library(bank: Path) -> None:
    found = impact(OLD, bank, status=0)
    assert found["serials"] == []
    assert len(found["same"]) == SERIALS  # type: ignore[arg-type]


def test_punched_rails_and_the_serial_to_take_effect_from(new: Path, bank: Path, tmp_path: Path) -> None:
    shift_the_lamp_cross_member(new)
    changed = [one["serial"] for one in impact(new, bank)["serials"]]  # type: ignore[attr-defined]
    ours = sorted(serial for serial in changed if serial.startswith(changed[0][0]))
    punched = tmp_path / "punched.csv"
    punched.write_text("serial,by\n" + "".join(f"{serial},press 1\n" for serial in [*ours[:2], "P-9999999"]))
    found = impact(new, bank, "--released", str(punched))
    assert found["released_no_longer_match"] == ours[:2]
    assert found["released_not_in_bank"] == ["P-9999999"]
    prefix, number = ours[1].split("-")
    effect = [one for one in found["take_effect"].values() if one]  # type: ignore[attr-defined]
    assert effect == [f"{prefix}-{int(number) + 1}"]


def test_valid_from_the_serial_named_touches_no_punched_rail(new: Path, bank: Path, tmp_path: Path) -> None:
    """What the command recommends is what it says: with valid_from and valid_to the punched serials stay the same."""
    shift_the_lamp_cross_member(new)
    changed = [one["serial"] for one in impact(new, bank)["serials"]]  # type: ignore[attr-defined]
    ours = sorted(serial for serial in changed if serial.startswith(changed[0][0]))
    punched = tmp_path / "punched.csv"
    punched.write_text(f"serial\n{ours[0]}\n")
    effect = next(one for one in impact(new, bank, "--released", str(punched))["take_effect"].values() if one)  # type: ignore[attr-defined]
    prefix, number = effect.split("-")
    file = next(new.glob("**/tail-lamp-cross-member.toml"))
    old = next(OLD.glob("**/tail-lamp-cross-member.toml")).read_text()
    fresh = file.read_text().replace('id = "tail-lamp-cross-member"', 'id = "tail-lamp-cross-member-b"')
    file.with_stem("tail-lamp-cross-member-b").write_text(f'valid_from = "{effect}"\n{fresh}')
    file.write_text(f'valid_to = "{prefix}-{int(number) - 1}"\n{old}')
    found = impact(new, bank, "--released", str(punched))
    assert found["released_no_longer_match"] == []


def test_an_order_that_only_one_library_can_build(new: Path, bank: Path) -> None:
    change(new, "timber-tractor.toml", "least = 3400", "least = 3600")
    change(new, "timber-tractor.toml", "most = 5600", "most = 3650, choices = [3600, 3900]")
    states = {one["serial"]: one["state"] for one in impact(new, bank)["serials"]}  # type: ignore[attr-defined]
    assert "only before" in states.values()


def test_page_and_tables(new: Path, bank: Path, tmp_path: Path) -> None:
    drop_a_stay(new)
    found = impact(new, bank)
    run("impact", str(OLD), str(new), "--orders", str(bank), "--output", str(tmp_path / "out"), status=1)
    folder = tmp_path / "out" / "impact"
    with (folder / "impact-serials.csv").open(newline="") as stream:
        rows = {row["serial"]: row for row in csv.DictReader(stream)}
    assert len(rows) == SERIALS
    for one in found["serials"]:  # type: ignore[attr-defined]
        removed = sum(c["after"] is None for c in one["changes"])
        assert int(rows[one["serial"]]["removed"]) == removed
    with (folder / "impact-holes.csv").open(newline="") as stream:
        holes = list(csv.DictReader(stream))
    assert len(holes) == sum(len(one["changes"]) for one in found["serials"])  # type: ignore[attr-defined]
    assert {hole["component"] for hole in holes} == {"mudguard-stay-low"}
    assert "mudguard-stay-low" in (folder / "impact.html").read_text()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("serials\nP-1001\n", "line 1: found serials; allowed: a column serial"),
        ("serial\nP-1001\nnone\n", "line 3: found 'none'"),
        ("", "an empty file"),
    ],
)
def test_bad_lists(text: str, said: str, bank: Path, tmp_path: Path) -> None:
    punched = tmp_path / "punched.csv"
    punched.write_text(text)
    bad = ["impact", str(OLD), str(OLD), "--orders", str(bank), "--released", str(punched)]
    assert said in run(*bad, status=2).output


def test_bad_libraries_and_banks(bank: Path, tmp_path: Path) -> None:
    assert "no such folder" in run("impact", str(OLD), "nowhere", "--orders", str(bank), status=2).output
    assert (
        "nothing.csv" in run("impact", str(OLD), str(OLD), "--orders", str(tmp_path / "nothing.csv"), status=2).output
    )
    twice = tmp_path / "twice.csv"
    header, first, *_ = bank.read_text().splitlines()
    twice.write_text("\n".join([header, first, first]) + "\n")
    assert "each serial once" in run("impact", str(OLD), str(OLD), "--orders", str(twice), status=2).output
