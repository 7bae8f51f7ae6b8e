"""The proof's work shared among processes where the system can fork: each takes every n-th component."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from itertools import chain
from multiprocessing import get_all_start_methods, get_context
from typing import Any, TypeVar

from railgen.placing.catalogue_proof import ComponentClash, Proof
from railgen.placing.component_pairs import Standing
from railgen.placing.line_bounds import LineBound, Lines

_FEW = 150
"""Components up to which sharing the work costs more than it gains."""
_Share = tuple[int, int]
"""Number and count: every count-th component, the number-th first."""
_T = TypeVar("_T")
_forked: list[Callable[[_Share], Any]] = []
"""What forked processes find to be done, and none has to be sent."""


def work_out(proof: Proof, some: set[str], workers: int = 1) -> tuple[list[ComponentClash], list[LineBound]]:
    """Clashes of some components with all others and by themselves, and bounds for their lines, in their order.

    workers: how many processes may share the work; what is found does not depend on it.
    """
    if workers > 1:
        proof.prepare()
    clashes = _shared(lambda share: _clashes(proof, some, share), proof, workers)
    place = proof.number | {"": len(proof.standing)}
    clashes.sort(key=lambda met: (place[met.first.id], place[met.second.id if met.second else ""], met.side))
    lines = Lines(proof, clashes)
    bounds = _shared(lambda share: lines.bounds(_standing(proof, some, share)), proof, workers)
    bounds.sort(key=lambda line: place[line.component])
    return clashes, bounds


def _clashes(proof: Proof, some: set[str], share: _Share) -> list[ComponentClash]:
    return [*proof.clashes_of(some, share), *proof.clashes_alone(some, share)]


def _standing(proof: Proof, some: set[str], share: _Share) -> list[Standing]:
    number, count = share
    return [one for one in proof.standing[number::count] if one.component.id in some]


def _shared(work: Callable[[_Share], list[_T]], proof: Proof, workers: int) -> list[_T]:
    """What all shares of some work find."""
    if workers < 2 or len(proof.standing) <= _FEW or "fork" not in get_all_start_methods():
        return work((0, 1))
    _forked.append(work)
    try:
        with ProcessPoolExecutor(workers, mp_context=get_context("fork")) as pool:
            begun = [pool.submit(_share_of_forked, (number, workers)) for number in range(workers)]
            return list(chain.from_iterable(share.result() for share in begun))
    finally:
        _forked.pop()


def _share_of_forked(share: _Share) -> Any:
    return _forked[-1](share)
