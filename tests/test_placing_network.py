"""The least departure under difference constraints, against a linear program solved anew for all of them."""

from __future__ import annotations

import random
from itertools import pairwise
from math import inf

import numpy as np
import pytest
from scipy.optimize import linprog

from railgen.placing.network import Arc, Cost, Network


def random_cost(rng: random.Random) -> Cost:
    """One best station, or two beside a closed stretch."""
    at, weight = rng.uniform(0, 4000), rng.choice([0.5, 1.0, 2.0, 3.0])
    if rng.random() < 0.6:
        return Cost((at,), (-weight, weight), 0.0)
    ahead, behind = rng.uniform(0, 200), rng.uniform(1, 200)
    middle = weight * (behind - ahead) / (ahead + behind)
    return Cost((at - ahead, at + behind), (-weight, middle, weight), weight * min(ahead, behind))


def random_arcs(rng: random.Random, floats: int, count: int) -> list[Arc]:
    found: list[Arc] = []
    for _ in range(count):
        head, tail = rng.sample(range(floats + 1), 2)
        if floats in (head, tail):
            found.append((head, tail, rng.uniform(0, 2500) if tail == floats else -rng.uniform(1500, 4000)))
        else:
            found.append((head, tail, rng.uniform(-300, 700)))
    return found


def by_linear_program(costs: list[Cost], arcs: list[Arc]) -> float:
    """The least sum of costs, each as the greatest of its lines; infinite where the constraints cannot be met."""
    n, rows, right = len(costs), [], []
    for k, cost in enumerate(costs):
        for slope, at, value in lines(cost):
            row = np.zeros(2 * n)
            row[k], row[n + k] = slope, -1.0
            rows.append(row)
            right.append(slope * at - value)
    for head, tail, least in arcs:
        row = np.zeros(2 * n)
        if head < n:
            row[head] -= 1.0
        if tail < n:
            row[tail] += 1.0
        rows.append(row)
        right.append(-least)
    found = linprog([0.0] * n + [1.0] * n, A_ub=np.array(rows), b_ub=right, bounds=[(None, None)] * (2 * n))
    return float(found.fun) if found.status == 0 else inf


def lines(cost: Cost) -> list[tuple[float, float, float]]:
    """Slope, station and value of each straight piece."""
    best = cost.stations.index(cost.cheapest)
    values = {best: cost.least}
    for a, b in pairwise(range(best, len(cost.stations))):
        values[b] = values[a] + cost.slopes[b] * (cost.stations[b] - cost.stations[a])
    for b, a in pairwise(range(best, -1, -1)):
        values[a] = values[b] - cost.slopes[b] * (cost.stations[b] - cost.stations[a])
    at = [0, *range(len(cost.stations))]
    return [(slope, cost.stations[k], values[k]) for slope, k in zip(cost.slopes, at, strict=True)]


@pytest.mark.parametrize("seed", range(60))
def test_each_constraint_added_leaves_the_optimum(seed: int) -> None:
    rng = random.Random(seed)
    costs = [random_cost(rng) for _ in range(rng.randint(1, 7))]
    network, met = Network(costs), list[Arc]()
    for arc in random_arcs(rng, len(costs), 14):
        before = network.copy()
        met.append(arc)
        expected = by_linear_program(costs, met)
        if not network.add(arc):
            assert expected == inf
            network = before
            met.pop()
            continue
        assert network.value == pytest.approx(expected, abs=1e-5)
        x = network.x
        assert x[len(costs)] == 0.0
        assert all(x[head] - x[tail] >= least - 1e-6 for head, tail, least in met)
        assert sum(max(s * (x[k] - at) + v for s, at, v in lines(cost)) for k, cost in enumerate(costs)) == (
            pytest.approx(network.value, abs=1e-5)
        )


def test_a_copy_is_left_as_it_was() -> None:
    costs = [Cost((100.0,), (-1.0, 1.0), 0.0), Cost((120.0,), (-2.0, 2.0), 0.0)]
    network = Network(costs)
    other = network.copy()
    assert other.add((1, 0, 50.0))
    assert other.x == [70.0, 120.0, 0.0]
    assert (network.x, network.value, network.least(1, 0)) == ([100.0, 120.0, 0.0], 0.0, -inf)


def test_it_stops_where_the_cost_would_reach_what_is_known() -> None:
    network = Network([Cost((0.0,), (-1.0, 1.0), 0.0)])
    assert not network.add((0, 1, 30.0), most=30.0)
    again = Network([Cost((0.0,), (-1.0, 1.0), 0.0)])
    assert again.add((0, 1, 30.0), most=31.0)
    assert again.value == 30.0
