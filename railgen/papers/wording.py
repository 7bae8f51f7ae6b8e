"""The words of the shop papers, from one text file that can be translated."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from railgen.shop.card_line import CardLine, Value

_FILE = "wording.toml"


@dataclass(frozen=True)
class Wording:
    """Words by key, with the places for values in them."""

    words: Mapping[str, str]

    def text(self, line: CardLine) -> str:
        """A line in words; lines within it are put in first, lists joined by commas.

        Raises KeyError where the words lack the line's key or ask for a value that it has not.
        """
        return self.words[line.key].format(**{name: self._plain(value) for name, value in line.values.items()})

    def say(self, key: str, **values: Value) -> str:
        """The words of a key with its values."""
        return self.text(CardLine(key, values))

    def _plain(self, value: Value) -> str | int | float:
        if isinstance(value, CardLine):
            return self.text(value)
        if isinstance(value, tuple):
            return ", ".join(self.text(line) for line in value)
        return value


@cache
def wording() -> Wording:
    """The words as shipped with the program."""
    tables = tomllib.loads(files("railgen.papers").joinpath(_FILE).read_text(encoding="utf-8"))
    return Wording({f"{table}.{key}": words for table, entries in tables.items() for key, words in entries.items()})


def say(key: str, **values: Value) -> str:
    """The words of a key with its values, as shipped with the program."""
    return wording().say(key, **values)
