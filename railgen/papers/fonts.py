"""The type of all papers: one typeface with open licence, embedded, measured before anything is drawn.

Heights are those of capital letters, as in ISO 3098 (1.8, 2.5, 3.5, 5, 7 mm; from memory).
"""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any

from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

# Streams as plain bytes: written as letters they would be a quarter larger and take a fifth of the time.
rl_config.useA85 = 0

REGULAR, BOLD = "Vera", "VeraBd"
CAPITAL_SHARE = 1493 / 2048
"""Height of the typeface's capitals over its size (from its outline of the letter H)."""
DESCENT_SHARE, ASCENT_SHARE = 0.33, 1.06
"""How far letters reach below the baseline and above it, over the height of capitals."""
MM_PER_POINT = 25.4 / 72
SMALL, MIDDLE, LARGE, TITLE = 1.8, 2.5, 3.5, 5.0
"""Heights of capitals, mm; nothing on a paper is smaller than the first."""


@cache
def font_name(bold: bool = False) -> str:
    """Name of the face, registered with the PDF writer on first use."""
    name = BOLD if bold else REGULAR
    pdfmetrics.registerFont(_Face(name, f"{name}.ttf"))
    return name


class _Face(TTFont):  # type: ignore[misc]
    """A face that adds up its letters' widths without asking for each by its number."""

    def __init__(self, name: str, file: str) -> None:
        super().__init__(name, file)
        self.widths = _Widths(self.face)

    def stringWidth(self, text: str, size: float, encoding: str = "utf-8") -> float:  # noqa: N802
        """Width of a line in the unit of its size."""
        return float(0.001 * size * sum(map(self.widths.__getitem__, text)))


class _Widths(dict[str, float]):
    """Widths of letters in thousandths of the size, each looked up in the face once."""

    def __init__(self, face: Any) -> None:
        super().__init__()
        self.face = face

    def __missing__(self, letter: str) -> float:
        self[letter] = self.face.charWidths.get(ord(letter), self.face.defaultWidth)
        return self[letter]


@cache
def font_file(bold: bool = False) -> str:
    """Path of the face's file, for other writers."""
    return str(pdfmetrics.getFont(font_name(bold)).face.filename)


def points(height: float) -> float:
    """Type size (points) whose capitals are `height` mm high."""
    return height / CAPITAL_SHARE / MM_PER_POINT


def text_width(text: str, height: float, bold: bool = False) -> float:
    """Width (mm) of a line whose capitals are `height` mm high."""
    return float(pdfmetrics.stringWidth(text, font_name(bold), points(height))) * MM_PER_POINT


@lru_cache(maxsize=4096)
def printable(text: str) -> str:
    """The text with a question mark for each character that the face lacks: names may be in any script."""
    glyphs = pdfmetrics.getFont(font_name()).face.charToGlyph
    return "".join(letter if ord(letter) in glyphs else "?" for letter in text)


def fitted(text: str, height: float, width: float, bold: bool = False) -> str:
    """The text, or as much of it as `width` mm hold, ending in an ellipsis."""
    if text_width(text, height, bold) <= width:
        return text
    least, most = 0, len(text)
    while least < most:
        middle = (least + most + 1) // 2
        shortened = text[:middle].rstrip() + "…"
        least, most = (middle, most) if text_width(shortened, height, bold) <= width else (least, middle - 1)
    return text[:least].rstrip() + "…" if least else ""


@lru_cache(maxsize=4096)
def wrapped(text: str, height: float, width: float, bold: bool = False) -> tuple[str, ...]:
    """The text as lines of at most `width` mm, broken at spaces, and inside words that are longer than a line."""
    lines, line = [], ""
    for word in text.split():
        longer = f"{line} {word}" if line else word
        if text_width(longer, height, bold) <= width:
            line = longer
            continue
        if line:
            lines.append(line)
        *pieces, line = _broken(word, height, width, bold)
        lines += pieces
    return (*lines, line) if line or not lines else tuple(lines)


def _broken(word: str, height: float, width: float, bold: bool) -> list[str]:
    """Pieces of one word, each within `width` mm, after a hyphen, point or comma where there is one."""
    pieces = []
    while text_width(word, height, bold) > width and len(word) > 1:
        count = len(word) - 1
        while count > 1 and text_width(word[:count], height, bold) > width:
            count -= 1
        breaks = [index + 1 for index in range(count) if word[index] in "-.,;/"]
        count = breaks[-1] if breaks and breaks[-1] > count // 2 else count
        pieces.append(word[:count])
        word = word[count:]
    return [*pieces, word]
