"""Why floats cannot all stand: a smallest set of components that leaves them no stations.

A set conflicts where even alone it has no solution. The smallest one is a smallest set that meets every correction set,
each what is left out of some greatest set that does have a solution: such sets are gathered until the smallest that
meets all of them conflicts itself. Reiter, Artificial Intelligence 32, 1987; Ignatiev et al., CP 2015. Where that takes
too many steps, one is told that has no smaller one inside it: everything is left out in turn and stays out where the
rest conflicts without it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

Feasible = Callable[[frozenset[str]], bool | None]
"""Whether some components can stand together: None where a search ended before it was known."""
MOST_ROUNDS = 60
"""Correction sets gathered before the smallest set is given up."""


@dataclass(frozen=True)
class Conflict:
    """Components that cannot stand together, sorted; is_smallest: proved that no fewer ones conflict."""

    components: tuple[str, ...]
    is_smallest: bool


def conflict_of(members: Sequence[str], feasible: Feasible, most_rounds: int = MOST_ROUNDS) -> Conflict | None:
    """A conflict among some components, None where they are not known to conflict."""
    asked: dict[frozenset[str], bool | None] = {}

    def can_stand(some: frozenset[str]) -> bool | None:
        if some not in asked:
            asked[some] = feasible(some)
        return asked[some]

    if can_stand(frozenset(members)) is not False:
        return None
    smallest = _smallest(members, can_stand, most_rounds)
    if smallest is not None:
        return Conflict(tuple(sorted(smallest)), None not in asked.values())
    kept = list(members)
    for name in members:
        without = frozenset(kept) - {name}
        if can_stand(without) is False:
            kept.remove(name)
    return Conflict(tuple(sorted(kept)), False)


def _smallest(members: Sequence[str], can_stand: Feasible, most_rounds: int) -> frozenset[str] | None:
    corrections: list[frozenset[str]] = []
    for _ in range(most_rounds):
        meeting = smallest_meeting(corrections, members)
        if can_stand(meeting) is False:
            return meeting
        corrections.append(_correction(meeting, members, can_stand))
    return None


def _correction(some: frozenset[str], members: Sequence[str], can_stand: Feasible) -> frozenset[str]:
    """What is left out of a greatest set that can stand and holds some components; halves are tried whole first."""
    kept, left_out = some, list[str]()
    waiting = [[name for name in members if name not in some]]
    while waiting:
        part = waiting.pop()
        if can_stand(kept | frozenset(part)) is not False:
            kept |= frozenset(part)
        elif len(part) == 1:
            left_out += part
        else:
            half = len(part) // 2
            waiting += [part[half:], part[:half]]
    return frozenset(left_out)


def smallest_meeting(sets: Sequence[frozenset[str]], members: Sequence[str]) -> frozenset[str]:
    """A smallest set of members that has one of every set; of several the first by the members' order."""
    order = {name: place for place, name in enumerate(members)}
    for size in range(len(members) + 1):
        found = _meeting(sets, size, order)
        if found is not None:
            return found
    raise ValueError("a set without members cannot be met")


def _meeting(sets: Sequence[frozenset[str]], size: int, order: dict[str, int]) -> frozenset[str] | None:
    if not sets:
        return frozenset()
    if size == 0:
        return None
    fewest = min(sets, key=len)
    for name in sorted(fewest, key=order.__getitem__):
        found = _meeting([s for s in sets if name not in s], size - 1, order)
        if found is not None:
            return found | {name}
    return None
