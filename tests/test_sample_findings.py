"""The samples' findings are those reviewed by hand, and the deliberate clash is cleared by what is told to clear it."""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from math import hypot, pi
from pathlib import Path

import pytest
from demo_serials import ROOT, SAMPLES, catalogue, sample
from drawn_plans import page_words
from sample_reviews import REVIEWS

from railgen.cli.show import findings_table
from railgen.data.findings import Finding
from railgen.data.library import load_library
from railgen.data.order_files import read_order
from railgen.formats.findings_file import findings_json
from railgen.layout.catalogue import compile_catalogue
from railgen.papers.drawing import drawing_pdf
from railgen.pipeline import plan, with_remedies


def who(finding: Finding) -> tuple[object, ...]:
    """What a finding is about, as the reviews have it."""
    name = f"{finding.rule} {finding.measure}"
    return name, finding.severity, finding.side, finding.part, finding.face, finding.holes, finding.components


def test_every_sample_is_reviewed() -> None:
    assert set(REVIEWS) == {path.stem for path in SAMPLES.glob("*.toml")}


@pytest.mark.parametrize("serial", REVIEWS)
def test_findings_are_those_reviewed_and_no_others(serial: str) -> None:
    """Who and where, and the station, the value and the limit as they were worked out beside it."""
    reviewed = {about: figures for row in REVIEWS[serial] for about, *figures in row.findings()}
    findings = sample(serial).findings
    assert {who(finding) for finding in findings} == set(reviewed)
    assert len(findings) == len(reviewed)
    for finding in findings:
        (station, value, limit), within = reviewed[who(finding)]
        assert finding.station_mm == pytest.approx(station, abs=1e-6), finding.message
        assert finding.value == pytest.approx(value, abs=within), finding.message
        assert finding.limit == pytest.approx(limit, abs=1e-6), finding.message


@pytest.mark.parametrize("serial", REVIEWS)
def test_what_is_said_to_break_a_limit_does(serial: str) -> None:
    """Of the figures worked out by hand: worse than the limit, all of which are least ones here."""
    for row in REVIEWS[serial]:
        if row.severity != "note":
            assert row.limit is not None
            assert row.value < row.limit - row.within


def channel_area(depth: float, flange: float, t: float, radius: float) -> float:
    """mm2 of a channel: web, two flanges, two quarter rings."""
    corner = radius + t
    return t * (depth - 2 * corner) + 2 * t * (flange - corner) + pi / 2 * (corner**2 - radius**2)


def test_axle_loads_of_the_sample_by_plain_sums() -> None:
    """Masses from the components' files by the lever rule; holes take some 10 kg of steel, which is left out here."""
    files = (ROOT / "hole_libraries/components").rglob("*.toml")
    mass_of = {data["id"]: data.get("mass", 0.0) for data in (tomllib.loads(path.read_text()) for path in files)}
    made = sample("P-1001")
    names, at = list(made.order.library.components), made.placements
    masses = [(mass_of[names[c]], float(x)) for c, x in zip(at.component.tolist(), at.station.tolist(), strict=True)]
    masses.append((2 * channel_area(300, 90, 9.5, 24) * 8000 * 7.85e-6, (6500 - 1500) / 2))
    masses.append((2 * channel_area(280.4, 76, 7, 18) * (4478 - 202.5) * 7.85e-6, (4478 + 202.5) / 2))
    masses.append((9500.0, (1600 + 6300) / 2))
    rear = sum(mass * x for mass, x in masses) / 4800
    front = sum(mass for mass, _ in masses) - rear
    found = {f.measure: f.value for f in made.findings if f.rule == "bending"}
    assert found == {
        "front-axle": pytest.approx(front * 9.80665e-3, abs=0.1),
        "rear-axle": pytest.approx(rear * 9.80665e-3, abs=0.1),
    }


def test_the_deliberate_clash_is_gone_once_its_remedy_is_in_the_component_s_file(tmp_path: Path) -> None:
    """All sixteen errors tell the one shift that leaves the pump bracket in none of them, besides the least for each.

    32 mm of its envelope and 16 of the socket on the junction's screw: 48 mm. Its upper hole is then hypot(48, 16.5) =
    50.76 mm off the junction's dowel, between 2.5 and 3 d, which is no more than a warning.
    """
    told = [f.remedy for f in with_remedies(sample("P-1002"), catalogue()).findings if f.severity == "error"]
    words = r"ove pump-bracket ([\d.]+ mm \w+), to [\d.]+ mm(?: \(clear of every error ([\d.]+ mm \w+))?"
    moves = [re.search(words, remedy) for remedy in told]
    assert [move and (move[2] or move[1]) for move in moves] == ["48.0 mm forward"] * 16
    library = Path(shutil.copytree(ROOT / "hole_libraries", tmp_path / "library"))
    file = library / "components/frame/pump-bracket.toml"
    text = file.read_text()
    file.write_text(text.replace("offset = 1330", f"offset = {1330 - 48}"))
    assert file.read_text() != text
    order = read_order(SAMPLES / "P-1002.toml").order
    assert order is not None
    cleared = plan(order, compile_catalogue(load_library(library))).findings
    assert [f.message for f in cleared if f.severity == "error"] == []
    (left,) = [f for f in cleared if {"pump-bracket", "brake-junction-bracket"} <= set(f.components)]
    assert (left.severity, left.measure, left.limit) == ("warning", "centre", 3 * 17.5)
    assert left.value == pytest.approx(hypot(48, 24.5 - 8))


def test_screen_file_and_drawing_number_the_findings_alike() -> None:
    """Number, severity and rule of every finding: in the table on the screen, in findings.json, and on the drawing."""
    made = with_remedies(sample("P-1002"), catalogue())
    in_file = json.loads(findings_json(made.findings))
    numbered = [(number, f"{found['rule']} {found['measure']}") for number, found in enumerate(in_file, 1)]
    screen = findings_table(made.findings)
    cells = zip(screen.columns[0].cells, screen.columns[2].cells, strict=True)
    shown = [(int(number), rule) for row, rule in cells for number in _numbers(str(row))]
    assert shown == numbered
    listed = " ".join(page for page in page_words(drawing_pdf(made)) if "limit, source" in page)
    for number, rule in numbered:
        assert re.search(rf"\b{number} (error|warning|note) {rule.split()[0]}", listed)


def _numbers(cell: str) -> range:
    """The numbers of a row, which several notes about shared holes may have together: 3 or 3-5."""
    first, _, last = cell.partition("-")
    return range(int(first), int(last or first) + 1)
