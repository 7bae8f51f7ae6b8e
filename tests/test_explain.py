"""Every rule is explained, and limit sets are shown side by side."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from railgen.cli.main import main
from railgen.data.limit_sets import MEASURES, LimitRow
from railgen.rules.explain import explanations, row_text

DEMO = Path(__file__).parent.parent / "hole_libraries"


@pytest.mark.parametrize("rule", MEASURES)
def test_every_rule_and_measure_is_explained(rule: str) -> None:
    explained = explanations()[rule]
    assert len(explained.protects) > 40
    assert explained.formula
    assert set(explained.measures) == set(MEASURES[rule])
    lines = explained.figure.strip("\n").splitlines()
    assert 3 <= len(lines) <= 8
    assert max(map(len, lines)) <= 60, "a small figure"
    assert all(line.isascii() and line == line.rstrip() for line in lines)


def test_every_formula_has_its_unit() -> None:
    for rule, explained in explanations().items():
        assert re.search(r"mm|MPa|ratio|N\b|count", explained.formula), rule


def test_sets_with_the_same_limits_are_named_together() -> None:
    result = CliRunner().invoke(main, ["explain", "duplicate-hole", "--library", str(DEMO)])
    assert result.output.count("at least 0.05 mm") == 1
    assert "in aisc-360, aisc-360-inch, basics, body-builder, en-1993-1-8, house" in result.output
    lines = CliRunner().invoke(main, ["explain", "holes-in-line", "--library", str(DEMO)]).output
    assert "at most 3 (by centres within one hole radius)" in lines


def test_explain_prints_formula_limits_and_sources() -> None:
    result = CliRunner().invoke(main, ["explain", "hole-spacing", "--library", str(DEMO)])
    assert result.exit_code == 0
    for part in ("centre = distance", "AISC 360-16 J3.3", "EN 1993-1-8 table 3.3 (p1)", "at least 2.5 x hole"):
        assert part in result.output


def test_a_misspelt_rule_is_put_right() -> None:
    result = CliRunner().invoke(main, ["explain", "hole-spaceing"])
    assert result.exit_code == 2
    assert "Did you mean 'hole-spacing'?" in result.output


def test_limits_stand_side_by_side() -> None:
    result = CliRunner().invoke(main, ["limits", "--library", str(DEMO), "--json"])
    rows = json.loads(result.output)
    edges = {row["set"]: row for row in rows if (row["rule"], row["measure"]) == ("edge-distance", "edge")}
    assert edges["house"]["limits"] == ["at least 1.5 x hole, warning 2 x hole"]
    assert edges["en-1993-1-8"]["limits"] == ["at least 1.2 x hole"]
    assert all(row["sources"] for row in rows)
    table = CliRunner().invoke(main, ["limits", "house", "aisc-360", "--library", str(DEMO)])
    assert table.exit_code == 0
    assert "aisc-360" in table.output
    wrong = CliRunner().invoke(main, ["limits", "hause", "--library", str(DEMO)])
    assert wrong.exit_code == 2
    assert "Did you mean 'house'?" in wrong.output


def test_rows_in_words() -> None:
    row = LimitRow.model_validate(
        {
            "rule": "hole-size",
            "measure": "least",
            "error": 1.25,
            "of": "t",
            "when": {"tensile": {"above": 700}},
            "source": "s",
        }
    )
    assert row_text(row, "least") == "at least 1.25 x t (tensile over 700)"
