"""Post-processors: how a press wants its programs written, as lines with named places and nothing that is run.

Each line of a block is text with places in braces, for example ``X{x} Y{y} M20``. A place is a plain name; the names
that a block knows stand in ``PLACES``. What is left of a line, its comment taken away, must be words of ISO 6983: a
letter and a number each, or ``%``.
"""

from __future__ import annotations

import re
from string import Formatter
from typing import Annotated, Literal

from pydantic import Field, ValidationInfo, field_validator, model_validator

from railgen.data.messages import nearest, one_of
from railgen.data.values import Identifier, Model, Text, shaped

PLACES: dict[str, tuple[str, ...]] = {
    "comment": ("text",),
    "number": ("number",),
    "start": ("program", "length", "width", "stop"),
    "change": ("station", "angle"),
    "hit": ("x", "y"),
    "stamp": ("x", "y", "height", "text"),
    "reposition": ("shift",),
    "mount": ("mounting",),
    "reload": ("run",),
    "end": (),
}
"""Names of the places in the lines of each block."""
NEEDED: dict[str, tuple[str, ...]] = {
    "comment": ("text",),
    "number": ("number",),
    "change": ("station",),
    "hit": ("x", "y"),
    "stamp": ("x", "y", "text"),
    "reposition": ("shift",),
    "mount": ("mounting",),
}
"""Places that a block cannot do without; each may stand in it once."""
BLOCKS = ("change", "hit", "stamp", "reposition", "mount", "reload")
"""Blocks between start and end."""
NOT_FOR_PROGRAMS = ("dxf", "csv", "json", "pdf", "nc1", "step", "stp", "png", "svg", "zip", "toml")
"""File endings that stand for something else."""

_SIGN = re.compile(r" *[^A-Za-z0-9 ./+%-]+ *")
_WORD = re.compile(r"%|:?O[0-9]+|[A-Z][+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)")
Line = Annotated[str, shaped(r"^[ -~]+$", "plain ASCII letters, digits and signs on one line", max_length=120)]
Lines = Annotated[tuple[Line, ...], Field(max_length=20)]


def places_in(line: str) -> list[tuple[str, str | None]]:
    """Pieces of a line: text as it stands, and the name of the place behind it, None behind the last.

    Raises ValueError where braces do not pair or hold more than a plain name.
    """
    pieces: list[tuple[str, str | None]] = []
    for text, name, form, turned in Formatter().parse(line):
        if name is not None and (form or turned or not name.isidentifier()):
            raise ValueError(f"a place holds a plain name and nothing else, not {{{name}}} with a form or an index")
        pieces.append((text, name))
    return pieces


class PostProcessor(Model):
    """How the programs of a press are written.

    Lengths in programs are in ``units`` with ``decimals`` behind the point; ``numbers`` says whether the point is
    written or numbers count the last decimal. With ``moves = "incremental"`` x and y are measured from the place
    before, at first from where the blank is loaded.
    """

    id: Identifier
    name: Text
    units: Literal["mm", "in"] = "mm"
    moves: Literal["absolute", "incremental"] = "absolute"
    decimals: int = Field(3, strict=True, ge=1, le=6)
    numbers: Literal["point", "increments"] = "point"
    ending: str = shaped(
        r"^[a-z0-9]{1,8}$",
        "one to eight lower-case letters or digits",
        default="nc",
        description="of the programs' file names",
    )
    line_end: Literal["lf", "crlf"] = "lf"
    comment: Line = Field("({text})", description="a comment, on a line of its own or behind words")
    longest_comment: int = Field(72, strict=True, ge=70, le=200, description="letters of a comment's text")
    number: Line | None = Field(None, description="word that numbers each line but comments and %")
    number_step: int = Field(10, strict=True, ge=1, le=1000)
    start: Lines = ()
    change: Lines = Field(description="take a tool")
    hit: Lines = Field(min_length=1, description="move and punch")
    stamp: Lines = Field(default=(), description="move and stamp text; without it text is stamped by hand")
    reposition: Lines = Field(default=(), description="move the clamps to a distance from their stations")
    mount: Lines = Field(default=(), description="stop to mount other tools")
    reload: Lines = Field(default=(), description="stop to load the blank anew for the next run")
    end: Lines = ()

    @field_validator("comment", "number", "start", "change", "hit", "stamp", "reposition", "mount", "reload", "end")
    @classmethod
    def _places_known(cls, value: str | tuple[str, ...] | None, info: ValidationInfo) -> str | tuple[str, ...] | None:
        lines = (value,) if isinstance(value, str) else value or ()
        _check_places(str(info.field_name), lines)
        return value

    @field_validator("ending")
    @classmethod
    def _ending_free(cls, value: str) -> str:
        if value in NOT_FOR_PROGRAMS:
            raise ValueError(f"these endings stand for other files: {', '.join(NOT_FOR_PROGRAMS)}")
        return value

    @model_validator(mode="after")
    def _words(self) -> PostProcessor:
        opening, closing = self.comment_signs
        if not _SIGN.fullmatch(opening) or not _SIGN.fullmatch(closing or opening):
            raise ValueError("comment needs a sign ahead of {text} that is no part of names, for example ({text})")
        for block in ("number", "start", *BLOCKS, "end"):
            for line in self.lines_of(block):
                _check_words(block, without_comment(line, opening, closing))
        _check_apart(self)
        return self

    @property
    def comment_signs(self) -> tuple[str, str]:
        """What stands before and behind the text of a comment."""
        opening, _, closing = self.comment.partition("{text}")
        return opening, closing

    def lines_of(self, block: str) -> tuple[str, ...]:
        """The lines of a block by name."""
        value: str | tuple[str, ...] | None = getattr(self, block)
        return (value,) if isinstance(value, str) else value or ()


def without_comment(line: str, opening: str, closing: str) -> str:
    """A line less the comment at its end."""
    words, sign, rest = line.partition(opening)
    if not sign:
        return line.strip()
    return (words + (rest.partition(closing)[2] if closing else "")).strip()


def line_pattern(line: str) -> re.Pattern[str]:
    """What a line of a block looks like when written; each place is a group of its name."""
    pattern = ""
    for text, name in places_in(line):
        pattern += re.escape(text)
        if name == "text":
            pattern += r"(?P<text>.*)"
        elif name is not None:
            pattern += rf"(?P<{name}>[+-]?[0-9]*\.?[0-9]+)"
    return re.compile(pattern)


def _check_places(block: str, lines: tuple[str, ...]) -> None:
    known, found = PLACES[block], list[str]()
    for line in lines:
        for _, name in places_in(line):
            if name is not None and name not in known:
                hint = nearest(name, known)
                text = f"{{{name}}} in {line!r} is no place of {block}; allowed: {one_of(known)}. {hint}"
                raise ValueError(text.strip())
            found += [name] if name else []
    twice = sorted({name for name in found if found.count(name) > 1})
    if twice:
        raise ValueError(f"a place may stand once in {block}; found twice: {', '.join(twice)}")
    missing = [name for name in NEEDED.get(block, ()) if name not in found]
    if missing and lines:
        raise ValueError(f"{block} needs the places {', '.join(f'{{{name}}}' for name in missing)}")


def _check_words(block: str, line: str) -> None:
    """Raise ValueError where something is no word of ISO 6983 once places hold numbers."""
    pieces = places_in(line)
    if not line:
        raise ValueError(f"{block} has a line without words; a comment stands behind some")
    if any(name == "text" for _, name in pieces):
        raise ValueError(f"{{text}} in {line!r} of {block} must stand in a comment")
    left = _WORD.sub(" ", "".join(text + ("1" if name else "") for text, name in pieces)).strip()
    if left:
        raise ValueError(f"{left!r} in {line!r} of {block} is no word of a letter and a number")


def _check_apart(post: PostProcessor) -> None:
    """Raise ValueError where one block may be taken for another, or for the beginning of another."""
    for block in BLOCKS:
        for other in BLOCKS:
            lines, others = post.lines_of(block), post.lines_of(other)
            if block != other and lines and len(lines) <= len(others):
                pairs = zip(lines, others, strict=False)
                if all(line_pattern(line).fullmatch(_sample(written)) for line, written in pairs):
                    raise ValueError(f"{list(others)} of {other} may be read as {list(lines)} of {block}")


def _sample(line: str) -> str:
    """A line as it may be written."""
    return "".join(text + ("0" if name else "") for text, name in places_in(line))
