"""Where a component fits on one planned serial: its free stations, the wanted one, and the nearest free to that.

from railgen.data.library import load_library
from railgen.layout.catalogue import compile_catalogue
from railgen.pipeline import plan
from railgen.placing.fit import fit

catalogue = compile_catalogue(load_library("hole_libraries"))
found = fit("urea-tank", plan(order, catalogue), catalogue)
found.nearest, found.free.together
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from railgen.data.component import Component
from railgen.data.library import unknown
from railgen.data.messages import InputError, Problem, nearest
from railgen.layout.catalogue import Catalogue
from railgen.layout.place import preferred_station
from railgen.layout.plan import Placements, ResolvedOrder, SerialPlan
from railgen.placing.free import FreeInterval, FreeStations, Interval, free_stations, without

Intervals = tuple[FreeInterval, ...]
SIDE_OPTION, WINDOW_OPTION = "--side", "--window"
"""As messages name what was asked for on the command line."""


@dataclass(frozen=True)
class Fit:
    """Free stations of a component on a serial's rails; mm.

    standing: what it has to keep clear of; wanted: where it should stand; nearest: the free station nearest to that on
    all sides, the rearward of two, None where there is none.
    """

    component: Component
    plan: SerialPlan
    standing: Placements
    free: FreeStations
    wanted: float
    nearest: float | None


def fit(
    name: str,
    plan: SerialPlan,
    catalogue: Catalogue,
    window: Interval | None = None,
    wanted: float | None = None,
    sides: Sequence[str] = (),
) -> Fit:
    """Where a component of the catalogue could stand beside everything else on a planned serial.

    window: from and to (mm), else the component's own where it floats, else the whole rail; either way no further than
    the rail. wanted: station, else the component's preferred one. sides: of those that it belongs on, else all.
    Raises InputError for a component, a side or a window that there is not.
    """
    order = plan.order
    component = component_named(name, catalogue)
    preferred = _preferred(component, order)
    span = window_on_rail(component, order, preferred, window)
    standing = without(plan.placements, catalogue.index[component.id])
    free = free_stations(component, order, catalogue, plan.placements, span)
    free = replace(free, sides=_chosen(free, component, order, sides))
    at = preferred if wanted is None else wanted
    return Fit(component, plan, standing, free, at, free.nearest(at))


def component_named(name: str, catalogue: Catalogue) -> Component:
    """A component that moves as a whole. Raises InputError for any other, with the nearest name."""
    components = catalogue.library.components
    if name not in components:
        raise InputError([unknown(name, components, "command line", "COMPONENT", "component")])
    component = components[name]
    if component.repeat and component.repeat.to is not None:
        place = catalogue.library.files[f"components/{component.id}"]
        allowed = "a component that moves as a whole: without repeat, or with pitch and count"
        raise InputError([Problem(place, "repeat.to", f"repeats of {component.id} up to a station", allowed)])
    return component


def has_place(component: Component, order: ResolvedOrder) -> bool:
    """Whether an order has the anchor and the dimensions that a component's position is measured in."""
    position = component.position
    return position.anchor in order.anchors and all(name in order.dimensions for name in position.per)


def window_on_rail(component: Component, order: ResolvedOrder, preferred: float, window: Interval | None) -> Interval:
    """From and to (mm) of the stations looked at. Raises InputError where none of them lie on the rail."""
    rail, place, key = order.rail, "command line", WINDOW_OPTION
    if window is None and component.floating:
        anchor = preferred - component.position.offset
        window = anchor + component.floating.least, anchor + component.floating.most
        place, key = _file(component, order), "floating"
    start, end = window or (rail.front, rail.rear)
    if start > end:
        found, allowed = f"from {start:g} to {end:g} mm", "a first station ahead of the last one"
        raise InputError([Problem(place, key, found, allowed)])
    if start > rail.rear or end < rail.front:
        found = f"from {start:.1f} to {end:.1f} mm, off the rail of {order.serial}"
        allowed = f"stations from {rail.front:.1f} to {rail.rear:.1f} mm"
        raise InputError([Problem(place, key, found, allowed, "Stations count from the front axle, rearward.")])
    return max(start, rail.front), min(end, rail.rear)


def _preferred(component: Component, order: ResolvedOrder) -> float:
    """The preferred station; an order of another family need not have what it is measured from."""
    if has_place(component, order):
        return preferred_station(component, order)
    position = component.position
    known: Sequence[str] = sorted(order.anchors)
    key, found = "position.anchor", position.anchor
    if found in order.anchors:
        known = sorted(order.dimensions)
        key, found = "position.per", next(name for name in position.per if name not in order.dimensions)
    allowed = f"what family {order.order.family} has: {', '.join(known)}"
    raise InputError([Problem(_file(component, order), key, repr(found), allowed, nearest(found, known))])


def _file(component: Component, order: ResolvedOrder) -> str:
    return order.library.files[f"components/{component.id}"]


def _chosen(
    free: FreeStations, component: Component, order: ResolvedOrder, sides: Sequence[str]
) -> dict[str, Intervals]:
    wrong = [side for side in sides if side not in free.sides]
    if wrong:
        on = " and ".join(free.sides) or f"none with {order.drive} drive"
        raise InputError([Problem("command line", SIDE_OPTION, wrong[0], f"sides of {component.id}: {on}")])
    return {side: found for side, found in free.sides.items() if not sides or side in sides}
