"""Where a component fits on all serials of a bank: offsets from its anchor, and how many serials each suits."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from railgen.data.component import Component
from railgen.data.messages import InputError, Problem
from railgen.data.order_input import OrderInput
from railgen.layout.catalogue import Catalogue
from railgen.layout.place import preferred_station
from railgen.layout.resolve import resolve
from railgen.pipeline import plan
from railgen.placing.fit import component_named, fit, has_place
from railgen.placing.free import Interval, nearest_in
from railgen.placing.over_bank import Suited, free_offsets, free_on_all, suited_serials


@dataclass(frozen=True)
class SerialFit:
    """One serial: the station of the component's anchor, the offsets free on it, the one nearest to the wanted; mm."""

    serial: str
    anchor: float
    offsets: tuple[Interval, ...]
    nearest: float | None


@dataclass(frozen=True)
class BankFit:
    """Free offsets of a component over some serials, mm.

    left_out: serials of families that have no such anchor; problems: of orders that could not be used.
    """

    component: Component
    wanted: float
    serials: tuple[SerialFit, ...]
    left_out: tuple[str, ...]
    problems: tuple[Problem, ...]

    @property
    def on_all(self) -> tuple[Interval, ...]:
        """Offsets free on every serial."""
        return free_on_all([serial.offsets for serial in self.serials])

    @property
    def nearest(self) -> float | None:
        """The offset free on every serial that is nearest to the wanted one, the rearward of two."""
        return nearest_in(self.on_all, self.wanted)

    @property
    def curve(self) -> tuple[Suited, ...]:
        """How many serials each offset suits."""
        return suited_serials([serial.offsets for serial in self.serials])


def fit_over_bank(
    name: str,
    orders: Iterable[OrderInput],
    catalogue: Catalogue,
    window: Interval | None = None,
    wanted: float | None = None,
    sides: Sequence[str] = (),
) -> BankFit:
    """Where a component of the catalogue could stand on all serials of some orders.

    window: offsets from and to (mm), else the component's own where it floats, else each whole rail. wanted: offset,
    else the preferred one. Raises InputError for a component that there is not; what is wrong with one order is told
    in ``problems`` and the others go on.
    """
    component = component_named(name, catalogue)
    at = component.position.offset if wanted is None else wanted
    found: list[SerialFit] = []
    left_out: list[str] = []
    problems: list[Problem] = []
    for given in orders:
        try:
            if given.error is not None or given.order is None:
                raise given.error or InputError([])
            order = resolve(given.order, catalogue.library, given.place)
            if not has_place(component, order):
                left_out.append(order.serial)
                continue
            anchor = preferred_station(component, order) - component.position.offset
            span = None if window is None else (anchor + window[0], anchor + window[1])
            one = fit(name, plan(given.order, catalogue, given.place), catalogue, span, anchor + at, sides)
        except InputError as error:
            problems += error.problems
            continue
        offsets = free_offsets(component, order, one.free)
        found.append(SerialFit(order.serial, anchor, offsets, nearest_in(offsets, at)))
    return BankFit(component, at, tuple(found), tuple(left_out), tuple(problems))
