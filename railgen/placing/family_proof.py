"""The proof of a family by name, on its own section and steel, held to a limit set."""

from __future__ import annotations

import datetime

from railgen.data.library import look_up
from railgen.data.messages import InputError
from railgen.data.order import Order
from railgen.layout.catalogue import Catalogue
from railgen.layout.resolve import resolve
from railgen.placing.catalogue_proof import Proof, proof_of
from railgen.placing.together import refusals

_ANY_DAY = datetime.date(2000, 1, 1)
"""The proof looks at no date; an order needs one."""


def proof_of_family(family: str, catalogue: Catalogue, limits: str | None = None, only: str | None = None) -> Proof:
    """The proof; only: the option that is asked about.

    Raises InputError for an unknown family or limit set, and where an option (that one, or any) can never be ordered.
    """
    library = catalogue.library
    found = look_up(library.families, family, "command line", "FAMILY", "family")
    if limits is not None:
        look_up(library.limit_sets, limits, "command line", "--limits", "limit set")
    problems = refusals(library, found, library.options if only is None else (only,))
    if problems:
        raise InputError(problems)
    plain = {"serial": f"{found.serial_prefix}-1", "family": family, "build_date": _ANY_DAY}
    order = Order.model_validate(plain | ({"limits": {"set": limits}} if limits else {}))
    return proof_of(resolve(order, library), catalogue)
