"""Remedies against every shift tried in turn: whether one is told that does not serve, or one missed that is smaller.

``python tests/benchmarks/bench_remedies.py [random orders] [first seed]``; 20 where nothing is said, after the cases of
every rule and the sample with the deliberate clash. Every tenth of a millimetre below what is told is tried both ways,
up to 100 mm, and where nothing is told all up to 100 mm; of a float every step of its grid. Shifts are told in tenths,
so that a gap too narrow to hold one is none. Fails where anything differs.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from remedy_cases import CASES, Sweep, random_case, sample, swept  # noqa: E402

from railgen.placing.shifts import TOLD  # noqa: E402

FARTHEST = 100.0
"""mm."""


def sweeps(count: int, seed: int) -> Iterator[tuple[str, Sweep]]:
    """Names and orders."""
    for name, (parts, entries) in CASES.items():
        yield name, swept(parts, **entries)
    yield "P-1002", sample("P-1002")
    for number in range(seed, seed + count):
        yield f"random {number}", swept(random_case(number))


def faults(sweep: Sweep) -> tuple[int, list[str]]:
    """How many remedies were looked at, and what is wrong with them."""
    count, wrong = 0, []
    floats = {c.id: c.floating for c in sweep.order.components if c.floating}
    for finding, component, shift in sweep.told():
        window = floats.get(component)
        what = f"{finding.rule} {finding.measure} {finding.holes} of {finding.components}, {component} moved"
        count += 1
        if shift is not None and not sweep.serves(finding, component, shift.by):
            wrong.append(f"{what} by {shift.by:.1f} mm does not serve")
        within = min(FARTHEST, abs(shift.by)) if shift else FARTHEST
        widens = shift is None or shift.widens
        smaller = sweep.smaller_that_serves(finding, component, within, window.pitch if window else TOLD, widens)
        if smaller is not None:
            wrong.append(f"{what} by {shift.by if shift else None} mm is told, but {smaller:.2f} mm serves")
    return count, wrong


def main() -> int:
    count, seed = (int(text) for text in (*sys.argv[1:3], *("20", "100")[len(sys.argv) - 1 :]))
    print(f"{'order':26} {'remedies':>8} {'faults':>7} {'search':>9}")
    bad = 0
    for name, sweep in sweeps(count, seed):
        start = time.process_time()
        list(sweep.told())
        spent = time.process_time() - start
        looked_at, wrong = faults(sweep)
        print(f"{name:26} {looked_at:8d} {len(wrong):7d} {spent * 1e3:6.0f} ms", flush=True)
        for words in wrong:
            print(f"    {words}", flush=True)
        bad += len(wrong)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
