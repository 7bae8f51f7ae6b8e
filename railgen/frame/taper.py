"""Tail taper: the upper panel of the rail turned down about a hinge, and the wedge removed to make room.

The upper panel (top flange, upper bend, web strip) is described in two positions: straight, as it lies in
the formed but uncut rail, and finished, turned down by the slope. Points are (station, z) in mm.
"""

from dataclasses import dataclass, field
from math import asin, atan2, cos, hypot, isfinite, pi, sin, tan

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
Point = tuple[float, float]

LEAST_RELIEF_RADIUS = 6.0
"""mm, whatever the slope and the thickness."""


@dataclass(frozen=True, slots=True)
class TaperShape:
    """A tail taper with the sizes of the section it is made in; mm throughout.

    `start` station of the hinge; `end_depth` depth at the rear end; `slit_depth` of the slit below the top;
    `root_gap` between the seam's edges, taken from the lower web; `trim` left on the blank for the square
    cut; `relief_diameter`; `in_blank` True when the wedge is cut in the blank, False when after forming;
    `depth`, `thickness` and `tangent` (r + t) of the section; `rear` station of the rail's rear end. Raises
    ValueError, naming every problem, for an impossible shape.
    """

    start: float
    end_depth: float
    slit_depth: float
    root_gap: float
    trim: float
    relief_diameter: float
    in_blank: bool
    depth: float
    thickness: float
    tangent: float
    rear: float
    slope: float = field(init=False, repr=False, compare=False)
    """Slope alpha of the ramp, radians."""
    hinge_height: float = field(init=False, repr=False, compare=False)
    """Height h (mm) of the hinge above the slit, slit_depth - t / 2."""
    upset_half_width: float = field(init=False, repr=False, compare=False)
    """h tan(alpha / 2): the steel this near (mm) to the bisector is upset."""
    hinge: Point = field(init=False, repr=False, compare=False)
    """(station, z) about which the upper panel turns, at mid-thickness of the top flange."""
    apex: Point = field(init=False, repr=False, compare=False)
    """(station, z) of the wedge's apex and centre of the relief hole: the bisector meets the slit."""

    def __post_init__(self) -> None:
        found = problems(
            start=self.start,
            end_depth=self.end_depth,
            slit_depth=self.slit_depth,
            root_gap=self.root_gap,
            trim=self.trim,
            relief_diameter=self.relief_diameter,
            depth=self.depth,
            thickness=self.thickness,
            tangent=self.tangent,
            rear=self.rear,
        )
        if not found:
            self._derive()
            found = self._depth_problems()
        if found:
            raise ValueError("; ".join(found))

    def _derive(self) -> None:
        slope = atan2(self.depth - self.end_depth, self.rear - self.start)
        height = self.slit_depth - self.thickness / 2
        half_width = height * tan(slope / 2)
        values: dict[str, float | Point] = {
            "slope": slope,
            "hinge_height": height,
            "upset_half_width": half_width,
            "hinge": (self.start, self.depth - self.thickness / 2),
            "apex": (self.start - half_width, self.depth - self.slit_depth),
        }
        for name, value in values.items():
            object.__setattr__(self, name, value)

    def _depth_problems(self) -> list[str]:
        found = []
        least = float(self.lower_cut_z(self.blank_rear))
        if least <= self.tangent:
            found.append(
                f"end_depth {self.end_depth:g} mm is too small: the lower cut edge ends at "
                f"z = {least:.3f} mm, in the lower bend or below it (tangent at {self.tangent:g} mm); "
                "raise end_depth or lower slit_depth"
            )
        if self.apex[0] + self.relief_radius >= self.rear:
            found.append(
                f"relief_diameter {self.relief_diameter:g} mm reaches the rear end: the taper is "
                f"{self.rear - self.start:g} mm long"
            )
        return found

    @property
    def relief_radius(self) -> float:
        """Radius (mm) of the relief hole as ordered."""
        return self.relief_diameter / 2

    @property
    def least_relief_radius(self) -> float:
        """Least allowed radius (mm) of the relief hole, max(h sin(alpha), 0.75 t, 6 mm)."""
        return max(self.hinge_height * sin(self.slope), 0.75 * self.thickness, LEAST_RELIEF_RADIUS)

    @property
    def fold_half_width(self) -> float:
        """Distance (mm) along the top flange from the fold line to either tangent of the fold."""
        return max(self.upset_half_width, 2 * self.thickness)

    @property
    def front(self) -> float:
        """Foremost station (mm) that the taper touches: fold tangent, upset steel, or relief hole."""
        upset = self.apex[0] - self.upset_half_width / cos(self.slope / 2)
        return min(self.start - self.fold_half_width, upset, self.apex[0] - self.relief_radius)

    @property
    def flange_length(self) -> float:
        """Length (mm) of the ramp from the hinge to the finished rear end at mid-thickness."""
        return (self.rear - self.start) / cos(self.slope)

    @property
    def blank_rear(self) -> float:
        """Station (mm), before turning, of the blank's rear edge: the longest panel plus trim.

        The strip's lower edge is the longest: the finished end is square to the rail, not to the ramp.
        """
        return float(self.straight_rear(self.apex[1])) + self.trim

    @property
    def opening_angle(self) -> float:
        """Angle (radians) at the apex between the lower cut edge's first point and the slit's."""
        return self.slope + asin(self.root_gap / self.relief_radius)

    @property
    def upset_area(self) -> float:
        """Area (mm2), from hinge to slit, of the steel within h tan(alpha / 2) of the bisector: it holds no feature."""
        return 2 * self.hinge_height * self.upset_half_width / cos(self.slope / 2)

    @property
    def seam(self) -> tuple[Point, Point]:
        """Ends (station, z) of the seam line, the strip's lower edge when finished, apex to rear end."""
        return self.apex, (self.rear, float(self.seam_z(self.rear)))

    @property
    def lower_cut_edge(self) -> tuple[Point, Point]:
        """Ends of the lower web's upper edge, (station, z): from the relief hole to the rear end."""
        angle, radius = self.opening_angle, self.relief_radius
        first = (self.apex[0] + radius * cos(angle), self.apex[1] - radius * sin(angle))
        return first, (self.rear, float(self.lower_cut_z(self.rear)))

    @property
    def seam_length(self) -> float:
        """Length (mm) of the welded seam along the lower cut edge, relief hole to finished rear end."""
        (x0, z0), (x1, z1) = self.lower_cut_edge
        return hypot(x1 - x0, z1 - z0)

    @property
    def seam_to_upper_tangent(self) -> float:
        """Distance (mm) of the seam from the upper bend's tangent, the same all along."""
        return self.slit_depth - self.tangent

    @property
    def seam_to_lower_tangent(self) -> float:
        """Distance (mm) of the seam from the lower bend's tangent at the rear end, where it is least."""
        return self.seam[1][1] - self.tangent

    @property
    def relief_to_upper_tangent(self) -> float:
        """Distance (mm) of the relief hole from the upper bend's tangent; below 0 it is in the bend."""
        return self.seam_to_upper_tangent - self.relief_radius

    def seam_z(self, station: ArrayLike) -> Floats:
        """Height z (mm) of the seam line at finished stations (mm), any shape, from the apex rearward."""
        station = np.asarray(station, dtype=np.float64)
        return np.asarray(self.apex[1] - (station - self.apex[0]) * tan(self.slope))

    def lower_cut_z(self, station: ArrayLike) -> Floats:
        """Height z (mm) of the lower cut edge at stations (mm), any shape: the seam less the root gap."""
        return np.asarray(self.seam_z(station) - self.root_gap / cos(self.slope))

    def straight_rear(self, z: ArrayLike) -> Floats:
        """Station (mm), before turning, of the upper panel's rear end at straight heights `z` (mm)."""
        below = self.hinge[1] - np.asarray(z, dtype=np.float64)
        return np.asarray(self.start + self.flange_length + below * tan(self.slope))

    def depth_at(self, station: ArrayLike) -> Floats:
        """Local depth (mm) at stations (mm), any shape: linear from H at start to end_depth at rear."""
        behind = np.maximum(np.asarray(station, dtype=np.float64) - self.start, 0.0)
        return np.asarray(self.depth - behind * tan(self.slope))

    def turn_down(self, points: ArrayLike) -> Floats:
        """Upper panel's points from the straight to the finished position; (..., 2) station and z in mm."""
        return self._turn(points, -self.slope)

    def turn_up(self, points: ArrayLike) -> Floats:
        """Upper panel's points from the finished to the straight position; (..., 2) station and z in mm."""
        return self._turn(points, self.slope)

    def _turn(self, points: ArrayLike, angle: float) -> Floats:
        hinge = np.array(self.hinge)
        matrix = np.array([[cos(angle), -sin(angle)], [sin(angle), cos(angle)]])
        return np.asarray((np.asarray(points, dtype=np.float64) - hinge) @ matrix.T + hinge)

    def behind_bisector(self, station: ArrayLike, z: ArrayLike) -> Floats:
        """Signed distance (mm) of finished points behind the bisector through the hinge; shapes broadcast."""
        dx = np.asarray(station, dtype=np.float64) - self.hinge[0]
        dz = np.asarray(z, dtype=np.float64) - self.hinge[1]
        return np.asarray(dx * cos(self.slope / 2) - dz * sin(self.slope / 2))

    def upset_reach(self, z: ArrayLike) -> Floats:
        """Distance (mm) of the upset steel's limits before and behind the start at straight heights `z` (mm).

        The limits lie `upset_half_width` off the bisector, measured square to it.
        """
        below = self.hinge[1] - np.asarray(z, dtype=np.float64)
        return np.asarray(below * tan(self.slope / 2) + self.upset_half_width / cos(self.slope / 2))


def problems(
    *,
    start: float,
    end_depth: float,
    slit_depth: float,
    root_gap: float,
    trim: float,
    relief_diameter: float,
    depth: float,
    thickness: float,
    tangent: float,
    rear: float,
) -> list[str]:
    """Every reason (a sentence each) why the sizes (mm) of a taper cannot be; empty when they can.

    The rear end's depth is looked at by TaperShape itself, once all of these are sound.
    """
    lengths = {
        "start": start,
        "end_depth": end_depth,
        "slit_depth": slit_depth,
        "root_gap": root_gap,
        "trim": trim,
        "relief_diameter": relief_diameter,
        "depth": depth,
        "thickness": thickness,
        "tangent": tangent,
        "rear": rear,
    }
    found = [f"{name} must be a finite number" for name, value in lengths.items() if not isfinite(value)]
    for name in ("end_depth", "slit_depth", "relief_diameter", "depth", "thickness", "tangent"):
        if lengths[name] <= 0:
            found.append(f"{name} must be above 0 mm, not {lengths[name]:g}")
    for name in ("root_gap", "trim"):
        if lengths[name] < 0:
            found.append(f"{name} must be 0 mm or more, not {lengths[name]:g}")
    if found:
        return found
    if start >= rear:
        found.append(f"start {start:g} mm must lie ahead of the rear end at station {rear:g} mm")
    if end_depth >= depth:
        found.append(f"end_depth {end_depth:g} mm must be less than the section's depth {depth:g} mm")
    if slit_depth <= tangent:
        found.append(
            f"slit_depth {slit_depth:g} mm puts the slit into the upper bend: it must exceed r + t = {tangent:g} mm"
        )
    elif slit_depth >= depth - tangent:
        found.append(
            f"slit_depth {slit_depth:g} mm puts the slit into the lower bend or below it: "
            f"it must be less than {depth - tangent:g} mm"
        )
    if relief_diameter / 2 <= root_gap:
        found.append(f"relief_diameter {relief_diameter:g} mm must be more than twice the root_gap of {root_gap:g} mm")
    return found


def relief_arc_length(taper: TaperShape) -> float:
    """Length (mm) of the relief hole's edge that is left between lower cut edge and slit."""
    return taper.relief_radius * (2 * pi - taper.opening_angle)
