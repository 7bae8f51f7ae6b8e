"""The matrix of a catalogue of 300 options against sampling builds, and 50 000 random builds held to the matrix.

Run it with nothing else running: ``python tests/benchmarks/bench_matrix.py [BUILDS]``. The catalogue is made from a
seed on the demo library's stock: brackets, cross members, tanks by length, repeats, floats. BUILDS (default 0, 50000
for the full run): so many random orders are planned, every error between two holes must be one that the matrix
foretells, and every clash that the matrix foretells for the order must be found.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from greedy import place_greedily  # noqa: E402
from matrix_catalogue import write_catalogue  # noqa: E402
from matrix_world import random_build  # noqa: E402

from railgen.data.library import load_library  # noqa: E402
from railgen.data.messages import InputError  # noqa: E402
from railgen.layout.catalogue import Catalogue, compile_catalogue  # noqa: E402
from railgen.layout.plan import ResolvedOrder  # noqa: E402
from railgen.layout.resolve import resolve  # noqa: E402
from railgen.placing.catalogue_proof import ComponentClash  # noqa: E402
from railgen.placing.family_proof import proof_of_family  # noqa: E402
from railgen.placing.verdicts import VERDICTS, Matrix, matrix_of  # noqa: E402

OPTIONS, SAMPLED, ON_A_TRUCK, WORKERS = 300, 1000, 40, 2
BETWEEN_HOLES = {"hole-spacing", "duplicate-hole", "size-conflict"}
FAMILY = "long-frame"


def builds(catalogue: Catalogue, count: int, seed: int) -> Iterator[ResolvedOrder]:
    """Random trucks of the family."""
    rng, library = random.Random(seed), catalogue.library
    for number in range(count):
        try:
            yield resolve(random_build(rng, library, library.families[FAMILY], number, ON_A_TRUCK), library)
        except InputError:
            continue


def errors_between(order: ResolvedOrder, catalogue: Catalogue) -> set[frozenset[str]]:
    """Pairs of components that are in error against each other."""
    found: set[frozenset[str]] = set()
    for finding in place_greedily(order, catalogue).findings:
        if finding.severity == "error" and is_between_holes(finding.rule, finding.measure):
            found |= {frozenset((a, b)) for a in finding.components for b in finding.components if a < b}
    return found


def holds(clash: ComponentClash, certain: bool, order: ResolvedOrder) -> bool:
    """Whether holes of two components may be, or must be, in error against each other in an order."""
    found = clash.found
    between = [where for reason, where in found.by_reason.items() if is_between_holes(*reason)]
    if certain and found.forced is not found.possible:
        between = [found.forced] if len(between) == len(found.reasons) else []
    return order.drive in clash.drives and any(where.holds(order.dimensions) for where in between)


def is_between_holes(rule: str, measure: str) -> bool:
    """Whether a rule is one that two holes break."""
    return rule in BETWEEN_HOLES or (rule, measure) == ("washer-seat", "washer")


def held_to(matrix: Matrix, catalogue: Catalogue, count: int) -> None:
    """Plans random builds and holds their errors to the matrix, both ways; stops at the first that differs."""
    clashes: dict[frozenset[str], list[ComponentClash]] = {}
    for cell in matrix.cells.values():
        for clash in cell.clashes:
            if clash.second is not None:
                known = clashes.setdefault(frozenset((clash.first.id, clash.second.id)), [])
                if not any(clash is one for one in known):
                    known.append(clash)
    found, foretold, start = 0, 0, time.perf_counter()
    for order in builds(catalogue, count, 5):
        errors = errors_between(order, catalogue)
        standing = {component.id for component in order.components}
        for pair in errors:
            if not any(holds(clash, False, order) for clash in clashes.get(pair, ())):
                raise SystemExit(f"{order.serial}: {sorted(pair)} clash, and the matrix does not say so")
        for pair, known in clashes.items():
            if pair <= standing and any(holds(clash, True, order) for clash in known):
                foretold += 1
                if pair not in errors:
                    raise SystemExit(f"{order.serial}: {sorted(pair)} must clash, and do not")
        found += len(errors)
    seconds = time.perf_counter() - start
    print(f"{count:,} random builds: {found:,} pairs in error, all foretold; {foretold:,} that must clash, all found;")
    print(f"  {seconds:.0f} s")


def main(count: int) -> None:
    """Measure, and print a table."""
    with tempfile.TemporaryDirectory() as folder:
        catalogue = compile_catalogue(load_library(write_catalogue(Path(folder), 7, OPTIONS, ROOT / "hole_libraries")))
    start = time.perf_counter()
    matrix = matrix_of(proof_of_family(FAMILY, catalogue), workers=WORKERS)
    proved = time.perf_counter() - start
    verdicts = [cell.verdict for cell in matrix.cells.values()]
    told = ", ".join(f"{verdicts.count(verdict):,} {verdict}" for verdict in VERDICTS)
    components = len(matrix.proof.standing)
    print(f"matrix of {len(matrix.options)} options, {components} components, {len(verdicts):,} pairs: {proved:.1f} s,")
    print(f"  {WORKERS} processes; {told}")
    start = time.perf_counter()
    seen: set[frozenset[str]] = set()
    for order in builds(catalogue, SAMPLED, 3):
        seen |= errors_between(order, catalogue)
    sampled = time.perf_counter() - start
    pairs = {
        frozenset((clash.first.id, clash.second.id))
        for cell in matrix.cells.values()
        for clash in cell.clashes
        if clash.second is not None and clash.found.forced.any
    }
    print(f"{SAMPLED:,} builds sampled: {sampled:.1f} s, {sampled / proved:.1f} times the matrix;")
    print(f"  they show {len(pairs & seen):,} of the {len(pairs):,} pairs of components that must clash in some order")
    if count:
        held_to(matrix, catalogue, count)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 0)
