"""Features as a file draws them against features as the hole table has them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from railgen.holes.neighbours import close_to
from railgen.holes.table import FloatArray, IntArray
from railgen.records.discrepancy import Discrepancy, Kind

_MOVED_AT_MOST = 50.0
"""mm: a hole of the same shape and size this near to a lost one is the lost one."""
_RESIZED_AT_MOST = 1.0
"""mm: a hole of any size this near to a lost one is the lost one."""
_SAME_PLACE = 0.05
"""mm between centres that are one place; the hole table's duplicate-hole."""
_TOGETHER = 5
"""More holes than this that are moved alike are named together."""


@dataclass(frozen=True, eq=False)
class Features:
    """n features: names, where they are (layer or face), shapes, centres and sizes in mm, angles in degrees.

    Names are empty for drawn features; sizes and angles are 0 where they do not apply.
    """

    hole: Sequence[str]
    where: Sequence[str]
    shape: Sequence[str]
    x: FloatArray
    y: FloatArray
    diameter: FloatArray
    length: FloatArray
    angle: FloatArray

    def __len__(self) -> int:
        return len(self.x)

    def placed(self, x: FloatArray, y: FloatArray) -> Features:
        """The same features at other places."""
        return Features(self.hole, self.where, self.shape, x, y, self.diameter, self.length, self.angle)

    def on(self, where: Sequence[str], y: FloatArray, angle: FloatArray) -> Features:
        """The same features on other layers or faces, at other heights and angles."""
        return Features(self.hole, where, self.shape, self.x, y, self.diameter, self.length, angle)

    def rows(self, index: IntArray) -> Features:
        """Some of the features, in the order of an index array."""
        kept = index.tolist()
        return Features(
            [self.hole[row] for row in kept],
            [self.where[row] for row in kept],
            [self.shape[row] for row in kept],
            self.x[index],
            self.y[index],
            self.diameter[index],
            self.length[index],
            self.angle[index],
        )

    def named(self, row: int) -> str:
        """Shape and size of one feature in words."""
        shape = self.shape[row]
        if shape == "mark":
            return "mark"
        if shape == "round":
            return f"round {self.diameter[row]:.3f}"
        return f"{shape} {self.diameter[row]:.3f} x {self.length[row]:.3f}"

    def place(self, row: int) -> str:
        """Where one feature is, in words."""
        return f"x {self.x[row]:.3f}, y {self.y[row]:.3f}"


def drawn_features(found: Sequence[Any], where: str) -> Features:
    """Features read from a file; ``where`` names the attribute that says on what layer or face each is."""

    def column(name: str) -> FloatArray:
        return np.array([getattr(one, name) for one in found], dtype=np.float64)

    return Features(
        [""] * len(found),
        [getattr(one, where) for one in found],
        [one.shape for one in found],
        *(column(name) for name in ("x", "y", "diameter", "length", "angle")),
    )


@dataclass(frozen=True)
class Tolerance:
    """How far a file's numbers may be from the hole table's by their own rounding: mm, mm, degrees."""

    place: float
    size: float
    angle: float


@dataclass(frozen=True, eq=False)
class Match:
    """Rows of the table and drawn features that are one, and those left on either side."""

    table: IntArray
    drawn: IntArray
    lost: IntArray
    strange: IntArray


def match(table: Features, drawn: Features, tolerance: Tolerance) -> Match:
    """Pair features at the same place, each once; those alike first, then the nearest."""
    first, second = _near(table, drawn, np.arange(len(table)), np.arange(len(drawn)), tolerance.place)
    if _once(first) and _once(second):
        rows, others = first, second
    else:
        pairs = np.array(_nearest_first(table, drawn, first, second), dtype=np.int64).reshape(-1, 2)
        rows, others = pairs[:, 0], pairs[:, 1]
    return Match(rows, others, _left_out(rows, len(table)), _left_out(others, len(drawn)))


def _once(index: IntArray) -> bool:
    """Whether no row stands in it twice."""
    return not len(index) or int(np.bincount(index).max()) == 1


def _left_out(index: IntArray, count: int) -> IntArray:
    """Rows of so many that do not stand in it."""
    there = np.zeros(count, dtype=np.bool_)
    there[index] = True
    return np.flatnonzero(~there)


def _near(
    table: Features, drawn: Features, rows: IntArray, others: IntArray, reach: float
) -> tuple[IntArray, IntArray]:
    """Pairs of a row and a drawn feature no further apart than reach (mm)."""
    groups = np.zeros(len(rows), dtype=np.int64), np.zeros(len(others), dtype=np.int64)
    first, second = close_to(table.x[rows], groups[0], drawn.x[others], groups[1], reach)
    first, second = rows[first], others[second]
    near = np.hypot(table.x[first] - drawn.x[second], table.y[first] - drawn.y[second]) <= reach
    return first[near], second[near]


def _nearest_first(table: Features, drawn: Features, first: IntArray, second: IntArray) -> list[tuple[int, int]]:
    """One-to-one pairs out of candidates: those alike first, then by distance."""
    distance = np.hypot(table.x[first] - drawn.x[second], table.y[first] - drawn.y[second])
    candidates = []
    for i, j, apart in zip(first.tolist(), second.tolist(), distance.tolist(), strict=True):
        unlike = (table.shape[i] != drawn.shape[j]) + (abs(table.diameter[i] - drawn.diameter[j]) > _SAME_PLACE)
        candidates.append((unlike, apart, i, j))
    pairs, rows, others = [], set[int](), set[int]()
    for _, _, i, j in sorted(candidates):
        if i not in rows and j not in others:
            pairs.append((i, j))
            rows.add(i)
            others.add(j)
    return pairs


def differences(
    file: str, table: Features, drawn: Features, tolerance: Tolerance, where: Kind = "wrong layer"
) -> Iterator[Discrepancy]:
    """Everything by which a file's features differ from the table's; ``where`` names what a wrong place is called."""
    found = match(table, drawn, tolerance)
    yield from _unlike(file, table, drawn, found.table, found.drawn, tolerance, where)
    first, second = _near(table, drawn, found.lost, found.strange, _MOVED_AT_MOST)
    alike = _same_size(table, drawn, first, second, tolerance)
    near = np.hypot(table.x[first] - drawn.x[second], table.y[first] - drawn.y[second]) <= _RESIZED_AT_MOST
    moved = _nearest_first(table, drawn, first[alike | near], second[alike | near])
    yield from _moved(file, table, drawn, moved)
    pairs = np.array(moved, dtype=np.int64).reshape(-1, 2)
    yield from _unlike(file, table, drawn, pairs[:, 0], pairs[:, 1], tolerance, where)
    for row in np.setdiff1d(found.lost, pairs[:, 0]).tolist():
        words = f"{table.hole[row]} ({table.named(row)} at {table.place(row)}) is missing"
        yield Discrepancy("hole missing", file, words, (table.hole[row],))
    for row in np.setdiff1d(found.strange, pairs[:, 1]).tolist():
        yield _added(file, table, drawn, row)


def _added(file: str, table: Features, drawn: Features, row: int) -> Discrepancy:
    apart = np.hypot(table.x - drawn.x[row], table.y - drawn.y[row])
    here = np.flatnonzero(apart <= _SAME_PLACE).tolist()
    if here:
        name = table.hole[here[0]]
        return Discrepancy("hole added", file, f"{name} at {drawn.place(row)} is there twice", (name,))
    words = f"a hole that the hole table does not have: {drawn.named(row)}, {drawn.where[row]}, at {drawn.place(row)}"
    return Discrepancy("hole added", file, words)


def _same_size(table: Features, drawn: Features, rows: IntArray, others: IntArray, tolerance: Tolerance) -> np.ndarray:
    sizes = np.maximum(
        np.abs(table.diameter[rows] - drawn.diameter[others]), np.abs(table.length[rows] - drawn.length[others])
    )
    same_shape = [table.shape[i] == drawn.shape[j] for i, j in zip(rows.tolist(), others.tolist(), strict=True)]
    return np.asarray((sizes <= tolerance.size) & np.array(same_shape, dtype=np.bool_))


def _moved(file: str, table: Features, drawn: Features, pairs: list[tuple[int, int]]) -> Iterator[Discrepancy]:
    """Moved holes, one by one, or all together where many are moved alike."""
    alike: dict[tuple[float, float], list[tuple[int, int]]] = {}
    for i, j in pairs:
        dx, dy = np.round([drawn.x[j] - table.x[i], drawn.y[j] - table.y[i]], 3).tolist()
        alike.setdefault((dx + 0.0, dy + 0.0), []).append((i, j))
    for (dx, dy), group in alike.items():
        by = float(np.hypot(dx, dy))
        step = f"by {by:.3f} mm (x {dx:+.3f}, y {dy:+.3f})"
        names = tuple(table.hole[i] for i, _ in group)
        if len(group) > _TOGETHER:
            yield Discrepancy("hole moved", file, f"{len(group)} holes are all moved {step}", names, by)
            continue
        for i, j in group:
            words = f"{table.hole[i]} is moved {step}: at {drawn.place(j)}, should be at {table.place(i)}"
            yield Discrepancy("hole moved", file, words, (table.hole[i],), by)


def _unlike(
    file: str,
    table: Features,
    drawn: Features,
    rows: IntArray,
    others: IntArray,
    tolerance: Tolerance,
    where: Kind,
) -> Iterator[Discrepancy]:
    """Layers, shapes, sizes and angles of pairs that are not the same."""
    thicker = drawn.diameter[others] - table.diameter[rows]
    longer = drawn.length[others] - table.length[rows]
    off = _angle_off(table, drawn, rows, others)
    pairs = list(zip(rows.tolist(), others.tolist(), strict=True))
    elsewhere = [table.where[i] != drawn.where[j] or table.shape[i] != drawn.shape[j] for i, j in pairs]
    unlike = np.maximum(np.abs(thicker), np.abs(longer)) > tolerance.size
    for pair in np.flatnonzero(unlike | (off > tolerance.angle) | np.array(elsewhere, dtype=np.bool_)).tolist():
        i, j = pairs[pair]
        name, at = table.hole[i], table.place(i)
        if table.where[i] != drawn.where[j]:
            verb = "made by" if where == "wrong tool" else "on"
            words = f"{name} at {at} is {verb} {drawn.where[j]}, should be {verb} {table.where[i]}"
            yield Discrepancy(where, file, words, (name,))
        if table.shape[i] != drawn.shape[j]:
            words = f"{name} at {at} is a {drawn.named(j)}, should be a {table.named(i)}"
            yield Discrepancy("wrong shape", file, words, (name,))
        elif unlike[pair]:
            words = f"{name} at {at} is {drawn.named(j)} mm, should be {table.named(i)} mm"
            by = float(thicker[pair] if abs(thicker[pair]) > tolerance.size else longer[pair])
            yield Discrepancy("wrong size", file, words, (name,), by)
        elif off[pair] > tolerance.angle:
            words = f"{name} at {at} lies at {drawn.angle[j]:.4f} degrees, should lie at {table.angle[i]:.4f}"
            yield Discrepancy("wrong angle", file, words, (name,))


def _angle_off(table: Features, drawn: Features, rows: IntArray, others: IntArray) -> FloatArray:
    """Degrees between long axes; a square looks the same after a quarter turn, all others after half a turn."""
    square = np.abs(table.length[rows] - table.diameter[rows]) <= _SAME_PLACE
    turn = np.where(square, 90.0, 180.0)
    off = np.mod(drawn.angle[others] - table.angle[rows], turn)
    return np.where(table.length[rows] > 0, np.minimum(off, turn - off), 0.0)
