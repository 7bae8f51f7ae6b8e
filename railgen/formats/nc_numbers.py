"""Lengths and angles as programs write them."""

from __future__ import annotations

from dataclasses import dataclass

from railgen.data.post import PostProcessor
from railgen.data.values import MM_PER_INCH

_ANGLE_DECIMALS = 3


@dataclass(frozen=True)
class NumberForm:
    """Lengths as whole numbers of the last decimal: ``resolution`` mm each; written with a point or as they are."""

    resolution: float
    decimals: int
    point: bool

    def count(self, length: float) -> int:
        """The nearest number of last decimals to a length in mm."""
        return round(length / self.resolution)

    def text(self, count: int) -> str:
        """A length as written."""
        if not self.point:
            return str(count)
        whole, part = divmod(abs(count), 10**self.decimals)
        return f"{'-' if count < 0 else ''}{whole}.{part:0{self.decimals}d}"

    def read(self, text: str) -> int:
        """The number of last decimals that a text stands for. Raises ValueError for more decimals than there are."""
        if not self.point:
            return int(text)
        sign = -1 if text.startswith("-") else 1
        whole, _, part = text.lstrip("+-").partition(".")
        if len(part) > self.decimals:
            raise ValueError(f"{text} has more than {self.decimals} decimals")
        return sign * int((whole or "0") + part.ljust(self.decimals, "0"))


def number_form(post: PostProcessor) -> NumberForm:
    """How a post-processor writes lengths; its resolution is what a program can be read back to."""
    unit = MM_PER_INCH if post.units == "in" else 1.0
    return NumberForm(unit / 10**post.decimals, post.decimals, post.numbers == "point")


def angle_text(angle: float) -> str:
    """Degrees with no more than three decimals, none that say nothing."""
    return f"{angle:.{_ANGLE_DECIMALS}f}".rstrip("0").rstrip(".")
