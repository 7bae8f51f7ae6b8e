"""A bank whose run is killed again and again ends with the same bytes: nothing lost, nothing twice, no half file."""

from __future__ import annotations

import random
import signal
import subprocess
import time
from pathlib import Path

from bank_cases import command, environment, run, sample_bank, tree, whole_serials

KILLS = 20
ORDERS = 100
AMID = 0.1  # s at most after the first new result, the first half of the kills
LEAST, MOST = 0.5, 1.4  # s after the start, the others; the first results come after about 0.9 s


def test_twenty_kills_cost_nothing(tmp_path: Path) -> None:
    bank, out = sample_bank(tmp_path / "bank.csv", ORDERS), tmp_path / "out"
    draw, whole = random.Random(20), dict[str, tuple[int, int]]()
    amid = 0  # kills that fell between the first and the last serial
    for number in range(KILLS):
        line = command(bank, out, "--workers", "2", "--write", "holes,findings,cut")
        with subprocess.Popen(line, env=environment(), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as running:
            if number < KILLS // 2:
                wait_for_more(out, len(whole), running)
                time.sleep(draw.uniform(0.0, AMID))
            else:
                time.sleep(draw.uniform(LEAST, MOST))
            running.send_signal(signal.SIGKILL)
            assert running.stderr is not None
            running.stderr.read()  # ends when the last worker has noticed and is gone
        assert running.returncode in (-signal.SIGKILL, 0)
        now = whole_serials(out)
        assert {serial: now.get(serial) for serial in whole} == whole, "something complete was lost or done again"
        whole = now
        amid += 0 < len(whole) < ORDERS
    assert amid > 1
    done = run(bank, out, "--workers", "2", "--write", "holes,findings,cut")
    assert done.returncode == 0, done.stderr
    finished = whole_serials(out)
    assert {serial: finished[serial] for serial in whole} == whole
    assert len(finished) == ORDERS
    assert not list(out.rglob(".*"))
    fresh = run(bank, tmp_path / "fresh", "--workers", "1", "--write", "holes,findings,cut")
    assert fresh.returncode == 0
    assert tree(out) == tree(tmp_path / "fresh")


def wait_for_more(out: Path, serials: int, running: subprocess.Popen[bytes]) -> None:
    """Until another serial is complete, or the run is over."""
    while len(list(out.glob("*-*/manifest.json"))) <= serials and running.poll() is None:
        time.sleep(0.005)
