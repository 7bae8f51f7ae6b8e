"""Speed of one serial: order to findings, checks against the oracle, cut file, build from the prompt.

Run it with nothing else running: ``python tests/benchmarks/bench_serial.py``. Figures that are compared are taken in
one run on the same tables; the table gives each figure, what is aimed at, and the ratio of the two.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path.insert(0, str(ROOT / "tests"))

from oracle.library import read_library  # noqa: E402
from oracle.run import findings as oracle_findings  # noqa: E402

from railgen.data.library import load_library  # noqa: E402
from railgen.data.order import Loads, Order  # noqa: E402
from railgen.data.order_files import read_orders  # noqa: E402
from railgen.formats.cut_file import cut_file  # noqa: E402
from railgen.formats.feet import web_feet  # noqa: E402
from railgen.formats.hole_table import hole_table_csv  # noqa: E402
from railgen.layout.catalogue import compile_catalogue  # noqa: E402
from railgen.layout.plan import SerialPlan  # noqa: E402
from railgen.pipeline import plan  # noqa: E402
from railgen.rules.check import check  # noqa: E402
from railgen.rules.pattern import Pattern, pattern_of  # noqa: E402
from railgen.rules.strength import strength_findings  # noqa: E402

LIBRARY, BANK, SAMPLE = ROOT / "hole_libraries", ROOT / "samples/bank-200.csv", ROOT / "samples/P-1001.toml"


def seconds(work: Callable[[], object], times: int) -> float:
    """Median time of a call."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def plan_times(catalogue: object, orders: list) -> list[tuple[float, float]]:
    """Seconds of each order: all of it, and what the strength rules take of that."""
    times = []
    for order in orders:
        planned = plan(order, catalogue)
        whole = seconds(lambda order=order: plan(order, catalogue), 5)
        tables = planned.order, planned.holes, planned.placements
        times.append((whole, seconds(lambda tables=tables: strength_findings(pattern_of(*tables)), 5)))
    return times


def check_against_oracle(plans: list[SerialPlan], texts: list[object], library: dict) -> tuple[float, float]:
    """Seconds a serial of the product's checks and of the oracle's, on the same tables."""
    ours, theirs = [], []
    for planned, order in zip(plans, texts, strict=True):
        pattern_time = seconds(lambda planned=planned: check(pattern_of(planned.order, planned.holes)), 5)
        text = hole_table_csv(planned.serial, planned.holes).decode()
        start = time.perf_counter()
        oracle_findings(text, order, library)
        theirs.append(time.perf_counter() - start)
        ours.append(pattern_time)
    return statistics.median(ours), statistics.median(theirs)


def with_loads(order: Order) -> Order:
    """The order with [loads], where it has none: a body on the rear half of the rails."""
    if order.loads:
        return order
    body = {"body_mass": 6000, "body_start": 2000, "body_end": 3500}
    return order.model_copy(update={"loads": Loads.model_validate({"dynamic_factor": 2.0, **body})})


def strength_beside_check(catalogue: object, orders: list) -> tuple[float, float]:
    """Median seconds a serial of the strength rules and of all others, on the same tables, every order with loads."""
    strength, others = [], []
    for order in orders:
        planned = plan(with_loads(order), catalogue)

        def of(rules: Callable[[Pattern], object], planned: SerialPlan = planned) -> float:
            return seconds(lambda: rules(pattern_of(planned.order, planned.holes, planned.placements)), 5)

        strength.append(of(strength_findings))
        others.append(of(check))
    return statistics.median(strength), statistics.median(others)


def build_from_prompt() -> float:
    """Seconds of a build as of an installed program: what Python compiled before is kept, whatever this shell says."""
    with tempfile.TemporaryDirectory() as folder:
        kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        kept["PYTHONPYCACHEPREFIX"] = str(Path(folder) / "bytecode")
        command = [sys.executable, "-m", "railgen.cli.main", "build", str(SAMPLE), "--library", str(LIBRARY)]

        def build() -> None:
            subprocess.run([*command, "--output", folder], check=True, capture_output=True, cwd=ROOT, env=kept)

        build()
        return seconds(build, 5)


def help_from_prompt() -> float:
    command = [sys.executable, "-m", "railgen.cli.main", "--help"]
    return seconds(lambda: subprocess.run(command, check=True, capture_output=True, cwd=ROOT), 7)


def row(what: str, value: float, aim: float, unit: str, at_most: bool = True) -> None:
    met = value <= aim if at_most else value >= aim
    sign = "<=" if at_most else ">="
    print(f"{what:<58} {value:>9.2f} {sign} {aim:<7g} {unit:<3} {value / aim:>6.2f}  {'met' if met else 'MISSED'}")


def main() -> None:
    print(f"{'figure':<58} {'value':>9}    {'aim':<7} {'':<3} {'ratio':>6}")
    catalogue = compile_catalogue(load_library(LIBRARY))
    orders = [given.order for given in read_orders([BANK]) if given.order]
    times = plan_times(catalogue, orders)
    bare = [whole - strength for whole, strength in times]
    row("order to findings but those of strength, median of the bank", 1e3 * statistics.median(bare), 8.0, "ms")
    print(f"{'  worst of the bank':<58} {1e3 * max(bare):>9.2f}")
    print(f"{'  with strength, median':<58} {1e3 * statistics.median(whole for whole, _ in times):>9.2f}")

    strength, others = strength_beside_check(catalogue, orders)
    row("strength rules, median of the bank", 1e3 * strength, 4.0, "ms")
    print(f"{'  over all other rules, in the same run':<58} {strength / others:>9.2f}")

    samples = sorted((ROOT / "samples").glob("*.toml"))
    plans = [plan(given.order, catalogue) for given in read_orders(samples) if given.order]
    ours, theirs = check_against_oracle(plans, samples, read_library(LIBRARY))
    row("checks, times faster than the oracle, median of the samples", theirs / ours, 20.0, "x", at_most=False)

    planned = plans[0]
    feet = web_feet(planned.order, planned.placements, "LH")
    row(
        "R12 cut file", 1e3 * seconds(lambda: cut_file(planned.order, planned.holes, "LH", "rail", feet), 51), 2.5, "ms"
    )
    row("railgen build of one serial, all files, from the prompt", build_from_prompt(), 2.5, "s")
    row("railgen --help from the prompt", help_from_prompt(), 0.3, "s")


if __name__ == "__main__":
    main()
