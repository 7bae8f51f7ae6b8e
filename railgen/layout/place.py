"""Components to stations: anchors, fixed positions, repeats and sides."""

from __future__ import annotations

from collections.abc import Mapping
from math import ceil

import numpy as np

from railgen.data.component import Component, Station
from railgen.data.messages import InputError, Problem
from railgen.holes.table import LH, RH
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.layout.resolve import station_of

_SIDES: dict[tuple[str, str], tuple[int, ...]] = {
    ("driver", "left"): (LH,),
    ("driver", "right"): (RH,),
    ("driver", "dual"): (LH, RH),
    ("passenger", "left"): (RH,),
    ("passenger", "right"): (LH,),
    ("passenger", "dual"): (),
}


def sides_of(component: Component, drive: str) -> tuple[int, ...]:
    """Sides that carry the component: with dual drive the driver's is both and the passenger's none."""
    if component.side in ("both", "turned"):
        return (LH, RH)
    if component.side in ("LH", "RH"):
        return (LH,) if component.side == "LH" else (RH,)
    return _SIDES[component.side, drive]


def preferred_station(component: Component, order: ResolvedOrder) -> float:
    """Station of the first instance where nothing makes it move, mm."""
    return station_of(component.position, order.anchors, order.dimensions)


def repeat_stations(component: Component, first: float, order: ResolvedOrder) -> list[float]:
    """Stations of all instances, the first one given, mm.

    Raises InputError where a component that repeats up to a station would have to run forward.
    """
    repeat = component.repeat
    if repeat is None:
        return [first]
    if repeat.count is not None and repeat.pitch is not None:
        return [first + index * repeat.pitch for index in range(repeat.count)]
    if repeat.to is not None and repeat.greatest_pitch is not None:
        return _spread(component, repeat.to, repeat.greatest_pitch, first, order)
    raise ValueError(f"{component.id} repeats neither by count nor up to a station")


def _spread(
    component: Component, to: Station, greatest_pitch: float, first: float, order: ResolvedOrder
) -> list[float]:
    """The fewest stations from first to the last, equally spaced, no further apart than the greatest pitch."""
    span = station_of(to, order.anchors, order.dimensions) - first
    if span < -1e-6:
        raise InputError(
            [
                Problem(
                    order.library.files[f"components/{component.id}"],
                    "repeat.to",
                    f"a station {-span:g} mm ahead of the first one, for {order.serial}",
                    "a station behind the first one",
                    "Give the component an interval (present) that leaves it out here.",
                )
            ]
        )
    gaps = max(ceil(span / greatest_pitch - 1e-9), 0)
    return [first + span * index / gaps for index in range(gaps + 1)] if gaps else [first]


def place(order: ResolvedOrder, catalogue: Catalogue, settled: Mapping[str, float] | None = None) -> Placements:
    """All instances on their sides, components in id order; ``settled`` gives stations of floating components."""
    rows: list[tuple[int, int, int, float, float]] = []
    for component in order.components:
        first = (settled or {}).get(component.id)
        rows += place_one(component, preferred_station(component, order) if first is None else first, order, catalogue)
    return placements(rows)


def place_one(
    component: Component, first: float, order: ResolvedOrder, catalogue: Catalogue
) -> list[tuple[int, int, int, float, float]]:
    """Rows of Placements for one component whose first instance stands at a station."""
    index = catalogue.index[component.id]
    stations = repeat_stations(component, first, order)
    return [
        (index, side, number, station, -1.0 if component.side == "turned" and side == RH else 1.0)
        for side in sides_of(component, order.drive)
        for number, station in enumerate(stations, 1)
    ]


def placements(rows: list[tuple[int, int, int, float, float]]) -> Placements:
    """Placements from rows of component, side, instance, station, direction."""
    columns = np.array(rows, dtype=np.float64).reshape(-1, 5).T
    component, side, instance = (column.astype(np.int64) for column in columns[:3])
    return Placements(component, side, instance, columns[3], columns[4])
