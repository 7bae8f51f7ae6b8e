"""``verify`` against 500 random corruptions and 200 untouched folders, or as many as asked for: how many it gets right.

Run from the checkout: ``python tests/benchmarks/bench_corruptions.py [CORRUPTIONS [FOLDERS]]``. Two of three
corruptions have every digest of the manifest made to fit, so that they must be found in the files themselves.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from verify_cases import told, tried, untouched_folder, untouched_folders  # noqa: E402

from railgen.records.verify import verify_folder  # noqa: E402


def main() -> int:
    """Print the counts; 1 where anything was missed or flagged."""
    count, untouched = (int(word) for word in [*sys.argv[1:], *("500", "200")[len(sys.argv) - 1 :]])
    missed = flagged = 0
    with tempfile.TemporaryDirectory() as place:
        folders, copies = untouched_folders(Path(place) / "kept"), Path(place) / "corrupted"
        copies.mkdir()
        in_files = count * 2 // 3
        for number, vouched in ((in_files, True), (count - in_files, False)):
            for what, meant, found in tried(folders, copies, number, vouched):
                if not told(found, meant):
                    missed += 1
                    print(f"missed: {what}: {meant}: {[one.message for one in found.discrepancies[:3]]}")
        for number in range(untouched):
            folder = untouched_folder(Path(place), number)
            wrong = verify_folder(folder).discrepancies
            flagged += bool(wrong)
            if wrong:
                print(f"flagged: folder {number}: {wrong[0].message}")
            shutil.rmtree(folder)
    print(f"corruptions: {count - missed} of {count} found and named")
    print(f"untouched folders: {flagged} of {untouched} flagged")
    return 1 if missed or flagged else 0


if __name__ == "__main__":
    sys.exit(main())
