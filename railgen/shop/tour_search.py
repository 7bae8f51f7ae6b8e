"""Search for a short tour: 2-opt and Or-opt over near neighbours, begun again and again from a shaken tour.

A tour is an array of nodes that begins with node 0; ``place`` is where each node stands in it. Some nodes must come
before others: ``early[k, p]`` counts the nodes among the first p that belong before boundary k, ``late[k, p]`` those
that belong behind it; a move that would put a late one before an early one is not made. All of it is deterministic:
shakes come from a counter-driven generator (xorshift, Marsaglia 2003, from memory), and the number of rounds is given.
"""

from __future__ import annotations

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.shop.compiled import compiled

_GAIN = 1e-9
_LONGEST_SEGMENT = 3
_SHAKEN = 50
_TOUCHED = 6


@compiled
def after(tour: IntArray, p: int) -> int:
    """The node behind place p, round the end."""
    return int(tour[p + 1] if p + 1 < len(tour) else tour[0])


@compiled
def before(tour: IntArray, p: int) -> int:
    """The node ahead of place p, round the start."""
    return int(tour[p - 1])


@compiled
def bars(early: IntArray, late: IntArray, a: int, b: int, c: int, d: int) -> bool:
    """Whether something of places [a, b) belongs before something of [c, d), so that the two may not change round."""
    for k in range(early.shape[0]):  # noqa: SIM110 (compiled)
        if early[k, b] > early[k, a] and late[k, d] > late[k, c]:
            return True
    return False


@compiled
def count_sides(tour: IntArray, first: IntArray, last: IntArray, early: IntArray, late: IntArray) -> None:
    """Fill ``early`` and ``late`` for a tour; a node belongs before boundary k if its last stage is at most k."""
    for k in range(early.shape[0]):
        for p in range(1, len(tour)):
            node = tour[p]
            early[k, p + 1] = early[k, p] + (last[node] <= k)
            late[k, p + 1] = late[k, p] + (first[node] > k)


@compiled
def reverse(tour: IntArray, place: IntArray, i: int, j: int) -> None:
    """Turn round the nodes at places i to j."""
    while i < j:
        tour[i], tour[j] = tour[j], tour[i]
        place[tour[i]] = i
        place[tour[j]] = j
        i += 1
        j -= 1
    if i == j:
        place[tour[i]] = i


@compiled
def shift(tour: IntArray, place: IntArray, i: int, j: int, p: int, flip: bool, spare: IntArray) -> None:
    """Take the nodes at places i to j out and put them, turned round or not, behind the node at place p."""
    length = j - i + 1
    for k in range(length):
        spare[k] = tour[j - k] if flip else tour[i + k]
    if p > j:
        for k in range(j + 1, p + 1):
            tour[k - length] = tour[k]
            place[tour[k]] = k - length
        start = p - length + 1
    else:
        for k in range(i - 1, p, -1):
            tour[k + length] = tour[k]
            place[tour[k]] = k + length
        start = p + 1
    for k in range(length):
        tour[start + k] = spare[k]
        place[spare[k]] = start + k


@compiled
def two_opt(
    a: int,
    tour: IntArray,
    place: IntArray,
    cost: FloatArray,
    near: IntArray,
    early: IntArray,
    late: IntArray,
    touched: IntArray,
) -> float:
    """Make the first gaining 2-opt move that joins node a to one of its neighbours; its gain, 0 if none."""
    n, p = len(tour), place[a]
    behind, ahead = after(tour, p), before(tour, p)
    for c in near[a]:
        q = place[c]
        for forward in (True, False):
            b = behind if forward else ahead
            d = after(tour, q) if forward else before(tour, q)
            saved = cost[a, b] - cost[a, c]
            if saved <= _GAIN or c == b or d == a:
                continue
            gain = saved + cost[c, d] - cost[b, d]
            if gain <= _GAIN:
                continue
            low, high = (p, q) if p < q else (q, p)
            i, j = (low + 1, high) if forward else (low, high - 1)
            if i == 0:
                i, j = high, n - 1  # the other part of the ring: node 0 keeps its place
            if bars(early, late, i, j + 1, i, j + 1):
                continue
            reverse(tour, place, i, j)
            touched[0], touched[1], touched[2], touched[3], touched[4], touched[5] = a, b, c, d, a, a
            return float(gain)
    return 0.0


@compiled
def or_opt(
    a: int,
    tour: IntArray,
    place: IntArray,
    cost: FloatArray,
    near: IntArray,
    early: IntArray,
    late: IntArray,
    spare: IntArray,
    touched: IntArray,
) -> float:
    """Make the first gaining move of up to three nodes that end with a to beside a neighbour of a; its gain."""
    n, p = len(tour), place[a]
    if p == 0:
        return 0.0
    for length in range(1, _LONGEST_SEGMENT + 1):
        for a_leads in (False, True):
            i, j = (p, p + length - 1) if a_leads else (p - length + 1, p)
            if i < 1 or j > n - 1 or (length == 1 and a_leads):
                continue
            x, y, previous, following = tour[i], tour[j], tour[i - 1], after(tour, j)
            other = y if a_leads else x
            saved = cost[previous, x] + cost[y, following] - cost[previous, following]
            for c in near[a]:
                q = place[c]
                if saved - cost[a, c] <= _GAIN or i <= q <= j:
                    continue
                for behind in (True, False):
                    r = q if behind else (q - 1 if q > 0 else n - 1)
                    d = after(tour, q) if behind else tour[r]
                    if r == i - 1 or i <= r <= j:
                        continue
                    gain = saved - cost[a, c] - cost[other, d] + cost[c, d]
                    # a must come next to c; length 1 never turns.
                    flip = length > 1 and a_leads != behind
                    if gain <= _GAIN or shift_barred(early, late, i, j, r, flip):
                        continue
                    shift(tour, place, i, j, r, flip, spare)
                    touched[0], touched[1], touched[2] = previous, following, c
                    touched[3], touched[4], touched[5] = d, x, y
                    return float(gain)
    return 0.0


@compiled
def shift_barred(early: IntArray, late: IntArray, i: int, j: int, p: int, flip: bool) -> bool:
    """Whether places i to j may not be put behind place p."""
    if flip and bars(early, late, i, j + 1, i, j + 1):
        return True
    if p > j:
        return bars(early, late, i, j + 1, j + 1, p + 1)
    return bars(early, late, p + 1, i, i, j + 1)


@compiled
def descend(
    tour: IntArray,
    place: IntArray,
    cost: FloatArray,
    near: IntArray,
    first: IntArray,
    last: IntArray,
    early: IntArray,
    late: IntArray,
    queue: IntArray,
    waiting: BoolArray,
    count: int,
    spare: IntArray,
    touched: IntArray,
) -> float:
    """Make gaining moves at the first ``count`` nodes of a queue and all that they touch until none is left."""
    n, head, total = len(tour), 0, 0.0
    while count > 0:
        a = queue[head]
        head = (head + 1) % n
        count -= 1
        waiting[a] = False
        while True:
            gain = two_opt(a, tour, place, cost, near, early, late, touched)
            if gain <= 0.0:
                gain = or_opt(a, tour, place, cost, near, early, late, spare, touched)
            if gain <= 0.0:
                break
            total += gain
            count_sides(tour, first, last, early, late)
            count = enqueue(touched, queue, waiting, head, count)
    return total


@compiled
def enqueue(nodes: IntArray, queue: IntArray, waiting: BoolArray, head: int, count: int) -> int:
    """Put nodes that are not waiting yet at the end of the ring ``queue``; how many then wait."""
    for node in nodes:
        if not waiting[node]:
            waiting[node] = True
            queue[(head + count) % len(queue)] = node
            count += 1
    return count


@compiled
def shake(
    tour: IntArray, place: IntArray, cost: FloatArray, i: int, j: int, k: int, spare: IntArray, touched: IntArray
) -> float:
    """Change round the neighbouring parts [i, j) and [j, k) of a tour; what that costs."""
    a, b, c, d, e, f = tour[i - 1], tour[i], tour[j - 1], tour[j], tour[k - 1], after(tour, k - 1)
    dearer = cost[a, d] + cost[e, b] + cost[c, f] - cost[a, b] - cost[c, d] - cost[e, f]
    for m in range(k - j):
        spare[m] = tour[j + m]
    for m in range(j - i):
        spare[k - j + m] = tour[i + m]
    for m in range(k - i):
        tour[i + m] = spare[m]
        place[spare[m]] = i + m
    touched[0], touched[1], touched[2], touched[3], touched[4], touched[5] = a, b, c, d, e, f
    return float(dearer)


@compiled
def search(
    start: IntArray, cost: FloatArray, near: IntArray, first: IntArray, last: IntArray, stages: int, rounds: int
) -> IntArray:
    """The best tour found from ``start``: one descent, then ``rounds`` shakes, each kept unless it ends dearer.

    start: nodes (n,) with node 0 first; cost (n, n) symmetric; near (n, k); first, last (n,): stages between which
    each node must come; stages: how many there are.
    """
    n = len(start)
    tour, place, spare = start.copy(), np.empty(n, np.int64), np.empty(n, np.int64)
    queue, waiting, touched = start.copy(), np.ones(n, np.bool_), np.zeros(_TOUCHED, np.int64)
    early, late = np.zeros((stages - 1, n + 1), np.int64), np.zeros((stages - 1, n + 1), np.int64)
    for p in range(n):
        place[tour[p]] = p
    count_sides(tour, first, last, early, late)
    descend(tour, place, cost, near, first, last, early, late, queue, waiting, n, spare, touched)
    kept = tour.copy()
    state = np.uint64(88172645463325252)
    for _ in range(rounds if n > 4 else 0):
        state = scrambled(state)
        i = 1 + int(state % np.uint64(n - 3))
        state = scrambled(state)
        j = i + 1 + int(state % np.uint64(min(_SHAKEN, n - i - 2)))
        state = scrambled(state)
        k = j + 1 + int(state % np.uint64(min(_SHAKEN, n - j - 1)))
        if bars(early, late, i, j, j, k):
            continue
        dearer = shake(tour, place, cost, i, j, k, spare, touched)
        count_sides(tour, first, last, early, late)
        count = enqueue(touched, queue, waiting, 0, 0)
        gain = descend(tour, place, cost, near, first, last, early, late, queue, waiting, count, spare, touched)
        if gain < dearer - _GAIN:
            tour[:] = kept
            for p in range(n):
                place[tour[p]] = p
            count_sides(tour, first, last, early, late)
        else:
            kept[:] = tour
    return kept


@compiled
def scrambled(state: np.uint64) -> np.uint64:
    """The next state of the generator."""
    state ^= state << np.uint64(13)
    state ^= state >> np.uint64(7)
    return state ^ (state << np.uint64(17))
