"""Hit order over the bank's blanks: gap to the proved bound, share of the possible gain, time a blank.

Run from the checkout: ``python tests/benchmarks/bench_hit_order.py [ORDER...] [--most N]``. Without orders it takes the
samples and the bank, if they are there. Moves and changes alone are compared; all figures come from one run; seconds
are those of one core.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from press_blanks import dense_holes, hits_on  # noqa: E402

from railgen.data.library import find_library, load_library  # noqa: E402
from railgen.data.messages import InputError  # noqa: E402
from railgen.data.order_files import read_orders  # noqa: E402
from railgen.layout.catalogue import compile_catalogue  # noqa: E402
from railgen.pipeline import plan  # noqa: E402
from railgen.shop.hit_order import HitOrder, order_hits  # noqa: E402
from railgen.shop.hits import Hits, hits_of  # noqa: E402
from railgen.shop.part_work import part_work, parts_of  # noqa: E402


@dataclass(frozen=True)
class Measured:
    """One blank: its order and the seconds of one core that it took, bound included."""

    found: HitOrder
    seconds: float


def bank_hits(paths: list[Path], most: int) -> Iterator[Hits]:
    """Hits of the rails and liners of some orders, evenly chosen where there are more orders than ``most``."""
    catalogue = compile_catalogue(load_library(find_library(str(ROOT / "hole_libraries"))))
    orders = [given.order for given in read_orders(paths) if given.order]
    step = max(1, len(orders) // most)
    for order in orders[::step][:most]:
        planned = plan(order, catalogue)
        for part, side in parts_of(planned):
            try:
                hits = hits_of(part_work(planned, part, side))
            except InputError as error:
                print(f"left out: {str(error).splitlines()[0]}")
                continue
            if len(hits):
                yield hits


def measure(hits: Hits) -> Measured:
    """Order a blank once, warm."""
    begun = time.process_time()
    found = order_hits(hits)
    return Measured(found, time.process_time() - begun)


def table(name: str, measured: list[Measured]) -> None:
    """One line of the table."""
    sizes = [len(m.found.hits) for m in measured]
    gap = np.array([m.found.gap for m in measured]) * 100
    gained = np.array([m.found.gained for m in measured]) * 100
    plain = np.array([m.found.plain.ordered / m.found.cycle.ordered for m in measured])
    seconds = np.array([m.seconds for m in measured])
    print(
        f"{name:<24}{len(measured):>7}{np.median(sizes):>7.0f}{np.median(gap):>9.2f}{gap.max():>8.2f}"
        f"{np.median(gained):>9.1f}{gained.min():>8.1f}{np.median(plain):>9.2f}"
        f"{np.median(seconds):>9.3f}{seconds.max():>8.3f}"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("orders", nargs="*", type=Path)
    parser.add_argument("--most", type=int, default=40, help="orders taken from the files")
    given = parser.parse_args()
    paths = given.orders or [*sorted((ROOT / "samples").glob("*.toml")), *sorted((ROOT / "samples").glob("*.csv"))]
    order_hits(hits_on(dense_holes(0, 60)))  # warm
    print(
        f"{'':<24}{'blanks':>7}{'hits':>7}{'gap %':>9}{'worst':>8}{'gain %':>9}{'least':>8}"
        f"{'plain':>9}{'s':>9}{'most':>8}"
    )
    print(f"{'':<24}{'':>7}{'median':>7}{'median':>9}{'':>8}{'median':>9}{'':>8}{'/ ours':>9}{'median':>9}{'':>8}")
    found = [measure(hits) for hits in bank_hits(paths, given.most)]
    for name, low, high in (("orders, to 150 hits", 0, 150), ("orders, over 150 hits", 151, 10_000)):
        chosen = [m for m in found if low <= len(m.found.hits) <= high]
        if chosen:
            table(name, chosen)
    for count in (120, 200, 400):
        table(f"random, {count} hits", [measure(hits_on(dense_holes(seed, count))) for seed in range(8)])


if __name__ == "__main__":
    main()
