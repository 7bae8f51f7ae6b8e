"""The product's findings on random orders are those of the oracle, which shares no code with it."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

import pytest
from oracle.library import read_library
from oracle.run import RULES, findings, misplaced
from oracle.same import differences
from random_library import write_random_library
from random_orders import random_orders

from railgen.data.library import load_library
from railgen.data.order import Order
from railgen.data.reading import validate
from railgen.formats.hole_table import hole_table_csv
from railgen.layout.catalogue import Catalogue, compile_catalogue
from railgen.pipeline import plan

DEMO = Path(__file__).parent.parent / "hole_libraries"
BATCH = 20
DEMO_BATCHES = range(15)  # 300 orders over the demo library
ODD_BATCHES = (0, 1, 2, 70)  # and 80 over libraries of odd components; 70: a strip's hole at the relief hole
MEASURES_MET = {
    ("off-rail", "outside"),
    ("edge-distance", "edge"),
    ("edge-distance", "rail-end"),
    ("hole-spacing", "centre"),
    ("hole-spacing", "ligament"),
    ("bend-clearance", "tangent"),
    ("bend-clearance", "flange-inside"),
    ("washer-seat", "tangent"),
    ("washer-seat", "edge"),
    ("washer-seat", "washer"),
    ("flange-hole", "zone"),
    ("flange-hole", "size"),
    ("flange-hole", "count"),
    ("hole-size", "least"),
    ("hole-size", "punch-stress"),
    ("hole-size", "largest"),
    ("hole-size", "passage"),
    ("duplicate-hole", "pair"),
    ("size-conflict", "pair"),
    ("option-rule", "requires"),
    ("option-rule", "excludes"),
    ("option-rule", "family"),
    ("option-rule", "validity"),
    ("pair-match", "station"),
    ("taper-shape", "relief"),
    ("taper-shape", "upset"),
    ("liner-fit", "interference"),
    ("liner-fit", "proud"),
}
"""What the orders over odd libraries must break at least once, so that agreement means something."""


@cache
def read_both_ways(folder: Path) -> tuple[Catalogue, dict[str, object]]:
    """A library as the product and as the oracle reads it."""
    return compile_catalogue(load_library(folder)), read_library(folder)


class Batch:
    """Some orders over one library, planned by the product: TOML text, hole table as CSV, findings as dicts."""

    def __init__(self, folder: Path, seed: int) -> None:
        catalogue, self.plain_library = read_both_ways(folder)
        self.planned: list[tuple[str, str, list[dict[str, object]]]] = []
        for text in random_orders(BATCH, seed, catalogue.library):
            order = validate(tomllib.loads(text), Order, f"order of seed {seed}")
            planned = plan(order, catalogue)
            found = [finding.as_dict() for finding in planned.findings if finding.rule in RULES]
            self.planned.append((text, hole_table_csv(order.serial, planned.holes).decode(), found))

    def disagreements(self) -> list[str]:
        """What product and oracle do not agree about, each line with the order's number in the batch."""
        lines = []
        for number, (text, holes, found) in enumerate(self.planned):
            wrong = misplaced(holes, text, self.plain_library)
            wrong += differences(found, findings(holes, text, self.plain_library))
            lines += [f"order {number}: {line}" for line in wrong]
        return lines


@pytest.fixture(scope="module")
def odd_batch(tmp_path_factory: pytest.TempPathFactory):
    """A batch over the random library of a seed."""

    @cache
    def batch(seed: int) -> Batch:
        folder = write_random_library(tmp_path_factory.mktemp(f"odd{seed}"), seed, DEMO)
        return Batch(folder, seed)

    return batch


@pytest.mark.parametrize("seed", DEMO_BATCHES)
def test_findings_over_the_demo_library(seed: int) -> None:
    lines = Batch(DEMO, seed).disagreements()
    assert not lines, "\n".join(lines)


@pytest.mark.parametrize("seed", ODD_BATCHES)
def test_findings_over_libraries_of_odd_components(odd_batch, seed: int) -> None:
    lines = odd_batch(seed).disagreements()
    assert not lines, "\n".join(lines)


def test_orders_over_odd_libraries_break_every_rule(odd_batch) -> None:
    met = {
        (finding["rule"], finding["measure"])
        for seed in ODD_BATCHES
        for _, _, found in odd_batch(seed).planned
        for finding in found
    }
    assert met >= MEASURES_MET, sorted(MEASURES_MET - met)
