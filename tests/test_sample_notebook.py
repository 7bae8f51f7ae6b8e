"""The example notebook runs from top to bottom, and says what the commands say."""

from __future__ import annotations

import json
from pathlib import Path

import nbformat
import pytest
from click.testing import CliRunner
from nbclient import NotebookClient
from placing_world import DEMO

from railgen.cli.main import main

SAMPLES = Path(__file__).parent.parent / "samples"


@pytest.fixture(scope="module")
def printed() -> list[str]:
    """What each code cell prints, once the whole notebook has been run."""
    notebook = nbformat.read(SAMPLES / "where_does_it_fit.ipynb", as_version=4)
    NotebookClient(notebook, timeout=300, resources={"metadata": {"path": str(SAMPLES)}}).execute()
    cells = [cell for cell in notebook.cells if cell.cell_type == "code"]
    return ["".join(output.get("text", "") for output in cell.outputs) for cell in cells]


def answer(*words: str) -> dict[str, object]:
    result = CliRunner().invoke(main, [*words, "--library", str(DEMO), "--json"])
    found = json.loads(result.stdout)
    return found[0] if isinstance(found, list) else found


def test_it_says_where_the_tank_fits(printed: list[str]) -> None:
    told = answer("fit", "urea-tank", "--order", str(SAMPLES / "T-2001.toml"))
    assert f"wanted {told['wanted_mm']:.3f} mm, nearest free {told['nearest_mm']:.3f} mm" in printed[1]


def test_it_says_what_the_floats_cost(printed: list[str]) -> None:
    told = answer("place", str(SAMPLES / "S-3001.toml"))
    assert f"S-3001: departure {told['cost']:.1f} mm times weight, proved least" in printed[4]


def test_it_says_what_suits_most_serials(printed: list[str]) -> None:
    assert "most serials, " in printed[3]


def test_it_is_kept_without_results() -> None:
    notebook = nbformat.read(SAMPLES / "where_does_it_fit.ipynb", as_version=4)
    assert not any(cell.outputs or cell.execution_count for cell in notebook.cells if cell.cell_type == "code")
