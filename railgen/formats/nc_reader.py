"""Reading programs back by the post-processor that they were written by."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from railgen.data.messages import InputError, Problem, shown
from railgen.data.post import BLOCKS, PostProcessor, line_pattern
from railgen.formats.nc_header import ProgramHead, head_of
from railgen.formats.nc_numbers import NumberForm, number_form
from railgen.holes.table import FloatArray

_MOSTLY_HITS = ("hit", *(block for block in BLOCKS if block != "hit"))
"""Blocks in the order in which they are tried: no block may be read as another, and most of a program are hits."""


@dataclass(frozen=True)
class ProgramHit:
    """One stroke as read: press x and y in mm, tool station, and what the press was at; ``text`` of a stamp.

    ``shift``: mm of the clamps from where they grip when the blank is loaded, None while they stand there.
    """

    line: int
    x: float
    y: float
    station: int
    mounting: int
    run: int
    shift: float | None
    text: str | None


@dataclass(frozen=True)
class Program:
    """A program as read back: its head, its hits in order, its other comments; ``resolution`` mm of its numbers."""

    head: ProgramHead
    hits: tuple[ProgramHit, ...]
    comments: tuple[str, ...]
    resolution: float

    def tool_of(self, hit: ProgramHit) -> tuple[str, float]:
        """Id and angle (degrees) of the tool that makes a hit."""
        return self.head.tools[(hit.mounting, hit.station)]

    def blank_places(self) -> tuple[FloatArray, FloatArray]:
        """blank_x and blank_y of every hit, mm, as cut files have them."""
        x = np.array([hit.x for hit in self.hits], dtype=np.float64)
        y = np.array([hit.y for hit in self.hits], dtype=np.float64)
        return self.to_blank(x, y)

    def to_blank(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """blank_x and blank_y of places on the press, mm."""
        if self.head.gauge_edge == "top":
            return self.head.length - x, self.head.width - y
        return x, y


def read_program(content: bytes, post: PostProcessor, file: str) -> Program:
    """A program read back; ``file`` names it in messages.

    Raises InputError with the line where something is no block of the post-processor, a head is incomplete, or a
    station has no tool.
    """
    try:
        lines = content.decode("ascii").splitlines()
    except UnicodeDecodeError as error:
        found = f"byte 0x{content[error.start]:02x} at offset {error.start}"
        raise InputError([Problem(file, "", found, "plain letters, figures and signs")]) from None
    words, comments = _parted(lines, post)
    try:
        head = head_of(comments)
    except ValueError as error:
        raise InputError([Problem(file, "head", str(error), "each of the head's comments once")]) from None
    form = number_form(post)
    patterns = {
        block: tuple(line_pattern(line) for line in post.lines_of(block)) for block in ("start", *BLOCKS, "end")
    }
    reader = _Reader(post, form, patterns, file, words, loaded=(form.count(head.stop_x), 0))
    hits = reader.read()
    strange = [hit for hit in hits if (hit.mounting, hit.station) not in head.tools]
    if strange:
        problems = [
            Problem(file, f"line {hit.line}", f"tool station {hit.mounting}.{hit.station}", "one of the head's tools")
            for hit in strange[:5]
        ]
        raise InputError(problems)
    return Program(head, tuple(hits), tuple(comments), form.resolution)


def _parted(lines: Sequence[str], post: PostProcessor) -> tuple[list[tuple[int, str]], list[str]]:
    """Lines of words with their line numbers, their own numbers taken off, and the texts of comments between them."""
    opening, closing = post.comment_signs
    number = re.compile(line_pattern(post.number).pattern + " ") if post.number else None
    words, comments = [], []
    for at, line in enumerate(lines, 1):
        if line.startswith(opening) and line.endswith(closing):
            comments.append(line[len(opening) : len(line) - len(closing)])
        elif line.strip():
            words.append((at, number.sub("", line, count=1) if number else line))
    return words, comments


@dataclass
class _Reader:
    """Where the reading is, and what the press is at."""

    post: PostProcessor
    form: NumberForm
    patterns: Mapping[str, tuple[re.Pattern[str], ...]]
    file: str
    words: list[tuple[int, str]]
    loaded: tuple[int, int]
    place: tuple[int, int] = (0, 0)
    at: int = 0
    station: int = 0
    mounting: int = 1
    run: int = 1
    shift: float | None = None
    hits: list[ProgramHit] = field(default_factory=list)

    def read(self) -> list[ProgramHit]:
        """All hits between start and end."""
        self.place = self.loaded
        self._expect("start")
        end = len(self.words) - len(self.post.end)
        while self.at < end:
            line = self.words[self.at][0]
            for block in _MOSTLY_HITS:
                places = self._match(block)
                if places is not None:
                    self._apply(block, places, line)
                    break
            else:
                self._refuse(f"one of the blocks {', '.join(BLOCKS)}")
        self._expect("end")
        if self.at < len(self.words):
            self._refuse("nothing behind the end")
        return self.hits

    def _expect(self, block: str) -> None:
        if self._match(block) is None:
            self._refuse(f"the block {block}")

    def _match(self, block: str) -> dict[str, str] | None:
        """Places of a block whose lines come next, None where others do; steps behind them."""
        patterns = self.patterns[block]
        coming = self.words[self.at : self.at + len(patterns)]
        places: dict[str, str] = {}
        if len(coming) < len(patterns) or (not patterns and block in BLOCKS):
            return None
        for pattern, (_, written) in zip(patterns, coming, strict=True):
            match = pattern.fullmatch(written)
            if match is None:
                return None
            places |= match.groupdict()
        self.at += len(patterns)
        return places

    def _apply(self, block: str, places: dict[str, str], line: int) -> None:
        form = self.form
        try:
            if block == "change":
                self.station = int(places["station"])
            elif block == "mount":
                self.mounting = int(places["mounting"])
            elif block == "reposition":
                self.shift = form.read(places["shift"]) * form.resolution
            elif block == "reload":
                self.run, self.shift, self.place = self.run + 1, None, self.loaded
            else:
                x, y = form.read(places["x"]), form.read(places["y"])
                base = self.place if self.post.moves == "incremental" else (0, 0)
                self.place = (base[0] + x, base[1] + y)
                self._hit(line, places.get("text"))
        except ValueError as error:
            raise InputError([Problem(self.file, f"line {line}", str(error), f"numbers of {block}")]) from None

    def _hit(self, line: int, text: str | None) -> None:
        x, y = (count * self.form.resolution for count in self.place)
        self.hits.append(ProgramHit(line, x, y, self.station, self.mounting, self.run, self.shift, text))

    def _refuse(self, allowed: str) -> None:
        at, found = self.words[self.at] if self.at < len(self.words) else (0, "the file's end")
        key = f"line {at}" if at else ""
        raise InputError([Problem(self.file, key, shown(found) if at else found, allowed)])
