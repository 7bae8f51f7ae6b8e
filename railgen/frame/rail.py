"""The rail of one side as a shape. Both hands have the same shape; the RH blank is the LH one mirrored."""

from dataclasses import dataclass
from math import isclose, isfinite
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from railgen.frame.liner import LinerShape
from railgen.frame.section import Section
from railgen.frame.taper import TaperShape

Part = Literal["rail", "liner"]


@dataclass(frozen=True)
class RailShape:
    """A rail from station `front` (negative, ahead of the axle) to `rear` (mm), with its taper and liner.

    Raises ValueError, naming every problem, when the pieces do not belong together.
    """

    section: Section
    front: float
    rear: float
    taper: TaperShape | None = None
    liner: LinerShape | None = None

    def __post_init__(self) -> None:
        found = problems(self.section, self.front, self.rear, self.taper, self.liner)
        if found:
            raise ValueError("; ".join(found))

    @property
    def length(self) -> float:
        """Length (mm) of the finished rail."""
        return self.rear - self.front

    @property
    def blank_length(self) -> float:
        """Length (mm) of the blank; with a taper the longest panel plus trim."""
        return (self.taper.blank_rear if self.taper else self.rear) - self.front

    @property
    def blank_width(self) -> float:
        """Width (mm) of the blank."""
        return self.section.developed_width

    def depth_at(self, stations: ArrayLike) -> NDArray[np.float64]:
        """Local depth (mm) at stations (mm), any shape."""
        if self.taper:
            return self.taper.depth_at(stations)
        return np.full(np.shape(stations), self.section.depth, dtype=np.float64)


def part_section(rail: RailShape, part: Part) -> Section:
    """Section of the rail or of its liner. Raises ValueError when a liner is asked for and there is none."""
    return rail.section if part == "rail" else required_liner(rail).section


def part_length(rail: RailShape, part: Part) -> float:
    """Length (mm) of the blank of the rail or of its liner. Raises ValueError when there is no liner."""
    return rail.blank_length if part == "rail" else required_liner(rail).length


def part_front(rail: RailShape, part: Part) -> float:
    """Station (mm) of the front end of the rail or its liner. Raises ValueError when there is no liner."""
    return required_liner(rail).start if part == "liner" else rail.front


def required_liner(rail: RailShape) -> LinerShape:
    """The rail's liner. Raises ValueError when it has none."""
    if rail.liner is None:
        raise ValueError("this rail has no liner")
    return rail.liner


def required_taper(rail: RailShape) -> TaperShape:
    """The rail's tail taper. Raises ValueError when it has none."""
    if rail.taper is None:
        raise ValueError("this rail has no tail taper")
    return rail.taper


def problems(
    section: Section, front: float, rear: float, taper: TaperShape | None, liner: LinerShape | None
) -> list[str]:
    """Every reason (a sentence each) why the pieces of a rail do not belong together; empty when they do."""
    found = []
    if not (isfinite(front) and isfinite(rear) and front < rear):
        found.append(f"the rail's front end {front:g} mm must lie ahead of its rear end {rear:g} mm")
    if taper:
        pairs = (
            (taper.depth, section.depth),
            (taper.thickness, section.thickness),
            (taper.tangent, section.tangent),
            (taper.rear, rear),
        )
        if not all(isclose(a, b, rel_tol=1e-12, abs_tol=1e-9) for a, b in pairs):
            found.append("the taper was made for another section or another rear end")
        if taper.front <= front:
            found.append(f"the taper reaches to {taper.front:g} mm, beyond the rail's front end {front:g} mm")
    if liner:
        if liner.rail_section != section:
            found.append("the liner was made for another rail section")
        if liner.start < front or liner.end > rear:
            found.append(
                f"the liner from {liner.start:g} to {liner.end:g} mm must lie within the rail, {front:g} to {rear:g} mm"
            )
        if taper and liner.end > taper.front:
            found.append(
                f"the liner's end {liner.end:g} mm must lie wholly ahead of the taper, "
                f"whose cut and fold begin at {taper.front:.3f} mm"
            )
    return found
