"""The hinge of a tail taper, large: where the panels meet, relief hole, upset steel, fold, root gap."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from railgen.frame.panel_shapes import panel_corners
from railgen.frame.panels import Face, Panel
from railgen.frame.taper import TaperShape
from railgen.papers.dimensions import leader
from railgen.papers.fonts import MIDDLE, SMALL, text_width
from railgen.papers.labels import spread
from railgen.papers.running import running, running_items
from railgen.papers.scales import SCALES, fitting_scale
from railgen.papers.sheet import (
    CENTRE,
    OUTLINE,
    TANGENT,
    THIN,
    Item,
    Text,
    circles,
    polygon,
)
from railgen.papers.subject import Subject
from railgen.papers.views import WELD_GREY, View
from railgen.papers.wording import say

_TITLE, _NAMES, _LINES = 8.0, 8.0, 9.0
"""Heights and widths (mm) of what stands round the detail: title, labels above, dimensions less their words."""
_SCALES = (0.5, *SCALES)
_PAST_RELIEF = 2.2
"""How far below the apex the detail goes, in radii of the relief hole."""
_BESIDE = 1.4
"""How far beside the hinge it goes at least, in half widths of the fold or diameters of the relief hole."""
_LABEL_PITCH, _LABELS_OFF, _JOG = 3.4, 5.0, 3.0
_NAMED = ("fold", "hinge", "bisector", "upset", "gap", "relief")


def hinge_detail(subject: Subject, taper: TaperShape, left: float, top: float, size: tuple[float, float]) -> list[Item]:
    """The detail at x = `left` below y = `top`, no wider and no higher than `size`, mm of paper."""
    width, highest = size
    bottom = taper.apex[1] - _PAST_RELIEF * taper.relief_radius
    height = taper.depth - bottom
    side = _LINES + _widest(_words(subject, _heights(taper)))
    below = _LINES + _widest(_words(subject, _stations(taper), subject.plan.order.rail.front))
    room = width - side - _LABELS_OFF - 1.5 - _widest(list(_names(subject, taper).values()))
    half = _BESIDE * max(taper.fold_half_width, 2 * taper.relief_radius)
    scale = max(
        fitting_scale(height, highest - _TITLE - _NAMES - below, _SCALES), fitting_scale(2 * half, room, _SCALES)
    )
    # The whole width is used: more of the seam is seen.
    half = max(half, room / 2 * scale)
    base = top - _TITLE - _NAMES - height / scale
    view = View(Face.WEB, taper.start - half, taper.start + half, left + side, base, 1 / scale, height, zero=bottom)
    title = say("taper_sheet.detail", scale=f"{1 / scale:.0f}:1" if scale < 1 else f"1:{scale:g}")
    items: list[Item] = [Text(left, top - MIDDLE - 1.0, title, MIDDLE, bold=True)]
    items += [*_steel(subject, taper, view), *_dimensions(subject, taper, view)]
    return items + _labels(subject, taper, view)


def _widest(words: Sequence[str]) -> float:
    return max(text_width(text, SMALL) for text in words)


def _steel(subject: Subject, taper: TaperShape, view: View) -> list[Item]:
    rail = subject.plan.order.rail
    stations = np.array([taper.apex[0], view.end])
    weld = np.concatenate(
        [np.stack([stations, taper.seam_z(stations)], -1), np.stack([stations, taper.lower_cut_z(stations)], -1)[::-1]]
    )
    items: list[Item] = [polygon(view.points(weld), THIN, WELD_GREY)]
    web, strip = panel_corners(rail, Panel.WEB), panel_corners(rail, Panel.TAIL_WEB)
    hinge = np.array(taper.hinge)
    tops = [[(view.start, taper.depth), (taper.start, taper.depth)]]
    tops.append([(taper.start, taper.depth), (view.end, float(taper.depth_at(view.end)))])
    items += view.lines(np.array(tops), OUTLINE)
    items += view.lines(np.array([[(view.start, web[6][1]), web[6]], strip[[3, 2]]]), TANGENT)
    items += view.lines(np.stack([web[[5, 6]], strip[[0, 3]]]), THIN)
    items += view.lines(np.array([[hinge, np.array(taper.apex)]]), CENTRE)
    edges = [[(x, view.zero), (x, float(taper.depth_at(x)))] for x in (view.start, view.end)]
    items += view.lines(np.array(edges), THIN)
    items += view.lines(np.array([[(view.start, view.zero), (view.end, view.zero)]]), THIN)
    centre = view.points(np.array([taper.apex]))
    items.append(circles(centre, taper.relief_radius * view.scale, OUTLINE, "#ffffff"))
    cross = 1.25 * taper.relief_radius
    x, z = taper.apex
    items += view.lines(np.array([[(x - cross, z), (x + cross, z)], [(x, z - cross), (x, z + cross)]]), CENTRE)
    items.append(circles(view.points(hinge[None]), 0.6, THIN, "#ffffff"))
    return items


def _stations(taper: TaperShape) -> list[tuple[float, float]]:
    """Stations that are dimensioned, with the heights at which their lines begin: apex, fold line and its tangents."""
    behind = _behind(taper)
    ahead = taper.start - taper.fold_half_width
    return [taper.apex, taper.hinge, (ahead, taper.depth), (behind, float(taper.depth_at(behind)))]


def _heights(taper: TaperShape) -> list[float]:
    """Heights that are dimensioned: apex, upper tangent, hinge, top."""
    return [taper.apex[1], taper.depth - taper.tangent, taper.hinge[1], taper.depth]


def _behind(taper: TaperShape) -> float:
    """Station (mm) of the fold's tangent behind the fold line, on the finished rail."""
    return taper.start + (taper.rear - taper.start) * taper.fold_half_width / taper.flange_length


def _words(subject: Subject, values: Sequence[float] | Sequence[tuple[float, float]], zero: float = 0.0) -> list[str]:
    firsts = np.array(values, dtype=np.float64).reshape(len(values), -1)[:, 0]
    return [subject.style.length(value - zero) for value in firsts.tolist()]


def _dimensions(subject: Subject, taper: TaperShape, view: View) -> list[Item]:
    """Stations from the front end, heights from the bottom flange; both origins lie off the detail."""
    points = _stations(taper)
    station, z = np.array(points).T
    words = _words(subject, points, subject.plan.order.rail.front)
    ends = view.left - 10.0, view.right + 14.0
    placed = running(view.x(station), view.y(z) - view.lower, words, ends, greatest_jog=_JOG)
    items = running_items(placed, "below", view.lower, view.left)
    heights = _heights(taper)
    reach = view.x(np.array([taper.apex[0], view.start, taper.start, view.start])) - view.left
    ends = view.lower, view.upper + 4.0
    placed = running(view.y(np.array(heights)), reach, _words(subject, heights), ends, greatest_jog=_JOG)
    return items + running_items(placed, "left", view.left, view.lower)


def _names(subject: Subject, taper: TaperShape) -> dict[str, str]:
    """What is named, by key."""
    style = subject.style
    values = {"gap": style.length(taper.root_gap), "relief": style.size(taper.relief_diameter)}
    return {key: say(f"taper_sheet.is_{key}", value=values.get(key, "")) for key in _NAMED}


def _labels(subject: Subject, taper: TaperShape, view: View) -> list[Item]:
    """Names of what the lines are, with leaders from the right."""
    strip = panel_corners(subject.plan.order.rail, Panel.TAIL_WEB)
    reach = taper.relief_radius * 0.7071
    near_end = 0.75 * view.end + 0.25 * taper.start
    points = {
        "fold": (_behind(taper), float(taper.depth_at(_behind(taper)))),
        "hinge": taper.hinge,
        "bisector": _between(taper.hinge, taper.apex, 0.45),
        "upset": _between(strip[0].tolist(), strip[3].tolist(), 0.4),
        "gap": (near_end, float(taper.lower_cut_z(near_end))),
        "relief": (taper.apex[0] + reach, taper.apex[1] - reach),
    }
    at = view.points(np.array([points[key] for key in _NAMED]))
    order = np.argsort(at[:, 1], kind="stable")
    levels = spread(at[order, 1], np.full(len(order), _LABEL_PITCH), view.lower - 4.0, view.upper + _NAMES)
    words, names = list(_names(subject, taper).values()), at[order, 1] if levels is None else levels
    items: list[Item] = []
    for index, level in zip(order.tolist(), names.tolist(), strict=True):
        items += leader([(float(at[index, 0]), float(at[index, 1])), (view.right + _LABELS_OFF, level)], words[index])
    return items


def _between(first: Sequence[float], second: Sequence[float], share: float) -> tuple[float, float]:
    return first[0] + share * (second[0] - first[0]), first[1] + share * (second[1] - first[1])
