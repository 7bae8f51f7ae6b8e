"""Notes on floats that have moved from their preferred stations, or found none."""

from __future__ import annotations

from dataclasses import dataclass

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.data.limit_sets import MEASURES
from railgen.placing.conflict import Conflict
from railgen.placing.ground import Blocked
from railgen.placing.tree import Solution

_RULES = list(MEASURES)


@dataclass(frozen=True)
class Told:
    """A float, its preferred station and where it stands (mm), and why.

    conflict: of one that found no station, where it is known; solution: of the floats that it was settled with.
    """

    component: Component
    wanted: float
    station: float
    found_none: bool
    conflict: Conflict | None
    solution: Solution | None


def note_of(told: Told, blocked: set[Blocked]) -> Finding:
    """The note of one float; blocked: what stands in the way at its preferred station."""
    name = told.component.id
    why = f" ({first_of(blocked)})" if blocked else ""
    if told.found_none:
        message = f"{name} finds no free station in its window and is left at its preferred {told.wanted:.1f} mm{why}"
        remedy = "Widen its window, or leave out one of the options that crowd it."
        if told.conflict and len(told.conflict.components) > 1:
            smallest = "no smaller set conflicts" if told.conflict.is_smallest else "none of them can be left out"
            message += f"; {', '.join(told.conflict.components)} cannot stand together ({smallest})"
    else:
        message = f"{name} settled at {told.station:.1f} mm instead of {told.wanted:.1f} mm{why}"
        remedy = ""
        if told.solution and not told.solution.is_proved:
            message += (
                f"; after {told.solution.nodes} nodes the floats beside it might still depart less, "
                f"by {told.solution.gap:.1f} mm times weight at most"
            )
    return Finding(
        rule="placed",
        measure="station",
        severity="note",
        side=told.component.side if told.component.side in ("LH", "RH") else "",
        part="rail",
        face="",
        holes=(),
        components=(name,),
        station_mm=told.station,
        value=told.station,
        limit=told.wanted,
        unit="mm",
        source="common practice",
        message=message,
        remedy=remedy,
    )


def first_of(blocked: set[Blocked]) -> str:
    """What stands in the way, the rules in their usual order."""
    rule, other = min(blocked, key=lambda found: (_RULES.index(found[0]), found[1]))
    return f"{rule} with {other}" if other else rule
