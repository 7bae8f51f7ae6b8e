"""Cutting stock in one dimension: which lengths to cut from which stock lengths, with least stock and a proved bound.

The classical model of patterns (Gilmore and Gomory, from memory): every way to fill a stock length is a column, and the
columns taken must give each length as often as it is asked for. Where the patterns are few they are all listed; else
they are generated, each the best filling at the prices of the linear relaxation, whose value bounds every plan from
below. Lengths are whole micrometres throughout, blanks rounded up. No solver is stopped by the clock.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import ceil, gcd
from typing import Any

_MOST_LISTED = 4000
"""Patterns that are all listed; beyond this they are generated."""
_DETERMINISTIC_LIMIT = 8.0
"""Of the integer solver's own measure of work, about seconds on a common machine; never the clock."""
_ROUNDS = 2000
_SLACK = 1e-7
_MOST_UNITS = 100_000


@dataclass(frozen=True)
class Bar:
    """A stock length and the lengths cut from it, longest first."""

    stock: int
    pieces: tuple[int, ...]


@dataclass(frozen=True)
class BarPlan:
    """Bars that give every length asked for, exactly; ``bound``: no plan takes less stock in all."""

    bars: tuple[Bar, ...]
    bound: int

    @property
    def stock(self) -> int:
        """Total of the stock lengths taken."""
        return sum(bar.stock for bar in self.bars)


@dataclass(frozen=True)
class _Task:
    """Lengths with kerf added, longest first, how often each is asked for, and what each stock length holds."""

    sizes: tuple[int, ...]
    demand: tuple[int, ...]
    room: Mapping[int, int]

    def stock_for(self, filled: int) -> int:
        """The shortest stock length that holds so much."""
        return min(stock for stock, room in self.room.items() if room >= filled)


def plan_bars(demand: Mapping[int, int], stock: Sequence[int], kerf: int = 0, end_trim: int = 0) -> BarPlan:
    """Least stock for lengths asked for so often each; all lengths are whole numbers of one unit.

    Between two pieces a kerf is lost, at each end of the stock a trim. Raises ValueError for a length that no stock
    length holds.
    """
    room = {length: length - 2 * end_trim + kerf for length in sorted(set(stock)) if length > 2 * end_trim}
    lengths = sorted((length for length, count in demand.items() if count), reverse=True)
    if not lengths:
        return BarPlan((), 0)
    if not room or lengths[0] + kerf > max(room.values()):
        raise ValueError(f"no stock length holds {lengths[0]}")
    task = _Task(tuple(length + kerf for length in lengths), tuple(demand[length] for length in lengths), room)
    patterns = _all_patterns(task)
    relaxed, found = _relaxation(task, patterns or _first_fit(task), generate=patterns is None)
    bound = _reachable(relaxed, sum(task.demand), task.room)
    counts, proved = _integer(task, found, bound)
    if patterns is not None:
        bound = max(bound, _reachable(proved, sum(task.demand), task.room))
    return BarPlan(tuple(_bars(task, found, counts, kerf)), bound)


Pattern = tuple[int, ...]


def _all_patterns(task: _Task) -> list[Pattern] | None:
    """Every pattern to which nothing can be added within its own stock length; None where they are too many."""
    found: list[Pattern] = []
    longest = max(task.room.values())

    def fill(item: int, chosen: list[int], filled: int) -> bool:
        if item == len(task.sizes):
            if filled and _is_full(task, chosen, filled):
                found.append(tuple(chosen))
            return len(found) <= _MOST_LISTED
        most = min(task.demand[item], (longest - filled) // task.sizes[item])
        return all(fill(item + 1, [*chosen, n], filled + n * task.sizes[item]) for n in range(most, -1, -1))

    if len(task.sizes) > 30 or not fill(0, [], 0):
        return None
    return found


def _is_full(task: _Task, chosen: Sequence[int], filled: int) -> bool:
    left = task.room[task.stock_for(filled)] - filled
    return not any(n < most and size <= left for n, most, size in zip(chosen, task.demand, task.sizes, strict=True))


def _first_fit(task: _Task) -> list[Pattern]:
    """Patterns of a plan that puts each piece, longest first, where it fits first; they make any demand possible."""
    longest = max(task.room.values())
    bars: list[tuple[list[int], int]] = []
    for item, (size, count) in enumerate(zip(task.sizes, task.demand, strict=True)):
        for _ in range(count):
            place = next((i for i, (_, filled) in enumerate(bars) if filled + size <= longest), None)
            if place is None:
                place = len(bars)
                bars.append(([0] * len(task.sizes), 0))
            chosen, filled = bars[place]
            chosen[item] += 1
            bars[place] = (chosen, filled + size)
    alone = [tuple(int(i == item) for i in range(len(task.sizes))) for item in range(len(task.sizes))]
    return list(dict.fromkeys([*(tuple(chosen) for chosen, _ in bars), *alone]))


def _filled(task: _Task, pattern: Pattern) -> int:
    return sum(n * size for n, size in zip(pattern, task.sizes, strict=True))


def _relaxation(task: _Task, patterns: list[Pattern], generate: bool) -> tuple[float, list[Pattern]]:
    """Value of the linear relaxation, and the patterns at hand at its end."""
    from ortools.linear_solver import pywraplp

    solver: Any = pywraplp.Solver.CreateSolver("GLOP")
    rows = [solver.Constraint(float(count), solver.infinity()) for count in task.demand]
    solver.Objective().SetMinimization()
    found: list[Pattern] = []
    known: set[Pattern] = set()

    def add(pattern: Pattern) -> None:
        known.add(pattern)
        found.append(pattern)
        column = solver.NumVar(0, solver.infinity(), "")
        solver.Objective().SetCoefficient(column, float(task.stock_for(_filled(task, pattern))))
        for row, count in zip(rows, pattern, strict=True):
            if count:
                row.SetCoefficient(column, count)

    for pattern in patterns:
        add(pattern)
    for _ in range(_ROUNDS):
        solver.Solve()
        prices = [max(row.dual_value(), 0.0) for row in rows]
        worth = sum(price * count for price, count in zip(prices, task.demand, strict=True))
        if not generate:
            return worth, found
        best = [(stock, *_best_filling(task, prices, room)) for stock, room in task.room.items()]
        # Prices scaled until no pattern is worth more than its stock are feasible: their worth is a bound (Farley).
        excess = max(value / stock for stock, value, _ in best)
        new = [pattern for stock, value, pattern in best if value > stock * (1 + _SLACK) and pattern not in known]
        if not new:
            return worth / max(excess, 1.0), found
        for pattern in dict.fromkeys(new):
            add(pattern)
    return worth / max(excess, 1.0), found


def _best_filling(task: _Task, prices: Sequence[float], room: int) -> tuple[float, Pattern]:
    """The most valuable filling of a stock length at these prices, by branch and bound on value for size."""
    order = sorted(range(len(prices)), key=lambda i: (-prices[i] / task.sizes[i], i))
    best_value, best = 0.0, [0] * len(prices)
    chosen = [0] * len(prices)

    def fill(place: int, left: int, value: float) -> None:
        nonlocal best_value, best
        if value > best_value + 1e-9:
            best_value, best = value, chosen.copy()
        while place < len(order) and task.sizes[order[place]] > left:
            place += 1
        if place == len(order):
            return
        item = order[place]
        if value + prices[item] / task.sizes[item] * left <= best_value + 1e-9:
            return
        for count in range(min(task.demand[item], left // task.sizes[item]), -1, -1):
            chosen[item] = count
            fill(place + 1, left - count * task.sizes[item], value + count * prices[item])
        chosen[item] = 0

    fill(0, room, 0.0)
    return best_value, tuple(best)


def _integer(task: _Task, patterns: list[Pattern], bound: int) -> tuple[list[int], float]:
    """How often each pattern is cut, and what the solver proves no choice among these patterns can undercut."""
    from ortools.sat.python import cp_model

    unit = gcd(*task.room)
    model: Any = cp_model.CpModel()
    most = max(task.demand)
    times = [model.new_int_var(0, sum(task.demand) if sum(p) == 1 else most, "") for p in patterns]
    for item, count in enumerate(task.demand):
        model.add(sum(p[item] * x for p, x in zip(patterns, times, strict=True) if p[item]) >= count)
    costs = [task.stock_for(_filled(task, pattern)) // unit for pattern in patterns]
    total = sum(cost * x for cost, x in zip(costs, times, strict=True))
    model.add(total >= bound // unit)
    model.minimize(total)
    solver: Any = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = _DETERMINISTIC_LIMIT
    status = solver.solve(model)
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        return _as_counts(patterns, task), float(bound)
    return [int(solver.value(x)) for x in times], float(solver.best_objective_bound) * unit


def _as_counts(patterns: list[Pattern], task: _Task) -> list[int]:
    """Each piece alone: a plan that is always at hand."""
    return [task.demand[pattern.index(1)] if sum(pattern) == 1 else 0 for pattern in patterns]


def _reachable(least: float, most_bars: int, stock: Mapping[int, int]) -> int:
    """The least total of at most so many stock lengths that is not below a bound."""
    unit = gcd(*stock)
    wanted = ceil(least / unit - 1e-6)
    if wanted > _MOST_UNITS or not most_bars:
        return wanted * unit
    reached = [0, *[most_bars + 1] * (wanted + max(stock) // unit)]
    for total in range(1, len(reached)):
        reached[total] = min(
            (reached[total - s // unit] + 1 for s in stock if s // unit <= total), default=most_bars + 1
        )
    return unit * next(total for total in range(wanted, len(reached)) if reached[total] <= most_bars)


def _bars(task: _Task, patterns: list[Pattern], counts: Sequence[int], kerf: int) -> Iterator[Bar]:
    """The bars of a plan; pieces that nobody asked for are not cut."""
    left = list(task.demand)
    for pattern, times in zip(patterns, counts, strict=True):
        for _ in range(times):
            taken = [min(n, rest) for n, rest in zip(pattern, left, strict=True)]
            left = [rest - n for rest, n in zip(left, taken, strict=True)]
            filled = sum(n * size for n, size in zip(taken, task.sizes, strict=True))
            if filled:
                pieces = tuple(size - kerf for n, size in zip(taken, task.sizes, strict=True) for _ in range(n))
                yield Bar(task.stock_for(filled), pieces)
