"""Liner: an inner channel nested in the rail, its web against the rail's."""

from dataclasses import dataclass
from math import hypot, isfinite

from railgen.frame.section import Section


@dataclass(frozen=True, slots=True)
class LinerShape:
    """A liner from station `start` to `end` (mm), its own `section`, nested in `rail_section`.

    Raises ValueError, naming every problem, when it has no length or is deeper than the rail is inside.
    """

    start: float
    end: float
    section: Section
    rail_section: Section

    def __post_init__(self) -> None:
        found = problems(self.start, self.end, self.section, self.rail_section)
        if found:
            raise ValueError("; ".join(found))

    @property
    def length(self) -> float:
        """Length (mm) of the liner and of its blank."""
        return self.end - self.start

    @property
    def gap(self) -> float:
        """Height (mm) left in the rail, H - 2 t - (the liner's depth); half of it above and half below."""
        return _gap(self.section, self.rail_section)

    @property
    def offset_z(self) -> float:
        """Height z (mm) of the outside face of the liner's bottom flange."""
        return self.rail_section.thickness + self.gap / 2

    @property
    def offset_y(self) -> float:
        """Across y (mm) of the outside face of the liner's web: the inside face of the rail's."""
        return self.rail_section.thickness

    @property
    def web_lower_tangent(self) -> float:
        """Height z (mm), in the rail's axes, where the liner's flat web begins."""
        return self.offset_z + self.section.web_lower_tangent

    @property
    def web_upper_tangent(self) -> float:
        """Height z (mm), in the rail's axes, where the liner's flat web ends."""
        return self.offset_z + self.section.web_upper_tangent

    @property
    def flange_tangent(self) -> float:
        """Across y (mm), in the rail's axes, where the liner's flat flanges begin."""
        return self.offset_y + self.section.tangent

    @property
    def flange_edge(self) -> float:
        """Across y (mm), in the rail's axes, of the liner's flange edges."""
        return self.offset_y + self.section.flange

    @property
    def interference(self) -> float:
        """How far (mm) the liner's outer corner digs into the rail's bend; 0 or less when it clears.

        Exact from the two arcs: the liner's outside corner, radius r + t of the liner, against the inside
        of the rail's bend, radius r of the rail. The liner's point furthest from the centre of the rail's
        bend lies on the line through both centres. When it clears, minus the clearance along that line.
        """
        corner, bend = self.section.tangent, self.rail_section.inside_radius
        across = bend - corner
        up = across - self.gap / 2
        if across > 0:
            # Web against web, a smaller corner stands in the bend until it is lifted out of the bend's
            # height.
            return hypot(across, max(up, 0.0)) - across
        return -(hypot(across, up) + across)

    @property
    def proud(self) -> float:
        """How far (mm) the liner's flange edges stand beyond the rail's; below 0 when they do not."""
        return self.flange_edge - self.rail_section.flange


def _gap(section: Section, rail_section: Section) -> float:
    return rail_section.depth - 2 * rail_section.thickness - section.depth


def problems(start: float, end: float, section: Section, rail_section: Section) -> list[str]:
    """Every reason (a sentence each) why a liner cannot be nested; empty when it can. Stations in mm."""
    found = []
    if not (isfinite(start) and isfinite(end) and start < end):
        found.append(f"the liner's start {start:g} mm must lie ahead of its end {end:g} mm")
    gap = _gap(section, rail_section)
    # Sizes read in inches differ from an exact fit by rounding only.
    if gap < -1e-9:
        found.append(
            f"the liner's depth {section.depth:g} mm does not go into the rail: the gap is {gap:g} mm, "
            f"at most {rail_section.depth - 2 * rail_section.thickness:g} mm deep would fit"
        )
    return found
