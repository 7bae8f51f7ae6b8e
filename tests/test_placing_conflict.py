"""Smallest conflicts against every subset."""

from __future__ import annotations

import random
from itertools import combinations

import pytest

from railgen.placing.conflict import conflict_of, smallest_meeting

MEMBERS = [f"c{k}" for k in range(9)]


def random_conflicts(rng: random.Random) -> list[frozenset[str]]:
    return [frozenset(rng.sample(MEMBERS, rng.randint(1, 5))) for _ in range(rng.randint(1, 6))]


@pytest.mark.parametrize("seed", range(40))
def test_no_fewer_components_conflict(seed: int) -> None:
    conflicts = random_conflicts(random.Random(seed))

    def feasible(some: frozenset[str]) -> bool:
        return not any(conflict <= some for conflict in conflicts)

    found = conflict_of(MEMBERS, feasible)
    assert found is not None
    assert found.is_smallest
    assert not feasible(frozenset(found.components))
    fewer = (frozenset(some) for some in combinations(MEMBERS, len(found.components) - 1))
    assert all(feasible(some) for some in fewer)


@pytest.mark.parametrize("seed", range(40))
def test_without_rounds_nothing_in_it_can_be_left_out(seed: int) -> None:
    conflicts = random_conflicts(random.Random(seed))

    def feasible(some: frozenset[str]) -> bool:
        return not any(conflict <= some for conflict in conflicts)

    found = conflict_of(MEMBERS, feasible, most_rounds=0)
    assert found is not None
    assert not found.is_smallest
    kept = frozenset(found.components)
    assert not feasible(kept)
    assert all(feasible(kept - {name}) for name in kept)


def test_what_is_not_known_is_no_conflict() -> None:
    assert conflict_of(MEMBERS, lambda some: None) is None
    found = conflict_of(MEMBERS, lambda some: False if len(some) > 5 else None)
    assert found is not None
    assert not found.is_smallest


def test_a_set_that_meets_others_is_as_small_as_can_be() -> None:
    rng = random.Random(5)
    for _ in range(50):
        sets = random_conflicts(rng)
        found = smallest_meeting(sets, MEMBERS)
        assert all(found & one for one in sets)
        assert not any(
            all(frozenset(some) & one for one in sets) for some in combinations(MEMBERS, len(found) - 1) if found
        )
