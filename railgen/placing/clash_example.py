"""One order in which a clash happens, for a picture: values of the dimensions, the components' features, what meets."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from railgen.data.component import Component
from railgen.data.messages import InputError
from railgen.frame.rail import RailShape
from railgen.holes.table import SIDES, HoleTable
from railgen.layout.features import hole_table, rail_features
from railgen.layout.place import place_one, placements, preferred_station
from railgen.layout.plan import ResolvedOrder
from railgen.layout.resolve import anchor_stations, zone_stations
from railgen.placing.bodies import Key
from railgen.placing.catalogue_proof import ComponentClash, Proof
from railgen.placing.regions import Region
from railgen.placing.spans import REASONS
from railgen.rules.check import every_finding
from railgen.rules.pattern import Pattern

Row = tuple[int, int, int, float, float]
"""Component, side, instance, station, direction: a row of Placements."""


@dataclass(frozen=True)
class Touch:
    """What is in error: the rule, the names of two holes, and their rows in the example's tables.

    Of feet and envelopes: their components' names, and no rows (-1); of one hole by itself a single name and -1.
    """

    reason: tuple[str, str]
    holes: tuple[str, ...]
    rows: tuple[int, int]


@dataclass(frozen=True)
class Box:
    """An envelope: from-to station, across from the outside of its own web inboard, and height, mm."""

    station: tuple[float, float]
    across: tuple[float, float]
    height: tuple[float, float]


@dataclass(frozen=True)
class Foot:
    """A foot: its face, and its corners as station and across, mm."""

    face: int
    corners: tuple[tuple[float, float], ...]


@dataclass(frozen=True, eq=False)
class Part:
    """One component of an example on one side: its features, envelopes and feet."""

    table: HoleTable
    boxes: tuple[Box, ...]
    feet: tuple[Foot, ...]


@dataclass(frozen=True, eq=False)
class Example:
    """An order in which a component clashes, with another or by itself (second is empty).

    values: the dimensions that matter (mm); side: LH, RH, or both where the two stand opposite each other; ends: of the
    rail, stations; frame_width: mm.
    """

    values: dict[str, float]
    side: str
    first: Part
    second: Part
    touches: tuple[Touch, ...]
    ends: tuple[float, float]
    frame_width: float


def example_of(proof: Proof, clash: ComponentClash) -> Example | None:
    """The clash where its widest stretch has its middle; None for what cannot stand there."""
    where = clash.found.forced if clash.found.forced.any else clash.found.possible
    values = _middle(where)
    order = _order_at(proof, values, clash.drives[0])
    sides = [SIDES.index(side) for side in clash.side.split("-")]
    try:
        firsts = _rows(clash.first, order, proof, sides[0])
        seconds = _rows(clash.second, order, proof, sides[-1]) if clash.second else []
    except InputError:
        return None
    parts = (_part(order, proof, firsts), _part(order, proof, seconds))
    if clash.second is None:
        touches = _alone(order, proof, clash, firsts, parts[0])
    else:
        width = order.dimensions["frame_width"] if len(sides) > 1 else None
        touches = _touches(proof, (firsts, seconds), parts, width)
    ends = order.anchors["rail_front"], order.anchors["rail_rear"]
    return Example(values, clash.side, *parts, touches, ends, order.dimensions["frame_width"])


def _part(order: ResolvedOrder, proof: Proof, rows: list[Row]) -> Part:
    stands = placements(rows)
    table = rail_features(order, proof.catalogue, stands)
    feet = Pattern(order, table, proof.setting.limits, stands).feet
    corners = [
        tuple((float(x), float(y)) for x, y in feet.corners[start:end].tolist())
        for start, end in pairwise(feet.start.tolist())
    ]
    told = tuple(Foot(face, found) for face, found in zip(feet.face.tolist(), corners, strict=True))
    return Part(table, tuple(_boxes(proof, rows)), told)


def _alone(order: ResolvedOrder, proof: Proof, clash: ComponentClash, rows: list[Row], part: Part) -> tuple[Touch, ...]:
    """What the rules find of a component by itself on the rail as long as it is there."""
    rail = RailShape(order.rail.section, order.anchors["rail_front"], order.anchors["rail_rear"])
    zones = zone_stations(order.family, order.anchors, order.dimensions)
    here = replace(order, rail=rail, zones=zones)
    stands = placements(rows)
    pattern = Pattern(here, hole_table(here, proof.catalogue, stands), proof.setting.limits, stands)
    row_of = {hole: row for row, hole in enumerate(part.table.ids)}
    touches = []
    for finding in every_finding(pattern):
        reason = finding.rule, finding.measure
        if finding.severity == "error" and reason in clash.found.reasons:
            hit = [row_of[name] for name in finding.holes if name in row_of][:2]
            names = finding.holes or (clash.first.id,)
            # Two holes of one component are two rows of the one table.
            touches += [Touch(reason, names, (row, -1)) for row in hit] or [Touch(reason, names, (-1, -1))]
    return tuple(touches)


def _boxes(proof: Proof, rows: list[Row]) -> Iterator[Box]:
    """Envelopes of all instances."""
    every = proof.setting.boxes
    for index, _, _, at, direction in rows:
        for row in proof.setting.bodies[index, int(direction)].boxes.tolist():
            (x0, y0, z0), (x1, y1, z1) = every.low[row].tolist(), every.high[row].tolist()
            yield Box((x0 + at, x1 + at), (y0, y1), (z0, z1))


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
    proof: Proof, rows: tuple[list[Row], list[Row]], parts: tuple[Part, Part], frame_width: float | None
) -> tuple[Touch, ...]:
    """What the setting's intervals hold at the stations of all instances; frame_width: mm, of two sides."""
    features = proof.setting.pattern.table.feature
    first, second = (part.table for part in parts)
    found: dict[tuple[tuple[str, str], int, int], Touch] = {}
    for index, _, instance, at, direction in rows[0]:
        for other, _, number, there, turned in rows[1]:
            keys: tuple[Key, Key] = (index, int(direction)), (other, int(turned))
            closed = proof.setting.pairs(keys[0], [keys[1]], frame_width)[0].spans.holding(at - there)
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
