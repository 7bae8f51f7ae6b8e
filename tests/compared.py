"""A random order planned by the product, and everything of the plan that the oracle starts from."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass

import numpy as np
from greedy import place_greedily
from oracle.run import RULES, findings, misplaced
from oracle.same import differences

from railgen.data.order import Order
from railgen.data.reading import validate
from railgen.formats.hole_table import hole_table_csv
from railgen.holes.table import PARTS, SIDES
from railgen.layout.catalogue import Catalogue
from railgen.layout.place import place
from railgen.layout.plan import ResolvedOrder, SerialPlan
from railgen.pipeline import plan
from railgen.placing.placed import Placed, placed_at
from railgen.rules.strength import strength_of
from railgen.shop.strings import hit_strings

Finding = dict[str, object]


@dataclass(frozen=True)
class Planned:
    """An order as TOML text, its hole table as CSV, where its components stand, the strings' tools, findings.

    between: by side the stations between overlapping holes at which bending is looked at.
    """

    text: str
    holes: str
    placed: list[tuple[str, str, int, float, float]]
    strung: dict[tuple[str, str, str], str]
    found: list[Finding]
    between: dict[str, list[float]]

    def disagreements(self, plain_library: dict[str, object]) -> list[str]:
        """What product and oracle do not agree about."""
        wrong = misplaced(self.holes, self.text, plain_library)
        return wrong + differences(self.found, self.oracle(plain_library))

    def oracle(self, plain_library: dict[str, object]) -> list[Finding]:
        """The oracle's findings."""
        return findings(
            self.holes, self.text, plain_library, placed=self.placed, strung=self.strung, between=self.between
        )


def planned(text: str, catalogue: Catalogue, name: str = "order", settle: bool = True) -> Planned:
    """An order planned and checked by the product; settle: whether floats settle, or stand where they would like to.

    In libraries where nearly everything clashes a free station is long looked for, and no more is learnt by it.
    """
    order = validate(tomllib.loads(text), Order, name)
    made = plan(order, catalogue, name, place_greedily if settle else as_preferred)
    return Planned(
        text,
        hole_table_csv(order.serial, made.holes).decode(),
        placed_in(made, catalogue),
        strung_in(made),
        [finding.as_dict() for finding in made.findings if finding.rule in RULES],
        lines_between(made),
    )


def as_preferred(order: ResolvedOrder, catalogue: Catalogue) -> Placed:
    """A placer that moves nothing."""
    return placed_at(order, catalogue, place(order, catalogue))


def placed_in(made: SerialPlan, catalogue: Catalogue) -> list[tuple[str, str, int, float, float]]:
    """Component, side, instance, station and direction of every placement."""
    names, at = list(catalogue.library.components), made.placements
    columns = (
        at.component.tolist(),
        at.side.tolist(),
        at.instance.tolist(),
        at.station.tolist(),
        at.direction.tolist(),
    )
    return [(names[c], SIDES[side], number, x, way) for c, side, number, x, way in zip(*columns, strict=True)]


def strung_in(made: SerialPlan) -> dict[tuple[str, str, str], str]:
    """The tool by side, part and hole of those that the press cuts by strings of hits."""
    table, press = made.holes, made.order.library.press
    thickness = np.array([made.order.thickness_of(part) for part in PARTS])[table.part]
    return {
        (SIDES[table.side[row]], PARTS[table.part[row]], table.hole_id(row)): press.tools[string.tool].id
        for row, string in hit_strings(table, press, thickness).items()
    }


def lines_between(made: SerialPlan) -> dict[str, list[float]]:
    """Of each side the stations between overlapping holes at which bending is looked at; none without loads."""
    if made.order.order.loads is None:
        return {}
    strength = strength_of(made)
    nets = [net for net in (strength.net, strength.lined_net) if net is not None]
    return {name: [x for net in nets for x in net.lines_between_holes(side)] for side, name in enumerate(SIDES)}
