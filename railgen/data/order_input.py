"""An order as it came in: where it stands, its digest, and the order or what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass, replace

from railgen.data.messages import InputError
from railgen.data.order import Order, OrderLimits


@dataclass(frozen=True)
class OrderInput:
    """One order of a file or a bank.

    place: as messages name it; name and sha256: of the input as manifests name it, without folders.
    """

    place: str
    name: str
    sha256: str
    order: Order | None
    error: InputError | None

    @property
    def serial(self) -> str:
        """The order's serial; empty where the order could not be read."""
        return self.order.serial if self.order else ""

    def read(self) -> OrderInput:
        """Itself, as a row of a bank that is read later gives one too."""
        return self


def held_to(given: OrderInput, limits: str | None) -> OrderInput:
    """The order held to another limit set, where one is named."""
    if given.order is None or limits is None:
        return given
    changed = given.order.limits.model_copy(update={"set": limits})
    order = given.order.model_copy(update={"limits": OrderLimits.model_validate(changed)})
    return replace(given, order=order)
