"""The tail taper, LH: the tail finished, the web as it is cut before the fold, the hinge large, and all its values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import cos, degrees, radians, sin

import numpy as np

from railgen.frame.blank import TaperTemplate, taper_template
from railgen.frame.contour import Contour
from railgen.frame.panels import Face
from railgen.frame.rail import required_taper
from railgen.frame.taper import TaperShape
from railgen.holes.table import FloatArray
from railgen.papers.curves import contour_figures
from railgen.papers.dimensions import extensions, leader, level_dimension
from railgen.papers.elevation import front_arrow
from railgen.papers.fonts import LARGE, MIDDLE, SMALL
from railgen.papers.running import PITCH, Way, running, running_items
from railgen.papers.scales import SCALES, fitting_scale
from railgen.papers.sheet import (
    BEFORE,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    OUTLINE,
    TANGENT,
    THIN,
    Item,
    Text,
    arcs,
    centred,
    segments,
)
from railgen.papers.subject import Subject
from railgen.papers.taper_detail import hinge_detail
from railgen.papers.taper_table import TAPER_TABLE_WIDTH, taper_table
from railgen.papers.title_block import STRIP_TOP
from railgen.papers.views import View, rail_lines
from railgen.papers.weld_symbol import weld_symbol
from railgen.papers.wording import say

_LEFT, _GAP = FRAME_LEFT + 22.0, 22.0
_RIGHT_COLUMN = FRAME_RIGHT - TAPER_TABLE_WIDTH - 3.0
_HEADING, _NAME = 9.5, 6.0
_ABOVE = 9.0
"""Height (mm) above the finished tail for the taper's length."""
_AHEAD, _BEHIND = 30.0, 10.0
"""Steel (mm) drawn ahead of the taper and behind its end."""
_WEDGE_FILL = "#ececec"
_SCALES = SCALES[1:]
_JOG = 3.0
_STATIONS_AS_CUT = ("tangent", "fold", "ramp")
"""Keys of what is dimensioned above the view of the web as it is cut."""


def taper_scale(subject: Subject) -> float:
    """Millimetres of steel for one of paper of the two large views."""
    rail = subject.plan.order.rail
    taper = required_taper(rail)
    across = fitting_scale(taper.blank_rear + _BEHIND - _start(taper), _RIGHT_COLUMN - _GAP - _LEFT, _SCALES)
    around = _ABOVE + _longest(subject, _STATIONS_AS_CUT) + 2 * _longest(subject, ("",)) + 2 * _NAME
    room = (FRAME_TOP - _HEADING - STRIP_TOP - around) / 2
    return max(across, fitting_scale(rail.section.depth, room, _SCALES))


def _longest(subject: Subject, keys: Sequence[str]) -> float:
    """Height (mm) that running dimensions of the tail with some names may take."""
    rear = subject.plan.order.rail.blank_length
    at = np.zeros(1)
    words = [_named(subject, round(rear) - 0.01, key) for key in keys]
    depths = [replace(running(at, at, [text], (-PITCH, PITCH)), jog=_JOG).depth for text in words]
    return max(depths)


def _start(taper: TaperShape) -> float:
    """Station (mm) at which the views begin."""
    return taper.front - _AHEAD


def taper_items(subject: Subject) -> list[Item]:
    """Everything inside the frame above the strip."""
    rail = subject.plan.order.rail
    taper = required_taper(rail)
    scale = taper_scale(subject)
    heading = say("taper_sheet.heading", scale=scale)
    items: list[Item] = [Text(FRAME_LEFT + 3, FRAME_TOP - 6.5, heading, LARGE, bold=True)]
    items += front_arrow(False, FRAME_LEFT + 170.0, FRAME_TOP - 6.0)
    top, depth = FRAME_TOP - _HEADING, rail.section.depth / scale
    bases = []
    above = (_ABOVE, _longest(subject, _STATIONS_AS_CUT))
    for key, room in zip(("finished", "in_blank" if taper.in_blank else "after_forming"), above, strict=True):
        items.append(Text(FRAME_LEFT + 4.0, top - MIDDLE - 1.0, say(f"taper_sheet.{key}"), MIDDLE, bold=True))
        bases.append(top - _NAME - room - depth)
        top = bases[-1] - _longest(subject, ("",))
    finished, cut = (_view(subject, base, scale) for base in bases)
    items += _finished(subject, taper, finished)
    items += _as_cut(subject, taper, cut)
    table, height = taper_table(subject, taper, _RIGHT_COLUMN, STRIP_TOP + 2.0)
    top = FRAME_TOP - _HEADING
    size = TAPER_TABLE_WIDTH, top - STRIP_TOP - height - 4.0
    return [*items, *hinge_detail(subject, taper, _RIGHT_COLUMN, top, size), *table]


def _view(subject: Subject, base: float, scale: float) -> View:
    rail = subject.plan.order.rail
    taper = required_taper(rail)
    return View(Face.WEB, _start(taper), taper.blank_rear + _BEHIND, _LEFT, base, 1 / scale, rail.section.depth)


def _finished(subject: Subject, taper: TaperShape, view: View) -> list[Item]:
    """The tail as it leaves the weld: stations below, heights at both sides, slope, taper length, weld."""
    rail, style = subject.plan.order.rail, subject.style
    items = rail_lines(rail, view)
    apex_x, apex_z = taper.apex
    rear_x = float(view.x(taper.rear))
    below = [(apex_x, apex_z, ""), (*taper.hinge, ""), (taper.rear, 0.0, "")]
    items += _stations(subject, view, below)
    items += _heights(subject, view, "left", view.left, [(0.0, ""), (apex_z, ""), (rail.section.depth, "")])
    rear = [(0.0, ""), (float(taper.lower_cut_z(taper.rear)), "cut"), (float(taper.seam_z(taper.rear)), "seam")]
    items += _heights(subject, view, "right", rear_x, [*rear, (taper.end_depth, "end")])
    words = say("arrangement.taper", length=style.length(taper.rear - taper.start))
    start_x, above = float(view.x(taper.start)), view.upper + 5.0
    end_y = float(view.y(taper.end_depth))
    items.append(extensions([((start_x, view.upper), (start_x, above)), ((rear_x, end_y), (rear_x, above))]))
    items += level_dimension(start_x, rear_x, above, words)
    middle = taper.start + 0.2 * (taper.rear - taper.start)
    seam = float(view.x(middle)), float(view.y(taper.lower_cut_z(middle)))
    procedure = subject.plan.order.library.finishing.weld_procedure
    weld = weld_symbol(seam, style.length(taper.seam_length), procedure, rear_x - 3.0)
    return [*items, *_slope(taper, view), *weld]


def _slope(taper: TaperShape, view: View) -> list[Item]:
    """The slope between a level line and the ramp; its value stands below the level line's end."""
    x, y = float(view.x(taper.start)), view.upper
    radius = 0.45 * (float(view.x(taper.rear)) - x)
    angle = degrees(taper.slope)
    level = segments([[(x, y), (x + radius + 4.0, y)]], THIN)
    end = x + radius * cos(radians(angle)), y - radius * sin(radians(angle))
    words = say("taper_sheet.slope", angle=angle)
    text = Text(x + radius + 1.5, (y + end[1]) / 2 - SMALL / 2 - 0.4, words, SMALL)
    return [level, arcs((x, y), radius, 0.0, -angle), text]


def _as_cut(subject: Subject, taper: TaperShape, view: View) -> list[Item]:
    """The web before the fold: wedge and relief hole cut, upset edges, fold, the blank's rear edge and its trim."""
    rail, style = subject.plan.order.rail, subject.style
    template = taper_template(rail)
    items: list[Item] = [_wedge(template, view)]
    bottom, lower, upper, top = (line.vertices for line in template.reference_lines)
    run = np.array([_start(taper), taper.blank_rear])
    edges = np.array([[(x, line[0, 1]) for x in run] for line in (bottom, top)])
    items += view.lines(edges, OUTLINE)
    items += view.lines(np.array([[(x, line[0, 1]) for x in run] for line in (lower, upper)]), TANGENT)
    items += _rear_edges(taper, template, view)
    items += view.lines(np.array([line.vertices for line in (*template.upset_lines, *template.upset_edges)]), THIN)
    items.append(contour_figures(template.cut, view, OUTLINE))
    items += view.lines(np.array([[(_start(taper), 0.0), (_start(taper), rail.section.depth)]]), THIN)
    depth, rear_z = rail.section.depth, (taper.apex[1], rail.section.depth)
    above = [(x, depth, "tangent") for x in template.fold_tangents]
    above.append((template.fold_station, depth, "fold"))
    above += [(float(taper.straight_rear(z)), z, "ramp") for z in rear_z]
    below = [(*taper.apex, ""), (taper.rear, 0.0, ""), (taper.blank_rear, 0.0, "")]
    items += _stations(subject, view, below)
    items += _stations(subject, view, above, above=True)
    slit, cut_rear = taper.apex[1], float(taper.lower_cut_z(taper.blank_rear))
    # In the blank there are no heights yet: the web's lines lie where they develop to.
    zero = float(rail.section.across(Face.WEB, 0.0)) if taper.in_blank else 0.0
    levels = [(slit, "slit"), (cut_rear, "cut")]
    ends = [] if taper.in_blank else [(0.0, ""), (rail.section.depth, "")]
    items += _heights(subject, view, "right", float(view.x(taper.blank_rear)), [*ends, *levels], zero)
    reach = taper.relief_radius * view.scale * sin(radians(45.0))
    x, y = float(view.x(taper.apex[0])), float(view.y(slit))
    relief = say("elevation.relief", diameter=style.size(taper.relief_diameter))
    where = taper.start + 0.8 * (taper.blank_rear - taper.start)
    middle = (slit + float(taper.lower_cut_z(where))) / 2
    items.append(centred(float(view.x(where)), float(view.y(middle)), say("taper_sheet.wedge"), SMALL))
    return [*items, *leader([(x + reach, y - reach), (x + reach + 6.0, y - reach - 6.0)], relief)]


def _wedge(template: TaperTemplate, view: View) -> Item:
    """The steel that is cut away."""
    cut = template.cut
    return contour_figures(Contour(cut.vertices, cut.bulges), view, None, _WEDGE_FILL)


def _rear_edges(taper: TaperShape, template: TaperTemplate, view: View) -> list[Item]:
    """The blank's rear edge, open where the wedge is cut, and where the rear end is cut square after welding."""
    cut_z, slit = float(taper.lower_cut_z(taper.blank_rear)), taper.apex[1]
    depth = float(template.reference_lines[3].vertices[0, 1])
    edge = [[(taper.blank_rear, 0.0), (taper.blank_rear, cut_z)], [(taper.blank_rear, slit), (taper.blank_rear, depth)]]
    upper = [[(float(taper.straight_rear(z)), z) for z in (slit, depth)]]
    lower = [[(taper.rear, 0.0), (taper.rear, float(taper.lower_cut_z(taper.rear)))]]
    return [*view.lines(np.array(edge), OUTLINE), *view.lines(np.array([*lower, *upper]), BEFORE)]


def _named(subject: Subject, value: float, key: str) -> str:
    """A length, with a name behind it where it has a key; in two units it is long enough without."""
    words = subject.style.length(value)
    return say(f"taper_sheet.at_{key}", at=words) if key and subject.style.units != "both" else words


def _stations(subject: Subject, view: View, points: list[tuple[float, float, str]], above: bool = False) -> list[Item]:
    """Running dimensions from the rail's front end, which lies off the view; station, z and key of each point."""
    front = subject.plan.order.rail.front
    station, z = np.array([point[:2] for point in points]).T
    edge = view.upper if above else view.lower
    reach: FloatArray = np.abs(view.y(z) - edge)
    words = [_named(subject, x - front, key) for x, _, key in points]
    placed = running(view.x(station), reach, words, (FRAME_LEFT + 4.0, _RIGHT_COLUMN - 4.0), greatest_jog=_JOG)
    way: Way = "above" if above else "below"
    return running_items(placed, way, edge, view.left)


def _heights(
    subject: Subject, view: View, way: Way, edge: float, levels: list[tuple[float, str]], zero: float = 0.0
) -> list[Item]:
    """Running dimensions from height `zero`, with words by key beside their values."""
    z = np.array([level for level, _ in levels])
    words = [_named(subject, level - zero, key) for level, key in levels]
    origin = float(view.y(zero)) if zero == 0.0 else None
    placed = running(view.y(z), np.zeros(len(z)), words, (view.lower - 3.0, view.upper + 3.0), origin, greatest_jog=3.0)
    return running_items(placed, way, edge, float(view.y(min(z.min(), 0.0))))
