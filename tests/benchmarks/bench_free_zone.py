"""Free zones against the check of 2 000 random holes, and the time of a zone.

Run it with nothing else running: ``python tests/benchmarks/bench_free_zone.py``. Each hole is dropped somewhere on a
rail or beside a border and all rules are run with it; the verdict must be the zone's, except within 0.1 mm of a border.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from free_zone_cases import disagreements  # noqa: E402

from railgen.data.library import load_library  # noqa: E402
from railgen.data.order_files import read_orders  # noqa: E402
from railgen.data.order_input import held_to  # noqa: E402
from railgen.layout.catalogue import compile_catalogue  # noqa: E402
from railgen.pipeline import plan  # noqa: E402
from railgen.placing.added_hole import AddedHole  # noqa: E402
from railgen.placing.free_zone import free_zone  # noqa: E402

CASES = (
    ("P-1001", "house", AddedHole(15.5), False),
    ("P-1001", "house", AddedHole(17.5, "drill", "M16x1.5"), False),
    ("P-1003", "house", AddedHole(13), False),
    ("P-1003", "house", AddedHole(38, "drill"), False),
    ("P-1003", "house", AddedHole(15.5, "drill"), True),
    ("T-2001", "house", AddedHole(13), False),
    ("T-2001", "en-1993-1-8", AddedHole(17), False),
    ("T-2002", "aisc-360", AddedHole(15, "drill"), False),
    ("T-2002", "house", AddedHole(15.5, "drill", "M14x1.5"), False),
    ("S-3001", "body-builder", AddedHole(20, "drill"), False),
)
PLACES = 200


def main() -> None:
    catalogue = compile_catalogue(load_library(ROOT / "hole_libraries"))
    total = 0
    print(f"{'case':<64} {'zone':>8} {'places':>7} {'free':>5} {'wrong':>6}")
    for seed, (serial, limits, hole, warnings) in enumerate(CASES):
        (given,) = read_orders([ROOT / f"samples/{serial}.toml"])
        order = held_to(given, limits).order
        assert order is not None
        planned = plan(order, catalogue)
        start = time.perf_counter()
        free_zone(planned, hole, warnings=warnings)
        taken = time.perf_counter() - start
        wrong, free = disagreements(planned, hole, PLACES, seed, warnings)
        total += len(wrong)
        name = (
            f"{serial} {limits} {hole.diameter:g} {hole.operation} {hole.fastener}{' no warnings' if warnings else ''}"
        )
        print(f"{name:<64} {taken:>6.2f} s {PLACES:>7} {free:>5} {len(wrong):>6}")
        for words in wrong:
            print(f"  {words}")
    print(f"{PLACES * len(CASES)} places, {total} verdicts differ {'met' if total == 0 else 'MISSED'}")


if __name__ == "__main__":
    main()
