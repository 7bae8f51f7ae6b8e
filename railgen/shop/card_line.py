"""A line of a shop paper before it has words: what is said, and the values in it.

The shop reckons, the papers speak: words and the way numbers are written stand in the papers' own text file,
so that they can be translated without touching what is reckoned.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

Value: TypeAlias = "str | int | float | CardLine | tuple[CardLine, ...]"
"""A value in a line: text, a number in the program's units, a line within the line, or a list of them."""


@dataclass(frozen=True)
class CardLine:
    """A line by the ``key`` of its words, with the ``values`` that they ask for."""

    key: str
    values: Mapping[str, Value] = field(default_factory=dict)


def line(key: str, **values: Value) -> CardLine:
    """A line with its values by name."""
    return CardLine(key, values)
