"""Relative stations of two floats that are closed wherever they stand, all their instances on both sides together."""

from __future__ import annotations

import numpy as np

from railgen.data.component import Component
from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.placing.ground import Ground
from railgen.placing.pair_sources import Union
from railgen.placing.problem import CROSSING, OPEN, PLAIN, THROUGH, UNSURE, Closed, Relative
from railgen.placing.spans import union

_DECIMALS = 9
"""Of a millimetre: what differs by less is the same on every rail."""


def relative(ground: Ground, a: Component, b: Component) -> Relative:
    """What is closed to two floating components of an order.

    Where the two may share holes nothing is said to be closed: the rules themselves tell.
    """
    always, shared = list[_Span](), list[_Span]()
    certain = (PLAIN, THROUGH, CROSSING)
    depending = {(kind, other): list[_Span]() for kind in certain for other in certain}
    width = ground.order.dimensions["frame_width"]
    bodies, reach = ground.setting.bodies, ground.setting.reach
    for key, side, offset in ground.instances(a):
        for other, other_side, other_offset in ground.instances(b):
            if side != other_side and bodies[key].inboard + bodies[other].inboard < width - reach:
                continue
            pair = ground.setting.pairs(key, [other], None if side == other_side else width)[0]
            shift = other_offset - offset
            always += _shifted(pair.closed, shift)
            shared += _shifted(pair.shared, shift) if pair.shared else []
            depending[THROUGH, THROUGH] += _shifted(pair.liner, shift) if pair.liner else []
            for dependent in pair.dependent:
                kind = THROUGH if dependent.inside else PLAIN
                for kinds in depending:
                    if kinds[0 if dependent.of_first else 1] == kind:
                        depending[kinds] += _shifted(dependent.closed, shift)
    found = {kinds: _closed([*always, *more], shared) for kinds, more in depending.items()}
    plain = found[PLAIN, PLAIN]
    return Relative(plain, tuple((kinds, closed) for kinds, closed in found.items() if closed != plain))


_Span = tuple[float, float]


def _shifted(closed: Union, shift: float) -> list[_Span]:
    return list(zip((closed[0] + shift).tolist(), (closed[1] + shift).tolist(), strict=True))


def _closed(parts: list[_Span], shared: list[_Span]) -> Closed:
    """The union of some intervals, without what is shared."""
    if not parts:
        return OPEN
    low, high = union(*np.round(np.array(parts), _DECIMALS).T)
    left = list(zip(low.tolist(), high.tolist(), strict=True))
    for start, end in shared:
        left = [
            piece
            for low, high in left
            for piece in ((low, min(high, start)), (max(low, end), high))
            if piece[0] < piece[1]
        ]
    left.sort()
    return tuple(low for low, _ in left), tuple(high for _, high in left)


def extent(ground: Ground, component: Component) -> tuple[float, float]:
    """How far a floating component reaches ahead of its station and behind it, with what limits may reach, mm."""
    bodies, reach = ground.setting.bodies, ground.setting.reach / 2
    spans = [(bodies[key].low + offset, bodies[key].high + offset) for key, _, offset in ground.instances(component)]
    return min(low for low, _ in spans) - reach, max(high for _, high in spans) + reach


def kinds_of(ground: Ground, component: Component, stations: FloatArray, unsure: BoolArray) -> IntArray:
    """The kind of each of a floating component's stations."""
    if ground.order.rail.liner is None:
        return np.where(unsure, UNSURE, PLAIN)
    through, beside = np.ones((2, len(stations)), dtype=np.bool_)
    for key, _, offset in ground.instances(component):
        through &= ground.through(key, stations + offset)
        beside &= ground.beside(key, stations + offset)
    return np.select([unsure, through & ~beside, beside], [UNSURE, THROUGH, PLAIN], CROSSING)
