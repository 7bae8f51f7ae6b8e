"""A bank on an existing Dask cluster: its scheduler spreads the chunks, and its workers write where they are told."""

from __future__ import annotations

import secrets
import socket
import threading
from pathlib import Path
from typing import Any

import railgen
from railgen.bank.crews import Chunk, lost
from railgen.bank.job import BankJob, Done, do_chunk
from railgen.data.extras import need
from railgen.data.messages import InputError, Problem
from railgen.layout.catalogue import Catalogue, compile_catalogue

_AHEAD = 3  # chunks a worker thread
_SECONDS_TO_CONNECT = 10


class Cluster:
    """The workers of a Dask cluster."""

    def __init__(self, job: BankJob, address: str) -> None:
        """Connect, and give every worker what it needs to know.

        Raises InputError where no scheduler answers, there is no worker, or a worker cannot do its part.
        """
        self._client = _connect(address)
        try:
            _check_workers(self._client, job.output, address)
            # Scattered once to all; chunks then carry a few bytes that stand for it.
            self._job = self._client.scatter(job, broadcast=True, hash=False)
        except BaseException:
            self._client.close()
            raise
        self.ahead = max(2, _AHEAD * sum(self._client.nthreads().values()))

    def begin(self, chunk: Chunk) -> tuple[Chunk, Any]:
        return chunk, self._client.submit(_do, chunk, self._job, pure=False)

    def finish(self, begun: tuple[Chunk, Any]) -> list[Done]:
        from distributed import KilledWorker

        chunk, future = begun
        try:
            done: list[Done] = future.result()
        except KilledWorker:
            return lost(chunk, "several workers of the cluster ended at this chunk of orders")
        except OSError as error:
            return lost(chunk, f"the cluster lost: {str(error)[:120]}")
        return done

    def stop(self) -> None:
        """Leave the cluster; it goes on running, and drops what it has not begun."""
        self._client.close()


def _connect(address: str) -> Any:
    """A client of the scheduler."""
    place = "--scheduler"
    need("distributed", "cluster", place)
    from distributed import Client as UntypedClient

    try:
        _ask_for_answer(address)
        client: Any = UntypedClient
        return client(address, timeout=_SECONDS_TO_CONNECT, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        found = f"no scheduler that answers ({type(error).__name__})"
        hint = "Check the address and that the scheduler runs, or leave --scheduler out."
        raise InputError(
            [Problem(place, address, found, "the address of a Dask scheduler, tcp://host:port", hint)]
        ) from None


def _ask_for_answer(address: str) -> None:
    """Raise OSError or ValueError at once where nobody listens, instead of after the client's many tries."""
    from distributed.comm.addressing import get_address_host_port, parse_address

    scheme, _ = parse_address(address)
    if scheme in ("tcp", "tls"):
        host, port = get_address_host_port(address, strict=True)
        socket.create_connection((host, port), timeout=_SECONDS_TO_CONNECT).close()


def _check_workers(client: Any, output: Path, address: str) -> None:
    """Every worker runs this program and sees the output folder."""
    token = output / f".cluster-{secrets.token_hex(8)}"
    token.touch()
    try:
        seen: dict[str, Any] = client.run(_look, token, on_error="return")
    finally:
        token.unlink()
    if not seen:
        hint = "Start workers: dask worker ADDRESS."
        raise InputError([Problem("--scheduler", address, "a cluster without workers", "one worker at least", hint)])
    problems = []
    for worker, answer in sorted(seen.items()):
        if answer == (railgen.__version__, True):
            continue
        if isinstance(answer, tuple):
            found = (
                f"railgen {answer[0]}" if answer[0] != railgen.__version__ else f"no folder {output} that it can see"
            )
        else:
            found = f"{type(answer).__name__}: {str(answer)[:120]}"
        allowed = f"railgen {railgen.__version__}, and the output folder at the same path"
        problems.append(Problem(f"worker {worker}", "", found, allowed))
    if problems:
        raise InputError(problems)


def _look(token: Path) -> tuple[str, bool]:
    return railgen.__version__, token.exists()


_catalogues: dict[str, Catalogue] = {}
_one_at_a_time = threading.Lock()


def _do(chunk: Chunk, job: BankJob) -> list[Done]:
    """A chunk on a worker; threads of one process take turns, since drawing libraries are not made for several."""
    with _one_at_a_time:
        digest = job.library.digest
        if digest not in _catalogues:
            _catalogues.clear()
            _catalogues[digest] = compile_catalogue(job.library)
        return do_chunk(chunk, job, _catalogues[digest])
