"""The catalogue's proof against trucks built at random, and every end of its intervals a micrometre to each side."""

from __future__ import annotations

import random
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pytest
from greedy import place_greedily
from matrix_catalogue import FAMILY, write_catalogue
from matrix_world import ON, random_build
from placing_world import catalogue_of

from railgen.data.component import Component
from railgen.data.library import load_library
from railgen.data.messages import InputError
from railgen.data.order import Order
from railgen.formats.option_files import matrix_csv
from railgen.holes.sharing import merge_shared
from railgen.holes.table import LH, RH, stacked
from railgen.layout.catalogue import Catalogue, compile_catalogue
from railgen.layout.features import rail_features
from railgen.layout.place import place_one, placements, preferred_station
from railgen.layout.plan import ResolvedOrder
from railgen.layout.resolve import anchor_stations, resolve
from railgen.placing.catalogue_proof import ComponentClash, Proof, proof_of
from railgen.placing.family_proof import proof_of_family
from railgen.placing.regions import Region
from railgen.placing.stretches import Stretch, stretches
from railgen.placing.verdicts import Matrix, matrix_of
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
    found = []
    for family in catalogue.library.families.values():
        plain = Order(serial=f"{family.serial_prefix}-1", family=family.id, build_date=ON)
        found.append(proof_of(resolve(plain, catalogue.library), catalogue))
    return found


@dataclass
class Tally:
    """What has been compared so far: findings of the rules, and clashes that were foretold."""

    found: int = 0
    foretold: int = 0


@pytest.mark.parametrize("odd", [None, 0, 2])
def test_random_builds_clash_where_the_proof_says(odd: int | None) -> None:
    """Between fixed components the proof is exact; floats clash only where it says possible, always where forced."""
    catalogue, rng, tally = catalogue_of(odd), random.Random(3), Tally()
    for proof in proofs_of(catalogue):
        matrix, clashes = matrix_of(proof), by_pair(proof)
        for number in range(BUILDS if odd is not None else 2 * BUILDS):
            try:
                order = random_truck(rng, proof, number, 40 if odd is None else 5)
                if not order.findings:  # every option is valid for the serial
                    compare(order, catalogue, matrix, clashes, tally)
            except InputError:
                continue  # a repeat that would run forward
    assert tally.found > 10
    assert tally.foretold > 0


def random_truck(rng: random.Random, proof: Proof, number: int, most: int) -> ResolvedOrder:
    """A truck of the proof's family at random, with some of so many options."""
    library = proof.catalogue.library
    return resolve(random_build(rng, library, proof.order.family, number, most), library)


def compare(order: ResolvedOrder, catalogue: Catalogue, matrix: Matrix, clashes: Clashes, tally: Tally) -> None:
    """One order's findings against the proof, both ways."""
    placed = place_greedily(order, catalogue)
    seen: set[frozenset[str]] = set()
    for finding in placed.findings:
        if finding.severity == "error" and (finding.rule, finding.measure) in HOLE_PAIRS:
            names = finding.components
            seen |= {frozenset((a, b)) for a in names for b in names if a < b}
            if len(names) == 2:  # no hole of them is shared
                met = clashes.get(frozenset(names), [])
                assert any(holds(clash, clash.found.possible, order) for clash in met), (order.serial, finding.message)
                assert_told(matrix, order.bringing[names[0]], order.bringing[names[1]], finding.message)
                tally.found += 1
    standing = {component.id for component in order.components}
    for pair, met in clashes.items():
        if pair <= standing and any(is_certain(clash, order) for clash in met):
            assert pair in seen, (order.serial, pair)
            tally.foretold += 1


def is_certain(clash: ComponentClash, order: ResolvedOrder) -> bool:
    """Whether two holes of a clash are in error in an order wherever floats settle."""
    found = clash.found
    if found.forced is not found.possible:  # floats: only where no other rule closes stations too
        return set(found.reasons) <= HOLE_PAIRS and holds(clash, found.forced, order)
    between = [where for reason, where in found.by_reason.items() if reason in HOLE_PAIRS]
    return any(holds(clash, where, order) for where in between)


def holds(clash: ComponentClash, where: Region, order: ResolvedOrder) -> bool:
    """Whether a region of a clash is that of an order."""
    return order.drive in clash.drives and where.holds(order.dimensions)


Clashes = dict[frozenset[str], list[ComponentClash]]


def by_pair(proof: Proof) -> Clashes:
    """All clashes of two components, by their names."""
    found: Clashes = {}
    for clash in proof.clashes_of():
        assert clash.second is not None
        found.setdefault(frozenset((clash.first.id, clash.second.id)), []).append(clash)
    return found


def assert_told(matrix: Matrix, first: tuple[str, ...], second: tuple[str, ...], message: str) -> None:
    """No two options that bring a clashing pair are said never to clash."""
    for a in first:
        for b in second:
            cell = matrix.cells[min(a, b), max(a, b)]
            alone = {code for code in first if code in second}
            assert cell.verdict not in ("never", "not together") or alone, (a, b, message)


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
