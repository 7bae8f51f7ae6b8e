"""Reading DSTV files, those of other programs too: other columns, tabs, blank lines and blocks unknown here."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from math import isfinite
from pathlib import Path
from typing import Any

from railgen.data.messages import InputError, Problem, nearest, one_of, shown
from railgen.data.reading import read_bytes
from railgen.formats.dstv import (
    CONTOUR_BLOCKS,
    FACES,
    PROFILE_CODES,
    ContourPoint,
    DstvPiece,
    Header,
    Hole,
    Outline,
    Stamp,
)

_BLOCK = re.compile(r"[A-Z][A-Z0-9]\s*")
_TOKEN = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+))([a-z]*)")
_STAMP = re.compile(r"\s*(\d+(?:\.\d*)?)([a-z]?)\s*(.*)")
_BLOCKS = ("BO", "SI", "SC", "TO", "UE", "PR", "KA", *CONTOUR_BLOCKS)
_TEXT_NAMES = ("order", "drawing", "phase", "piece", "steel")
_NUMBER_NAMES = (
    "height",
    "flange_width",
    "flange_thickness",
    "web_thickness",
    "radius",
    "mass",
    "surface",
    "web_start_cut",
    "web_end_cut",
    "flange_start_cut",
    "flange_end_cut",
)
_HEADER_LINES = len(_TEXT_NAMES) + 4 + len(_NUMBER_NAMES)
_TEXT_LINES = 4

_Lines = list[tuple[int, str]]
"""Lines with their numbers in the file, comments left out."""


def read_dstv(file: Path) -> DstvPiece:
    """One piece from a ``.nc`` or ``.nc1`` file; raises InputError, naming the line, for a damaged file."""
    source = read_bytes(file)
    text = source.content.decode("utf-8-sig", errors="replace").replace("\r\n", "\n").replace("\r", "\n")
    numbered = list(enumerate(text.split("\n"), 1))
    comments = tuple(line.strip()[2:].strip() for _, line in numbered if line.lstrip().startswith("**"))
    lines = [(number, line.rstrip()) for number, line in numbered if not line.lstrip().startswith("**")]
    while lines and not lines[0][1].strip():
        del lines[0]
    reader = _Reader(source.file, comments)
    if not lines or lines[0][1].strip() != "ST":
        raise reader.error(
            lines[0][0] if lines else 1, shown(lines[0][1] if lines else ""), "ST, the header of a piece"
        )
    header, rest = reader.header(lines[1:])
    reader.body(rest)
    return reader.piece(header)


@dataclass
class _Reader:
    """What has been read so far; the file's name for messages."""

    file: str
    comments: tuple[str, ...]
    hole_blocks: list[list[Hole]] = field(default_factory=list)
    outlines: list[Outline] = field(default_factory=list)
    stamps: list[Stamp] = field(default_factory=list)
    others: list[tuple[str, list[str]]] = field(default_factory=list)

    def error(self, line: int, found: str, allowed: str, hint: str = "") -> InputError:
        return InputError([Problem(self.file, f"line {line}", found, allowed, hint)])

    def piece(self, header: Header) -> DstvPiece:
        return DstvPiece(
            header,
            tuple(tuple(block) for block in self.hole_blocks),
            tuple(self.outlines),
            tuple(self.stamps),
            tuple((code, tuple(lines)) for code, lines in self.others),
            self.comments,
        )

    def header(self, lines: _Lines) -> tuple[Header, _Lines]:
        """The block ST and the lines behind it."""
        for place, (number, line) in enumerate(lines[:_HEADER_LINES], 1):
            if line in _BLOCKS or line == "EN":
                raise self.error(number, f"{line} after {place - 1} lines of ST", f"{_HEADER_LINES} lines of ST first")
        if len(lines) < _HEADER_LINES:
            raise self.error(lines[-1][0] if lines else 2, "the end of the file", f"{_HEADER_LINES} lines of ST")
        words = [(number, line.strip()) for number, line in lines]
        values: dict[str, Any] = {name: text for name, (_, text) in zip(_TEXT_NAMES, words[:5], strict=True)}
        (count_line, count), (_, profile), (code_line, code) = words[5:8]
        if code not in PROFILE_CODES:
            raise self.error(code_line, shown(code), one_of(PROFILE_CODES), nearest(code, PROFILE_CODES))
        length, saw_length = self._lengths(*words[8])
        named = zip(_NUMBER_NAMES, words[9:_HEADER_LINES], strict=True)
        values |= {name: self._number(*word) for name, word in named}
        notes, rest = self._notes(lines[_HEADER_LINES:])
        header = Header(
            quantity=int(self._number(count_line, count)),
            profile=profile,
            code=code,
            length=length,
            saw_length=saw_length,
            texts=notes,
            **values,
        )
        return header, rest

    def _notes(self, lines: _Lines) -> tuple[tuple[str, ...], _Lines]:
        """The lines of text that end the header, as many as stand before the first block."""
        count = next((index for index, (_, line) in enumerate(lines) if _BLOCK.fullmatch(line)), len(lines))
        for number, line in lines[_TEXT_LINES:count]:
            if line.strip():
                raise self.error(number, shown(line), f"at most {_TEXT_LINES} lines of text, then a block")
        notes = [line.strip() for _, line in lines[: min(count, _TEXT_LINES)]]
        while notes and not notes[-1]:
            notes.pop()
        return tuple(notes), lines[count:]

    def _number(self, line: int, text: str) -> float:
        """A number of the header, 0 where it is left out; a comma may be its decimal sign."""
        try:
            value = float(text.replace(",", ".") or 0.0)
        except ValueError:
            value = float("nan")
        if not isfinite(value):
            raise self.error(line, shown(text), "a number")
        return value

    def _lengths(self, line: int, text: str) -> tuple[float, float]:
        """Length and saw length; where one number stands, it is both."""
        pair = text.split(",") if "." in text else [text]
        if len(pair) > 2:
            raise self.error(line, shown(text), "length, or length and saw length")
        first = self._number(line, pair[0].strip())
        return first, self._number(line, pair[-1].strip())

    def body(self, lines: _Lines) -> None:
        """The blocks behind the header, up to EN."""
        code, face = "", ""
        for place, (number, line) in enumerate(lines):
            if _BLOCK.fullmatch(line):
                code = line.strip()
                if code == "EN":
                    self._nothing_more(lines[place + 1 :])
                    return
                face = self._open(code)
            elif line.strip():
                face = self._line(number, code, face, line)
        raise self.error(lines[-1][0] if lines else 1, "the end of the file", "EN", "The file is not complete.")

    def _nothing_more(self, lines: _Lines) -> None:
        for number, line in lines:
            if line.strip():
                raise self.error(number, shown(line), "nothing after EN, one piece a file")

    def _open(self, code: str) -> str:
        """Begin a block; the face of its first line is not yet known."""
        if code == "BO":
            self.hole_blocks.append([])
        elif code not in CONTOUR_BLOCKS and code != "SI":
            self.others.append((code, []))
        return ""

    def _line(self, number: int, code: str, face: str, line: str) -> str:
        """Read one line of a block; returns the face that it is on."""
        if code not in ("BO", "SI", *CONTOUR_BLOCKS):
            self.others[-1][1].append(line)
            return face
        words = line.strip()
        first = not face
        if words[0] in FACES:
            first = first or words[0] != face
            face, words = words[0], words[1:].strip()
        if not face:
            raise self.error(number, shown(line), f"a line of {code} with its face, {one_of(FACES)}")
        if code == "SI":
            self.stamps.append(self._stamp(number, face, words))
        elif code == "BO":
            self.hole_blocks[-1].append(self._hole(number, face, words))
        else:
            self._contour_point(code, face, self._point(number, code, words), first)
        return face

    def _contour_point(self, code: str, face: str, point: ContourPoint, first: bool) -> None:
        if first:
            self.outlines.append(Outline(code, face, (point,)))
        else:
            known = self.outlines[-1]
            self.outlines[-1] = known._replace(points=(*known.points, point))

    def _tokens(self, number: int, words: str, least: int, most: int, block: str) -> list[tuple[float, str]]:
        """Numbers with the letters that stand behind them."""
        found: list[tuple[float, str]] = []
        for word in words.split():
            match = _TOKEN.fullmatch(word)
            if match:
                found.append((float(match[1]), match[2]))
            elif found and word.isalpha() and word.islower() and not found[-1][1]:
                found[-1] = (found[-1][0], word)
            else:
                raise self.error(number, shown(word), f"a number in a line of {block}")
        if not least <= len(found) <= most:
            raise self.error(number, f"{len(found)} numbers", f"{least} to {most} numbers in a line of {block}")
        return found

    def _hole(self, number: int, face: str, words: str) -> Hole:
        tokens = self._tokens(number, words, 3, 7, "BO")
        (x, reference), (y, kind), (diameter, _) = tokens[:3]
        depth, width, height, angle = [value for value, _ in tokens[3:]] + [0.0] * (7 - len(tokens))
        if not (diameter > 0 and depth >= 0 and width >= 0 and height >= 0):
            raise self.error(number, shown(words), "a diameter above 0; depth, width and height of 0 or more")
        return Hole(face, x, reference, y, diameter, depth, width, height, angle, kind)

    def _point(self, number: int, block: str, words: str) -> ContourPoint:
        tokens = self._tokens(number, words, 2, 9, block)
        (x, reference), (y, notch) = tokens[:2]
        values = [value for value, _ in tokens[2:]]
        return ContourPoint(x, y, values[0] if values else 0.0, reference, notch, tuple(values[1:]))

    def _stamp(self, number: int, face: str, words: str) -> Stamp:
        pieces = words.split(None, 3)
        letters = _STAMP.fullmatch(pieces[3]) if len(pieces) == 4 else None
        if not letters:
            raise self.error(number, shown(words), "x, y, angle, height and text in a line of SI")
        (x, reference), (y, _), (angle, _) = self._tokens(number, " ".join(pieces[:3]), 3, 3, "SI")
        return Stamp(face, x, reference, y, angle, float(letters[1]), letters[3])
