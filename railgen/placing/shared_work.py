"""The proof's work shared among processes where the system can fork: each takes every n-th component."""

from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor
from itertools import chain
from multiprocessing import get_all_start_methods, get_context

from railgen.placing.catalogue_proof import ComponentClash, Proof
from railgen.placing.crowding import LineBound, line_bounds

_FEW = 150
"""Components up to which sharing the work costs more than it gains."""
_forked: list[Proof] = []
"""The proof that forked processes find, which none has to be sent."""
Share = tuple[list[ComponentClash], list[LineBound]]


def work_out(proof: Proof, some: set[str], workers: int = 1) -> Share:
    """Clashes of some components with all others and by themselves, and bounds for their lines, in their order.

    workers: how many processes may share the work; what is found does not depend on it.
    """
    alone = workers < 2 or len(proof.standing) <= _FEW or "fork" not in get_all_start_methods()
    shares = [_share(proof, some, (0, 1))] if alone else _from_processes(proof, some, workers)
    clashes, lines = (list(chain.from_iterable(parts)) for parts in zip(*shares, strict=True))
    place = proof.number | {"": len(proof.standing)}
    clashes.sort(key=lambda met: (place[met.first.id], place[met.second.id if met.second else ""], met.side))
    lines.sort(key=lambda line: place[line.component])
    return clashes, lines


def _share(proof: Proof, some: set[str], share: tuple[int, int]) -> Share:
    number, count = share
    clashes = [*proof.clashes_of(some, share), *proof.clashes_alone(some, share)]
    lines = [one for one in proof.standing[number::count] if one.component.id in some]
    return clashes, line_bounds(proof, lines)


def _from_processes(proof: Proof, some: set[str], workers: int) -> list[Share]:
    proof.prepare()
    _forked.append(proof)
    try:
        with ProcessPoolExecutor(workers, mp_context=get_context("fork")) as pool:
            begun = [pool.submit(_share_of_forked, some, (number, workers)) for number in range(workers)]
            return [share.result() for share in begun]
    finally:
        _forked.pop()


def _share_of_forked(some: set[str], share: tuple[int, int]) -> Share:
    return _share(_forked[-1], some, share)
