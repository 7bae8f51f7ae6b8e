"""Free stations of one component over many serials: what suits all of them, and how many each station suits.

Serials differ in length, so that stations are told as offsets from the component's anchor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from railgen.data.component import Component
from railgen.layout.place import preferred_station
from railgen.layout.plan import ResolvedOrder
from railgen.placing.free import FreeStations, Interval, intersected


@dataclass(frozen=True)
class Suited:
    """Offsets from start to end (mm) that suit so many serials."""

    start: float
    end: float
    serials: int


def free_offsets(component: Component, order: ResolvedOrder, free: FreeStations) -> tuple[Interval, ...]:
    """Offsets of the component from its anchor that are free on all its sides of one serial, mm."""
    anchor = preferred_station(component, order) - component.position.offset
    # Ends that are one and the same on serials of every length differ in their last digits.
    return tuple((round(start - anchor, 9), round(end - anchor, 9)) for start, end in free.together)


def free_on_all(serials: Sequence[Sequence[Interval]]) -> tuple[Interval, ...]:
    """Offsets that are free on every one of some serials."""
    return intersected(serials)


def suited_serials(serials: Sequence[Sequence[Interval]]) -> tuple[Suited, ...]:
    """The curve of how many serials each offset suits, from the first offset that suits any to the last.

    Stretches follow one another without a gap; at a common end the higher count holds, since intervals hold their ends.
    """
    steps: dict[float, int] = {}
    for intervals in serials:
        for start, end in intervals:
            steps[start] = steps.get(start, 0) + 1
            steps[end] = steps.get(end, 0) - 1
    found: list[Suited] = []
    count = 0
    places = sorted(steps)
    for place, following in pairwise(places):
        count += steps[place]
        if found and found[-1].serials == count:
            found[-1] = Suited(found[-1].start, following, count)
        else:
            found.append(Suited(place, following, count))
    return tuple(found)
