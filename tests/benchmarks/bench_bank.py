"""Speed and memory of a bank: placed and checked, with cut files, one process against two, Dask's overhead.

Run it with nothing else running: ``python tests/benchmarks/bench_bank.py [LARGEST]`` (default 50000 serials). The
banks are the sample bank over and over with new numbers. Memory is the resident memory of the command and all its
processes, shared pages counted in each, sampled ten times a second.
"""

from __future__ import annotations

import csv
import os
import statistics
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
SAMPLES, LIBRARY = ROOT / "samples" / "bank-200.csv", ROOT / "hole_libraries"
SMALLEST, MIDDLE = 1_000, 10_000
CORES = 64
MILLION = 1_000_000


@dataclass(frozen=True)
class Run:
    """A run of the command: seconds, and the most memory (MB) that it and its processes held."""

    seconds: float
    memory: float


def bank_of(count: int, path: Path) -> Path:
    """The sample bank over and over, every row with a number of its own."""
    with SAMPLES.open(newline="") as stream:
        header, *rows = csv.reader(stream)
    with path.open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(header)
        for number in range(count):
            prefix, row = rows[number % len(rows)][0].partition("-")[0], rows[number % len(rows)]
            writer.writerow([f"{prefix}-{100_001 + number}", *row[1:]])
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


def dask_overhead() -> tuple[float, float]:
    """Seconds a task of a Dask scheduler that hands out chunks which are done at once, and seconds to connect."""
    from distributed import Client, LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None) as cluster:
        start = time.perf_counter()
        with Client(cluster.scheduler_address, set_as_default=False) as client:
            client.submit(len, [()] * 16, pure=False).result()
            connected = time.perf_counter() - start
            taken = []
            for _ in range(3):
                start = time.perf_counter()
                futures = [client.submit(len, [()] * 16, pure=False) for _ in range(1000)]
                client.gather(futures)
                taken.append((time.perf_counter() - start) / 1000)
    return statistics.median(taken), connected


def row(what: str, value: float, aim: float, unit: str, at_most: bool = True) -> None:
    met = value <= aim if at_most else value >= aim
    sign = "<=" if at_most else ">="
    print(
        f"{what:<64} {value:>9.2f} {sign} {aim:<7g} {unit:<3} {value / aim:>6.2f}  {'met' if met else 'MISSED'}",
        flush=True,
    )


def on_paper(per_serial: float, overhead: float, chunk: int) -> None:
    """What a million serials take on 64 cores, from measured figures: seconds a serial on one core, and a task."""
    work = MILLION * per_serial / CORES
    handing_out = MILLION / chunk * overhead
    limit = "the work" if work > handing_out else "the scheduler"
    print(
        f"\nOn paper: {MILLION:,} serials at {1e3 * per_serial:.2f} ms of one core are {work / 60:.1f} minutes on "
        f"{CORES} cores.\nHanding out {MILLION // chunk:,} chunks of {chunk} at {1e6 * overhead:.0f} us each takes the "
        f"scheduler {handing_out / 60:.1f} minutes beside it.\nThe larger of the two is the time: "
        f"{max(work, handing_out) / 60:.1f} minutes, limited by {limit}."
    )


def main() -> None:
    from railgen.bank.crews import CHUNK

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
    overhead, connected = dask_overhead()
    print(f"Dask: {1e6 * overhead:.0f} us a task, {connected:.2f} s to connect and do the first")
    on_paper((one.seconds - start) / MIDDLE, overhead, CHUNK)


if __name__ == "__main__":
    main()
