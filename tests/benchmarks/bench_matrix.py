"""The matrix of a catalogue of 300 options against sampling builds, and 50 000 random builds held to the matrix.

Run it with nothing else running: ``python tests/benchmarks/bench_matrix.py [BUILDS]``. The catalogue is made from a
seed on the demo library's stock: brackets with and without feet, cross members, tanks by length, repeats, floats.
BUILDS (default 0, 50000 for the full run): so many random orders of that catalogue, of the demo families and of odd
libraries are built and checked under every rule; each error must be one that the matrix foretells for the order, and
each that it foretells must be found.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from greedy import place_greedily  # noqa: E402
from matrix_builds import Foretold, Tally, compare  # noqa: E402
from matrix_catalogue import FAMILY, write_catalogue  # noqa: E402
from matrix_world import ON, random_build  # noqa: E402
from placing_world import catalogue_of  # noqa: E402

from railgen.data.library import load_library  # noqa: E402
from railgen.data.messages import InputError  # noqa: E402
from railgen.data.order import Order  # noqa: E402
from railgen.layout.catalogue import Catalogue, compile_catalogue  # noqa: E402
from railgen.layout.plan import ResolvedOrder  # noqa: E402
from railgen.layout.resolve import resolve  # noqa: E402
from railgen.placing.catalogue_proof import Proof, proof_of  # noqa: E402
from railgen.placing.family_proof import proof_of_family  # noqa: E402
from railgen.placing.verdicts import VERDICTS, Matrix, matrix_of  # noqa: E402

OPTIONS, SAMPLED, ON_A_TRUCK, ON_AN_ODD_ONE, WORKERS = 300, 1000, 40, 6, 2
SHARES = {None: 0.06, 0: 0.01, 2: 0.01, 5: 0.01}
"""Of all builds, those of each family of the demo library and of the odd ones; the large catalogue has the rest."""
MOST_TOLD = 20


def builds(
    catalogue: Catalogue, family: str, count: int, seed: int, most: int, limits: str | None = None
) -> Iterator[ResolvedOrder]:
    """Random trucks of a family, every option valid."""
    rng, library = random.Random(seed), catalogue.library
    number = made = 0
    while made < count:
        number += 1
        try:
            order = resolve(random_build(rng, library, library.families[family], number, most, limits), library)
        except InputError:
            continue
        if not order.findings:
            made += 1
            yield order


_asked: list[tuple[Foretold, Catalogue, str]] = []
"""What forked processes find, and none has to be sent."""


def _share(count: int, seed: int, most: int) -> Tally:
    """A share of the builds of what is asked last, held to its matrix."""
    foretold, catalogue, family = _asked[-1]
    tally, rng = Tally(), random.Random(seed)
    for order in builds(catalogue, family, count, seed, most, foretold.matrix.proof.order.limit_set):
        compare(order, foretold, catalogue, rng, tally)
    return tally


def held_to(matrix: Matrix, catalogue: Catalogue, family: str, count: int, most: int) -> None:
    """Builds at random held to the matrix both ways, by several processes; stops where any differs."""
    foretold, start = Foretold(matrix), time.perf_counter()
    assert len(foretold.pairs) == len(foretold.clashes)
    _asked.append((foretold, catalogue, family))
    with ProcessPoolExecutor(WORKERS, mp_context=get_context("fork")) as pool:
        shares = [pool.submit(_share, count // WORKERS, seed, most) for seed in range(5, 5 + WORKERS)]
        tallies = [share.result() for share in shares]
    _asked.pop()
    wrong = [line for tally in tallies for line in tally.wrong]
    built, found, told = (sum(getattr(tally, name) for tally in tallies) for name in ("builds", "found", "foretold"))
    always = sum(tally.always for tally in tallies)
    rules = set().union(*(tally.rules for tally in tallies))
    print(f"{family}: {built:,} random builds, {time.perf_counter() - start:.0f} s: {found:,} errors of {len(rules)}")
    print(
        f"  measures; {told:,} that must be found, {always:,} pairs of options always; {len(wrong)} differ", flush=True
    )
    print("\n".join(wrong[:MOST_TOLD]), end="\n" if wrong else "")
    if wrong:
        raise SystemExit(1)


def large() -> Catalogue:
    """The catalogue of 300 options."""
    with tempfile.TemporaryDirectory() as folder:
        return compile_catalogue(load_library(write_catalogue(Path(folder), 7, OPTIONS, ROOT / "hole_libraries")))


def sampled(matrix: Matrix, catalogue: Catalogue, proved: float) -> None:
    """The time that sampling builds takes beside the proof, and what it sees of the clashes."""
    start = time.perf_counter()
    seen: set[frozenset[str]] = set()
    for order in builds(catalogue, FAMILY, SAMPLED, 3, ON_A_TRUCK):
        for finding in place_greedily(order, catalogue).findings:
            if finding.severity == "error":
                seen |= {frozenset((a, b)) for a in finding.components for b in finding.components if a < b}
    seconds = time.perf_counter() - start
    pairs = {
        frozenset((clash.first.id, clash.second.id))
        for cell in matrix.cells.values()
        for clash in cell.clashes
        if clash.second is not None and clash.found.forced.any
    }
    print(f"{SAMPLED:,} builds sampled: {seconds:.1f} s, {seconds / proved:.1f} times the matrix;")
    print(f"  they show {len(pairs & seen):,} of the {len(pairs):,} pairs of components that must clash in some order")


def _proof(family: str, catalogue: Catalogue) -> Proof:
    """The proof of a family, some of whose options can never be ordered; an odd one under odd limits."""
    prefix = catalogue.library.families[family].serial_prefix
    limits = {"set": "odd"} if "odd" in catalogue.library.limit_sets else {}
    plain = Order.model_validate({"serial": f"{prefix}-1", "family": family, "build_date": ON, "limits": limits})
    return proof_of(resolve(plain, catalogue.library), catalogue)


def main(count: int) -> None:
    """Measure, and print a table."""
    catalogue = large()
    start = time.perf_counter()
    matrix = matrix_of(proof_of_family(FAMILY, catalogue), workers=WORKERS)
    proved = time.perf_counter() - start
    verdicts = [cell.verdict for cell in matrix.cells.values()]
    told = ", ".join(f"{verdicts.count(verdict):,} {verdict}" for verdict in VERDICTS)
    components = len(matrix.proof.standing)
    print(f"matrix of {len(matrix.options)} options, {components} components, {len(verdicts):,} pairs: {proved:.1f} s,")
    print(f"  {WORKERS} processes; {told}", flush=True)
    if not count:
        sampled(matrix, catalogue, proved)
        return
    rest = count
    for odd, part in SHARES.items():
        other = catalogue_of(odd)
        for family in other.library.families:
            some = int(count * part) // WORKERS * WORKERS
            rest -= some
            most = ON_A_TRUCK if odd is None else ON_AN_ODD_ONE
            held_to(matrix_of(_proof(family, other)), other, family, some, most)
    held_to(matrix, catalogue, FAMILY, rest, ON_A_TRUCK)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 0)
