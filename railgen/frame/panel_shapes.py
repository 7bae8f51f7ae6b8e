"""Corners of the finished panels, in the rail's own axes."""

import numpy as np
from numpy.typing import NDArray

from railgen.frame.liner import LinerShape
from railgen.frame.panels import Face, Panel
from railgen.frame.rail import RailShape, required_taper
from railgen.frame.taper import Point, TaperShape

Floats = NDArray[np.float64]


def panels(rail: RailShape) -> tuple[Panel, ...]:
    """The panels that the rail has: three, or five with a taper."""
    return tuple(Panel) if rail.taper else (Panel.WEB, Panel.TOP, Panel.BOTTOM)


def panel_corners(rail: RailShape, panel: Panel) -> Floats:
    """Corners (n, 2), counter-clockwise, of a finished panel: station and across (z or y) in mm.

    Upset steel, wedge and the bends' steel, with the taper's fold, belong to no panel. The relief hole is
    not taken out: it is the circle about the taper's apex. Raises ValueError for a tail panel of a rail
    without a taper.
    """
    section, taper = rail.section, rail.taper
    if panel == Panel.BOTTOM:
        return _rectangle(rail.front, rail.rear, section.tangent, section.flange)
    if panel == Panel.TAIL_TOP:
        taper = required_taper(rail)
        # The fold's tangent is measured along the ramp, stations are not.
        ahead = (rail.rear - taper.start) * taper.fold_half_width / taper.flange_length
        return _rectangle(taper.start + ahead, rail.rear, section.tangent, section.flange)
    if panel == Panel.TAIL_WEB:
        return _strip_corners(required_taper(rail))
    if panel == Panel.TOP:
        rear = taper.start - taper.fold_half_width if taper else rail.rear
        return _rectangle(rail.front, rear, section.tangent, section.flange)
    if taper:
        return _web_corners(rail.front, taper)
    return _rectangle(rail.front, rail.rear, section.web_lower_tangent, section.web_upper_tangent)


def liner_panel_corners(liner: LinerShape, face: Face) -> Floats:
    """Corners (4, 2), counter-clockwise, of a liner's panel in the rail's axes: station, across in mm."""
    if face == Face.WEB:
        return _rectangle(liner.start, liner.end, liner.web_lower_tangent, liner.web_upper_tangent)
    return _rectangle(liner.start, liner.end, liner.flange_tangent, liner.flange_edge)


def _rectangle(start: float, end: float, low: float, high: float) -> Floats:
    return np.array([(start, low), (end, low), (end, high), (start, high)])


def _web_corners(front: float, taper: TaperShape) -> Floats:
    low, high = taper.tangent, taper.depth - taper.tangent
    tip = _wedge_tip(taper)
    _, cut_rear = taper.lower_cut_edge
    at_slit = (taper.start - float(taper.upset_reach(taper.apex[1])), taper.apex[1])
    at_bend = (taper.start - float(taper.upset_reach(high)), high)
    corners = [(front, low), (taper.rear, low), cut_rear, tip, taper.apex, at_slit, at_bend, (front, high)]
    return np.array(corners)


def _wedge_tip(taper: TaperShape) -> Point:
    """Where the lower cut edge would begin, square below the apex, were there no relief hole."""
    sine, cosine = np.sin(taper.slope), np.cos(taper.slope)
    return taper.apex[0] - taper.root_gap * sine, taper.apex[1] - taper.root_gap * cosine


def _strip_corners(taper: TaperShape) -> Floats:
    low, high = taper.apex[1], taper.depth - taper.tangent
    straight = [
        (taper.start + taper.upset_reach(low), low),
        (taper.straight_rear(low), low),
        (taper.straight_rear(high), high),
        (taper.start + taper.upset_reach(high), high),
    ]
    return taper.turn_down(np.array(straight, dtype=np.float64))
