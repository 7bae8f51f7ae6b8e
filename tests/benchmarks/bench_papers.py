"""Speed, size and memory of papers: the full set of one serial, and a bank's papers as one file.

Run it with nothing else running: ``python tests/benchmarks/bench_papers.py [SERIALS]`` (default 20 and five times as
many). Times are of the processor, the least of five, so that other work on the machine does not count; memory is the
most that the command's process held.
"""

from __future__ import annotations

import csv
import subprocess
import sys
import tempfile
import time
from io import BytesIO
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent

from railgen.data.library import load_library  # noqa: E402
from railgen.data.order_files import read_orders  # noqa: E402
from railgen.layout.catalogue import compile_catalogue  # noqa: E402
from railgen.papers.merge import PdfMerge  # noqa: E402
from railgen.pipeline import PAPERS, Choices, cards, drawings, plan  # noqa: E402

LIBRARY, BANK = ROOT / "hole_libraries", ROOT / "samples/bank-200.csv"
MOST_SECONDS, MOST_BYTES = 1.5, 1_000_000
SERIALS = ("P-1001", "T-2001", "S-3001")
TIMES = 5


def set_of_one_serial() -> None:
    """Seconds of all papers of samples, and bytes of them as one file."""
    catalogue = compile_catalogue(load_library(LIBRARY))
    given = read_orders([ROOT / f"samples/{serial}.toml" for serial in SERIALS])
    for planned in (plan(one.order, catalogue) for one in given if one.order):
        best = float("inf")
        for _ in range(TIMES):
            start = time.process_time()
            papers = drawings(planned, Choices()) | cards(planned)
            best = min(best, time.process_time() - start)
        row(f"full set of {planned.serial}, s", best, MOST_SECONDS)
        stream = BytesIO()
        merge = PdfMerge(stream)
        for name in sorted(papers):
            if name.endswith(".pdf"):
                merge.add(papers[name], name)
        merge.close(planned.serial)
        row(f"full set of {planned.serial} as one file, MB", len(stream.getvalue()) / 1e6, MOST_BYTES / 1e6)


def memory_of(count: int, times: int, folder: Path) -> float:
    """The most memory (MB) that printing the papers of so many serials took, each so many times under other numbers."""
    bank = folder / f"bank-{count}-{times}.csv"
    with BANK.open(newline="") as stream:
        head, *rows = list(csv.reader(stream))[: count + 1]
    place = head.index("serial")
    with bank.open("w", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(head)
        for time_ in range(times):
            for row in rows:
                writer.writerow([*row[:place], f"{row[place]}{time_}", *row[place + 1 :]])
    command = [sys.executable, "-c", _PRINT, str(bank), str(folder), str(LIBRARY)]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT)
    return float(done.stdout.split()[-1]) / 1024


_PRINT = """
import resource, sys
from click.testing import CliRunner
from railgen.cli.main import main
bank, folder, library = sys.argv[1:]
CliRunner().invoke(main, ["papers", bank, "--output", folder, "--library", library], catch_exceptions=False)
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def row(name: str, value: float, aimed: float) -> None:
    print(f"{name:42s} {value:9.3f}   at most {aimed:7.3f}   {value / aimed:6.2f}")


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    print(f"{'of ' + ', '.join(PAPERS):42s}     found              aimed    ratio")
    set_of_one_serial()
    with tempfile.TemporaryDirectory() as folder:
        few, long, many = (memory_of(n, times, Path(folder)) for n, times in ((count, 1), (count, 5), (5 * count, 1)))
    row(f"memory, {count} serials 5 times against once, MB", long, few * 1.1)
    # What is remembered of components and sections grows with their kinds, up to a limit.
    row(f"memory, {5 * count} serials against {count}, MB", many, few * 1.3)


if __name__ == "__main__":
    main()
