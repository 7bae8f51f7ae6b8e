"""Floats settled together, against every combination of stations and against a constraint solver."""

from __future__ import annotations

import random
from itertools import product
from math import inf

import pytest
from ortools.sat.python import cp_model

from railgen.placing.problem import Closed, Float, Pair, Problem, holding
from railgen.placing.tree import Solution, settled_in_turn, solve

PARTS = 1000
"""Parts of a millimetre that the constraint solver counts in."""


def random_float(rng: random.Random, name: str, stretch: float, steps: int, kinds: int) -> Float:
    """A grid about a wanted station with some stretches of it closed."""
    pitch, wanted = rng.choice([25.0, 50.0, 25.4, 20.0]), round(rng.uniform(0, stretch), 1)
    least, most = -rng.randint(0, steps), rng.randint(0, steps)
    grid = [wanted + k * pitch for k in range(least, most + 1)]
    for _ in range(rng.randint(0, 2)):
        low = rng.uniform(grid[0] - 50, grid[-1])
        high = low + rng.uniform(0, 4 * pitch)
        grid = [x for x in grid if not low < x < high] or grid
    own = sorted(rng.randrange(kinds) for _ in grid) if kinds > 1 else []
    return Float(name, tuple(grid), wanted, pitch, rng.choice([1.0, 2.0, 3.0, 0.5]), tuple(own))


def random_closed(rng: random.Random, width: float) -> Closed:
    """A stretch about 0, parted by up to two open ones or open points."""
    low, high = -rng.uniform(0.2, 1) * width, rng.uniform(0.2, 1) * width
    ends = sorted(round(rng.uniform(low, high), 2) for _ in range(rng.randint(0, 2)))
    if len(ends) == 1:
        ends *= 2
    ends = [low, *ends, high]
    return tuple(ends[::2]), tuple(ends[1::2])


def random_problem(seed: int, floats: int, steps: int, stretch: float, kinds: int = 1, widest: float = 200) -> Problem:
    rng = random.Random(seed)
    found = tuple(random_float(rng, f"f{k}", stretch, steps, kinds) for k in range(floats))
    pairs = []
    for b in range(floats):
        for a in range(b):
            by_kind = None
            if kinds > 1 and rng.random() < 0.7:
                by_kind = {
                    (i, j): random_closed(rng, 0.7 * widest) for i in range(kinds) for j in range(kinds) if i or j
                }
            pairs.append(Pair(a, b, random_closed(rng, rng.choice([0.3, 1]) * widest), by_kind))
    boxes = []
    for _ in range(rng.randint(0, 3)):
        some = rng.sample(range(floats), 2)
        boxes.append(tuple((k, *sorted(rng.choices(range(len(found[k].stations)), k=2))) for k in some))
    return Problem(found, tuple(pairs), tuple(boxes))


def by_exhaustion(problem: Problem) -> float:
    """The least cost over every combination of stations."""
    least = inf
    for places in product(*(range(len(f.stations)) for f in problem.floats)):
        at = [f.stations[k] for f, k in zip(problem.floats, places, strict=True)]
        cost = sum(f.weight * abs(x - f.wanted) for f, x in zip(problem.floats, at, strict=True))
        if cost < least - 1e-9 and allowed(problem, places, at):
            least = cost
    return least


def allowed(problem: Problem, places: tuple[int, ...], at: list[float]) -> bool:
    for pair in problem.pairs:
        a, b = problem.floats[pair.a], problem.floats[pair.b]
        kinds = (a.kinds[places[pair.a]], b.kinds[places[pair.b]]) if a.kinds else (0, 0)
        closed = pair.by_kind.get(kinds, pair.closed) if pair.by_kind else pair.closed
        apart = at[pair.a] - at[pair.b]
        if any(low + 1e-9 < apart < high - 1e-9 for low, high in zip(*closed, strict=True)):
            return False
    return not any(all(first <= places[k] <= last for k, first, last in box) for box in problem.boxes)


def told(problem: Problem, found: Solution) -> float:
    """The cost told, once the stations are seen to be allowed and to cost that."""
    if found.places is None:
        assert found.bound == inf
        return inf
    at = [f.stations[k] for f, k in zip(problem.floats, found.places, strict=True)]
    assert allowed(problem, found.places, at)
    cost = sum(f.weight * abs(x - f.wanted) for f, x in zip(problem.floats, at, strict=True))
    assert found.cost == pytest.approx(cost, abs=1e-6)
    return cost


@pytest.mark.parametrize("seed", range(60))
def test_as_cheap_as_the_cheapest_of_all_combinations(seed: int) -> None:
    """Some have no solution; others only where something is given up."""
    problem = random_problem(seed, 3 + seed % 2, 4, 200, 1 + seed % 3, 30 + 2 * seed)
    found = solve(problem)
    assert told(problem, found) == pytest.approx(by_exhaustion(problem), abs=1e-6)
    assert found.is_proved


def by_constraint_solver(problem: Problem) -> float | None:
    """The least cost that CP-SAT proves, infinite where nothing holds, None where it proves nothing in its limit."""
    model, stands = cp_model.CpModel(), []
    cost = []
    for f in problem.floats:
        at = model.new_int_var_from_domain(cp_model.Domain.from_values([round(x * PARTS) for x in f.stations]), f.name)
        departure = model.new_int_var(0, 10_000_000, f"{f.name} departs")
        wanted = round(f.wanted * PARTS)
        model.add(departure >= at - wanted)
        model.add(departure >= wanted - at)
        stands.append(at)
        cost.append(round(2 * f.weight) * departure)
    for pair in problem.pairs:
        open_at, low = [], -10_000_000
        for closed_low, closed_high in zip(*pair.closed, strict=True):
            open_at.append([low, round(closed_low * PARTS)])
            low = round(closed_high * PARTS)
        open_at.append([low, 10_000_000])
        domain = cp_model.Domain.from_intervals(open_at)
        model.add_linear_expression_in_domain(stands[pair.a] - stands[pair.b], domain)
    model.minimize(sum(cost))
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = 4
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return inf
    return solver.objective_value / 2 / PARTS if status == cp_model.OPTIMAL else None


@pytest.mark.parametrize("seed", range(12))
def test_as_cheap_as_a_constraint_solver_proves(seed: int) -> None:
    problem = random_problem(1000 + seed, 8, 25, 1200)
    problem = Problem(problem.floats, problem.pairs)
    proved = by_constraint_solver(problem)
    found = solve(problem)
    if proved is not None and found.is_proved:
        assert told(problem, found) == pytest.approx(proved, abs=1e-2)
    elif proved is not None:
        assert found.bound - 1e-2 <= proved <= told(problem, found) + 1e-2


@pytest.mark.parametrize("seed", range(20))
def test_never_dearer_than_one_after_the_other(seed: int) -> None:
    problem = random_problem(2000 + seed, 6, 15, 900)
    found = solve(problem, most_nodes=1 + 10 * seed)
    turn = settled_in_turn(problem, range(6))
    if turn is not None:
        assert found.cost <= problem.cost(turn) + 1e-9
    assert found.bound <= found.cost + 1e-9


def test_a_limit_leaves_a_gap_that_the_proved_cost_lies_in() -> None:
    problem = random_problem(3001, 12, 30, 1200)
    proved, early = solve(problem, 200_000), solve(problem, 3)
    assert proved.is_proved
    assert not early.is_proved
    assert early.nodes == 3
    assert early.bound <= proved.cost <= early.cost
    assert early.gap == early.cost - early.bound


def test_the_same_problem_gives_the_same_places() -> None:
    problem = random_problem(4001, 8, 20, 900)
    assert solve(problem) == solve(problem)


def test_open_points_inside_a_closed_stretch_are_used() -> None:
    """Two holes may be shared at one relative station alone."""
    a = Float("a", (0.0, 25.0, 50.0), 0.0, 25.0, 1.0)
    b = Float("b", (0.0,), 0.0, 25.0, 1.0)
    found = solve(Problem((a, b), (Pair(0, 1, ((-30.0, 25.0), (25.0, 60.0))),)))
    assert found.places == (1, 0)
    assert holding(((-30.0, 25.0), (25.0, 60.0)), 25.0) is None
