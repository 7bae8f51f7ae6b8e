"""A bank on an existing Dask cluster: its scheduler spreads the chunks, and its workers write where they are told."""

from __future__ import annotations

import asyncio
import logging
import secrets
import socket
import threading
from concurrent.futures import CancelledError
from pathlib import Path
from typing import Any

import railgen
from railgen.bank.crews import CHUNK, Chunk, lost
from railgen.bank.job import BankJob, Done, do_chunk
from railgen.data.extras import need
from railgen.data.messages import InputError, Problem
from railgen.layout.catalogue import Catalogue, compile_catalogue

_AHEAD = 3  # chunks a worker thread
_THREADS_A_CHUNK, _LARGEST_CHUNK = 8, 8
_SECONDS_TO_CONNECT = 10


class Cluster:
    """The workers of a Dask cluster."""

    def __init__(self, job: BankJob, address: str) -> None:
        """Connect, and give every worker what it needs to know.

        Raises InputError where no scheduler answers, there is no worker, or a worker cannot do its part.
        """
        self._address, self._client = address, _connect(address)
        try:
            _check_workers(self._client, job.output, address)
            # A task that workers pass on: chunks carry a few bytes that stand for it, and it outlives any worker.
            self._job = self._client.submit(_given, job, pure=False)
        except BaseException:
            self._client.close()
            raise
        threads = sum(self._client.nthreads().values())
        self.ahead = max(2, _AHEAD * threads)
        # One scheduler hands out for all: the more it has to serve, the fewer and larger the chunks.
        self.chunk = CHUNK * min(max(threads // _THREADS_A_CHUNK, 1), _LARGEST_CHUNK)

    def begin(self, chunk: Chunk) -> tuple[Chunk, Any]:
        return chunk, self._client.submit(_do, chunk, self._job, pure=False)

    def finish(self, begun: tuple[Chunk, Any]) -> list[Done]:
        from distributed import KilledWorker

        chunk, future = begun
        try:
            return self._result(future)
        except KilledWorker:
            return lost(chunk, "several workers of the cluster ended at this chunk of orders")
        except OSError as error:
            return lost(chunk, f"the cluster lost: {str(error)[:120]}")
        except (CancelledError, asyncio.CancelledError):
            if self._client.status == "running":
                return lost(chunk, "the cluster gave up this chunk of orders")
            raise self._ended("no answer any more", "a scheduler that stays until the bank is done") from None

    def _result(self, future: Any) -> list[Done]:
        """A chunk's result, waited for as long as there is a worker."""
        while True:
            try:
                done: list[Done] = future.result(timeout=_SECONDS_TO_CONNECT)
                return done
            except TimeoutError:
                if not self._client.nthreads():
                    raise self._ended("no worker any more", "one worker at least") from None

    def _ended(self, found: str, allowed: str) -> InputError:
        hint = "What is complete stays: run the same command again, or without --scheduler, to go on from here."
        return InputError([Problem("--scheduler", self._address, found, allowed, hint)])

    def stop(self) -> None:
        """Leave the cluster; it goes on running, and drops what it has not begun."""
        self._client.close()


def _connect(address: str) -> Any:
    """A client of the scheduler."""
    place = "--scheduler"
    need("distributed", "cluster", place)
    from distributed import Client as UntypedClient

    for logger in ("distributed", "distributed.client", "distributed.core"):
        logging.getLogger(logger).setLevel(logging.CRITICAL)  # what goes wrong is said here, once, in plain words

    try:
        _ask_for_answer(address)
        asyncio.run(asyncio.wait_for(_ask_for_scheduler(address), _SECONDS_TO_CONNECT))
        client: Any = UntypedClient
        return client(address, timeout=_SECONDS_TO_CONNECT, set_as_default=False)
    except Exception as error:  # what a stranger on that port says can fail in any way on being read
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


async def _ask_for_scheduler(address: str) -> None:
    """Raise OSError or ValueError where something else listens, for which a client would wait for long."""
    from distributed.comm.core import connect as untyped_connect
    from distributed.security import Security as UntypedSecurity

    connect: Any = untyped_connect
    security: Any = UntypedSecurity
    comm = await connect(address, timeout=_SECONDS_TO_CONNECT, **security().get_connection_args("scheduler"))
    try:
        await comm.write({"op": "identity", "reply": True})
        answer = await comm.read()
    finally:
        comm.abort()
    if not isinstance(answer, dict) or answer.get("type") != "Scheduler":
        raise ValueError("no scheduler")


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


def _given(job: BankJob) -> BankJob:
    return job


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
