"""Speed of ``verify``: serials of the bank with their programs, samples as built, then 400 holes a rail in all files.

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
from railgen.formats.more_cut_files import MORE as ALL  # noqa: E402
from railgen.layout.catalogue import compile_catalogue  # noqa: E402
from railgen.pipeline import Choices, plan, serial_files  # noqa: E402
from railgen.records.verify import verify_folder  # noqa: E402


def milliseconds(folder: Path) -> float:
    """Best of five checks of a folder that has nothing wrong with it, of one core."""
    taken = []
    for _ in range(5):
        start = time.process_time()
        found = verify_folder(folder)
        taken.append(1000 * (time.process_time() - start))
        assert not found.discrepancies
    return min(taken)


def main() -> None:
    catalogue = compile_catalogue(load_library(ROOT / "hole_libraries"))
    with tempfile.TemporaryDirectory() as place:
        for version in ("R12", "R2018"):
            times = []
            choices = Choices("R12" if version == "R12" else "R2018", kinds=("holes", "findings", "cut", "nc"))
            for given in list(read_orders((ROOT / "samples/bank-200.csv",)))[:40]:
                assert given.order is not None
                planned = plan(given.order, catalogue, given.place)
                files = serial_files(planned, given.name, given.sha256, choices)
                times.append(milliseconds(write_folder(Path(place), planned.serial, files)))
            print(f"bank, {version} and programs: median {statistics.median(times):.1f} ms, worst {max(times):.1f} ms")
        for given in read_orders(tuple(ROOT / f"samples/{name}.toml" for name in ("P-1001", "T-2001", "S-3001"))):
            assert given.order is not None
            planned = plan(given.order, catalogue, given.place)
            for name, choices in (("as built", Choices()), ("with all kinds of file", Choices(more=ALL))):
                files = serial_files(planned, given.name, given.sha256, choices)
                folder = write_folder(Path(place), planned.serial, files)
                print(f"{planned.serial} {name}, {len(files)} files: {milliseconds(folder):.1f} ms")
        holes = random_holes(random.Random(1), tapered=False, count=400)
        for name, more in (("cut files", ()), ("cut files and programs", ("nc",)), ("every kind of file", MORE)):
            folder = serial_folder(Path(place), "P-1", "liner", holes, more=more)
            print(f"400 holes a rail with liner, {name}: {milliseconds(folder):.1f} ms")


if __name__ == "__main__":
    main()
