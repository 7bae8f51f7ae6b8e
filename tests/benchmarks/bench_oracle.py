"""The oracle over thousands of random rails: what product and oracle find, rule for rule, and where they differ.

``python tests/benchmarks/bench_oracle.py [rails] [first seed] [workers]``; 2 000 rails where nothing is said, two an
order. Half of the orders are over the demo library, half over libraries of odd components, some of them tapered, some
with liners. Prints how often each measure was met and fails where anything differs, or where a measure was never met.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from compared import planned  # noqa: E402
from oracle.library import read_library  # noqa: E402
from random_library import write_random_library  # noqa: E402
from random_orders import random_orders  # noqa: E402
from test_oracle import MEASURES_MET  # noqa: E402

from railgen.data.library import load_library  # noqa: E402
from railgen.layout.catalogue import compile_catalogue  # noqa: E402

DEMO = ROOT / "hole_libraries"
BATCH = 10
RAILS_AN_ORDER = 2
SETTLED = 10
"""Of so many batches one has its floats settle; those of the others stand where they would like to."""


@dataclass
class Tally:
    """What was met in some batches: rails by kind, findings by measure, differences in words."""

    rails: Counter[str] = field(default_factory=Counter)
    met: Counter[tuple[str, str]] = field(default_factory=Counter)
    differences: list[str] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Take in what another one counted."""
        self.rails.update(other.rails)
        self.met.update(other.met)
        self.differences += other.differences


def batch(seed: int) -> Tally:
    """One batch of orders: over the demo library where the seed is even, else over an odd one of its own."""
    tally = Tally()
    with tempfile.TemporaryDirectory() as place:
        folder = write_random_library(Path(place), seed, DEMO) if seed % 2 else DEMO
        catalogue, plain = compile_catalogue(load_library(folder)), read_library(folder)
        for number, text in enumerate(random_orders(BATCH, seed, catalogue.library, loaded=True)):
            order = planned(text, catalogue, f"order {number} of seed {seed}", settle=seed % SETTLED == 0)
            kinds = [kind for kind in ("taper", "liner") if f"\n{kind} = " in text]
            tally.rails.update(dict.fromkeys(("all", *kinds), RAILS_AN_ORDER))
            tally.met.update((str(finding["rule"]), str(finding["measure"])) for finding in order.found)
            tally.differences += [f"seed {seed}, order {number}: {line}" for line in order.disagreements(plain)]
    return tally


def batches(rails: int, first: int, workers: int) -> Iterator[Tally]:
    """Batches until there are so many rails."""
    seeds = range(first, first + -(-rails // (BATCH * RAILS_AN_ORDER)))
    if workers == 1:
        yield from map(batch, seeds)
        return
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(batch, seeds)


def main() -> None:
    """Run it and say what came of it."""
    rails, first, workers = (int(word) for word in [*sys.argv[1:], *("2000", "1000", "1")[len(sys.argv) - 1 :]])
    total, start = Tally(), time.monotonic()
    for tally in batches(rails, first, workers):
        total.add(tally)
        for line in tally.differences:
            print(line, flush=True)
        print(f"{total.rails['all']} rails", end="\r", file=sys.stderr)
    for key, count in sorted(total.met.items()):
        print(f"{key[0]:16} {key[1]:14} {count:8}")
    never = sorted(MEASURES_MET - set(total.met))
    counts = ", ".join(f"{count} {kind}" for kind, count in total.rails.items())
    print(f"rails: {counts}; {sum(total.met.values())} findings, {len(total.differences)} differences")
    print(f"{time.monotonic() - start:.0f} s with {workers} worker(s)")
    if never:
        print(f"never met: {never}")
    sys.exit(bool(total.differences or never))


if __name__ == "__main__":
    main()
