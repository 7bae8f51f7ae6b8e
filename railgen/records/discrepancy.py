"""One thing wrong with a serial's folder."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Literal

Kind = Literal[
    "file missing",
    "file added",
    "file changed",
    "file unreadable",
    "wrong serial",
    "wrong hand",
    "wrong part",
    "hole missing",
    "hole added",
    "hole moved",
    "wrong size",
    "wrong shape",
    "wrong angle",
    "wrong layer",
    "wrong face",
    "wrong tool",
    "wrong edge",
    "wrong bend",
    "wrong cut",
    "wrong table",
    "wrong setting",
]


@dataclass(frozen=True, slots=True)
class Discrepancy:
    """What is wrong, where, and in words; ``by_mm`` is how far a hole or a size is off, None where that says nothing.

    holes: the hole table's names; of a hole that no table has, none.
    """

    kind: Kind
    file: str
    message: str
    holes: tuple[str, ...] = ()
    by_mm: float | None = None

    def as_dict(self) -> dict[str, object]:
        """The discrepancy as plain data."""
        return asdict(self) | {"holes": list(self.holes)}


def in_order(found: Iterable[Discrepancy]) -> tuple[Discrepancy, ...]:
    """Discrepancies by file, kind, holes and words."""
    return tuple(sorted(set(found), key=lambda one: (one.file, one.kind, one.holes, one.message)))
