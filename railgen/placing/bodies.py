"""All components of a catalogue on one rail, each at station 0: their holes, studs, feet, screws and envelopes."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from railgen.holes.table import LH, LINER, RAIL, RH, FloatArray, IntArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import rail_features, with_liner
from railgen.layout.place import placements
from railgen.layout.plan import ResolvedOrder
from railgen.placing.alone import EndSpans, closed_alone
from railgen.placing.boxes import Boxes, boxes_of
from railgen.placing.fasteners import Fasteners, fasteners_of
from railgen.placing.feet import Prints, prints_of
from railgen.placing.foot_terms import closed_feet
from railgen.placing.holes import Holes, holes_of, studs_of
from railgen.placing.spans import split
from railgen.placing.tail import blank_velocity
from railgen.rules.limits import LimitTable
from railgen.rules.pattern import Pattern
from railgen.rules.spacing import COINCIDENT

Key = tuple[int, int]
"""A component by its row in the catalogue, and its direction: 1 the right way round, -1 turned."""


@dataclass(frozen=True)
class Body:
    """A component at station 0.

    low, high: how far it reaches, mm; low_steel, high_steel: how far its features and feet do; inboard: how far across
    the frame it fills the space or needs it for a wrench, from its own web; alone: where it may not stand whatever
    stands beside it; on_rail, in_liner: its holes by their rows in the setting's; studs, feet, fasteners, boxes: those
    by theirs.
    """

    key: Key
    low: float
    high: float
    low_steel: float
    high_steel: float
    inboard: float
    alone: EndSpans
    on_rail: IntArray
    in_liner: IntArray
    studs: IntArray
    feet: IntArray
    fasteners: IntArray
    boxes: IntArray


@dataclass(frozen=True)
class Bodies:
    """All components on one rail, the right way round and turned where they may be.

    reach: how far apart two of them can be at most and yet break a limit, mm.
    """

    order: ResolvedOrder
    catalogue: Catalogue
    limits: LimitTable
    reach: float
    _opposite: dict[float, Boxes] = field(default_factory=dict, repr=False)

    @cached_property
    def pattern(self) -> Pattern:
        """Features, feet and envelopes of all components, those that may be turned twice."""
        rows = [(index, LH, 1, 0.0, 1.0) for index in range(len(self.catalogue.names.components))]
        turned = [row for row, c in enumerate(self.catalogue.library.components.values()) if c.side == "turned"]
        rows += [(index, RH, 1, 0.0, -1.0) for index in turned]
        stands = placements(rows)
        table = with_liner(self.order, rail_features(self.order, self.catalogue, stands))
        return Pattern(self.order, table, self.limits, stands)

    @cached_property
    def on_rail(self) -> Holes:
        """All holes in the rail."""
        return self._holes(RAIL)

    @cached_property
    def in_liner(self) -> Holes:
        """All holes that a liner would have."""
        return self._holes(LINER)

    @cached_property
    def studs(self) -> Holes:
        """All studs."""
        return studs_of(self.pattern, self._along)

    def _holes(self, part: int) -> Holes:
        return holes_of(self.pattern, np.flatnonzero(self.pattern.table.part == part), self._along)

    @cached_property
    def _along(self) -> FloatArray:
        return blank_velocity(self.order.rail, self.pattern.table)

    @cached_property
    def prints(self) -> Prints:
        """All feet."""
        return prints_of(self.pattern)

    @cached_property
    def fasteners(self) -> tuple[Fasteners, Fasteners]:
        """All screws and studs, where there is no liner and where there is."""
        within = fasteners_of(self.pattern)
        if self.order.rail.liner is None:
            return within, within
        table = self.pattern.table
        bare = replace(self.order, rail=replace(self.order.rail, liner=None))
        rail_rows = table.rows(table.part == RAIL)
        return fasteners_of(Pattern(bare, rail_rows, self.limits, self.pattern.placements)), within

    @cached_property
    def boxes(self) -> Boxes:
        """All envelopes, as the rail sees them that carries their components."""
        return boxes_of(self.pattern)

    def boxes_opposite(self, frame_width: float) -> Boxes:
        """All envelopes, as the opposite rail sees them."""
        if frame_width not in self._opposite:
            self._opposite[frame_width] = self.boxes.across_from(frame_width)
        return self._opposite[frame_width]

    @cached_property
    def bodies(self) -> dict[Key, Body]:
        """All components by key."""
        table, along = self.pattern.table, self.pattern.reach[0]
        count = len(self.catalogue.names.components)
        number = table.component + count * (table.side == RH)
        stands = self.pattern.placements
        of_box = (stands.component + count * (stands.side == RH))[self.boxes.placement]
        feet = self.prints.feet
        of_foot = (stands.component + count * (stands.side == RH))[feet.placement]
        low, high = np.zeros(2 * count), np.zeros(2 * count)
        for numbers, least, most in (
            (number, table.station - along, table.station + along),
            (of_foot, feet.low[:, 0], feet.high[:, 0]),
        ):
            np.minimum.at(low, numbers, least)
            np.maximum.at(high, numbers, most)
        low_steel, high_steel = low.copy(), high.copy()
        np.minimum.at(low, of_box, self.boxes.low[:, 0])
        np.maximum.at(high, of_box, self.boxes.high[:, 0])
        marks = marks_of(self.order)
        of_rows = closed_alone(self.pattern, self._along).moved(-marks).split(number, 2 * count)
        of_feet = closed_feet(self.pattern).moved(-marks).split(of_foot, 2 * count)
        alone = [rows.with_feet(feet) for rows, feet in zip(of_rows, of_feet, strict=True)]
        parts = (
            split(numbers, 2 * count)
            for numbers in (
                number[self.on_rail.row],
                number[self.in_liner.row],
                number[self.studs.row],
                of_foot,
                number[self.fasteners[0].row],
                of_box,
            )
        )
        ends = [
            array.tolist() for array in (low, high, low_steel, high_steel, self._inboard(number, of_box, 2 * count))
        ]
        keys = [(index, direction) for direction in (1, -1) for index in range(count)]
        rows = zip(keys, *ends, alone, *parts, strict=True)
        return {row[0]: Body(*row) for row in rows}

    def _inboard(self, number: IntArray, of_box: IntArray, count: int) -> FloatArray:
        """How far inboard each component fills the space, or needs it to turn its screws, mm."""
        inboard = np.zeros(count)
        np.maximum.at(inboard, of_box, self.boxes.high[:, 1])
        for fasteners in self.fasteners:
            far = np.where(fasteners.face == 0, 0.0, fasteners.place[:, 1] + fasteners.half[:, 1] + fasteners.radius)
            np.maximum.at(inboard, number[fasteners.row], far)
            np.maximum.at(inboard, number[fasteners.row], fasteners.seats[:, 1] + fasteners.length[:, 1])
        return inboard

    @cached_property
    def is_exact(self) -> bool:
        """Whether overlapping holes are in error everywhere, as the intervals take for granted."""
        return all(
            any(
                entry.row.error is not None and entry.row.error >= least and entry.row.when is None
                for entry in self.limits.rows.get((rule, "pair"), ())
            )
            for rule, least in (("duplicate-hole", COINCIDENT - 1e-9), ("size-conflict", 0.0))
        )


def marks_of(order: ResolvedOrder) -> FloatArray:
    """Stations of the ends of rail and liner as ``alone`` counts them, mm."""
    rail = order.rail
    start, end = (rail.liner.start, rail.liner.end) if rail.liner else (0.0, 0.0)
    return np.array([0.0, rail.front, rail.rear, start, end])
