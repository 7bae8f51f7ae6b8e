"""How the time of all rules grows with the number of holes: from 100 to 20 000, in one run.

``python tests/benchmarks/bench_rules.py``. A sample's components are repeated along a rail that is made as much longer,
so that everything stands as densely as on a real one. The time over n log n must not grow: the table gives it as a
ratio to that of the sample itself.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from math import log
from pathlib import Path

import numpy as np

from railgen.data.library import load_library
from railgen.data.order_files import read_order
from railgen.holes.table import RAIL
from railgen.layout.catalogue import Catalogue, compile_catalogue
from railgen.layout.features import hole_table
from railgen.layout.plan import Placements, SerialPlan
from railgen.pipeline import plan
from railgen.rules.check import check
from railgen.rules.pattern import Pattern, pattern_of

ROOT = Path(__file__).resolve().parent.parent.parent
SAMPLE = ROOT / "samples/P-1001.toml"
SIZES = (100, 400, 1_000, 3_000, 10_000, 20_000)


def stretched(planned: SerialPlan, catalogue: Catalogue, holes: int) -> Pattern:
    """The pattern of about so many holes: a serial's components repeated along a longer rail, or the first of them."""
    order, standing = planned.order, planned.placements
    on_rail = int((planned.holes.part == RAIL).sum())
    times = max(round(holes / on_rail), 1)
    if holes < on_rail:
        standing = _first(standing, holes / on_rail)
    step = order.rail.rear - order.rail.front
    long = replace(order, rail=replace(order.rail, rear=order.rail.front + times * step))
    repeated = _repeated(standing, times, step)
    return pattern_of(long, hole_table(long, catalogue, repeated), repeated)


def _first(standing: Placements, share: float) -> Placements:
    kept = np.argsort(standing.station, kind="stable")[: max(round(share * len(standing.station)), 1)]
    return Placements(*(getattr(standing, name)[kept] for name in Placements.__dataclass_fields__))


def _repeated(standing: Placements, times: int, step: float) -> Placements:
    number = np.repeat(np.arange(times), len(standing.station))
    columns = {name: np.tile(getattr(standing, name), times) for name in Placements.__dataclass_fields__}
    columns["station"] = columns["station"] + number * step
    columns["instance"] = columns["instance"] + number * int(standing.instance.max())
    return Placements(**columns)


def seconds(planned: SerialPlan, catalogue: Catalogue, holes: int) -> tuple[int, int, float]:
    """Holes and findings, and the least processor time of three checks: other work on the machine does not count."""
    best, pattern, found = float("inf"), None, []
    for _ in range(3):
        pattern = stretched(planned, catalogue, holes)
        start = time.process_time()
        found = check(pattern)
        best = min(best, time.process_time() - start)
    return len(pattern.table) if pattern else 0, len(found), best


def main() -> int:
    catalogue = compile_catalogue(load_library(ROOT / "hole_libraries"))
    order = read_order(SAMPLE).order
    if order is None:
        raise SystemExit(f"{SAMPLE} cannot be used")
    planned = plan(order, catalogue)
    print(f"{'holes':>8} {'findings':>9} {'ms':>10} {'ms / (n log n)':>15} {'ratio':>7}")
    first, grown = 0.0, False
    for holes in SIZES:
        count, findings, taken = seconds(planned, catalogue, holes)
        share = 1e3 * taken / (count * log(count))
        first = share if holes == SIZES[1] else first
        ratio = share / first if first else float("nan")
        grown |= ratio > 1.0 and holes > SIZES[1]
        print(f"{count:>8} {findings:>9} {1e3 * taken:>10.2f} {share:>15.6f} {ratio:>7.2f}")
    print("grows no faster than n log n" if not grown else "MISSED: grows faster than n log n")
    return int(grown)


if __name__ == "__main__":
    sys.exit(main())
