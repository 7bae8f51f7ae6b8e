"""Volume, mass and surface of the finished parts.

What is measured: the finished part after wedge, relief hole and trim are gone and the rear end is cut
square, by the mid-surface of the formed section (bends at their true middle radius, not their length in the
blank) times thickness. Upset steel is conserved: it thickens at the bisector, none of it is lost, so it
counts in full. Weld metal in the root gap does not count, and the seam's edges, welded together, are no
free edges.
"""

from dataclasses import dataclass
from math import cos, pi, sin, tan

from railgen.frame.rail import Part, RailShape, part_length, part_section
from railgen.frame.section import Section
from railgen.frame.taper import TaperShape, relief_arc_length

STEEL_DENSITY = 7850e-9
"""kg/mm3, that is 7850 kg/m3. Source: EN 1991-1-1 table A.4."""
YOUNG = 210_000.0
"""Modulus of elasticity of steel, MPa. Source: EN 1993-1-1 3.2.6, from memory."""
GRAVITY = 9.80665
"""m/s2, the standard acceleration of free fall. Source: 3rd General Conference on Weights and Measures, 1901."""


@dataclass(frozen=True, slots=True)
class PartMeasures:
    """Measures of one finished part less its holes: `volume` mm3, `mass` kg, `surface` mm2."""

    volume: float
    mass: float
    surface: float


@dataclass(frozen=True, slots=True)
class _Gross:
    """A part before its holes: area of its mid-surface and of all its edges, mm2."""

    middle_area: float
    edge_area: float


def part_measures(rail: RailShape, part: Part, hole_areas: float, hole_perimeters: float) -> PartMeasures:
    """Measures of the rail or its liner, less holes of these total areas (mm2) and perimeters (mm).

    The surface counts both faces, all edges and the holes' walls, less the holes' openings on both faces.
    Raises ValueError when a liner is asked for and there is none.
    """
    thickness = part_section(rail, part).thickness
    if part == "rail" and rail.taper:
        gross = _tapered(rail.section, rail.front, rail.taper)
    else:
        gross = _straight(part_section(rail, part), part_length(rail, part))
    middle_area = gross.middle_area - hole_areas
    volume = middle_area * thickness
    surface = 2 * middle_area + gross.edge_area + hole_perimeters * thickness
    return PartMeasures(volume=volume, mass=volume * STEEL_DENSITY, surface=surface)


def upset_area(rail: RailShape) -> float:
    """Area (mm2) of the web's upset steel, seen from the side; 0 without a taper."""
    return rail.taper.upset_area if rail.taper else 0.0


def cut_web_area(taper: TaperShape) -> float:
    """Area (mm2) that wedge and relief hole together take from the web, up to the finished rear end."""
    return _cut_below_slit(taper) + pi / 2 * taper.relief_radius**2


def _straight(section: Section, length: float) -> _Gross:
    edges = section.thickness * (2 * length + 2 * section.middle_length)
    return _Gross(middle_area=section.middle_length * length, edge_area=edges)


def _tapered(section: Section, front: float, taper: TaperShape) -> _Gross:
    """The rail in two pieces, parted at the slit's height; the upper one as it lies before turning."""
    t, radius = section.thickness, section.bend_middle_radius
    bent_flange = section.flat_flange + pi / 2 * radius
    length = taper.rear - front
    lower = (bent_flange + taper.apex[1] - section.tangent) * length - _cut_below_slit(taper)

    strip = taper.slit_depth - section.tangent
    upper_length = taper.start - front + taper.flange_length
    # Below the hinge the upper piece is longer by tan(slope) times the depth below it, up to the square
    # rear end.
    below_hinge = (taper.hinge_height**2 - radius**2) / 2 + radius**2 * (pi / 2 - 1)
    upper = (bent_flange + strip) * upper_length + tan(taper.slope) * below_hinge
    upper -= pi / 2 * taper.relief_radius**2

    rear_height = float(taper.lower_cut_z(taper.rear)) - section.tangent
    ends = section.middle_length + bent_flange + rear_height + (bent_flange + strip) / cos(taper.slope)
    edges = t * (length + upper_length + ends + relief_arc_length(taper))
    return _Gross(middle_area=lower + upper, edge_area=edges)


def _cut_below_slit(taper: TaperShape) -> float:
    """Area (mm2) taken below the slit's height: half the relief hole, and the wedge behind it.

    The wedge behind the hole is the figure apex, lower cut edge, rear end, slit, less the hole's sector in
    it.
    """
    radius, opening = taper.relief_radius, taper.opening_angle
    first_x, first_z = radius * cos(opening), radius * sin(opening)
    rear_x = taper.rear - taper.apex[0]
    rear_z = taper.apex[1] - float(taper.lower_cut_z(taper.rear))
    figure = (rear_x * first_z - first_x * rear_z + rear_x * rear_z) / 2
    return pi / 2 * radius**2 + figure - radius**2 * opening / 2
