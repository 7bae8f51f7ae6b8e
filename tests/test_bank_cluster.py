"""A bank on a Dask cluster that is not there, is something else, or goes away: said in plain words, nothing lost."""

from __future__ import annotations

import json
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from bank_cases import SMALL, command, environment, run, sample_bank, small_bank, whole_serials

from railgen.bank import cluster as cluster_module
from railgen.bank.cluster import Cluster
from railgen.bank.crews import in_bank_order
from railgen.bank.job import BankJob
from railgen.data.library import load_library
from railgen.data.messages import InputError
from railgen.data.order_input import OrderInput
from railgen.pipeline import Choices

distributed = pytest.importorskip("distributed")
LOCAL = {"threads_per_worker": 1, "dashboard_address": None}
GREETINGS = {"silent": b"", "a mail server": b"220 mail.example ESMTP ready\r\n", "noise": b"\xff" * 64}


@pytest.fixture
def job(tmp_path: Path) -> BankJob:
    return BankJob(load_library(SMALL), tmp_path, Choices(kinds=()), None, "bank.csv")


@pytest.fixture(params=GREETINGS)
def stranger(request: pytest.FixtureRequest) -> Iterator[str]:
    """The address of something that listens and is no scheduler."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen()
        held = []

        def greet() -> None:
            while True:
                try:
                    held.append(listening.accept()[0])
                    held[-1].sendall(GREETINGS[request.param])
                except OSError:
                    return

        threading.Thread(target=greet, daemon=True).start()
        yield f"tcp://127.0.0.1:{listening.getsockname()[1]}"
        for one in held:
            one.close()
        listening.shutdown(socket.SHUT_RDWR)


def test_a_stranger_on_the_port_is_found_out_in_seconds(
    stranger: str, job: BankJob, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert cluster_module._SECONDS_TO_CONNECT <= 10
    monkeypatch.setattr(cluster_module, "_SECONDS_TO_CONNECT", 1)
    start = time.monotonic()
    with pytest.raises(InputError, match=f"--scheduler: {stranger}: found no scheduler that answers"):
        Cluster(job, stranger)
    assert time.monotonic() - start < 5


def test_a_worker_is_no_scheduler(job: BankJob) -> None:
    with distributed.LocalCluster(n_workers=1, processes=False, protocol="tcp", **LOCAL) as there:
        worker = there.workers[0].address
        with pytest.raises(InputError, match="found no scheduler that answers"):
            Cluster(job, worker)


def test_a_cluster_without_workers_is_named(job: BankJob) -> None:
    with (
        distributed.LocalCluster(n_workers=0, processes=False, protocol="tcp", **LOCAL) as there,
        pytest.raises(InputError, match="a cluster without workers"),
    ):
        Cluster(job, there.scheduler_address)


def test_workers_that_all_leave_end_the_run(job: BankJob, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster_module, "_SECONDS_TO_CONNECT", 1)
    with distributed.LocalCluster(n_workers=1, processes=False, protocol="tcp", **LOCAL) as there:
        crew = Cluster(job, there.scheduler_address)
        with closing(_Stopped(crew)):
            there.scale(0)
            while there.scheduler_info["workers"]:
                time.sleep(0.05)
            chunks = [[OrderInput("line 2", "", "", None, None)]]
            with pytest.raises(InputError, match="found no worker any more"):
                list(in_bank_order(crew, chunks))


class _Stopped:
    """Stops a crew when closed."""

    def __init__(self, crew: Cluster) -> None:
        self.close = crew.stop


def test_a_scheduler_that_goes_away_costs_nothing_that_is_done(tmp_path: Path) -> None:
    bank, out = sample_bank(tmp_path / "bank.csv", 120), tmp_path / "out"
    with distributed.LocalCluster(n_workers=1, processes=False, protocol="tcp", **LOCAL) as there:
        line = command(bank, out, "--scheduler", there.scheduler_address, "--write", "holes")
        with subprocess.Popen(line, env=environment(), stderr=subprocess.PIPE, text=True) as running:
            while not list(out.glob("P-*/manifest.json")):
                time.sleep(0.02)
            there.close()
            _, text = running.communicate(timeout=60)
    assert running.returncode == 2, text
    assert "What is complete stays: run the same command again, or without --scheduler" in text
    assert "Traceback" not in text
    before = whole_serials(out)
    assert 0 < len(before) < 120
    done = run(bank, out, "--workers", "1", "--write", "holes", "--json")
    assert json.loads(done.stdout)["unchanged"] == len(before)
    after = whole_serials(out)
    assert len(after) == 120
    assert {serial: after[serial] for serial in before} == before


def test_a_scheduler_that_does_not_answer_is_named(tmp_path: Path) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = f"tcp://127.0.0.1:{free.getsockname()[1]}"
    bank = small_bank(tmp_path / "bank.csv", "X-1,AAA01,5000")
    for named in (address, "nonsense"):
        done = run(bank, tmp_path / "out", "--scheduler", named, library=SMALL)
        assert done.returncode == 2, done.stderr
        assert f"--scheduler: {named}: found no scheduler that answers" in done.stderr
        assert "Traceback" not in done.stderr
