"""Free stations against the oracle, which shares no code with them: stepping along the rail, and round every end."""

from __future__ import annotations

import random
import tomllib

import numpy as np
import pytest
from compared import placed_in, strung_in
from oracle.features import read_features
from oracle.feet_rules import footprint_clash
from oracle.library import read_library
from oracle.limits import Limits
from oracle.order import resolve as oracle_order
from oracle.pair_rules import pair_match, pairs
from oracle.press_rules import press_limit, ramp_flush
from oracle.rail_rules import flange_count
from oracle.rules import bend_clearance, edge_distance, flange_hole, hole_size, off_rail, washer_seat
from oracle.space_rules import space_clash
from oracle.weld_rules import holes_in_line, liner_edge, weld_clearance
from oracle.wrench_rules import wrench_access
from placing_world import DEMO, catalogue_of
from random_orders import random_orders

from railgen.data.component import Component
from railgen.data.messages import InputError
from railgen.data.order import Order
from railgen.data.reading import validate
from railgen.formats.hole_table import hole_table_csv
from railgen.holes.table import PARTS, SIDES, HoleTable
from railgen.layout.features import hole_table
from railgen.layout.place import placements
from railgen.layout.plan import SerialPlan
from railgen.pipeline import plan
from railgen.placing.free import FreeInterval, free_stations, without
from railgen.shop.strings import with_string_tools

CASES = 3
"""Component and rail pairs in the tests; run as a script with a number for more."""
STEP, STEPS = 0.05, 6
"""mm between stations stepped to on either side of an end, and how many."""
NEAR = 0.001
"""mm to each side of an end."""
FAR = 600.0
"""mm from the component: what is further off cannot matter to it, unless it is its mate on the other side."""
MOST_ENDS = 4
SAME_ANYWHERE = {("press-limit", "force"), ("press-limit", "tool")}
"""Measures of a hole's size alone, which no station is to blame for."""


class Oracle:
    """The oracle asked about one component at one station on one side of a rail."""

    def __init__(self, text: str, made: SerialPlan, component: Component, side: str) -> None:
        catalogue = catalogue_of()
        self.made, self.component, self.side = made, component, side
        self.index = catalogue.index[component.id]
        self.library = read_library(DEMO)
        self.order = oracle_order(text, self.library)
        at = without(made.placements, self.index)
        columns = (at.component, at.side, at.instance, at.station, at.direction)
        mates = component.mates
        self.mates = [
            catalogue.index[c.id] for c in catalogue.library.components.values() if mates and c.mates == mates
        ]
        self.standing = list(zip(*(column.tolist() for column in columns), strict=True))

    def is_free(self, station: float) -> bool:
        """Whether no rule finds an error about the component."""
        repeat, side = self.component.repeat, SIDES.index(self.side)
        count, pitch = (repeat.count or 1, repeat.pitch or 0.0) if repeat else (1, 0.0)
        way = -1.0 if self.component.side == "turned" and side else 1.0
        own = [(self.index, side, n + 1, station + n * pitch, way) for n in range(count)]
        stands = placements(sorted([*self.standing, *own]))
        table = hole_table(self.made.order, catalogue_of(), stands)
        near = (table.station > station - FAR) & (table.station < own[-1][3] + FAR)
        near |= np.isin(table.component, self.mates)
        table = self._with_tools(table.rows(near))
        text = hole_table_csv(self.made.serial, table).decode()
        here = SerialPlan(self.made.order, stands, table, ())
        found, name = self._found(text, placed_in(here, catalogue_of()), strung_in(here)), self.component.id
        errors = [f for f in found if f["severity"] == "error" and name in f["components"]]
        return all((f["rule"], f["measure"]) in SAME_ANYWHERE for f in errors)

    def _with_tools(self, table: HoleTable) -> HoleTable:
        thickness = np.array([self.made.order.thickness_of(part) for part in PARTS])[table.part]
        return table.with_columns(tool=with_string_tools(table, self.made.order.library.press, thickness))

    def _found(
        self, text: str, placed: list[tuple[str, str, int, float, float]], strung: dict[tuple[str, str, str], str]
    ) -> list[dict[str, object]]:
        order, library = self.order, self.library
        # Anew for every station: limits are remembered by hole.
        limits = Limits(order, library)
        features = read_features(text, order, library)
        by_feature = (off_rail, edge_distance, bend_clearance, washer_seat, flange_count, pairs, weld_clearance)
        return [
            *(found for rule in (*by_feature, holes_in_line) for found in rule(features, limits)),
            *hole_size(features, limits),
            *flange_hole(features, limits, library),
            *pair_match(features, limits, library),
            *footprint_clash(placed, features, order, limits, library),
            *space_clash(placed, order, limits, library),
            *wrench_access(placed, features, order, limits, library),
            *liner_edge(features, order, limits),
            *ramp_flush(placed, features, order, limits, library),
            *press_limit(features, order, limits, library, strung),
        ]


def cases(count: int, seed: int) -> list[tuple[str, SerialPlan, Component]]:
    """Random components on random rails."""
    catalogue, rng = catalogue_of(), random.Random(seed)
    movable = [c for c in catalogue.library.components.values() if c.groups and not (c.repeat and c.repeat.to)]
    found: list[tuple[str, SerialPlan, Component]] = []
    for text in random_orders(3 * count, seed, catalogue.library):
        try:
            made = plan(validate(tomllib.loads(text), Order, "order"), catalogue)
        except InputError:
            continue
        found.append((text, made, rng.choice(movable)))
    return found[:count]


def said(intervals: tuple[FreeInterval, ...], station: float) -> bool:
    return any(i.start <= station <= i.end for i in intervals)


def disagreements(text: str, made: SerialPlan, component: Component, rng: random.Random) -> tuple[list[str], int]:
    """Stations that free stations and the oracle do not agree about, and how many were tried."""
    free, wrong, tried = free_stations(component, made.order, catalogue_of(), made.placements), [], 0
    for side, intervals in free.sides.items():
        oracle = Oracle(text, made, component, side)
        ends = [end for i in intervals for end in (i.start, i.end) if free.window[0] < end < free.window[1]]
        some = rng.sample(ends, min(MOST_ENDS, len(ends)))
        stations = [end + side_of for end in some for side_of in (-NEAR, NEAR)]
        if some:
            stations += [some[0] + STEP * (n + 0.5) for n in range(-STEPS, STEPS)]
        stations += [rng.uniform(*free.window) for _ in range(3)]
        for station in stations:
            tried += 1
            if said(intervals, station) != oracle.is_free(station):
                wrong.append(f"{made.serial} {component.id} {side} {station}: said free {said(intervals, station)}")
    return wrong, tried


@pytest.mark.parametrize("case", range(CASES))
def test_the_oracle_agrees(case: int) -> None:
    text, made, component = cases(4, 12)[1 + case]
    wrong, tried = disagreements(text, made, component, random.Random(case))
    assert not wrong, "\n".join(wrong)
    assert tried >= 3


if __name__ == "__main__":
    import sys

    COUNT, total = int(sys.argv[1]), 0
    for number, drawn in enumerate(cases(COUNT, 77)):
        lines, asked = disagreements(*drawn, random.Random(number))
        total += asked
        print(number, drawn[1].serial, drawn[2].id, asked, *lines, flush=True)
    print(total, "stations asked")
