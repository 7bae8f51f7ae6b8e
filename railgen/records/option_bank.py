"""An option, or a whole catalogue, on the orders of a bank: what rules find there, and what pairs cannot decide."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from railgen.data.findings import Finding
from railgen.data.messages import InputError
from railgen.data.order import Order
from railgen.data.order_input import OrderInput
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import SerialPlan
from railgen.pipeline import plan
from railgen.placing.together import Together

State = Literal["has it", "could take it", "cannot have it"]


@dataclass(frozen=True)
class OptionOnSerial:
    """One serial and an option: whether it has it, and the errors that come with it.

    added: what the option requires that the order had not; errors: findings with the option that are none without it.
    """

    serial: str
    family: str
    state: State
    added: tuple[str, ...]
    errors: tuple[Finding, ...]


def option_on_bank(
    code: str, orders: Iterable[OrderInput], catalogue: Catalogue, refused: Callable[[InputError], None]
) -> Iterator[OptionOnSerial]:
    """Every serial of the families that an option is sold in, planned with the option and without.

    refused: told of orders that cannot be used; the others go on.
    """
    library = catalogue.library
    together = {name: Together(library, library.families[name]) for name in library.options[code].families}
    for given in orders:
        try:
            if given.error is not None or given.order is None:
                raise given.error or InputError([])
            order = given.order
            if order.family in together:
                yield _on_serial(code, order, catalogue, together[order.family], given.place)
        except InputError as error:
            refused(error)


def _on_serial(code: str, order: Order, catalogue: Catalogue, together: Together, place: str) -> OptionOnSerial:
    if code in order.options:
        parameters = {name: values for name, values in order.parameters.items() if name != code}
        without = _with_options(order, tuple(one for one in order.options if one != code), parameters)
        return _compared(order, without, "has it", (), catalogue, place)
    added = tuple(sorted(together.closure[code] - set(order.options)))
    if any(not together.may_meet(one, other) for one in added for other in order.options if other in together.closure):
        return OptionOnSerial(order.serial, order.family, "cannot have it", added, ())
    taken = _with_options(order, (*order.options, *added), dict(order.parameters))
    needed = tuple(one for one in added if one != code)
    return _compared(taken, order, "could take it", needed, catalogue, place)


def _with_options(order: Order, options: tuple[str, ...], parameters: dict[str, dict[str, float]]) -> Order:
    return order.model_copy(update={"options": options, "parameters": parameters})


def _compared(
    having: Order, lacking: Order, state: State, added: tuple[str, ...], catalogue: Catalogue, place: str
) -> OptionOnSerial:
    before = {_key(finding) for finding in errors_of(plan(lacking, catalogue, place))}
    errors = tuple(finding for finding in errors_of(plan(having, catalogue, place)) if _key(finding) not in before)
    return OptionOnSerial(having.serial, having.family, state, added, errors)


def errors_of(planned: SerialPlan) -> list[Finding]:
    """Error findings of a serial."""
    return [finding for finding in planned.findings if finding.severity == "error"]


def _key(finding: Finding) -> tuple[object, ...]:
    return finding.rule, finding.measure, finding.side, finding.part, finding.face, finding.holes, finding.components


@dataclass(frozen=True)
class OpenOnBank:
    """What pairs left open, on the serials of a bank: a rule, the components it names, and the serials it finds."""

    rule: str
    components: tuple[str, ...]
    serials: tuple[str, ...]


def open_on_bank(
    family: str,
    decided: frozenset[tuple[str, str]],
    orders: Iterable[OrderInput],
    catalogue: Catalogue,
    refused: Callable[[InputError], None],
) -> tuple[int, tuple[OpenOnBank, ...]]:
    """How many serials of a family were planned, and the errors there of rules that pairs do not decide.

    A float that finds no free station is among them.
    """
    found: dict[tuple[str, tuple[str, ...]], list[str]] = {}
    count = 0
    for given in orders:
        try:
            if given.error is not None or given.order is None:
                raise given.error or InputError([])
            if given.order.family != family:
                continue
            planned = plan(given.order, catalogue, given.place)
        except InputError as error:
            refused(error)
            continue
        count += 1
        floats = {component.id for component in planned.order.components if component.floating}
        for finding in errors_of(planned):
            if (finding.rule, finding.measure) not in decided or floats & set(finding.components):
                serials = found.setdefault((finding.rule, finding.components), [])
                if planned.serial not in serials:
                    serials.append(planned.serial)
    return count, tuple(OpenOnBank(*key, tuple(serials)) for key, serials in sorted(found.items()))
