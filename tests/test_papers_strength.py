"""Strength on paper and screen: sheets, words, JSON, the command, and what the samples' strength findings are."""

from __future__ import annotations

import json
import re
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from demo_serials import sample
from pypdf import PdfReader
from strength_cases import component, planned, web_holes

from railgen.cli.main import main
from railgen.formats.strength_file import strength_data
from railgen.frame.measure import GRAVITY
from railgen.papers.strength_sheets import draw_strength, strength_files
from railgen.papers.wording import say, wording
from railgen.rules.pattern import pattern_of
from railgen.rules.strength import Strength, strength_findings, strength_of

ROOT = Path(__file__).parent.parent
SAMPLES = ("P-1001", "P-1002", "P-1003", "S-3001", "S-3002", "T-2001", "T-2002")
BODY = {"dynamic_factor": 2.0, "body_mass": 20_000, "body_start": 1500, "body_end": 6200}


def run(*words: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, ["strength", *words, "--library", str(ROOT / "hole_libraries")])
    return result.exit_code, result.output


@pytest.mark.parametrize("serial", SAMPLES)
def test_strength_findings_of_the_samples(serial: str) -> None:
    """Reviewed by hand: rails carry well under the warning of 0.60, joints under 0.9, every screw clamps 2 diameters.

    P-1001 names its axle loads: the library's masses are those on the frame, axles and wheels are not among them.
    """
    made = sample(serial)
    found = strength_findings(pattern_of(made.order, made.holes, made.placements))
    expected = ["front-axle", "rear-axle"] if serial == "P-1001" else []
    assert [(finding.severity, finding.measure) for finding in found] == [("note", name) for name in expected]
    assert all(finding in made.findings for finding in found)


def test_reactions_balance_the_loads_and_the_diagram_closes() -> None:
    strength = strength_of(sample("P-1003"))
    data = strength_data("P-1003", strength)
    for rail, loads in zip(data["rails"], strength.loads, strict=True):  # type: ignore[call-overload]
        reactions = rail["front_reaction_kn"] + rail["rear_reaction_kn"]
        assert reactions == pytest.approx(loads.loads.total / 1e3)
        assert sum(support["force_kn"] for support in rail["supports"]) == pytest.approx(reactions)
        assert rail["diagram"][-1]["moment_knm"] == pytest.approx(0, abs=1e-6)
        shares = [line["moment_knm"] / line["resistance_knm"] for line in rail["lines"]]
        worst = int(np.argmax(np.abs(shares)))
        assert rail["lowest"] == rail["lines"][worst]
        assert rail["lowest"]["margin"] == pytest.approx(1 / abs(shares[worst]) - 1)


def test_the_lowest_margin_is_found_between_holes_that_overlap_along_the_rail() -> None:
    # Two holes 12 mm apart along the rail, above and below: together they leave least half-way between them.
    holes = web_holes((-6.0, 90.0), (6.0, -90.0))
    serial = planned([component("bracket", 3000, groups=[holes])], loads=BODY)
    strength = strength_of(serial)
    for rail in strength.bending:
        near = np.flatnonzero(np.abs(rail.station - 3000) < 7)
        assert 3000.0 in rail.station[near]
        dense = np.linspace(2985, 3015, 3001)
        least = strength.resistance_at(rail.loads.side, dense).min()
        assert rail.resistance[near].min() == pytest.approx(least, rel=1e-9)


def test_each_rail_is_held_up_by_its_own_masses() -> None:
    light = strength_of(planned([component("bracket", 0)], loads=BODY))
    heavy = strength_of(planned([component("tank", 2000, side="LH", mass=100)], loads=BODY))
    gained = [more.loads.total - less.loads.total for more, less in zip(heavy.loads, light.loads, strict=True)]
    assert gained == pytest.approx([100 * GRAVITY, 0])


def test_sheets_name_the_lowest_margin_and_have_no_empty_page() -> None:
    made = sample("P-1003")
    strength = strength_of(made)
    (content,) = strength_files(made, strength).values()
    pages = [page.extract_text() for page in PdfReader(BytesIO(content)).pages]
    assert len(pages) == 4
    for page, rail in zip(pages, strength.bending, strict=False):
        assert f"lowest margin {rail.margin[rail.lowest]:.2f} at {rail.station[rail.lowest]:.1f} mm" in page
        assert f"{rail.loads.front / 1e3:.1f} kN" in page
    assert "towing-jaw-cross-member" in pages[2]
    assert "slip" in pages[2]
    assert "subframe-stop-plate.1.b1" in pages[3]
    assert all("chassis engineer" in page for page in pages)


def test_same_plan_same_bytes_and_pictures_a_sheet() -> None:
    made = sample("T-2001")
    once, again = (strength_files(made, strength_of(made), ("svg", "dxf")) for _ in range(2))
    assert once == again
    assert set(once) == {f"T-2001-strength{name}" for name in (".pdf", ".dxf", *(f"-{n}.svg" for n in (1, 2, 3, 4)))}


def test_nothing_on_a_sheet_leaves_its_frame() -> None:
    for serial in ("P-1001", "S-3001", "T-2001"):
        made = sample(serial)
        drawing = draw_strength(made, strength_of(made))
        assert drawing
        for sheet in drawing.sheets:
            for text in sheet.texts:
                left, bottom, right, top = text.box
                outside = max(20 - left, right - 410, 10 - bottom, top - 287)
                assert outside <= 0, (serial, sheet.name, text.text)


def test_no_loads_and_no_rated_joint_give_no_sheet() -> None:
    serial = planned([component("bracket", 1000, groups=[web_holes((0.0, 60.0))])])
    assert draw_strength(serial, strength_of(serial)) is None
    assert strength_files(serial, strength_of(serial)) == {}


def test_no_words_of_the_strength_sheets_lie_idle(monkeypatch: pytest.MonkeyPatch) -> None:
    said: set[str] = set()

    def recorded(key: str, **values: Any) -> str:
        said.add(key)
        return say(key, **values)

    for module in ("bending", "holes", "joints", "sheets"):
        monkeypatch.setattr(f"railgen.papers.strength_{module}.say", recorded)
    draw_strength(sample("P-1003"), strength_of(sample("P-1003")))
    own = {key for key in wording().words if re.match(r"strength(_\w+)?\.", key)}
    assert own - said == set()


def test_command_prints_tables_and_writes_the_diagrams(tmp_path: Path) -> None:
    status, text = run(str(ROOT / "samples/P-1003.toml"), "--output", str(tmp_path))
    assert status == 0, text
    lowest = strength_of(sample("P-1003")).bending[0]
    for words in ("front axle, kN", f"{lowest.margin[lowest.lowest]:.2f}", "recovery-pin-bracket", "slip", "Kt"):
        assert words in text
    assert [path.name for path in tmp_path.iterdir()] == ["P-1003-strength.pdf"]


def test_command_prints_json_and_says_what_is_not_checked(tmp_path: Path) -> None:
    status, text = run(str(ROOT / "samples/P-1002.toml"), "--output", str(tmp_path), "--json")
    (data,) = json.loads(text)
    assert status == 1  # the deliberate clash
    assert data["serial"] == "P-1002"
    assert (data["rails"], data["holes"]) == ([], [])
    assert {joint["governs"] for joint in data["joints"]} == {"slip"}
    for joint in data["joints"]:
        assert joint["margin"] == pytest.approx(1 / max(joint["utilisation"].values()) - 1)
    _, text = run(str(ROOT / "samples/P-1002.toml"), "--output", str(tmp_path))
    assert "bending is not checked" in text


def test_strength_is_computed_from_the_pattern_alone() -> None:
    made = sample("P-1003")
    direct = Strength(pattern_of(made.order, made.holes, made.placements))
    assert strength_data("P-1003", direct) == strength_data("P-1003", strength_of(made))
