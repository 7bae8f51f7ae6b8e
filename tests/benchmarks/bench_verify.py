"""Speed of ``verify``: one serial of the bank after the other, then one of 400 holes a rail in all its files.

Run it with nothing else running: ``python tests/benchmarks/bench_verify.py``. Aimed at: at most 50 ms a serial.
"""

from __future__ import annotations

import random
import statistics
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from verify_folders import MORE, random_holes, serial_folder  # noqa: E402

from railgen.data.library import load_library  # noqa: E402
from railgen.data.order_files import read_orders  # noqa: E402
from railgen.formats.folder import write_folder  # noqa: E402
from railgen.layout.catalogue import compile_catalogue  # noqa: E402
from railgen.pipeline import Choices, plan, serial_files  # noqa: E402
from railgen.records.verify import verify_folder  # noqa: E402


def milliseconds(folder: Path) -> float:
    """Best of five checks of a folder that has nothing wrong with it."""
    taken = []
    for _ in range(5):
        start = time.perf_counter()
        found = verify_folder(folder)
        taken.append(1000 * (time.perf_counter() - start))
        assert not found.discrepancies
    return min(taken)


def main() -> None:
    catalogue = compile_catalogue(load_library(ROOT / "hole_libraries"))
    with tempfile.TemporaryDirectory() as place:
        for version in ("R12", "R2018"):
            times = []
            choices = Choices("R12" if version == "R12" else "R2018", kinds=("holes", "findings", "cut"))
            for given in list(read_orders((ROOT / "samples/bank-200.csv",)))[:50]:
                assert given.order is not None
                planned = plan(given.order, catalogue, given.place)
                files = serial_files(planned, given.name, given.sha256, choices)
                times.append(milliseconds(write_folder(Path(place), planned.serial, files)))
            print(f"bank, {version}: median {statistics.median(times):.1f} ms, worst {max(times):.1f} ms")
        holes = random_holes(random.Random(1), tapered=False, count=400)
        for name, more in (("cut files", ()), ("cut files, DSTV, a DXF a tool and a layer", MORE)):
            folder = serial_folder(Path(place), "P-1", "liner", holes, more=more)
            print(f"400 holes a rail with liner, {name}: {milliseconds(folder):.1f} ms")


if __name__ == "__main__":
    main()
