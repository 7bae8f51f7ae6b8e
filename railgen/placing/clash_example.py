"""One order in which a clash happens, for a picture: values of the dimensions, both components' features."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from railgen.data.component import Component
from railgen.data.messages import InputError
from railgen.holes.table import LH, RH, SIDES, HoleTable
from railgen.layout.features import rail_features
from railgen.layout.place import place_one, placements, preferred_station
from railgen.layout.plan import ResolvedOrder
from railgen.layout.resolve import anchor_stations
from railgen.placing.bodies import Key
from railgen.placing.catalogue_proof import ComponentClash, Proof
from railgen.placing.regions import Region
from railgen.placing.spans import REASONS

Row = tuple[int, int, int, float, float]
"""Component, side, instance, station, direction: a row of Placements."""


@dataclass(frozen=True)
class Touch:
    """Two holes in error against each other: the rule, their names, and their rows in the example's tables.

    Of envelopes: their components' names, and no rows (-1).
    """

    reason: tuple[str, str]
    holes: tuple[str, str]
    rows: tuple[int, int]


Box = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False)
class Example:
    """An order in which two components clash.

    values: the dimensions that matter (mm); first, second: features on the side; touches: what is in error; boxes: of
    each the envelopes, from-to station and from-to height (mm).
    """

    values: dict[str, float]
    side: str
    first: HoleTable
    second: HoleTable
    touches: tuple[Touch, ...]
    boxes: tuple[tuple[Box, ...], tuple[Box, ...]]


def example_of(proof: Proof, clash: ComponentClash) -> Example | None:
    """The clash where its widest stretch has its middle; None for what needs no second component, or cannot stand."""
    where = clash.found.forced if clash.found.forced.any else clash.found.possible
    if clash.second is None or clash.side not in SIDES:
        return None
    values = _middle(where)
    order = _order_at(proof, values, clash.drives[0])
    side = LH if clash.side == "LH" else RH
    try:
        rows = [_rows(part, order, proof, side) for part in (clash.first, clash.second)]
    except InputError:
        return None
    first, second = (rail_features(order, proof.catalogue, placements(each)) for each in rows)
    touches = _touches(proof, rows[0], rows[1], first, second)
    boxes = (tuple(_boxes(proof, rows[0])), tuple(_boxes(proof, rows[1])))
    return Example(values, clash.side, first, second, touches, boxes)


def _boxes(proof: Proof, rows: list[Row]) -> Iterator[Box]:
    """Envelopes of all instances."""
    every = proof.setting.boxes
    for index, _, _, at, direction in rows:
        for row in proof.setting.bodies[index, int(direction)].boxes.tolist():
            low, high = every.low[row], every.high[row]
            yield float(low[0] + at), float(high[0] + at), float(low[2]), float(high[2])


def _middle(where: Region) -> dict[str, float]:
    """Values in the middle of the longest run of a region's cells."""
    combo, first, length = 0, 0, 0
    for number, row in enumerate(where.cells):
        edges = np.flatnonzero(np.diff(np.concatenate([[False], row, [False]]).astype(np.int8))).reshape(-1, 2)
        for start, behind in edges.tolist():
            if behind - start > length:
                combo, first, length = number, start, behind - start
    names = where.axes.names
    others = where.axes.combos[combo].tolist()
    return dict(zip(names, [*others, float(where.values[first + (length - 1) // 2])], strict=True))


def _order_at(proof: Proof, values: dict[str, float], drive: str) -> ResolvedOrder:
    """The setting's order with some dimensions, the others at their defaults."""
    family = proof.order.family
    dimensions = dict(proof.order.dimensions) | values
    anchors = anchor_stations(family, dimensions)
    return replace(proof.setting.order, dimensions=dimensions, anchors=anchors, drive=drive)


def _rows(component: Component, order: ResolvedOrder, proof: Proof, side: int) -> list[Row]:
    placed = place_one(component, preferred_station(component, order), order, proof.catalogue)
    return [row for row in placed if row[1] == side]


def _touches(
    proof: Proof,
    firsts: list[Row],
    seconds: list[Row],
    first: HoleTable,
    second: HoleTable,
) -> tuple[Touch, ...]:
    """What the setting's intervals hold at the stations of all instances."""
    features = proof.setting.pattern.table.feature
    found: dict[tuple[tuple[str, str], int, int], Touch] = {}
    for index, _, instance, at, direction in firsts:
        for other, _, number, there, turned in seconds:
            keys: tuple[Key, Key] = (index, int(direction)), (other, int(turned))
            closed = proof.setting.pairs(keys[0], [keys[1]])[0].spans.holding(at - there)
            for reason, a, b in zip(closed.reason.tolist(), closed.first.tolist(), closed.second.tolist(), strict=True):
                if a < 0:
                    names = proof.catalogue.names.components
                    touch = Touch(REASONS[reason], (names[index], names[other]), (-1, -1))
                else:
                    i, j = _row(first, instance, int(features[a])), _row(second, number, int(features[b]))
                    touch = Touch(REASONS[reason], (first.hole_id(i), second.hole_id(j)), (i, j))
                found.setdefault((touch.reason, *touch.rows), touch)
    return tuple(found.values())


def _row(table: HoleTable, instance: int, feature: int) -> int:
    return int(np.flatnonzero((table.instance == instance) & (table.feature == feature))[0])
