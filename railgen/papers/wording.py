"""The words of the shop papers, from one text file that can be translated."""

from __future__ import annotations

import string
import tomllib
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from railgen.data.messages import InputError, Problem, nearest, one_of, shown
from railgen.data.reading import parse_toml, read_bytes
from railgen.shop.card_line import CardLine, Value

_FILE = "wording.toml"
_MOST_PROBLEMS = 50


@dataclass(frozen=True)
class Wording:
    """Words by key, with the places for values in them; name and sha256: of a translation's file."""

    words: Mapping[str, str]
    name: str = ""
    sha256: str = ""

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
def shipped_wording() -> Wording:
    """The words as shipped with the program."""
    tables = tomllib.loads(files("railgen.papers").joinpath(_FILE).read_text(encoding="utf-8"))
    return Wording(dict(_by_key(tables)))


def read_wording(path: Path) -> Wording:
    """A translation: a file with the keys of the shipped one, and of the values of each text no others.

    Raises InputError naming every key that is missing or not known, texts that are none, values that a text cannot
    have, and characters that the papers' face lacks (the first 50).
    """
    source = read_bytes(path)
    words, own = shipped_wording().words, dict(_by_key(parse_toml(source)))
    problems = [
        Problem(source.file, key, "nothing", "a text: every key of the shipped wording.toml is needed")
        for key in words
        if key not in own
    ]
    for key, text in own.items():
        problems += _problems(source.file, key, text, words)
    if problems:
        raise InputError(problems[:_MOST_PROBLEMS])
    return Wording({key: own[key] for key in words}, path.name, source.sha256)


def _by_key(tables: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    for table, entries in tables.items():
        if not isinstance(entries, Mapping):
            yield table, entries
            continue
        for key, words in entries.items():
            yield f"{table}.{key}", words


def _problems(file: str, key: str, text: object, words: Mapping[str, str]) -> Iterator[Problem]:
    """What is wrong with one text of a translation."""
    if key not in words:
        yield Problem(file, key, "this key", "the keys of the shipped wording.toml", nearest(key, words))
        return
    if not isinstance(text, str):
        yield Problem(file, key, shown(text), "a text")
        return
    from railgen.papers.fonts import printable  # it loads the PDF writer, which most users of words need not

    lacking = sorted(set(text) - set(printable(text)) - {"\n"})
    if lacking:
        yield Problem(file, key, " ".join(lacking), "characters that the papers' face has")
    allowed = _values_in(words[key])
    try:
        values = _values_in(text)
    except ValueError as error:
        yield Problem(
            file, key, shown(text), f"values in braces as in the shipped text, {shown(words[key])}", str(error)
        )
        return
    for name in sorted(set(values) - set(allowed)):
        yield Problem(file, key, f"{{{name}}}", one_of(allowed), nearest(name, allowed))
    if set(values) <= set(allowed):
        try:
            text.format(**{name: 1.0 if written else "" for name, written in allowed.items()})
        except ValueError as error:
            yield Problem(
                file, key, shown(text), f"values written as in the shipped text, {shown(words[key])}", str(error)
            )


def _values_in(text: str) -> dict[str, str]:
    """The values that a text asks for, with how they are written. Raises ValueError where its braces are wrong."""
    fields: dict[str, str] = {}
    for _, name, written, conversion in string.Formatter().parse(text):
        if name is None:
            continue
        if not name.isidentifier() or conversion or "{" in (written or ""):
            raise ValueError(f"{{{name}}} is no value's name")
        fields[name] = written or ""
    return fields


_SPOKEN: ContextVar[Wording | None] = ContextVar("wording", default=None)


@contextmanager
def speaking(words: Wording) -> Iterator[None]:
    """While it lasts papers are made in these words."""
    token = _SPOKEN.set(words)
    try:
        yield
    finally:
        _SPOKEN.reset(token)


def wording() -> Wording:
    """The words that papers are made in: those of `speaking`, else as shipped."""
    return _SPOKEN.get() or shipped_wording()


def say(key: str, **values: Value) -> str:
    """The words of a key with its values."""
    return wording().say(key, **values)


def cautions() -> tuple[str, str]:
    """What every paper says of its use."""
    return say("cautions.release"), say("cautions.instructions")
