"""Forming: the bends of a part in their order, and the steel's least bend radius."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from railgen.data.plant import FormPress
from railgen.data.stock import SteelBand
from railgen.data.values import FaceName
from railgen.frame.section import Section

FLANGE_ANGLE = 90.0
"""degrees that a flange is turned from the web."""


@dataclass(frozen=True, slots=True)
class Bend:
    """One bend: the flange it turns, ``blank_y`` (mm) of its middle line, ``angle`` (degrees) to form to."""

    flange: FaceName
    blank_y: float
    angle: float


@dataclass(frozen=True, slots=True)
class Forming:
    """What forming a section takes: its bends in order, the inside radius and the least one (mm)."""

    bends: tuple[Bend, ...]
    inside_radius: float
    least_radius: float

    @property
    def radius_allowed(self) -> bool:
        """Whether the steel may be bent this tightly at this thickness."""
        return self.inside_radius >= self.least_radius - 1e-9


def least_bend_radius(steel: SteelBand, thickness: float) -> float:
    """Least inside radius (mm) at a thickness (mm). Source: the steel's data, which name its standard."""
    return steel.least_bend_radius * thickness


def bending_force(steel: SteelBand, thickness: float, length: float, press: FormPress) -> float:
    """Force (N) of one bend over an open die, estimated: factor x greatest tensile (MPa) x length x t2 / opening, mm.

    Source: common practice for bending over an open die, the factor 1.33 from memory.
    """
    return press.factor * steel.tensile_most * length * thickness / press.die_opening


def forming(section: Section, steel: SteelBand, gauge_edge: Literal["bottom", "top"]) -> Forming:
    """Bends of a section, the flange at the gauge edge first, each formed beyond 90 by the spring-back.

    The blank is gauged by that edge, which is lost as a reference once the other flange stands. Common
    practice, no source. Raises ValueError where the steel's data give no spring-back.
    """
    if steel.spring_back is None:
        raise ValueError("no spring_back")
    angle = FLANGE_ANGLE + steel.spring_back
    bends = [
        Bend("bottom", section.lower_bend_blank_y, angle),
        Bend("top", section.upper_bend_blank_y, angle),
    ]
    if gauge_edge == "top":
        bends.reverse()
    least = least_bend_radius(steel, section.thickness)
    return Forming(tuple(bends), section.inside_radius, least)
