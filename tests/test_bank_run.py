"""A bank gives the same bytes whoever does the work, redoes nothing, and goes on past whatever is wrong."""

from __future__ import annotations

import csv
import json
import os
import pty
import shutil
import signal
import subprocess
import time
from collections import Counter
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from bank_cases import DEMO, SMALL, command, environment, run, sample_bank, small_bank, tree, whole_serials

from railgen.bank.crews import Processes, in_bank_order
from railgen.bank.job import BankJob, Done
from railgen.cli.bank import _KINDS
from railgen.data.library import load_library
from railgen.data.order_input import OrderInput
from railgen.pipeline import KINDS, Choices

ALL_BUT_PAPERS = "holes,findings,cut"


@pytest.fixture(scope="module")
def bank(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Forty orders; one cannot be used, one comes twice."""
    path = tmp_path_factory.mktemp("bank") / "bank.csv"
    first = sample_bank(path, 1).read_text().splitlines()[1]
    return sample_bank(path, 40, first.replace("P-1101", "P-9999").replace("4600", "9999"), first)


@pytest.fixture(scope="module")
def alone(bank: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bank done by one process."""
    output = tmp_path_factory.mktemp("alone")
    done = run(bank, output, "--workers", "1", "--write", ALL_BUT_PAPERS)
    assert done.returncode == 2, done.stderr
    return output


def test_two_processes_write_the_same_bytes_as_one(bank: Path, alone: Path, tmp_path: Path) -> None:
    done = run(bank, tmp_path, "--workers", "2", "--write", ALL_BUT_PAPERS)
    assert done.returncode == 2, done.stderr
    assert tree(tmp_path) == tree(alone)
    assert len(whole_serials(tmp_path)) == 40


def test_a_dask_cluster_of_two_writes_the_same_bytes_as_one_process(bank: Path, alone: Path, tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    settings = {"n_workers": 2, "threads_per_worker": 2, "dashboard_address": None}
    with distributed.LocalCluster(processes=True, **settings) as cluster:
        done = run(bank, tmp_path, "--scheduler", cluster.scheduler_address, "--write", ALL_BUT_PAPERS)
    assert done.returncode == 2, done.stderr
    assert tree(tmp_path) == tree(alone)


def test_papers_are_the_same_too(tmp_path: Path) -> None:
    bank = sample_bank(tmp_path / "bank.csv", 2)
    for workers in ("1", "2"):
        run(bank, tmp_path / workers, "--workers", workers, "--write", "papers,cut")
    found = tree(tmp_path / "1")
    assert found == tree(tmp_path / "2")
    assert {"P-1101/P-1101-drawing.pdf", "P-1101/P-1101-route-card.pdf", "P-1101/P-1101-LH-rail.dxf"} <= set(found)
    assert not any(name.endswith(("holes.csv", "findings.json")) for name in found)


def test_problems_are_named_with_their_line(bank: Path, alone: Path, tmp_path: Path) -> None:
    done = run(bank, tmp_path, "--workers", "2", "--write", "none")
    assert "bank.csv: line 42: wheelbase: found 9999 mm" in done.stderr
    assert (
        "line 43: serial: found 'P-1101'; allowed: each serial once in a bank. It stands first at bank.csv: line 2"
        in (done.stderr)
    )
    assert "40 serials" not in done.stdout
    assert "42 serials" in done.stdout
    assert "2 refused" in done.stdout
    assert "Traceback" not in done.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["records", "summary"]
    page = (tmp_path / "summary" / "summary.html").read_text()
    assert "bank.csv: line 42: wheelbase: found 9999 mm" in page
    assert str(bank.parent) not in page


def test_what_is_complete_and_unchanged_is_not_done_again(bank: Path, alone: Path, tmp_path: Path) -> None:
    shutil.copytree(alone, tmp_path / "out")
    out = tmp_path / "out"
    before, all_bytes = whole_serials(out), tree(out)
    (out / "P-1102" / "P-1102-LH-rail.dxf").unlink()
    (out / "P-1103" / "P-1103-holes.csv").write_text("somebody's own")
    shutil.rmtree(out / "P-1104")
    (out / "P-1105" / "notes.txt").write_text("somebody's own")
    touched = {"P-1102", "P-1103", "P-1104", "P-1105"}
    done = run(bank, out, "--workers", "2", "--write", ALL_BUT_PAPERS, "--json")
    assert json.loads(done.stdout)["unchanged"] == 40 - len(touched)
    assert tree(out) == all_bytes
    after = whole_serials(out)
    assert {serial for serial in after if after[serial] != before[serial]} == touched


def test_a_changed_order_alone_is_done_again_and_a_changed_library_does_all(tmp_path: Path) -> None:
    library = tmp_path / "library"
    shutil.copytree(SMALL, library)
    rows = ["X-1,AAA01,5000", "X-2,AAA01,5000", "X-3,AAA01,5000"]
    bank, out = small_bank(tmp_path / "bank.csv", *rows), tmp_path / "out"

    def unchanged(*more: str) -> int:
        done = run(bank, out, "--workers", "1", "--write", "none", "--json", *more, library=library)
        return int(json.loads(done.stdout)["unchanged"])

    assert unchanged() == 0
    assert unchanged() == 3
    small_bank(bank, rows[1], "X-4,AAA01,5000", rows[0], "X-3,AAA01,5050")  # two moved, one new, one changed
    assert unchanged() == 2
    assert unchanged("--limits", "en-1993-1-8") == 0
    assert unchanged() == 0
    with (library / "library.toml").open("a") as stream:
        stream.write("# another library\n")
    assert unchanged() == 0
    assert unchanged() == 4


def test_a_serial_with_errors_leaves_no_cut_file_not_even_an_old_one(tmp_path: Path) -> None:
    bank, out = tmp_path / "bank.csv", tmp_path / "out"
    order = "serial,family,build_date,options,parameters.AAA03.length\nX-7,tractor,2027-01-05,AAA01 AAA0{},{}\n"
    bank.write_text(order.format("2", ""))
    assert run(bank, out, "--workers", "1", "--write", "cut", library=SMALL).returncode == 0
    assert (out / "X-7" / "X-7-LH-rail.dxf").exists()
    bank.write_text(order.format("3", "1100"))
    done = run(bank, out, "--workers", "1", "--write", "cut", library=SMALL)
    assert done.returncode == 1, done.stdout + done.stderr
    assert sorted(path.name for path in (out / "X-7").iterdir()) == ["manifest.json"]
    blanks = pq.read_table(out / "summary" / "blanks.parquet")
    assert blanks.num_rows == 0  # what is not cut needs no steel


def test_the_summary_agrees_with_the_files(alone: Path) -> None:
    tools, fasteners, findings = Counter[str](), Counter[str](), Counter[tuple[str, str, str]]()
    for path in alone.glob("*/*-holes.csv"):
        for row in csv.DictReader(path.read_text().splitlines()):
            tools[row["tool"]] += bool(row["tool"])
            fasteners[row["fastener"]] += bool(row["fastener"]) and row["part"] == "rail"
    for path in alone.glob("*/*-findings.json"):
        findings.update((f["rule"], f["measure"], f["severity"]) for f in json.loads(path.read_text()))

    def table(name: str) -> list[dict[str, object]]:
        rows: list[dict[str, object]] = pq.read_table(alone / "summary" / f"{name}.parquet").to_pylist()
        return rows

    assert {row["tool"]: row["features"] for row in table("tools")} == +tools
    assert {row["fastener"]: row["fasteners"] for row in table("fasteners")} == +fasteners
    assert {(r["rule"], r["measure"], r["severity"]): r["findings"] for r in table("findings")} == findings
    serials = table("serials")
    assert [row["serial"] for row in serials[:40]] == _sample_serials(40)
    assert [row["outcome"] for row in serials[40:]] == ["refused", "refused"]
    assert sum(row["hits"] for row in serials[:40]) == sum(row["hits"] for row in table("tools"))
    assert sum(row["blanks"] for row in table("blanks")) == sum(row["blanks"] for row in serials[:40])
    mass = sum(row["mass_kg"] for row in table("steel"))
    assert mass == pytest.approx(sum(row["mass_kg"] for row in serials[:40]), abs=0.05)


def _sample_serials(count: int) -> list[str]:
    lines = (DEMO.parent / "samples" / "bank-200.csv").read_text().splitlines()
    return [line.split(",")[0] for line in lines[1 : count + 1]]


BAD = {
    "wrong column": (lambda folder: (folder / "bank.csv").write_text("serial,famly\nX-1,tractor\n"), "column 'famly'"),
    "cut off": (lambda folder: (folder / "bank.parquet").write_bytes(b"PAR1 and no more"), "a whole Parquet file"),
    "no such file": (lambda folder: None, "bank.csv"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_file_that_cannot_be_used_does_not_stop_another(name: str, tmp_path: Path) -> None:
    spoil, expected = BAD[name]
    spoil(tmp_path)
    bad = tmp_path / ("bank.parquet" if name == "cut off" else "bank.csv")
    good = small_bank(tmp_path / "good.csv", "X-1,AAA01,5000")
    done = run(bad, tmp_path / "out", str(good), "--workers", "1", "--write", "holes", library=SMALL)
    assert done.returncode == 2
    assert expected in done.stderr
    assert "Traceback" not in done.stderr
    assert (tmp_path / "out" / "X-1" / "X-1-holes.csv").exists()


def test_an_output_folder_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    bank = small_bank(tmp_path / "bank.csv", "X-1,AAA01,5000")
    (tmp_path / "file").write_text("in the way")
    for output in (tmp_path / "file" / "out", Path("/proc/railgen")):
        done = run(bank, output, library=SMALL)
        assert done.returncode == 2
        assert str(output) in done.stderr
        assert "an output folder that can be written" in done.stderr
        assert "Traceback" not in done.stderr


def test_one_serial_that_cannot_be_written_does_not_stop_the_others(tmp_path: Path) -> None:
    bank = small_bank(tmp_path / "bank.csv", "X-1,AAA01,5000", "X-2,AAA01,5000")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / "X-1").write_text("a file where a folder should be")
    done = run(bank, tmp_path / "out", "--workers", "2", "--write", "holes", library=SMALL)
    assert done.returncode == 2
    assert "X-1: found a file or a link" in done.stderr
    assert (tmp_path / "out" / "X-2" / "X-2-holes.csv").exists()


def test_an_unknown_kind_or_limit_set_is_put_right(tmp_path: Path) -> None:
    bank = small_bank(tmp_path / "bank.csv", "X-1,AAA01,5000")
    kind = run(bank, tmp_path / "out", "--write", "holes,cuts", library=SMALL)
    assert (kind.returncode, "Did you mean 'cut'?" in kind.stderr) == (2, True)
    both = run(bank, tmp_path / "out", "--write", "none,cut", library=SMALL)
    assert (both.returncode, "'none' is not" in both.stderr) == (2, True)
    limits = run(bank, tmp_path / "out", "--limits", "hause", library=SMALL)
    assert (limits.returncode, "Did you mean 'house'?" in limits.stderr) == (2, True)
    assert not (tmp_path / "out").exists()


def test_hole_tables_and_findings_are_written_where_nothing_is_said(tmp_path: Path) -> None:
    bank = small_bank(tmp_path / "bank.csv", "X-1,AAA01,5000")
    assert run(bank, tmp_path / "out", "--workers", "1", library=SMALL).returncode == 0
    names = sorted(path.name for path in (tmp_path / "out" / "X-1").iterdir())
    assert names == ["X-1-findings.json", "X-1-holes.csv", "manifest.json"]


def test_every_kind_of_file_can_be_asked_for() -> None:
    assert _KINDS == KINDS


def test_ctrl_c_leaves_whole_serials_and_the_next_run_goes_on(tmp_path: Path) -> None:
    bank, out = sample_bank(tmp_path / "bank.csv", 120), tmp_path / "out"
    line = command(bank, out, "--workers", "2", "--write", "holes")
    with subprocess.Popen(
        line, env=environment(), stderr=subprocess.PIPE, text=True, start_new_session=True
    ) as running:
        while not list(out.glob("P-*/manifest.json")):
            time.sleep(0.02)
        os.killpg(running.pid, signal.SIGINT)  # as a terminal does: to every process of the command
        _, text = running.communicate(timeout=30)
    assert running.returncode == 130, text
    assert "Interrupted" in text
    assert "Traceback" not in text
    before = whole_serials(out)
    assert 0 < len(before) < 120
    assert not list(out.glob(".*"))
    assert json.loads(run(bank, out, "--write", "holes", "--json").stdout)["unchanged"] >= len(before)
    after = whole_serials(out)
    assert len(after) == 120
    assert {serial: after[serial] for serial in before} == before


def test_progress_is_shown_on_a_terminal_only(tmp_path: Path) -> None:
    bank = sample_bank(tmp_path / "bank.csv", 24)
    parent, child = pty.openpty()
    line = command(bank, tmp_path / "out", "--workers", "1")
    with subprocess.Popen(
        line, env=environment() | {"TERM": "xterm"}, stdout=subprocess.DEVNULL, stderr=child
    ) as running:
        os.close(child)
        text = b""
        while True:
            try:
                piece = os.read(parent, 4096)
            except OSError:
                break
            if not piece:
                break
            text += piece
        running.wait()
    os.close(parent)
    assert b"serials" in text
    assert b"/24" in text
    assert b"/s" in text
    assert b"left" in text
    assert run(bank, tmp_path / "out", "--workers", "1").stderr == ""


class Poison(OrderInput):
    """An order that ends the process that reads it."""

    def read(self) -> OrderInput:
        os._exit(9)


class Broken(OrderInput):
    """An order that railgen trips over."""

    def read(self) -> OrderInput:
        raise ZeroDivisionError("no such case was thought of")


def test_a_lost_worker_and_a_fault_cost_their_own_order_alone(tmp_path: Path) -> None:
    job = BankJob(load_library(SMALL), tmp_path, Choices(kinds=()), None, "bank.csv")
    good = [OrderInput(f"line {number}", "", "", None, None) for number in range(6)]
    chunks = [
        [good[0]],
        [good[1], Poison("line 7", "", "", None, None), good[2]],
        [Broken("line 8", "", "", None, None)],
    ]
    crew = Processes(job, 2)
    done = [one for chunk in in_bank_order(crew, [*chunks, good[3:]]) for one in chunk]
    crew.stop()
    assert [one.place for one in done] == [
        *("line 0", "line 1", "line 7", "line 2", "line 8"),
        *("line 3", "line 4", "line 5"),
    ]
    assert "worker process ended" in str(done[2].problems[0])
    assert "a fault in railgen: ZeroDivisionError: no such case" in str(done[4].problems[0])


def test_no_more_chunks_are_held_than_are_under_way() -> None:
    under_way, most = [0], [0]

    class Counting:
        ahead = 3

        def begin(self, chunk: object) -> int:
            under_way[0] += 1
            most[0] = max(most[0], under_way[0])
            return int(str(chunk))

        def finish(self, begun: int) -> list[Done]:
            under_way[0] -= 1
            return [Done(str(begun), "", None)]

        def stop(self) -> None: ...

    results = in_bank_order(Counting(), iter(range(100)))  # type: ignore[arg-type]
    assert [done[0].place for done in results] == [str(number) for number in range(100)]
    assert most[0] <= 3
