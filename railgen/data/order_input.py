"""An order as it came in: where it stands, its digest, and the order or what is wrong with it."""

from __future__ import annotations

from dataclasses import dataclass

from railgen.data.messages import InputError
from railgen.data.order import Order


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
