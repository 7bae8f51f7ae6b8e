"""How long free stations and settling take: CPU time of this process, so that other work on the machine counts little.

Free stations of every movable component on sample rails; fourteen floats spread over a rail, and crowded; what settling
adds to a serial of the sample bank; and a constraint solver on the same floats.
"""

from __future__ import annotations

import statistics
import sys
from collections.abc import Callable
from pathlib import Path
from time import process_time
from typing import TypeVar

sys.path.insert(0, str(Path(__file__).parent.parent))

from placing_world import catalogue_of
from test_placing_tree import by_constraint_solver, random_problem

from railgen.data.order_files import read_orders
from railgen.layout.features import hole_table
from railgen.layout.place import place
from railgen.layout.resolve import resolve
from railgen.pipeline import plan
from railgen.placing.free import free_stations
from railgen.placing.optimum import settle
from railgen.placing.problem import Problem
from railgen.placing.tree import solve
from railgen.rules.check import every_finding
from railgen.rules.pattern import pattern_of

SAMPLES = Path(__file__).parent.parent.parent / "samples"
FLOATS, CASES, STEPS = 14, 50, 30
T = TypeVar("T")


def timed(work: Callable[[], T], times: int = 1) -> tuple[float, T]:
    """The least CPU time of some runs, ms, and what the last returned."""
    least = float("inf")
    for _ in range(times):
        start = process_time()
        result = work()
        least = min(least, process_time() - start)
    return least * 1e3, result


def line(what: str, values: list[float], more: str = "") -> None:
    print(f"{what:44} median {statistics.median(values):8.2f} ms   worst {max(values):8.2f} ms   {more}")


def free_on_rails() -> None:
    catalogue, found = catalogue_of(), []
    for given in read_orders(sorted(SAMPLES.glob("*.toml"))):
        if given.order is None:
            continue
        planned = plan(given.order, catalogue, given.place)
        components = [c for c in catalogue.library.components.values() if c.groups and not (c.repeat and c.repeat.to)]
        for component in components[::12]:
            work = lambda c=component, p=planned: free_stations(c, p.order, catalogue, p.placements)  # noqa: E731
            found.append(timed(work, 3)[0])
    line(f"free stations on one rail ({len(found)})", found)


def fourteen_floats(what: str, stretch: float) -> None:
    found, nodes, gaps, seeds = [], [], [], range(5000, 5000 + CASES)
    for seed in seeds:
        drawn = random_problem(seed, FLOATS, STEPS, stretch)
        problem = Problem(drawn.floats, drawn.pairs)
        took, solution = timed(lambda p=problem: solve(p))
        found.append(took)
        nodes.append(solution.nodes)
        gaps += [] if solution.is_proved else [solution.gap / solution.cost]
    told = f"nodes median {statistics.median(nodes):.0f}, {CASES - len(gaps)} of {CASES} proved"
    line(what, found, told + (f", gaps to {100 * max(gaps):.0f} %" if gaps else ""))


def against_a_solver() -> None:
    ours, theirs = [], []
    for seed in range(5000, 5010):
        drawn = random_problem(seed, FLOATS, STEPS, 6000)
        problem = Problem(drawn.floats, drawn.pairs)
        ours.append(timed(lambda p=problem: solve(p))[0])
        theirs.append(timed(lambda p=problem: by_constraint_solver(p))[0])
    ratio = statistics.median(b / a for a, b in zip(ours, theirs, strict=True))
    line("CP-SAT on ten of the spread ones", theirs, f"{ratio:.1f} times as long")


def over_the_bank() -> None:
    catalogue, added, whole = catalogue_of(), [], []
    for given in list(read_orders([SAMPLES / "bank-200.csv"]))[:100]:
        if given.order is None:
            continue
        order = resolve(given.order, catalogue.library)
        settle(order, catalogue)
        took, settling = timed(lambda o=order: settle(o, catalogue))

        def checked(o=order, s=settling.stations) -> None:  # type: ignore[no-untyped-def]
            positions = place(o, catalogue, s)
            every_finding(pattern_of(o, hole_table(o, catalogue, positions), positions))

        whole.append(took)
        added.append(took - timed(checked)[0])
    line("settled and checked, a serial of the bank", whole)
    line("of that, what settling adds to checking", added)


if __name__ == "__main__":
    free_on_rails()
    fourteen_floats("fourteen floats spread over 9 m", 9000)
    fourteen_floats("fourteen floats spread over 6 m", 6000)
    fourteen_floats("fourteen floats crowded on 0.8 m", 800)
    against_a_solver()
    over_the_bank()
