"""Held and Karp's lower bound for a tour, and the neighbours that its prices make worth looking at.

A tour through nodes 0 to n - 1 is a spanning tree on the others plus two edges at node 0, with two edges at every node.
The cheapest such tree that leaves out the last condition (a 1-tree) costs no more than any tour. Prices on the nodes
change every tour by the same sum, so the dearest cheapest 1-tree over all prices is a bound too; a subgradient ascent
looks for it (Held and Karp, 1970 and 1971, from memory). Alpha is how much dearer the 1-tree grows when it must hold an
edge (Helsgaun, 2000, from memory): tours seldom use edges of large alpha.
"""

from __future__ import annotations

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.shop.compiled import compiled

_FAR = 1e300
_STALLED = 12
_NO_NODE = -1


@compiled
def one_tree(
    cost: FloatArray,
    price: FloatArray,
    begins: BoolArray,
    ends: BoolArray,
    order: IntArray,
    parent: IntArray,
    degree: IntArray,
) -> tuple[float, float]:
    """Cost of the cheapest 1-tree less the prices' sum, and its dearer edge at node 0; fills the last three.

    One of node 0's two edges leads to a node that ``begins`` a tour, the other to one that ``ends`` it.
    order: nodes in the order in which they join the tree; parent: the node each hangs on.
    """
    n = cost.shape[0]
    nearest = np.full(n, _FAR)
    joined = np.zeros(n, dtype=np.bool_)
    degree[:] = 0
    parent[:] = _NO_NODE
    total, now = 0.0, 1
    joined[1] = True
    order[0] = 1
    for step in range(1, n - 1):
        following, least = _NO_NODE, _FAR
        for j in range(1, n):
            if not joined[j]:
                priced = cost[now, j] + price[now] + price[j]
                if priced < nearest[j]:
                    nearest[j] = priced
                    parent[j] = now
                if nearest[j] < least:
                    least = nearest[j]
                    following = j
        now = following
        joined[now] = True
        order[step] = now
        total += least
        degree[now] += 1
        degree[parent[now]] += 1
    first = cheapest_edge(cost, price, begins, _NO_NODE)
    second = cheapest_edge(cost, price, ends, first)
    degree[0] = 2
    degree[first] += 1
    degree[second] += 1
    edges = cost[0, first] + price[first], cost[0, second] + price[second]
    return total + edges[0] + edges[1] + 2.0 * price[0] - 2.0 * price.sum(), max(edges[0], edges[1]) + price[0]


@compiled
def cheapest_edge(cost: FloatArray, price: FloatArray, allowed: BoolArray, other_than: int) -> int:
    """The node, of those allowed, that is cheapest to reach from node 0."""
    found, least = _NO_NODE, _FAR
    for j in range(1, cost.shape[0]):
        if allowed[j] and j != other_than and cost[0, j] + price[j] < least:
            least = cost[0, j] + price[j]
            found = j
    return found


@compiled
def held_karp(
    cost: FloatArray, begins: BoolArray, ends: BoolArray, upper: float, rounds: int
) -> tuple[float, FloatArray]:
    """The lower bound after some rounds of ascent, and the prices (n,) that prove it.

    ``upper`` is the cost of any tour: it scales the steps. The bound is that of one 1-tree, so it holds whatever
    the steps were.
    """
    n = cost.shape[0]
    price, best_price, last = np.zeros(n), np.zeros(n), np.zeros(n)
    order, parent, degree = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    best, scale, stalled = -_FAR, 2.0, 0
    for _ in range(rounds):
        bound, _edge = one_tree(cost, price, begins, ends, order, parent, degree)
        stalled += 1
        if bound > best:
            if bound > best + 1e-5 * abs(best):
                stalled = 0
            best = bound
            best_price[:] = price
        square = 0.0
        for j in range(n):
            square += (degree[j] - 2) ** 2
        if square == 0.0 or upper - bound <= 1e-12 * abs(upper):
            break
        if stalled >= _STALLED:
            scale *= 0.7
            stalled = 0
        step = scale * (upper - bound) / square
        for j in range(1, n):
            price[j] += step * (0.7 * (degree[j] - 2) + 0.3 * last[j])
            last[j] = degree[j] - 2
    return best, best_price


@compiled
def alpha_neighbours(cost: FloatArray, price: FloatArray, begins: BoolArray, ends: BoolArray, count: int) -> IntArray:
    """For each node the ``count`` others of least alpha under some prices, (n, count), ties by priced cost."""
    n = cost.shape[0]
    order, parent, degree = np.empty(n, np.int64), np.empty(n, np.int64), np.empty(n, np.int64)
    _bound, dearer = one_tree(cost, price, begins, ends, order, parent, degree)
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
