"""The catalogue of a family held against itself: every two components that can be on one truck, over all its orders.

A pair is met once (see ``setting``) and solved for all values of the order dimensions at once (see
``component_pairs``). Nothing is built and nothing is sampled.
"""

from __future__ import annotations

from collections.abc import Iterator, Set
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railgen.data.component import Component
from railgen.holes.table import LH, RAIL, RH, SIDES, BoolArray, FloatArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.place import sides_of
from railgen.layout.plan import ResolvedOrder
from railgen.placing.alone_proof import InZone, clash_alone
from railgen.placing.bodies import Key
from railgen.placing.component_pairs import Closed, Found, Standing, clash, clash_among
from railgen.placing.forms import Dimensions, Form, dimensions_of, form_range, stations_of
from railgen.placing.setting import Setting, setting_of
from railgen.placing.shared_holes import closed_with_sharing
from railgen.placing.spans import joined
from railgen.placing.together import Together
from railgen.placing.zoned import closed_in_zones, in_all_zones

DRIVES = ("left", "right", "dual")
_SAME_WIDTH = 1e-3
"""mm to either side of a frame width."""


@dataclass(frozen=True, eq=False)
class ComponentClash:
    """Two components that clash in some orders, or one with itself or with the rail's ends (second is None).

    drives: those with which both stand there; side: LH or RH, the first where it happens, or both sides where the two
    stand opposite each other.
    """

    first: Component
    second: Component | None
    drives: tuple[str, ...]
    side: str
    found: Found


@dataclass(frozen=True, eq=False)
class Proof:
    """One family on one setting: section, steels, limit set."""

    order: ResolvedOrder
    catalogue: Catalogue
    setting: Setting
    dimensions: Dimensions
    together: Together

    @cached_property
    def standing(self) -> tuple[Standing, ...]:
        """Components that the family's options bring, in the catalogue's order, with their stations."""
        brought = {component.id for components in self.together.brought.values() for component in components}
        return tuple(
            Standing(component, self.catalogue.index[name], stations_of(component, self.dimensions))
            for name, component in self.catalogue.library.components.items()
            if name in brought
        )

    @cached_property
    def options_of(self) -> dict[str, tuple[str, ...]]:
        """The family's options that bring each component."""
        found: dict[str, list[str]] = {standing.component.id: [] for standing in self.standing}
        for code, components in self.together.brought.items():
            for component in components:
                found[component.id].append(code)
        return {name: tuple(codes) for name, codes in found.items()}

    @cached_property
    def number(self) -> dict[str, int]:
        """Place of each component among those that stand."""
        return {one.component.id: number for number, one in enumerate(self.standing)}

    @cached_property
    def meets(self) -> BoolArray:
        """(n, n) whether any order can have two of the components."""
        codes = self.together.sold
        place = {code: number for number, code in enumerate(codes)}
        brings = np.zeros((len(self.standing), len(codes)), dtype=np.int64)
        for number, one in enumerate(self.standing):
            brings[number, [place[code] for code in self.options_of[one.component.id]]] = 1
        pairs = [[a == b or self.together.may_meet(a, b) for b in codes] for a in codes]
        found = brings @ np.array(pairs, dtype=np.int64) @ brings.T > 0
        for number, one in enumerate(self.standing):
            if one.component.valid_from is not None or one.component.valid_to is not None:
                held = [self._hold_together(one.component, other.component) for other in self.standing]
                found[number] &= held
                found[:, number] &= held
        return np.asarray(found)

    def _hold_together(self, one: Component, other: Component) -> bool:
        """Whether two components hold for one serial with options that bring them."""
        return any(
            (a == b or self.together.may_meet(a, b)) and self.together.may_stand((a, b), (one, other))
            for a in self.options_of[one.id]
            for b in self.options_of[other.id]
        )

    def may_meet(self, one: Component, other: Component) -> bool:
        """Whether any order can have both components."""
        return bool(self.meets[self.number[one.id], self.number[other.id]])

    def neighbours(self, one: Standing) -> list[Standing]:
        """Components that an order can have beside one, and that some order brings within reach of it."""
        number = self.number[one.component.id]
        near = [*(n for n in range(number) if number in self._near[n]), *self._near[number]]
        return [self.standing[n] for n in near if self.meets[number, n]]

    def prepare(self) -> None:
        """Work out once what every component's clashes ask for."""
        assert len(self._near) == len(self.meets) == len(self.standing)
        assert self.setting.bodies
        assert self.setting.fasteners
        assert self._in_zones is not None

    def clashes_of(self, some: Set[str] | None = None, share: tuple[int, int] = (0, 1)) -> Iterator[ComponentClash]:
        """Every clash of two components, of those given (by id; all by default) with all others.

        share: (k, n) takes of all pairs those whose first component is the k-th, (k + n)-th ... of all.
        """
        for number in range(share[0], len(self.standing), share[1]):
            one = self.standing[number]
            theirs = [self.standing[other] for other in self._near[number]]
            if some is not None and one.component.id not in some:
                theirs = [other for other in theirs if other.component.id in some]
            theirs = [other for other in theirs if self.may_meet(one.component, other.component)]
            yield from self._clashes(one, theirs)

    def clashes_alone(self, some: Set[str] | None = None, share: tuple[int, int] = (0, 1)) -> Iterator[ComponentClash]:
        """Every component in error by itself: its features, its instances, and the ends of the rail."""
        for one in self.standing[share[0] :: share[1]]:
            if some is None or one.component.id in some:
                yield from self._alone(one)

    def _clashes(self, one: Standing, others: list[Standing]) -> Iterator[ComponentClash]:
        for opposite in (False, True):
            keys: dict[tuple[int, int], list[tuple[Standing, str, tuple[str, ...]]]] = {}
            for other in others:
                if not opposite or self._meets_across(one, other):
                    for (first, second), (side, drives) in self.directions(
                        one.component, other.component, opposite
                    ).items():
                        keys.setdefault((first, second), []).append((other, side, drives))
            for (first, second), met in keys.items():
                bodies: list[Key] = [(other.index, second) for other, _, _ in met]
                meet = self._opposite if opposite else self._beside
                for (other, side, drives), closed in zip(met, meet((one.index, first), bodies), strict=True):
                    found = clash(one.stations, other.stations, closed, self.dimensions) if len(closed.sure) else None
                    if found is not None:
                        yield ComponentClash(one.component, other.component, drives, side, found)

    def _meets_across(self, one: Standing, other: Standing) -> bool:
        """Whether two components reach so far inboard that they can meet across the narrowest frame."""
        bodies = self.setting.bodies
        inboard = sum(bodies[part.index, 1].inboard for part in (one, other))
        return inboard + self.setting.reach > self._frame_widths[0][0]

    def _beside(self, key: Key, others: list[Key]) -> Iterator[Closed]:
        """What is closed to a component by each of some others on its own side."""
        zoned = self._zoned.pairs(key, others) if self._zoned else [None] * len(others)
        for other, pair, in_zones in zip(others, self.setting.pairs(key, others), zoned, strict=True):
            spans = closed_with_sharing(self.setting, key, other, pair)
            more = [pair.in_liner] if pair.liner is not None else []
            more += [in_zones.spans] if in_zones else []
            more += [dependent.spans for dependent in pair.dependent]
            closed = joined([spans, *more]) if more else spans
            sure = np.arange(len(closed)) < len(spans)
            yield Closed(closed, sure, np.zeros(len(closed), dtype=np.int64))

    def _opposite(self, key: Key, others: list[Key]) -> Iterator[Closed]:
        """What is closed to a component by each of some others on the opposite side, for each frame width."""
        widths = self._frame_widths
        narrowest = self.setting.pairs(key, others, widths[0][0])
        # On a wider frame they are further apart: nothing is closed there that the narrowest leaves free.
        met = [other for other, pair in zip(others, narrowest, strict=True) if pair.closes]
        each = [self.setting.pairs(key, met, width) if met else [] for width, _ in widths]
        by_other = dict(zip(met, zip(*each, strict=True), strict=True))
        for other in others:
            pairs = by_other.get(other, ())
            spans = joined([pair.spans for pair in pairs])
            held = np.repeat(np.arange(len(pairs)), [len(pair.spans) for pair in pairs])
            sure = np.full(len(spans), all(only is not None for _, only in widths))
            yield Closed(spans, sure, held, tuple(only for _, only in widths))

    @cached_property
    def _frame_widths(self) -> list[tuple[float, tuple[Form, float, float] | None]]:
        """Every frame width with the condition that an order has it; without a step the least, which closes most."""
        width = self.dimensions.each[self.dimensions.names.index("frame_width")]
        if width.values is None:
            return [(width.least, None)]
        form = self.dimensions.alone("frame_width")
        return [(value, (form, value - _SAME_WIDTH, value + _SAME_WIDTH)) for value in width.values.tolist()]

    def directions(
        self, one: Component, other: Component, opposite: bool = False
    ) -> dict[tuple[int, int], tuple[str, tuple[str, ...]]]:
        """Directions in which two components stand on one side, or opposite: the first's side, with which drives."""
        found: dict[tuple[int, int], tuple[str, tuple[str, ...]]] = {}
        for drive in DRIVES:
            for side in (LH, RH):
                there = (LH if side == RH else RH) if opposite else side
                if side in sides_of(one, drive) and there in sides_of(other, drive):
                    key = _direction(one, side), _direction(other, there)
                    name, drives = found.get(key, (SIDES[side] + (f"-{SIDES[there]}" if opposite else ""), ()))
                    found[key] = name, tuple(dict.fromkeys((*drives, drive)))
        return found

    def _alone(self, one: Standing) -> Iterator[ComponentClash]:
        for direction, (side, drives) in self._own_directions(one.component).items():
            key = (one.index, direction)
            alone, zones = self.setting.bodies[key].alone, self._in_zones.get(key, [])
            parts = [clash_alone(one.stations, alone, zones, self.setting.clashes(key)[RAIL], self.dimensions)]
            if len(one.stations.offset) > 1:
                parts.append(clash_among(one.stations, next(self._beside(key, [key])), self.dimensions))
            for found in parts:
                if found is not None:
                    yield ComponentClash(one.component, None, drives, side, found)

    @cached_property
    def _in_zones(self) -> dict[Key, list[InZone]]:
        return closed_in_zones(self.setting)

    @cached_property
    def _zoned(self) -> Setting | None:
        return in_all_zones(self.setting)

    def _own_directions(self, one: Component) -> dict[int, tuple[str, tuple[str, ...]]]:
        return {first: told for (first, _), told in self.directions(one, one).items()}

    @cached_property
    def _near(self) -> list[list[int]]:
        """For each component those behind it in the list that some order brings within reach of it."""
        first, last = self._hulls
        low, high = self._reaches
        gap = self.setting.reach
        found = []
        for number in range(len(self.standing)):
            behind = np.arange(number + 1, len(self.standing))
            # The furthest that one can lie rearward of the other, first instance against last, over all orders.
            ahead = form_range(last[0][number] - first[0][behind], last[1][number] - first[1][behind], self.dimensions)[
                1
            ]
            after = form_range(last[0][behind] - first[0][number], last[1][behind] - first[1][number], self.dimensions)[
                1
            ]
            near = (ahead + high[number] - low[behind] + gap > 0) & (after + high[behind] - low[number] + gap > 0)
            found.append(behind[near].tolist())
        return found

    @property
    def _hulls(self) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]:
        """Forms of the first and the last instance of every component: offsets and coefficients."""
        each = [standing.stations for standing in self.standing]
        first = np.array([s.offset[0] for s in each]), np.array([s.per[0] for s in each])
        last = np.array([s.offset[-1] for s in each]), np.array([s.per[-1] for s in each])
        return first, last

    @property
    def _reaches(self) -> tuple[FloatArray, FloatArray]:
        """How far every component reaches ahead of its station and behind it, floats settled furthest, mm."""
        bodies = self.setting.bodies
        low, high = [], []
        for standing in self.standing:
            shift = standing.stations.shift
            turned = [bodies[standing.index, d] for d in (1, -1) if d == 1 or standing.component.side == "turned"]
            low.append(min(body.low for body in turned) + float(shift.min()))
            high.append(max(body.high for body in turned) + float(shift.max()))
        return np.array(low), np.array(high)


def _direction(component: Component, side: int) -> int:
    return -1 if component.side == "turned" and side == RH else 1


def proof_of(order: ResolvedOrder, catalogue: Catalogue) -> Proof:
    """The family of an order on the setting of that order; its options and dimensions are not looked at."""
    family, library = order.family, catalogue.library
    return Proof(
        order, catalogue, setting_of(order, catalogue), dimensions_of(library, family), Together(library, family)
    )
