"""Channel section of a rail or liner: its blank axes and its section properties."""

from dataclasses import dataclass
from math import isfinite, log10, pi

import numpy as np
from numpy.typing import ArrayLike, NDArray

from railgen.frame.panels import Face

Floats = NDArray[np.float64]


def neutral_line_factor(inside_radius: float, thickness: float) -> float:
    """Distance of the neutral line from the inside of a bend over the thickness, K = k / 2.

    `inside_radius` r and `thickness` t in mm; the result has no unit and lies from 0 to 0.5.
    Raises ValueError unless both are above zero.
    Source: DIN 6935, k = 0.65 + 0.5 log10(r / t) for r / t <= 5, else 1.
    """
    if not (inside_radius > 0 and thickness > 0):
        raise ValueError(
            f"the neutral line needs an inside radius and a thickness above 0 mm, "
            f"not {inside_radius:g} and {thickness:g}"
        )
    ratio = inside_radius / thickness
    if ratio > 5:
        return 0.5
    return min(max(0.65 + 0.5 * log10(ratio), 0.0), 1.0) / 2


def problems(depth: float, flange: float, thickness: float, inside_radius: float) -> list[str]:
    """Every reason why a channel of these sizes (mm) cannot be; empty when it can."""
    sizes = {"depth": depth, "flange": flange, "thickness": thickness}
    found = [
        f"{name} must be above 0 mm, not {value:g}"
        for name, value in sizes.items()
        if not (isfinite(value) and value > 0)
    ]
    if not (isfinite(inside_radius) and inside_radius >= 0):
        found.append(f"inside_radius must be 0 mm or more, not {inside_radius:g}")
    if found:
        return found
    tangent = inside_radius + thickness
    if flange <= tangent:
        found.append(f"flange {flange:g} mm leaves nothing flat: it must exceed r + t = {tangent:g} mm")
    if depth <= 2 * tangent:
        found.append(f"depth {depth:g} mm leaves no flat web: it must exceed 2 (r + t) = {2 * tangent:g} mm")
    return found


@dataclass(frozen=True, slots=True)
class Section:
    """Channel of one thickness: depth H, flange width B, thickness t, inside radius r in mm, neutral line K.

    Raises ValueError, naming every problem, when the sizes leave no flat web or flange.
    """

    depth: float
    flange: float
    thickness: float
    inside_radius: float
    neutral_line: float

    def __post_init__(self) -> None:
        found = problems(self.depth, self.flange, self.thickness, self.inside_radius)
        if not 0 <= self.neutral_line <= 1:
            found.append(f"neutral_line must be from 0 to 1, not {self.neutral_line:g}")
        if found:
            raise ValueError("; ".join(found))

    @property
    def tangent(self) -> float:
        """Distance (mm) of a tangent from the outside face of the neighbouring panel, r + t."""
        return self.inside_radius + self.thickness

    @property
    def bend_middle_radius(self) -> float:
        """Radius (mm) of a bend at mid-thickness, r + t / 2."""
        return self.inside_radius + self.thickness / 2

    @property
    def bend_allowance(self) -> float:
        """Length (mm) of one bend in the blank, A = (pi / 2) (r + K t)."""
        return pi / 2 * (self.inside_radius + self.neutral_line * self.thickness)

    @property
    def flat_flange(self) -> float:
        """Width (mm) of the flat part of a flange, B - r - t."""
        return self.flange - self.tangent

    @property
    def flat_web(self) -> float:
        """Height (mm) of the flat part of the web, H - 2 (r + t)."""
        return self.depth - 2 * self.tangent

    @property
    def developed_width(self) -> float:
        """Width (mm) of the blank, W = 2 (B - r - t) + (H - 2 (r + t)) + 2 A."""
        return 2 * self.flat_flange + self.flat_web + 2 * self.bend_allowance

    @property
    def middle_length(self) -> float:
        """Length (mm) of the section along mid-thickness, with its bends."""
        return 2 * self.flat_flange + self.flat_web + pi * self.bend_middle_radius

    @property
    def web_lower_tangent(self) -> float:
        """Height z (mm) where the flat web begins."""
        return self.tangent

    @property
    def web_upper_tangent(self) -> float:
        """Height z (mm) where the flat web ends."""
        return self.depth - self.tangent

    @property
    def bottom_tangent_blank_y(self) -> float:
        """blank_y (mm) of the tangent between bottom flange and lower bend."""
        return self.flat_flange

    @property
    def lower_bend_blank_y(self) -> float:
        """blank_y (mm) of the lower bend's middle line."""
        return self.flat_flange + self.bend_allowance / 2

    @property
    def web_lower_tangent_blank_y(self) -> float:
        """blank_y (mm) of the tangent between lower bend and web."""
        return self.flat_flange + self.bend_allowance

    @property
    def web_upper_tangent_blank_y(self) -> float:
        """blank_y (mm) of the tangent between web and upper bend."""
        return self.web_lower_tangent_blank_y + self.flat_web

    @property
    def upper_bend_blank_y(self) -> float:
        """blank_y (mm) of the upper bend's middle line."""
        return self.web_upper_tangent_blank_y + self.bend_allowance / 2

    @property
    def top_tangent_blank_y(self) -> float:
        """blank_y (mm) of the tangent between upper bend and top flange."""
        return self.web_upper_tangent_blank_y + self.bend_allowance

    def blank_y(self, face: ArrayLike, across: ArrayLike) -> Floats:
        """Blank_y (mm) of points on flat faces, before any turning of a tail.

        `face` Face numbers, `across` z (web) or y (flanges) in mm; shapes broadcast.
        """
        face, across = np.asarray(face), np.asarray(across, dtype=np.float64)
        web = self.web_lower_tangent_blank_y + (across - self.tangent)
        top = self.developed_width - (self.flange - across)
        bottom = self.flange - across
        return np.where(face == Face.WEB, web, np.where(face == Face.TOP, top, bottom))

    def across(self, face: ArrayLike, blank_y: ArrayLike) -> Floats:
        """Height z or across y (mm) of points of the blank: the inverse of `blank_y`; shapes broadcast."""
        face, blank_y = np.asarray(face), np.asarray(blank_y, dtype=np.float64)
        web = blank_y - self.web_lower_tangent_blank_y + self.tangent
        top = self.flange - (self.developed_width - blank_y)
        bottom = self.flange - blank_y
        return np.where(face == Face.WEB, web, np.where(face == Face.TOP, top, bottom))


@dataclass(frozen=True, slots=True)
class SectionProperties:
    """Gross properties of a section in mm; centroid from the outside faces of web and bottom flange.

    `ixx` is about the horizontal axis (strong), `iyy` about the vertical one; `modulus_xx` for either flange,
    `modulus_yy_web` for the web's outside face, `modulus_yy_flange` for the flanges' free edges; `torsion`
    is J.
    """

    area: float
    centroid_y: float
    centroid_z: float
    ixx: float
    iyy: float
    modulus_xx: float
    modulus_yy_web: float
    modulus_yy_flange: float
    torsion: float


@dataclass(frozen=True, slots=True)
class _QuarterRing:
    """A bend's cross-section about the axes through its own centre of curvature."""

    area: float
    first_moment: float
    second_moment: float


def _quarter_ring(inside: float, outside: float) -> _QuarterRing:
    return _QuarterRing(
        area=pi / 4 * (outside**2 - inside**2),
        first_moment=(outside**3 - inside**3) / 3,
        second_moment=pi / 16 * (outside**4 - inside**4),
    )


def torsion_constant(section: Section) -> float:
    """Torsion constant J (mm4) of the open channel.

    Source: thin-walled torsion with end correction, (L_mid - 0.63 t) t3 / 3, L_mid along mid-thickness with
    bends.
    """
    t = section.thickness
    return (section.middle_length - 0.63 * t) * t**3 / 3


def properties(section: Section) -> SectionProperties:
    """Properties (mm, mm2, mm3, mm4) of the gross section in closed form, bends as true quarter rings.

    Source: area moments of rectangles and circular sectors; J from `torsion_constant`.
    """
    t, tangent = section.thickness, section.tangent
    ring = _quarter_ring(section.inside_radius, tangent)
    web_area, flange_area = section.flat_web * t, section.flat_flange * t
    area = web_area + 2 * flange_area + 2 * ring.area
    flange_middle = (section.flange + tangent) / 2
    moment_y = web_area * t / 2 + 2 * flange_area * flange_middle
    moment_y += 2 * (ring.area * tangent - ring.first_moment)
    centroid_y = moment_y / area

    # Second moments about the web's outside face; a ring's centre of curvature lies at y = r + t.
    iyy = web_area * t**2 / 3
    iyy += 2 * flange_area * (flange_middle**2 + section.flat_flange**2 / 12)
    iyy += 2 * (ring.second_moment - 2 * tangent * ring.first_moment + ring.area * tangent**2)
    iyy -= area * centroid_y**2

    # About mid-depth; a ring's centre of curvature lies half the flat web away.
    half = section.flat_web / 2
    arm = (section.depth - t) / 2
    ixx = t * section.flat_web**3 / 12 + 2 * flange_area * (arm**2 + t**2 / 12)
    ixx += 2 * (ring.second_moment + 2 * half * ring.first_moment + ring.area * half**2)
    return SectionProperties(
        area=area,
        centroid_y=centroid_y,
        centroid_z=section.depth / 2,
        ixx=ixx,
        iyy=iyy,
        modulus_xx=ixx / (section.depth / 2),
        modulus_yy_web=iyy / centroid_y,
        modulus_yy_flange=iyy / (section.flange - centroid_y),
        torsion=torsion_constant(section),
    )


def sharp_corner_modulus(depth: float, flange: float, thickness: float) -> float:
    """Strong-axis section modulus of a channel with sharp corners inside and outside.

    Lengths in any one unit, the result in that unit cubed. Raises ValueError when nothing is left inside.
    Source: rectangle less rectangle, as published frame tables reckon it.
    """
    found = problems(depth, flange, thickness, 0.0)
    if found:
        raise ValueError("; ".join(found))
    inertia = (flange * depth**3 - (flange - thickness) * (depth - 2 * thickness) ** 3) / 12
    return inertia / (depth / 2)
