"""What a reader may choose about a drawing: units and projection; how it writes lengths."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

from railgen.data.values import MM_PER_INCH

DrawnUnits = Literal["mm", "in", "both"]
Projection = Literal["third", "first"]
DRAWN_UNITS: tuple[DrawnUnits, ...] = get_args(DrawnUnits)
PROJECTIONS: tuple[Projection, ...] = get_args(Projection)


@dataclass(frozen=True)
class DrawingStyle:
    """Units of a drawing's lengths ("both": millimetres with inches in brackets), and its projection."""

    units: DrawnUnits = "mm"
    projection: Projection = "third"

    @property
    def unit_name(self) -> str:
        """The units as the title block names them."""
        return "mm [in]" if self.units == "both" else self.units

    def length(self, value: float) -> str:
        """A length given in mm: millimetres to at most two decimals, inches to three, nothing as a mere 0."""
        return self._both(number(value), inches(value))

    def size(self, value: float) -> str:
        """Size of a hole or a thickness given in mm: one decimal more where it is needed, for sizes made in inches."""
        return self._both(number(value, 3), inches(value, 4))

    def short(self, value: float) -> str:
        """A length given in mm in the first of the drawing's units alone, where there is no room for both."""
        return inches(value) if self.units == "in" else number(value)

    def _both(self, millimetres: str, in_inches: str) -> str:
        if self.units == "both":
            return millimetres if millimetres == in_inches else f"{millimetres} [{in_inches}]"
        return in_inches if self.units == "in" else millimetres


PLAIN = DrawingStyle()
"""Millimetres, third-angle projection."""


def number(value: float, decimals: int = 2) -> str:
    """A number as drawings write it: at most so many decimals, none that say nothing."""
    # A value that rounds to nothing keeps no minus sign.
    return f"{round(value, decimals) + 0.0:.{decimals}f}".rstrip("0").rstrip(".")


def inches(value: float, decimals: int = 3) -> str:
    """mm as inches: drawings in inches write three decimals always, and more where asked and needed."""
    rounded = round(value / MM_PER_INCH, decimals) + 0.0
    if rounded == 0.0:
        return "0"
    whole = f"{rounded:.{decimals}f}"
    least = len(whole) - decimals + 3
    return whole[:least] + whole[least:].rstrip("0")
