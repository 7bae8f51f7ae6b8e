"""From the finished part to its blank and back. Every panel is a rigid motion; arrays in, arrays out.

Blank coordinates here are un-mirrored: u is 0 at the front end of the part's blank and grows rearward, v is
blank_y.
"""

from math import cos, degrees

import numpy as np
from numpy.typing import ArrayLike, NDArray

from railgen.frame.liner import LinerShape
from railgen.frame.panels import FACE_OF_PANEL, NO_PANEL, Face, Panel
from railgen.frame.rail import RailShape, required_taper
from railgen.frame.taper import TaperShape

Floats = NDArray[np.float64]
Panels = NDArray[np.int8]

EDGE_TOLERANCE = 1e-9
"""mm: a point this near to a panel's edge still counts as on it."""


def panel_of(rail: RailShape, face: ArrayLike, station: ArrayLike, across: ArrayLike) -> Panels:
    """Panel of features of the finished rail, by the position of their centres.

    `face` Face numbers, `station` and `across` (z or y) in mm; shapes broadcast. A web feature behind the
    bisector and above the seam line is on TAIL_WEB, a top-flange feature at or behind the taper's start on
    TAIL_TOP.
    """
    face, station, across = np.broadcast_arrays(
        np.asarray(face), np.asarray(station, dtype=np.float64), np.asarray(across, dtype=np.float64)
    )
    panel = face.astype(np.int8)
    taper = rail.taper
    if taper is None:
        return panel
    in_strip = (taper.behind_bisector(station, across) > 0) & (across > taper.seam_z(station))
    panel[(face == Face.WEB) & in_strip] = Panel.TAIL_WEB
    panel[(face == Face.TOP) & (station >= taper.start)] = Panel.TAIL_TOP
    return panel


def develop(rail: RailShape, panel: ArrayLike, station: ArrayLike, across: ArrayLike) -> tuple[Floats, Floats]:
    """Blank (u, v) in mm of points of the finished rail.

    `panel` Panel numbers, `station` and `across` (z or y) in mm; shapes broadcast.
    Raises ValueError for a tail panel of a rail without a taper.
    """
    panel, station, across = _broadcast(panel, station, across)
    if _has_tail(panel):
        station, across = _straighten(required_taper(rail), panel, station, across)
    return station - rail.front, rail.section.blank_y(FACE_OF_PANEL[panel], across)


def fold(rail: RailShape, panel: ArrayLike, u: ArrayLike, v: ArrayLike) -> tuple[Floats, Floats]:
    """Station and across (z or y) in mm, in the finished rail, of blank points: the inverse of `develop`.

    `panel` Panel numbers, `u` and `v` in mm; shapes broadcast.
    Raises ValueError for a tail panel of a rail without a taper.
    """
    panel, u, v = _broadcast(panel, u, v)
    station, across = u + rail.front, rail.section.across(FACE_OF_PANEL[panel], v)
    if not _has_tail(panel):
        return station, across
    taper = required_taper(rail)
    strip, ramp = panel == Panel.TAIL_WEB, panel == Panel.TAIL_TOP
    turned = taper.turn_down(np.stack([station, across], axis=-1))
    down = taper.start + (station - taper.start) * cos(taper.slope)
    return np.where(strip, turned[..., 0], np.where(ramp, down, station)), np.where(strip, turned[..., 1], across)


def _straighten(taper: TaperShape, panel: Panels, station: Floats, across: Floats) -> tuple[Floats, Floats]:
    """Tail points as they lie before turning; others as they are."""
    strip, ramp = panel == Panel.TAIL_WEB, panel == Panel.TAIL_TOP
    turned = taper.turn_up(np.stack([station, across], axis=-1))
    # A flange feature's position is at mid-thickness, on the line through the hinge.
    along = taper.start + (station - taper.start) / cos(taper.slope)
    return np.where(strip, turned[..., 0], np.where(ramp, along, station)), np.where(strip, turned[..., 1], across)


def develop_liner(liner: LinerShape, face: ArrayLike, station: ArrayLike, across: ArrayLike) -> tuple[Floats, Floats]:
    """Liner blank (u, v) in mm of points given in the rail's axes.

    `face` Face numbers, `station` and `across` (z or y) in mm; shapes broadcast.
    """
    face, station, across = _broadcast(face, station, across)
    return station - liner.start, liner.section.blank_y(face, across - _liner_offset(liner, face))


def fold_liner(liner: LinerShape, face: ArrayLike, u: ArrayLike, v: ArrayLike) -> tuple[Floats, Floats]:
    """Station and across (z or y) in mm, in the rail's axes, of liner blank points; shapes broadcast."""
    face, u, v = _broadcast(face, u, v)
    return u + liner.start, np.asarray(liner.section.across(face, v) + _liner_offset(liner, face))


def _liner_offset(liner: LinerShape, face: Panels) -> Floats:
    return np.where(face == Face.WEB, liner.offset_z, liner.offset_y)


def panel_at_blank(rail: RailShape, u: ArrayLike, v: ArrayLike) -> Panels:
    """Panel that holds blank points, or NO_PANEL (-1) elsewhere (bends, upset, wedge, scrap, outside).

    `u` and `v` in mm; shapes broadcast. The relief hole counts as wedge, steel beyond the rear end as scrap.
    """
    u, v = np.broadcast_arrays(np.asarray(u, dtype=np.float64), np.asarray(v, dtype=np.float64))
    section, tolerance = rail.section, EDGE_TOLERANCE
    station = u + rail.front
    on_rail = (u >= -tolerance) & (station <= rail.rear + tolerance)
    bottom = (v >= -tolerance) & (v <= section.bottom_tangent_blank_y + tolerance)
    web = (v >= section.web_lower_tangent_blank_y - tolerance) & (v <= section.web_upper_tangent_blank_y + tolerance)
    top = (v >= section.top_tangent_blank_y - tolerance) & (v <= section.developed_width + tolerance)
    panel = np.full(u.shape, NO_PANEL, dtype=np.int8)
    panel[on_rail & bottom] = Panel.BOTTOM
    if rail.taper is None:
        panel[on_rail & web] = Panel.WEB
        panel[on_rail & top] = Panel.TOP
        return panel
    taper, along = rail.taper, station - rail.taper.start
    panel[top & (u >= -tolerance) & (along <= tolerance - taper.fold_half_width)] = Panel.TOP
    rear = taper.flange_length + tolerance
    panel[top & (along >= taper.fold_half_width - tolerance) & (along <= rear)] = Panel.TAIL_TOP
    in_web, in_strip = _web_regions(taper, station, section.across(Face.WEB, v))
    panel[web & on_rail & in_web] = Panel.WEB
    panel[web & in_strip] = Panel.TAIL_WEB
    return panel


def _web_regions(taper: TaperShape, station: Floats, z: Floats) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Whether points of the straight web belong to the web, and whether to the strip before its rear end."""
    apex_x, slit_z = taper.apex
    reach = taper.upset_reach(z)
    solid = np.hypot(station - apex_x, z - slit_z) >= taper.relief_radius - EDGE_TOLERANCE
    ahead = (z > slit_z) & (station <= taper.start - reach + EDGE_TOLERANCE)
    below = (z <= slit_z) & ((station <= apex_x) | (z <= taper.lower_cut_z(station) + EDGE_TOLERANCE))
    rear = taper.straight_rear(z)
    strip = (z >= slit_z - EDGE_TOLERANCE) & (station >= taper.start + reach - EDGE_TOLERANCE)
    return solid & (ahead | below), solid & strip & (station <= rear + EDGE_TOLERANCE)


def mirror_blank(u: ArrayLike, blank_length: float) -> Floats:
    """blank_x (mm) on the RH blank of un-mirrored u (mm), any shape; its own inverse."""
    return np.asarray(blank_length - np.asarray(u, dtype=np.float64))


def blank_angle(rail: RailShape, panel: ArrayLike, angle: ArrayLike) -> Floats:
    """Angle (degrees, 0 <= a < 180) of a feature's long axis in un-mirrored blank axes; shapes broadcast.

    `panel` Panel numbers; `angle` in degrees in the finished part, from +x toward +z (web) or +y (flange); on
    TAIL_TOP in the flange's own plane. Raises ValueError for a tail panel of a rail without a taper.
    """
    panel, angle = np.broadcast_arrays(np.asarray(panel), np.asarray(angle, dtype=np.float64))
    turned = _flange_angle(FACE_OF_PANEL[panel], angle)
    if _has_tail(panel):
        turned = np.where(panel == Panel.TAIL_WEB, angle + degrees(required_taper(rail).slope), turned)
    return _half_turn(turned)


def liner_blank_angle(face: ArrayLike, angle: ArrayLike) -> Floats:
    """Angle (degrees, 0 <= a < 180) of a long axis in the liner's un-mirrored blank; shapes broadcast."""
    return _half_turn(_flange_angle(np.asarray(face), np.asarray(angle, dtype=np.float64)))


def mirror_angle(angle: ArrayLike) -> Floats:
    """Angle (degrees, 0 <= a < 180) in the RH blank of one in un-mirrored blank axes; its own inverse."""
    return _half_turn(-np.asarray(angle, dtype=np.float64))


def _flange_angle(face: ArrayLike, angle: Floats) -> Floats:
    # On the bottom flange +y runs toward -v.
    return np.where(np.asarray(face) == Face.BOTTOM, -angle, angle)


def _half_turn(angle: Floats) -> Floats:
    turned = np.mod(angle, 180.0)
    # The remainder of a tiny negative angle rounds to the divisor itself.
    return np.where(turned >= 180.0, 0.0, turned)


def _has_tail(panel: ArrayLike) -> bool:
    return bool(np.any(np.asarray(panel) >= Panel.TAIL_WEB))


def _broadcast(panel: ArrayLike, first: ArrayLike, second: ArrayLike) -> tuple[Panels, Floats, Floats]:
    panels, a, b = np.broadcast_arrays(
        np.asarray(panel, dtype=np.int8),
        np.asarray(first, dtype=np.float64),
        np.asarray(second, dtype=np.float64),
    )
    return panels, a, b
