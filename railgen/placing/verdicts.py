"""Two options of a family: whether they clash never, always, or for which orders."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal, get_args

import numpy as np

from railgen.data.limit_sets import MEASURES
from railgen.placing.catalogue_proof import DRIVES, ComponentClash, Proof
from railgen.placing.crowding import Crowding, Room, rooms_of, settled
from railgen.placing.regions import Region, spread_over
from railgen.placing.shared_work import work_out

Verdict = Literal["never", "settles", "only for", "always", "not together"]
VERDICTS: tuple[Verdict, ...] = get_args(Verdict)
"""never: no order; settles: a floating component has room, unless others crowd it; only for: some orders; always: every
order; not together: no order has both."""
_WHOLLY = frozenset(
    {"off-rail", "edge-distance", "bend-clearance", "hole-size", "hole-spacing", "duplicate-hole", "size-conflict"}
    | {"washer-seat", "wrench-access", "weld-clearance", "footprint-clash", "space-clash"}
)
DECIDED = frozenset(
    {(rule, measure) for rule in _WHOLLY for measure in MEASURES[rule]}
    | {("flange-hole", "zone"), ("flange-hole", "size")}
)
"""Rules and measures that pairs of components, and components by themselves, decide."""
_MOST_CELLS = 20_000_000


@dataclass(frozen=True, eq=False)
class OptionClash:
    """Two options with their verdict and the clashes of their components; one option twice: its own by themselves."""

    first: str
    second: str
    verdict: Verdict
    clashes: tuple[ComponentClash, ...]


def verdict_of(clashes: Sequence[ComponentClash], rooms: Mapping[str, Room]) -> Verdict:
    """The verdict of all clashes between two options together; rooms: of the floating components."""
    forced = [clash for clash in clashes if clash.found.forced.any]
    if not forced:
        return "never" if all(settled(rooms, clash) for clash in clashes) else "settles"
    if any(clash.found.forced.all and len(clash.drives) == len(DRIVES) for clash in forced):
        return "always"
    return "always" if len(forced) > 1 and _all_together([(c.found.forced, c.drives) for c in forced]) else "only for"


def _all_together(regions: Sequence[tuple[Region, Sequence[str]]]) -> bool:
    """Whether some regions hold every order between them; False where a dimension has no step."""
    dimensions = regions[0][0].axes.dimensions
    names = list(dict.fromkeys(name for found, _ in regions for name in found.axes.names))
    grids = [dimensions.each[dimensions.names.index(name)].values for name in names]
    if any(grid is None for grid in grids):
        return False
    shape = [len(grid) for grid in grids if grid is not None]
    if np.prod(shape) > _MOST_CELLS:
        return False
    for drive in DRIVES:
        covered = np.zeros(shape, dtype=np.bool_)
        for found, drives in regions:
            if drive in drives:
                covered |= spread_over(found, names)
        if not covered.all():
            return False
    return True


@dataclass(frozen=True, eq=False)
class Matrix:
    """All options of a family, pair by pair; cells by two codes in the order of ``options``, one with itself too."""

    proof: Proof
    options: tuple[str, ...]
    cells: Mapping[tuple[str, str], OptionClash]
    crowding: Crowding


def matrix_of(proof: Proof, only: str | None = None, workers: int = 1) -> Matrix:
    """The catalogue pair by pair; only: the pairs of one option; workers: processes that may share the work."""
    together = proof.together
    every = {one.component.id for one in proof.standing}
    some = every if only is None else {component.id for component in together.brought[only]}
    found, lines = work_out(proof, some, workers)
    met = some | {part.id for clash in found for part in (clash.first, clash.second) if part is not None}
    floats = [one for one in proof.standing if one.component.floating and one.component.id in met]
    others = [] if met == some else [*_others_of(proof, met - some, some)]
    crowding = Crowding(tuple(rooms_of(floats, [*found, *others]).values()), tuple(lines))
    rooms = {room.component: room for room in crowding.rooms}
    by_pair: dict[tuple[str, str], list[ComponentClash]] = {}
    for clash in found:
        for pair in _pairs_of(proof, clash):
            by_pair.setdefault(pair, []).append(clash)
    options = tuple(sorted(together.sold))
    cells = {}
    for first, second in (*((code, code) for code in options), *combinations(options, 2)):
        if only is not None and only not in (first, second):
            continue
        clashes = tuple(by_pair.get((first, second), ()))
        if first != second and not together.may_meet(first, second):
            cells[first, second] = OptionClash(first, second, "not together", ())
        else:
            cells[first, second] = OptionClash(first, second, verdict_of(clashes, rooms), clashes)
    return Matrix(proof, options, cells, crowding)


def _others_of(proof: Proof, met: set[str], some: set[str]) -> Iterator[ComponentClash]:
    """What else may crowd the floats that some components meet."""
    floats = {one.component.id for one in proof.standing if one.component.floating and one.component.id in met}
    for clash in (*proof.clashes_of(floats), *proof.clashes_alone(floats)):
        if clash.first.id not in some and (clash.second is None or clash.second.id not in some):
            yield clash


def _pairs_of(proof: Proof, clash: ComponentClash) -> Iterable[tuple[str, str]]:
    """The pairs of options that bring the two components one each; the option that brings both has them to itself."""
    first = proof.options_of[clash.first.id]
    if clash.second is None:
        return [(code, code) for code in first]
    second = proof.options_of[clash.second.id]
    shared = set(first) & set(second)
    found = {(code, code) for code in shared}
    for a in first:
        for b in second:
            if a in shared or b in shared or not proof.together.may_meet(a, b):
                continue
            if proof.together.may_stand((a, b), (clash.first, clash.second)):
                found.add((min(a, b), max(a, b)))
    return sorted(found)
