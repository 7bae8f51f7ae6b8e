"""Who does the work: this process, a pool of processes, or an existing Dask cluster; results come in bank order."""

from __future__ import annotations

import gc
import os
import signal
import threading
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from multiprocessing import get_all_start_methods, get_context, parent_process
from multiprocessing.connection import wait
from multiprocessing.context import BaseContext
from typing import Any, Protocol

from railgen.bank.job import BankJob, Done, Unread, do_chunk
from railgen.data.messages import Problem
from railgen.layout.catalogue import Catalogue, compile_catalogue

CHUNK = 16
"""Orders handed out at once: some tenths of a second of work, so that handing out costs next to nothing."""
_AHEAD = 3  # chunks a worker that may be handed out before the first result is in
Chunk = Sequence[Unread]


class Crew(Protocol):
    """Does chunks of a bank. ``chunk``: orders in one; ``ahead``: how many may be under way at once."""

    chunk: int
    ahead: int

    def begin(self, chunk: Chunk) -> Any:
        """Hand out a chunk; what is given back stands for its result."""

    def finish(self, begun: Any) -> list[Done]:
        """Wait for a chunk that was handed out."""

    def stop(self) -> None:
        """Take back what is not begun, and wait for what is: no serial is left half done."""


def in_bank_order(crew: Crew, chunks: Iterable[Chunk]) -> Iterator[list[Done]]:
    """The results of chunks in their order; never more than ``crew.ahead`` of them are held."""
    waiting: deque[Any] = deque()
    for chunk in chunks:
        waiting.append(crew.begin(chunk))
        while len(waiting) >= crew.ahead:
            yield crew.finish(waiting.popleft())
    while waiting:
        yield crew.finish(waiting.popleft())


def lost(chunk: Chunk, found: str) -> list[Done]:
    """Results for a chunk whose worker was lost with it."""
    hint = "Run the same command once more: what is complete is not done again."
    return [
        Done(unread.place, unread.serial, None, (Problem(unread.place, "", found, "a worker that lives", hint),))
        for unread in chunk
    ]


class ThisProcess:
    """Does each chunk at once, in this process."""

    chunk, ahead = CHUNK, 1

    def __init__(self, job: BankJob, catalogue: Catalogue) -> None:
        self._job, self._catalogue = job, catalogue

    def begin(self, chunk: Chunk) -> list[Done]:
        return do_chunk(chunk, self._job, self._catalogue)

    def finish(self, begun: list[Done]) -> list[Done]:
        return begun

    def stop(self) -> None:
        """Nothing is under way."""


@dataclass(frozen=True)
class _Begun:
    """A chunk handed out to a pool; no future where the pool was broken already."""

    chunk: Chunk
    pool: ProcessPoolExecutor
    future: Future[list[Done]] | None


def _context() -> BaseContext:
    """How worker processes begin: never forked from this process, which has threads."""
    method = "forkserver" if "forkserver" in get_all_start_methods() else "spawn"
    context = get_context(method)
    if method == "forkserver":
        context.set_forkserver_preload([__name__])
    return context


def make_ready() -> None:
    """Begin to load what worker processes need while this process still reads the library."""
    if _context().get_start_method() == "forkserver":
        from multiprocessing.forkserver import ensure_running

        ensure_running()


class Processes:
    """A pool of worker processes; a chunk that kills its worker is tried once more alone, then given up."""

    chunk = CHUNK

    def __init__(self, job: BankJob, workers: int) -> None:
        self._job, self._workers = job, workers
        self.ahead = _AHEAD * workers
        self._pool = self._new_pool(workers)

    def begin(self, chunk: Chunk) -> _Begun:
        try:
            return _Begun(chunk, self._pool, self._pool.submit(_do, chunk))
        except BrokenProcessPool:
            return _Begun(chunk, self._pool, None)

    def finish(self, begun: _Begun) -> list[Done]:
        try:
            if begun.future is not None:
                return begun.future.result()
        except BrokenProcessPool:
            pass
        if begun.pool is self._pool:
            self._pool.shutdown(wait=False)
            self._pool = self._new_pool(self._workers)
        return [done for unread in begun.chunk for done in self._alone(unread)]

    def _alone(self, unread: Unread) -> list[Done]:
        """An order of a chunk that was lost with its worker, in a process of its own."""
        with self._new_pool(1) as pool:
            try:
                return pool.submit(_do, [unread]).result()
            except BrokenProcessPool:
                return lost([unread], "the worker process ended at this order, perhaps for want of memory")

    def _new_pool(self, workers: int) -> ProcessPoolExecutor:
        return ProcessPoolExecutor(workers, _context(), _begin_work, (self._job,))

    def stop(self) -> None:
        self._pool.shutdown(wait=True, cancel_futures=True)


_at_hand: tuple[BankJob, Catalogue] | None = None


def _begin_work(job: BankJob) -> None:
    """Make a worker process ready: it leaves Ctrl-C to its parent, and never outlives it."""
    global _at_hand
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _at_hand = job, compile_catalogue(job.library)
    gc.freeze()  # the library stays: no use in looking through it for garbage


def _end_with_parent() -> None:
    parent = parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)


def _do(chunk: Chunk) -> list[Done]:
    if _at_hand is None:
        raise RuntimeError("this process was not made ready")
    return do_chunk(chunk, *_at_hand)
