"""Messages for the person at the keyboard: where, what was found, what is allowed, what to do."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass

_LONGEST_SHOWN = 80


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with an input.

    file: the file it stands in; key: path of the key inside it; found: the value as written;
    allowed: what would be right; hint: what to do, often the nearest valid name.
    """

    file: str
    key: str
    found: str
    allowed: str
    hint: str = ""

    def __str__(self) -> str:
        place = f"{self.file}: {self.key}" if self.key else self.file
        text = f"{place}: found {self.found}; allowed: {self.allowed}" if self.found else f"{place}: {self.allowed}"
        return f"{text}. {self.hint}" if self.hint else text


class InputError(Exception):
    """An input cannot be used; carries every problem found in it."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[InputError], tuple[tuple[Problem, ...]]]:
        return (InputError, (self.problems,))


def shown(value: object) -> str:
    """A value as it is shown in a message: short, on one line, never a whole table."""
    if isinstance(value, dict):
        return f"a table with {len(value)} keys"
    if isinstance(value, list | tuple) and len(value) > 6:
        return f"a list of {len(value)} values"
    text = repr(value).replace("\n", " ")
    return text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 3] + "..."


def nearest(name: object, valid: Iterable[str]) -> str:
    """A hint that names the nearest valid name, or nothing where none is near."""
    candidates = sorted(valid)
    close = difflib.get_close_matches(str(name), candidates, n=1, cutoff=0.6)
    if not close:
        lower = {candidate.lower(): candidate for candidate in candidates}
        close = [lower[match] for match in difflib.get_close_matches(str(name).lower(), lower, n=1, cutoff=0.6)]
    return f"Did you mean {close[0]!r}?" if close else ""


def one_of(valid: Iterable[str], most: int = 12) -> str:
    """A list of valid names for a message, cut where it is long."""
    names = sorted(valid)
    if not names:
        return "nothing is defined here"
    rest = f", ... ({len(names)} in all)" if len(names) > most else ""
    return "one of " + ", ".join(names[:most]) + rest
