"""The best run through groups of nodes, one group after the other: for a feed that cannot go back.

Only nodes of one group may change round. The best run is found exactly by dynamic programming (Held and Karp, 1962,
from memory): within a group over all subsets and last nodes, from group to group over the last node.
"""

from __future__ import annotations

import numpy as np

from railgen.holes.table import FloatArray, IntArray
from railgen.shop.compiled import compiled

LARGEST_GROUP = 10
"""Nodes of a group that the exact method takes: its work grows as 2 to the power of it."""
_FAR = 1e300


@compiled
def best_run(cost: FloatArray, into: FloatArray, out: FloatArray, start: IntArray) -> IntArray:
    """The nodes 0 to n - 1 in the order of the cheapest run.

    cost (n, n): of a step; into, out (n,): to the first node and from the last one; start (groups + 1,): group g
    holds nodes start[g] to start[g + 1] - 1, at most LARGEST_GROUP of them.
    """
    groups = len(start) - 1
    offset = np.zeros(groups + 1, dtype=np.int64)
    for g in range(groups):
        size = start[g + 1] - start[g]
        offset[g + 1] = offset[g] + size * 2**size
    came = np.zeros(offset[groups], dtype=np.int64)  # the node before, by group, subset and last node
    reached = np.zeros(0)  # cost of the best run up to each last node of the group before
    for g in range(groups):
        low, size = start[g], start[g + 1] - start[g]
        run = np.full((2**size, size), _FAR)
        for b in range(size):
            at = offset[g] + 2**b * size + b
            run[2**b, b] = into[low + b] if g == 0 else _FAR
            for a in range(len(reached)):
                via = reached[a] + cost[start[g - 1] + a, low + b]
                if via < run[2**b, b]:
                    run[2**b, b] = via
                    came[at] = start[g - 1] + a
        extend(run, cost, low, size, came[offset[g] : offset[g + 1]])
        reached = run[2**size - 1].copy()
    return traced(reached + out[start[groups - 1] :], start, offset, came)


@compiled
def extend(run: FloatArray, cost: FloatArray, low: int, size: int, came: IntArray) -> None:
    """Fill a group's table of best runs, (subsets, size), from its single nodes up, and the node before each last."""
    for subset in range(1, 2**size):
        for a in range(size):
            if run[subset, a] >= _FAR:
                continue
            for b in range(size):
                if subset & 2**b:
                    continue
                longer = subset | 2**b
                via = run[subset, a] + cost[low + a, low + b]
                if via < run[longer, b]:
                    run[longer, b] = via
                    came[longer * size + b] = low + a


@compiled
def traced(ended: FloatArray, start: IntArray, offset: IntArray, came: IntArray) -> IntArray:
    """The run that ends cheapest, followed back from its last node."""
    groups = len(start) - 1
    order = np.empty(start[groups], dtype=np.int64)
    node = start[groups - 1] + np.argmin(ended)
    for g in range(groups - 1, -1, -1):
        low, size = start[g], start[g + 1] - start[g]
        subset = 2**size - 1
        for step in range(size - 1, -1, -1):
            order[low + step] = node
            before = came[offset[g] + subset * size + node - low]
            subset -= 2 ** (node - low)
            node = before
    return order
