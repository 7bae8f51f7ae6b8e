"""The catalogue's proof against trucks built at random, and every end of its intervals a micrometre to each side."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from matrix_builds import Foretold, Tally, compare, kept_lines_broken
from matrix_catalogue import FAMILY, write_catalogue
from matrix_world import ON, random_build
from placing_world import catalogue_of

from railgen.data.component import Component, Family
from railgen.data.library import load_library
from railgen.data.messages import InputError
from railgen.data.order import Order
from railgen.formats.option_files import matrix_csv
from railgen.holes.sharing import merge_shared
from railgen.holes.table import LH, RH, stacked
from railgen.layout.catalogue import Catalogue, compile_catalogue
from railgen.layout.features import rail_features
from railgen.layout.place import place_one, placements, preferred_station
from railgen.layout.resolve import anchor_stations, resolve
from railgen.placing.catalogue_proof import ComponentClash, Proof, proof_of
from railgen.placing.family_proof import proof_of_family
from railgen.placing.stretches import Stretch, stretches
from railgen.placing.verdicts import matrix_of
from railgen.rules.check import PAIR_RULES
from railgen.rules.pattern import Pattern
from railgen.rules.spacing import pairs_between

ROOT = Path(__file__).parent.parent
MICROMETRE = 1e-3
BUILDS = 12
HOLE_PAIRS = {
    ("hole-spacing", "centre"),
    ("hole-spacing", "ligament"),
    ("duplicate-hole", "pair"),
    ("size-conflict", "pair"),
    ("washer-seat", "washer"),
}
"""What two holes break against each other; other rules between two components have tests of their own."""


def proofs_of(catalogue: Catalogue) -> list[Proof]:
    """A proof of every family, on its own section."""
    return [proof_under(family, catalogue, None) for family in catalogue.library.families.values()]


def proof_under(family: Family, catalogue: Catalogue, limits: str | None) -> Proof:
    """The proof of a family, under a limit set."""
    plain = {"serial": f"{family.serial_prefix}-1", "family": family.id, "build_date": ON}
    order = Order.model_validate(plain | ({"limits": {"set": limits}} if limits else {}))
    return proof_of(resolve(order, catalogue.library), catalogue)


@pytest.mark.parametrize(("odd", "limits"), [(None, None), (0, None), (2, "odd")])
def test_random_builds_clash_where_the_proof_says(odd: int | None, limits: str | None) -> None:
    """Rule by rule and both ways: no error that the proof does not foretell, none missing that must be there."""
    catalogue, rng, tally = catalogue_of(odd), random.Random(3), Tally()
    for family in catalogue.library.families.values():
        proof = proof_under(family, catalogue, limits)
        foretold = Foretold(matrix_of(proof))
        for number in range(BUILDS if odd is not None else 2 * BUILDS):
            try:
                most = 40 if odd is None else 5
                order = resolve(random_build(rng, catalogue.library, family, number, most, limits), catalogue.library)
            except InputError:
                continue
            if not order.findings:  # every option is valid for the serial
                compare(order, foretold, catalogue, rng, tally)
    assert not tally.wrong, "\n".join(tally.wrong[:5])
    assert tally.builds > BUILDS
    assert tally.found > 500
    assert tally.foretold > 5
    rules = {rule for rule, _ in tally.rules}
    assert {"hole-spacing", "footprint-clash", "space-clash", "wrench-access", "flange-hole", "washer-seat"} <= rules


def in_error(
    proof: Proof, clash: ComponentClash, reason: tuple[str, str], dimensions: dict[str, float], side: int
) -> bool:
    """Whether a rule finds an error between the two components, on a rail without ends, at any dimensions."""
    order = proof.setting.order
    family = proof.order.family
    here = replace(order, dimensions=dimensions, anchors=anchor_stations(family, dimensions), drive=clash.drives[0])
    tables = []
    for component in (clash.first, clash.second):
        assert component is not None
        if not is_there(component, dimensions):
            return False
        rows = place_one(component, preferred_station(component, here), here, proof.catalogue)
        tables.append(rail_features(here, proof.catalogue, placements([row for row in rows if row[1] == side])))
    both = stacked(tables)
    if len(merge_shared(both)) == len(both):
        both = merge_shared(both)
    pattern = Pattern(here, both, proof.setting.limits)
    first = np.arange(len(tables[0]))
    pairs = pairs_between(pattern, first, np.arange(len(first), len(both)))
    found = [broken for rule in PAIR_RULES for broken in rule(pairs) if (broken.rule, broken.measure) == reason]
    return any(broken.is_error.any() for broken in found)


def is_there(component: Component, dimensions: dict[str, float]) -> bool:
    """Whether a component's interval lets it stand."""
    span = component.present
    if span is None:
        return True
    value = dimensions[span.dimension]
    return (span.least is None or value >= span.least) and (span.most is None or value <= span.most)


@pytest.mark.parametrize("odd", [None, 0, 2, 5])
def test_ends_of_intervals_a_micrometre_to_each_side(odd: int | None) -> None:
    catalogue, rng, tried = catalogue_of(odd), random.Random(9), 0
    for proof in proofs_of(catalogue):
        fixed = [c for c in proof.clashes_of() if c.second and not (c.first.floating or c.second.floating)]
        for clash in rng.sample(fixed, min(len(fixed), 15)):
            for reason, where in clash.found.by_reason.items():
                if reason in HOLE_PAIRS:
                    tried += try_ends(proof, clash, reason, rng.choice(stretches(where)), rng)
    assert tried > 10


def try_ends(proof: Proof, clash: ComponentClash, reason: tuple[str, str], stretch: Stretch, rng: random.Random) -> int:
    """Every end of a stretch's intervals, for one set of values of the other dimensions."""
    every = {d.name: d for d in proof.dimensions.each}
    values = {name: rng.choice(d.values.tolist()) for name, d in every.items() if d.values is not None}
    values |= {name: rng.choice(held) for name, held in stretch.fixed}
    side, tried = LH if clash.side == "LH" else RH, 0
    along = every[stretch.along]
    for low, high in stretch.intervals:
        for end, inward in ((low, 1.0), (high, -1.0)):
            if not along.least < end < along.most or high - low < 3 * MICROMETRE:
                continue
            for step, expected in ((inward, True), (-inward, False)):
                at = values | {stretch.along: end + step * MICROMETRE}
                assert clash.found.by_reason[reason].holds(at) == expected
                assert in_error(proof, clash, reason, at, side) == expected, (clash.first.id, clash.second, at)
                tried += 1
    return tried


def test_shared_work_finds_the_same() -> None:
    """Two processes find what one finds, in the same order."""
    with TemporaryDirectory() as folder:
        library = load_library(write_catalogue(Path(folder), 3, 110, ROOT / "hole_libraries"))
    catalogue = compile_catalogue(library)
    one, two = (matrix_of(proof_of_family(FAMILY, catalogue), workers=workers) for workers in (1, 2))
    assert len(one.proof.standing) > 150
    assert matrix_csv(one) == matrix_csv(two)
    assert one.crowding == two.crowding


def test_bounds_keep_most_lines_of_the_demo_catalogue() -> None:
    for family in catalogue_of().library.families:
        lines = matrix_of(proof_of_family(family, catalogue_of())).crowding.lines
        assert sum(line.is_kept for line in lines) > 0.8 * len(lines), family


def test_no_line_that_a_bound_keeps_is_in_error() -> None:
    """Odd components, of which many break a rule over lines: none that its bound calls kept."""
    catalogue, rng, seen = catalogue_of(2), random.Random(8), 0
    for family in catalogue.library.families.values():
        matrix = matrix_of(proof_under(family, catalogue, None))
        for number in range(8):
            try:
                order = resolve(random_build(rng, catalogue.library, family, number, 6), catalogue.library)
            except InputError:
                continue
            wrong, found = kept_lines_broken(order, matrix, catalogue)
            assert not wrong, wrong[0]
            seen += found
    assert seen > 20
