"""Views of a finished rail, true to scale: the web from outside, each flange as a strip beside it.

A view maps station and across to the sheet. On LH sheets stations run to the right, on RH sheets to the left, as the
rail is seen from outside. The top flange is seen from above, the bottom flange from below. In third-angle projection
the top flange stands above the web and the bottom flange below it, y = 0 next to the web; in first-angle projection
they change places, y = 0 far from the web.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from railgen.frame.panel_shapes import panel_corners
from railgen.frame.panels import Face, Panel
from railgen.frame.rail import RailShape
from railgen.frame.taper import TaperShape
from railgen.holes.table import LINER, FloatArray
from railgen.papers.part import DrawnPart
from railgen.papers.sheet import (
    GRID,
    HIDDEN,
    OUTLINE,
    TANGENT,
    THIN,
    Item,
    Pen,
    circles,
    polygon,
    segments,
)

GRID_STEP = 100.0
"""Distance (mm of steel) between the pale lines across the views."""
WELD_GREY = "#8a8a8a"


@dataclass(frozen=True)
class View:
    """One face of a part on the sheet, from station `start` to `end` (mm of steel).

    `left` and `base`: x of the view's left edge and y of across = `zero`, mm of paper; `scale`: mm of paper for one of
    steel; `breadth`: how far the part reaches across, from `zero`; `mirrored` on RH sheets; `down` where across grows
    downward (bottom flange); `below`: whether it is a flange's view that stands below the web's.
    """

    face: Face
    start: float
    end: float
    left: float
    base: float
    scale: float
    breadth: float
    mirrored: bool = False
    down: bool = False
    zero: float = 0.0
    below: bool = False

    def x(self, station: FloatArray | float) -> FloatArray:
        """x on the sheet of stations, any shape."""
        along = np.asarray(station, dtype=np.float64)
        return self.left + self.scale * (self.end - along if self.mirrored else along - self.start)

    def y(self, across: FloatArray | float) -> FloatArray:
        """y on the sheet of z or y, any shape."""
        own = np.asarray(across, dtype=np.float64) - self.zero
        return np.asarray(self.base + self.scale * own * (-1 if self.down else 1))

    def points(self, points: FloatArray) -> FloatArray:
        """Points on the sheet of (station, across), shape (..., 2)."""
        return np.stack([self.x(points[..., 0]), self.y(points[..., 1])], axis=-1)

    def angle(self, angle: FloatArray) -> FloatArray:
        """Angle on the sheet (degrees) of long axes given in the finished part."""
        return np.asarray(np.asarray(angle, dtype=np.float64) * (-1 if self.mirrored else 1) * (-1 if self.down else 1))

    @property
    def right(self) -> float:
        """x of the view's right edge."""
        return self.left + self.scale * (self.end - self.start)

    @property
    def lower(self) -> float:
        """y of the view's lower edge."""
        return self.base - self.scale * self.breadth if self.down else self.base

    @property
    def upper(self) -> float:
        """y of the view's upper edge."""
        return self.base if self.down else self.base + self.scale * self.breadth

    def lines(self, ends: FloatArray, pen: Pen) -> Iterator[Item]:
        """Straight lines between (station, across) points, shape (k, 2, 2), cut off at the view's ends."""
        kept = clipped(np.asarray(ends, dtype=np.float64), self.start, self.end)
        if len(kept):
            yield segments(self.points(kept), pen)


def clipped(ends: FloatArray, start: float, end: float) -> FloatArray:
    """The parts between stations `start` and `end` of straight lines (k, 2, 2); lines outside are left out."""
    lines = np.where(ends[:, :1, :1] <= ends[:, 1:, :1], ends, ends[:, ::-1])
    first, last = lines[:, 0], lines[:, 1]
    inside = (first[:, 0] <= end) & (last[:, 0] >= start)
    first, last = first[inside], last[inside]
    run = np.where(last[:, 0] > first[:, 0], last[:, 0] - first[:, 0], 1.0)
    from_first = np.clip((start - first[:, 0]) / run, 0, 1)[:, None]
    from_last = np.clip((end - first[:, 0]) / run, 0, 1)[:, None]
    vertical = (last[:, :1] <= first[:, :1]) * 1.0
    cut_last = np.maximum(from_last, vertical)
    return np.stack([first + from_first * (last - first), first + cut_last * (last - first)], axis=1)


def part_lines(part: DrawnPart, view: View) -> list[Item]:
    """Everything of the bare part in a view: edges and tangents; of the rail, taper and liner too."""
    return _liner_part_lines(part, view) if part.part == LINER else rail_lines(part.rail, view)


def rail_lines(rail: RailShape, view: View) -> list[Item]:
    """Everything of the bare rail in a view: edges, tangents, taper and liner."""
    items = _edges(rail, view)
    if view.face == Face.WEB:
        items += _web_tangents(rail, view)
        items += _web_taper(rail.taper, rail, view) if rail.taper else []
    else:
        tangent = rail.section.tangent
        items += view.lines(_level(rail, [tangent]), TANGENT)
        if view.face == Face.TOP and rail.taper:
            items += _fold(rail.taper, rail, view)
    return items + _liner_lines(rail, view)


def _liner_part_lines(part: DrawnPart, view: View) -> list[Item]:
    """The liner as a part of its own."""
    low, tangent = view.zero, part.section.tangent
    high = low + view.breadth
    tangents = [low + tangent, high - tangent] if view.face == Face.WEB else [low + tangent]
    along = [[(part.front, across), (part.rear, across)] for across in (low, high, *tangents)]
    ends = np.array([[(x, low), (x, high)] for x in (part.front, part.rear)])
    cuts = [x for x in (view.start, view.end) if part.front < x < part.rear]
    return [
        *view.lines(np.array(along[2:]), TANGENT),
        *view.lines(np.concatenate([along[:2], ends]), OUTLINE),
        *view.lines(np.array([[(x, low), (x, high)] for x in cuts]).reshape(-1, 2, 2), THIN),
    ]


def grid_lines(view: View) -> list[Item]:
    """Pale lines across the view at round stations from the front axle."""
    first = np.ceil(view.start / GRID_STEP - 1e-9)
    stations = np.arange(first, np.floor(view.end / GRID_STEP + 1e-9) + 1) * GRID_STEP
    x = view.x(stations)
    low, high = np.full(len(x), view.lower), np.full(len(x), view.upper)
    return [segments(np.stack([np.stack([x, low], -1), np.stack([x, high], -1)], axis=1), GRID)]


def _level(rail: RailShape, across: list[float]) -> FloatArray:
    return np.array([[(rail.front, a), (rail.rear, a)] for a in across], dtype=np.float64)


def _edges(rail: RailShape, view: View) -> list[Item]:
    """The outline, open where the view is cut off, with a thin line there."""
    corner = [rail.front, rail.rear]
    if view.face == Face.WEB and rail.taper:
        corner.insert(1, rail.taper.start)
    stations = np.array(corner)
    high = rail.depth_at(stations) if view.face == Face.WEB else np.full(len(stations), rail.section.flange)
    top = np.stack([stations, high], axis=-1)
    lines = np.stack([top[:-1], top[1:]], axis=1)
    ends = np.array([[(x, 0.0), (x, h)] for x, h in ((rail.front, high[0]), (rail.rear, high[-1]))])
    items = list(view.lines(np.concatenate([lines, _level(rail, [0.0]), ends]), OUTLINE))
    for station in (view.start, view.end):
        if rail.front < station < rail.rear:
            height = float(rail.depth_at(station)) if view.face == Face.WEB else rail.section.flange
            items += view.lines(np.array([[(station, 0.0), (station, height)]]), THIN)
    return items


def _web_tangents(rail: RailShape, view: View) -> list[Item]:
    lines = [*_level(rail, [rail.section.web_lower_tangent, rail.section.web_upper_tangent])]
    if rail.taper:
        strip = panel_corners(rail, Panel.TAIL_WEB)
        web = panel_corners(rail, Panel.WEB)
        lines[1] = np.array([(rail.front, rail.section.web_upper_tangent), web[6]])
        lines.append(strip[[3, 2]])
    return list(view.lines(np.array(lines), TANGENT))


def _web_taper(taper: TaperShape, rail: RailShape, view: View) -> list[Item]:
    """Seam with its weld, relief hole, edges of the upset steel, and the hinge."""
    (apex_x, apex_z), (rear, _) = taper.seam
    items: list[Item] = []
    if apex_x < view.end and rear > view.start:
        stations = np.array([max(apex_x, view.start), min(rear, view.end)])
        upper, lower = taper.seam_z(stations), taper.lower_cut_z(stations)
        weld = np.concatenate([np.stack([stations, upper], -1), np.stack([stations, lower], -1)[::-1]])
        items.append(polygon(view.points(weld), THIN, WELD_GREY))
    strip, web = panel_corners(rail, Panel.TAIL_WEB), panel_corners(rail, Panel.WEB)
    items += view.lines(np.stack([strip[[0, 3]], web[[5, 6]]]), THIN)
    half = taper.thickness
    x, z = taper.hinge
    items += view.lines(np.array([[(x - half, z), (x + half, z)], [(x, z - half), (x, z + half)]]), THIN)
    if view.start < apex_x - taper.relief_radius and apex_x + taper.relief_radius < view.end:
        centre = view.points(np.array([[apex_x, apex_z]]))
        items.append(circles(centre, taper.relief_radius * view.scale, THIN, "#ffffff"))
    return items


def _fold(taper: TaperShape, rail: RailShape, view: View) -> list[Item]:
    """The fold across the top flange and its tangents; stations of the finished rail."""
    behind = (rail.rear - taper.start) * taper.fold_half_width / taper.flange_length
    low, high = rail.section.tangent, rail.section.flange
    stations = (taper.start - taper.fold_half_width, taper.start + behind)
    items = list(view.lines(np.array([[(taper.start, low), (taper.start, high)]]), THIN))
    return items + list(view.lines(np.array([[(x, low), (x, high)] for x in stations]), TANGENT))


def _liner_lines(rail: RailShape, view: View) -> list[Item]:
    """The liner's edges, hidden behind the rail."""
    liner = rail.liner
    if liner is None:
        return []
    low, high = liner.offset_y, liner.flange_edge
    if view.face == Face.WEB:
        low, high = liner.offset_z, liner.offset_z + liner.section.depth
    corners = np.array([(liner.start, low), (liner.end, low), (liner.end, high), (liner.start, high)])
    return list(view.lines(np.stack([corners, np.roll(corners, -1, axis=0)], axis=1), HIDDEN))
