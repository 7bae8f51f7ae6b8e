"""Slips: each work station is told its own operations with all that is said of them, and no other's."""

from __future__ import annotations

import re
import shutil
import subprocess
from io import BytesIO
from pathlib import Path

import pytest
from click.testing import CliRunner
from demo_serials import ROOT, SAMPLES, sample
from pypdf import PdfReader

from railgen.cli.main import main
from railgen.data.plant import OPERATIONS
from railgen.papers.slips import write_slips
from railgen.papers.wording import say, wording
from railgen.shop.operation import Operation
from railgen.shop.part_work import parts_of
from railgen.shop.route import route
from railgen.shop.work_stations import OPERATIONS_AT, WORK_STATIONS, stops_of

DEMO = ROOT / "hole_libraries"


def pages(pdf: bytes | None) -> list[str]:
    assert pdf is not None
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


def operation(number: int, kind: str) -> Operation:
    return Operation(number=number, kind=kind, minutes=None)


def test_every_operation_is_done_at_one_work_station() -> None:
    kinds = [kind for at in WORK_STATIONS for kind in OPERATIONS_AT[at]]
    assert sorted(kinds) == sorted(OPERATIONS)


def test_a_route_that_comes_back_stops_there_twice() -> None:
    kinds = ("blank", "punch", "drill", "deburr", "form", "drill", "rack")
    route_ = [operation(10 * n, kind) for n, kind in enumerate(kinds, 1)]
    stops = stops_of(route_)
    assert [stop.at for stop in stops] == ["cutting", "punching", "drilling", "forming", "drilling", "racking"]
    assert [op for stop in stops for op in stop.operations] == route_
    assert [(s.before and s.before.number, s.after and s.after.number) for s in stops] == [
        (None, 20),
        (10, 30),
        (20, 50),
        (40, 60),
        (50, 70),
        (60, None),
    ]
    assert stops_of(()) == ()


@pytest.mark.parametrize("serial", ["P-1001", "T-2001"])
def test_each_operation_of_each_part_stands_on_one_slip_with_all_that_is_said_of_it(serial: str) -> None:
    planned = sample(serial)
    found = pages(write_slips(planned))
    words = wording()
    for part, side in parts_of(planned):
        operations = route(planned, part, side)
        for stop in stops_of(operations):
            name = say(f"slip.{stop.at}")
            head = f"{words.say(f'part.{part}', side=side)}, {stop.operations[0].number} {name}"
            own = " ".join(page for page in found if f"{serial} {head} page" in page)
            assert own, head
            for one in stop.operations:
                lines = (*one.inputs, *one.instructions, *one.targets, *one.limits, *one.cautions)
                for line in lines:
                    assert " ".join(words.text(line).split()) in own, (head, line)
                if one.minutes is not None:
                    assert words.say("operations.time_value", minutes=one.minutes) in own
            others = [one for one in operations if one not in stop.operations]
            for one in others:
                for line in one.instructions[:1]:
                    assert " ".join(words.text(line).split()) not in own, (head, line)


def test_one_work_station_and_one_part_may_be_asked_for() -> None:
    planned = sample("P-1001")
    forming = pages(write_slips(planned, at=("forming",)))
    assert len(forming) == 4
    assert all(re.search(r"P-1001 .H \w+, \d+ Forming and straightening page 1 of 1", page) for page in forming)
    one = pages(write_slips(planned, only=[("liner", "RH")], at=("forming",)))
    assert [page for page in forming if "RH liner" in page and "This is the RH liner" in page] == [
        re.sub("sheet 1 of 1", "sheet 4 of 4", page) for page in one
    ]
    assert write_slips(planned, only=[("liner", "RH")], at=("welding",)) is None


def test_the_same_plan_gives_the_same_bytes() -> None:
    assert write_slips(sample("T-2002")) == write_slips(sample("T-2002"))


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler is not installed")
@pytest.mark.parametrize("serial", ["P-1001", "T-2001", "S-3001"])
def test_nothing_leaves_the_page_or_runs_into_the_foot(serial: str, tmp_path: Path) -> None:
    pdf = tmp_path / "slips.pdf"
    pdf.write_bytes(write_slips(sample(serial)) or b"")
    told = subprocess.run(["pdftotext", "-bbox", str(pdf), "-"], check=True, capture_output=True, text=True).stdout
    boxes = [
        tuple(map(float, found)) for found in re.findall(r'xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)"', told)
    ]
    assert len(boxes) > 500
    assert all(
        left >= 30 and right <= 595.3 - 25 and top >= 20 and bottom <= 841.9 - 15 for left, top, right, bottom in boxes
    )


def run(*arguments: object) -> tuple[int, str]:
    done = CliRunner().invoke(main, [*map(str, arguments), "--library", str(DEMO)], catch_exceptions=False)
    return done.exit_code, done.output


def test_the_days_slips_of_one_work_station_come_in_build_order(tmp_path: Path) -> None:
    orders = [SAMPLES / f"{serial}.toml" for serial in ("T-2002", "P-1001")]
    status, told = run("papers", *orders, "--station", "peening", "--output", tmp_path)
    assert status == 0, told
    serials = [page.split()[0:200] for page in pages((tmp_path / "slips-peening.pdf").read_bytes())]
    order = [next(word for word in words if word in ("T-2002", "P-1001")) for words in serials]
    assert order == sorted(order, key=lambda serial: sample(serial).order.order.build_date)
    assert set(order) == {"T-2002", "P-1001"}


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (["--station", "formin"], "Did you mean 'forming'?"),
        (["--station", "forming", "--kind", "kit"], "--kind kit with --station forming"),
        (["--part", "LH-rail", "--kind", "jig"], "route-card or slips"),
    ],
)
def test_what_cannot_be_is_refused(asked: list[str], told: str, tmp_path: Path) -> None:
    status, output = run("papers", SAMPLES / "T-2002.toml", *asked, "--output", tmp_path / "out")
    assert status == 2
    assert told in output
    assert not (tmp_path / "out").exists()
