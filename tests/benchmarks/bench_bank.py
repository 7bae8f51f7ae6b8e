"""Speed and memory of a bank: placed and checked, with cut files, one process against two, a million on paper.

Run it with nothing else running: ``python tests/benchmarks/bench_bank.py [LARGEST]`` (default 50000 serials). The
banks are the sample bank over and over with new numbers. Memory is the resident memory of the command and all its
processes, shared pages counted in each, sampled ten times a second.
"""

from __future__ import annotations

import csv
import os
import pickle
import subprocess
import sys
import tempfile
import time
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from railgen.bank.crews import CHUNK
from railgen.bank.job import BankJob, Done, do_chunk
from railgen.bank.run import done_orders
from railgen.bank.tables import SerialTable
from railgen.bank.tally import Tally
from railgen.data.bank import BankRow, csv_rows
from railgen.data.library import load_library
from railgen.data.order_input import OrderInput
from railgen.layout.catalogue import compile_catalogue
from railgen.pipeline import Choices

ROOT = Path(__file__).resolve().parent.parent.parent
SAMPLES, LIBRARY = ROOT / "samples" / "bank-200.csv", ROOT / "hole_libraries"
SMALLEST, MIDDLE = 1_000, 10_000
CORES = 64
ON_CLUSTER = 8 * CHUNK
"""Orders of a chunk on so many cores."""
MILLION = 1_000_000


@dataclass(frozen=True)
class Run:
    """A run of the command: seconds, and the most memory (MB) that it and its processes held."""

    seconds: float
    memory: float


def bank_of(count: int, path: Path) -> Path:
    """The sample bank over and over, every row with a number of its own, without the loads that strength rules ask."""
    with SAMPLES.open(newline="") as stream:
        header, *rows = csv.reader(stream)
    with path.open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(header)
        for number in range(count):
            row = rows[number % len(rows)]
            cells = ["" if name.startswith("loads.") else cell for name, cell in zip(header, row, strict=True)]
            writer.writerow([f"{row[0].partition('-')[0]}-{100_001 + number}", *cells[1:]])
    return path


def run(bank: Path, *more: str) -> Run:
    """The command in a fresh output folder."""
    with tempfile.TemporaryDirectory(dir=bank.parent) as output:
        more = more if "--write" in more else (*more, "--write", "none")
        line = [sys.executable, "-m", "railgen.cli.main", "bank", str(bank), "--output", output]
        line += ["--library", str(LIBRARY)]
        start, most = time.perf_counter(), 0.0
        environment = os.environ | {"PYTHONPATH": str(ROOT)}
        with subprocess.Popen([*line, *more], env=environment, stdout=subprocess.DEVNULL) as running:
            while running.poll() is None:
                most = max(most, memory_of(running.pid))
                time.sleep(0.1)
        seconds = time.perf_counter() - start
        if running.returncode not in (0, 1):
            raise SystemExit(f"the run failed: {running.returncode}")
        return Run(seconds, most)


def memory_of(process: int) -> float:
    """Resident memory (MB) of a process and all below it."""
    total = 0.0
    waiting = [process]
    while waiting:
        found = Path(f"/proc/{waiting.pop()}")
        try:
            pages = int((found / "statm").read_text().split()[1])
            total += pages * os.sysconf("SC_PAGE_SIZE") / 1e6
            for task in (found / "task").iterdir():
                waiting += map(int, (task / "children").read_text().split())
        except (OSError, ValueError):
            continue
    return total


def sample_work() -> tuple[list[BankRow], list[Done]]:
    """A chunk of the sample bank as it is handed out, and what comes back of it."""
    with tempfile.TemporaryDirectory() as folder:
        rows = list(csv_rows(bank_of(ON_CLUSTER, Path(folder) / "bank.csv")))
        catalogue = compile_catalogue(load_library(LIBRARY))
        job = BankJob(catalogue.library, Path(folder), Choices(kinds=()), None, "bank")
        return rows, do_chunk(rows, job, catalogue)


def dask_overhead(chunk: list[BankRow], answer: int) -> tuple[float, float]:
    """Seconds a task of Dask where chunks are done at once, and seconds to connect and do the first.

    As many chunks are under way as a bank's run has on so many cores, and each answer has as many bytes as that of a
    real chunk. Counted is what client and scheduler, one process here, take of a core; workers' own share is spread.
    """
    from distributed import Client, LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        start = time.perf_counter()
        with Client(cluster.scheduler_address, set_as_default=False) as client:
            client.submit(_answer, chunk, answer, pure=False).result()
            connected, taken, waiting = time.perf_counter() - start, [], deque[Any]()
            for _ in range(5):
                start = time.process_time()
                for _ in range(1000):
                    waiting.append(client.submit(_answer, chunk, answer, pure=False))
                    if len(waiting) > 3 * CORES:
                        waiting.popleft().result()
                taken.append((time.process_time() - start) / 1000)
    return min(taken), connected


def _answer(_: list[BankRow], size: int) -> bytes:
    return bytes(size)


def client_cost(chunk: list[BankRow], done: list[Done]) -> float:
    """Seconds a serial for what one process does for all: reading rows, handing out, taking back and summing up."""

    class Ready:
        chunk, ahead = CHUNK, 1

        def begin(self, rows: Sequence[BankRow | OrderInput]) -> list[Done]:
            pickle.dumps(chunk[:CHUNK])
            results: list[Done] = pickle.loads(packed)
            return [replace(one, place=row.place) for one, row in zip(results, rows, strict=True)]

        def finish(self, begun: list[Done]) -> list[Done]:
            return begun

        def stop(self) -> None: ...

    packed, count, taken = pickle.dumps(done[:CHUNK]), 200 * CHUNK, []
    with tempfile.TemporaryDirectory() as folder:
        bank = bank_of(count, Path(folder) / "bank.csv")
        for _ in range(5):
            tally, serials, start = Tally(), SerialTable(), time.process_time()
            for one in done_orders([bank], Ready()):
                tally.add(one)
                serials.add(one)
            serials.content()
            taken.append((time.process_time() - start) / count)
    return min(taken)


def row(what: str, value: float, aim: float, unit: str, at_most: bool = True) -> None:
    met = value <= aim if at_most else value >= aim
    sign = "<=" if at_most else ">="
    print(
        f"{what:<64} {value:>9.2f} {sign} {aim:<7g} {unit:<3} {value / aim:>6.2f}  {'met' if met else 'MISSED'}",
        flush=True,
    )


def on_paper(per_serial: float) -> None:
    """What a million serials take on 64 cores, from measured figures; per_serial: seconds of one core."""
    chunk, done = sample_work()
    overhead, connected = dask_overhead(chunk, len(pickle.dumps(done)))
    costs = {
        f"work: {1e3 * per_serial:.2f} ms a serial on {CORES} cores": MILLION * per_serial / CORES,
        f"Dask: {1e6 * overhead:.0f} us for each chunk of {ON_CLUSTER}": MILLION / ON_CLUSTER * overhead,
    }
    each = client_cost(chunk, done)
    costs[f"one process that reads and sums up: {1e6 * each:.0f} us a serial"] = MILLION * each
    print(f"\nOn paper, {MILLION:,} serials; the three run at the same time, and the largest is what it takes:")
    for what, seconds in costs.items():
        print(f"  {what:<62} {seconds / 60:>6.1f} minutes")
    print(f"  to connect and do the first chunk: {connected:.2f} s")


def main() -> None:
    largest = int(sys.argv[1]) if len(sys.argv) > 1 else 50_000
    print(f"{'figure':<64} {'value':>9}    {'aim':<7} {'':<3} {'ratio':>6}")
    with tempfile.TemporaryDirectory() as folder:
        banks = {count: bank_of(count, Path(folder) / f"bank-{count}.csv") for count in (SMALLEST, MIDDLE, largest)}
        start = run(bank_of(1, Path(folder) / "bank-1.csv"), "--workers", "2").seconds
        few = run(banks[SMALLEST], "--workers", "2")
        one = run(banks[MIDDLE], "--workers", "1")
        two = run(banks[MIDDLE], "--workers", "2")
        row(f"{MIDDLE:,} serials placed and checked", two.seconds, 60, "s")
        row("  the same, two workers, times as fast as one", one.seconds / two.seconds, 1.7, "x", at_most=False)
        cut = run(banks[MIDDLE], "--workers", "2", "--write", "cut")
        row(f"{MIDDLE:,} serials with R12 cut files", cut.seconds, 120, "s")
        many = run(banks[largest], "--workers", "2")
        row(f"peak memory at {SMALLEST:,} serials", few.memory, 600, "MB")
        row(f"peak memory at {largest:,} serials", many.memory, 600, "MB")
        row("  the latter over the former", many.memory / few.memory, 1.05, "x")
        few_each, many_each = (few.seconds - start) / SMALLEST, (many.seconds - start) / largest
        print(
            f"  ms a serial of {SMALLEST:,} and of {largest:,}: {1e3 * few_each:.2f} {1e3 * many_each:.2f}; "
            f"start {start:.2f} s"
        )
        row(f"cost a serial at {largest:,} over that at {SMALLEST:,}", many_each / few_each, 1.1, "x")
    on_paper((one.seconds - start) / MIDDLE)


if __name__ == "__main__":
    main()
