"""Held and Karp's lower bound for a tour, and the neighbours that its prices make worth looking at.

A tour through nodes 0 to n - 1 is a spanning tree on the others plus two edges at node 0, with two edges at every node.
The cheapest such tree that leaves out the last condition (a 1-tree) costs no more than any tour. Prices on the nodes
change every tour by the same sum, so the dearest cheapest 1-tree over all prices is a bound too; a subgradient ascent
looks for it (Held and Karp, 1970 and 1971, from memory). Alpha is how much dearer the 1-tree grows when it must hold an
edge (Helsgaun, 2000, from memory): tours seldom use edges of large alpha.

Nodes are of some kinds. How often a tour changes between kinds inside and outside a set of kinds may be limited from
below and from above; a toll on such changes, as a price of that limit, keeps the bound a bound.
"""

from __future__ import annotations

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.shop.compiled import compiled

UNLIMITED = 1e6
"""Stands for a set's upper limit where it has none."""
_FAR = 1e300
_STALLED = 12
_NO_NODE = -1
_FRESH, _OLD = 0.7, 0.3
_FADING = 0.95


@compiled
def one_tree(
    cost: FloatArray,
    price: FloatArray,
    toll: FloatArray,
    kind: IntArray,
    begins: BoolArray,
    ends: BoolArray,
    order: IntArray,
    parent: IntArray,
    degree: IntArray,
) -> float:
    """Cost of the cheapest 1-tree less the prices' sum; fills the last three.

    One of node 0's two edges leads to a node that ``begins`` a tour, the other to one that ``ends`` it. toll (kinds,
    kinds): what a step between two kinds costs more. order: nodes as they join the tree, then the ends of node 0's
    edges, the dearer last; parent: the node that each hangs on.
    """
    n = cost.shape[0]
    nearest = np.full(n, _FAR)
    waiting = np.arange(2, n)
    degree[:] = 0
    parent[:] = _NO_NODE
    total, now = 0.0, 1
    order[0] = 1
    for step in range(1, n - 1):
        following, least = 0, _FAR
        costs, added = cost[now], toll[kind[now]] + price[now]
        for place in range(n - 1 - step):
            j = waiting[place]
            priced = costs[j] + price[j] + added[kind[j]]
            if priced < nearest[j]:
                nearest[j] = priced
                parent[j] = now
            if nearest[j] < least:
                least = nearest[j]
                following = place
        now = waiting[following]
        waiting[following] = waiting[n - 2 - step]
        order[step] = now
        total += least
        degree[now] += 1
        degree[parent[now]] += 1
    first, cheap = edge_of_start(cost, price, toll, kind, begins, _NO_NODE)
    second, dear = edge_of_start(cost, price, toll, kind, ends, first)
    degree[0] = 2
    degree[first] += 1
    degree[second] += 1
    order[n - 1], order[n] = (first, second) if cheap <= dear else (second, first)
    return float(total + cheap + dear - 2.0 * price.sum())


@compiled
def edge_of_start(
    cost: FloatArray, price: FloatArray, toll: FloatArray, kind: IntArray, allowed: BoolArray, other_than: int
) -> tuple[int, float]:
    """The node, of those allowed, that is cheapest to reach from node 0, and what that costs with node 0's price."""
    found, least = _NO_NODE, _FAR
    for j in range(1, cost.shape[0]):
        if allowed[j] and j != other_than:
            priced = cost[0, j] + price[0] + price[j] + toll[kind[0], kind[j]]
            if priced < least:
                found, least = j, priced
    return found, least


@compiled
def ascend(
    cost: FloatArray,
    kind: IntArray,
    begins: BoolArray,
    ends: BoolArray,
    inside: BoolArray,
    least: FloatArray,
    most: FloatArray,
    upper: float,
    rounds: int,
    start_price: FloatArray,
    start_toll: FloatArray,
    scale: float,
) -> tuple[float, FloatArray, FloatArray, FloatArray]:
    """A lower bound, the prices (n,) and tolls (sets,) that prove it, and how often the last 1-trees change kinds.

    inside (sets, kinds): the kinds of each set; least, most (sets,): limits of changes between inside and outside;
    upper: cost of any tour, which scales the steps; start_price, start_toll: where the ascent begins; scale: of its
    first steps. The bound is that of one 1-tree, so it holds whatever the steps were.
    """
    n, sets, kinds = cost.shape[0], inside.shape[0], inside.shape[1]
    price, toll = start_price.copy(), start_toll.copy()
    best, best_price, best_toll, stalled = -_FAR, price.copy(), toll.copy(), 0
    order, parent, degree = np.empty(n + 1, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    slope, toll_slope = np.zeros(n), np.zeros(sets)
    usual = np.zeros((kinds, kinds))
    for number in range(rounds):
        bound = one_tree(cost, price, tolls_between(inside, toll), kind, begins, ends, order, parent, degree)
        bound -= (toll * np.where(toll > 0.0, most, least)).sum()
        changes = changes_between(kind, order, parent, kinds)
        usual = _FADING * usual + (1.0 - _FADING) * changes if number else changes
        stalled += 1
        if bound > best:
            if bound > best + 1e-5 * abs(best):
                stalled = 0
            best = bound
            best_price[:] = price
            best_toll[:] = toll
        over = changes_over(inside, least, most, toll, changes)
        square = ((degree - 2.0) ** 2).sum() + (over**2).sum()
        if square == 0.0 or upper - best <= 1e-12 * abs(upper):
            break
        if stalled >= _STALLED:
            scale *= 0.7
            stalled = 0
        step = scale * (upper - bound) / square
        price[1:] += step * (_FRESH * (degree[1:] - 2.0) + _OLD * slope[1:])
        toll += step * (_FRESH * over + _OLD * toll_slope)
        toll[:] = np.where(((most >= UNLIMITED) & (toll > 0.0)) | ((least <= 0.0) & (toll < 0.0)), 0.0, toll)
        slope[:] = degree - 2.0
        toll_slope[:] = over
    return best, best_price, best_toll, usual


@compiled
def tolls_between(inside: BoolArray, toll: FloatArray) -> FloatArray:
    """What a step between two kinds costs more, (kinds, kinds): the tolls of all sets that part them."""
    kinds = inside.shape[1]
    between = np.zeros((kinds, kinds))
    for s in range(inside.shape[0]):
        for a in range(kinds):
            for b in range(kinds):
                if inside[s, a] != inside[s, b]:
                    between[a, b] += toll[s]
    return between


@compiled
def changes_between(kind: IntArray, order: IntArray, parent: IntArray, kinds: int) -> FloatArray:
    """Edges of a 1-tree between each two kinds, (kinds, kinds), symmetric."""
    n = len(kind)
    changes = np.zeros((kinds, kinds))
    for step in range(1, n + 1):
        node = order[step]
        a, b = kind[node], kind[parent[node]] if step < n - 1 else kind[0]
        if a != b:
            changes[a, b] += 1.0
            changes[b, a] += 1.0
    return changes


@compiled
def changes_over(
    inside: BoolArray, least: FloatArray, most: FloatArray, toll: FloatArray, changes: FloatArray
) -> FloatArray:
    """By how much the changes of each set exceed the limit that its toll stands for, or miss it; (sets,)."""
    over = np.zeros(inside.shape[0])
    for s in range(inside.shape[0]):
        count = 0.0
        for a in range(inside.shape[1]):
            for b in range(inside.shape[1]):
                if inside[s, a] and not inside[s, b]:
                    count += changes[a, b]
        if count > most[s] or (count > least[s] and toll[s] > 0.0):
            over[s] = count - most[s]
        elif count < least[s] or toll[s] < 0.0:
            over[s] = count - least[s]
    return over


@compiled
def alpha_neighbours(cost: FloatArray, price: FloatArray, begins: BoolArray, ends: BoolArray, count: int) -> IntArray:
    """For each node the ``count`` others of least alpha under some prices, (n, count), ties by priced cost."""
    n = cost.shape[0]
    order, parent, degree = np.empty(n + 1, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    one_tree(cost, price, np.zeros((1, 1)), np.zeros(n, np.int64), begins, ends, order, parent, degree)
    dearer = cost[0, order[n]] + price[0] + price[order[n]]
    dearest = np.zeros((n, n))  # edge on the tree's path between two nodes
    for step in range(1, n - 1):
        j = order[step]
        p = parent[j]
        hung = cost[j, p] + price[j] + price[p]
        for earlier in range(step):
            i = order[earlier]
            dearest[i, j] = max(dearest[i, p], hung)
            dearest[j, i] = dearest[i, j]
    near = np.empty((n, count), np.int64)
    alpha = np.empty(n)
    for i in range(n):
        for j in range(n):
            priced = cost[i, j] + price[i] + price[j]
            replaced = dearer if i == 0 or j == 0 else dearest[i, j]
            alpha[j] = max(priced - replaced, 0.0) + 1e-9 * priced
        alpha[i] = _FAR
        near[i] = np.argsort(alpha)[:count]
    return near
