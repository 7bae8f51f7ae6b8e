"""An elevation sheet: one stretch of a part, web and both flanges to scale, with dimensions, names, findings."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import RAIL, SIDES
from railgen.papers.callouts import WORDS_FROM_STAFF, Band, Callout, flange_band
from railgen.papers.elevation_layout import NAMES, ROW, BandLayout, ElevationLayout
from railgen.papers.feet import foot_figures
from railgen.papers.fonts import LARGE, MIDDLE, SMALL
from railgen.papers.legend import legend
from railgen.papers.rings import FINDING_PENS, Ring
from railgen.papers.ruler import station_ruler
from railgen.papers.running import Way, running_items
from railgen.papers.sheet import (
    AXIS,
    BLACK,
    BLUE,
    FINE,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    MATCH,
    PALE,
    THIN,
    Anchor,
    Figures,
    Item,
    Pen,
    Text,
    centred,
    circles,
    polygon,
    polyline,
    rectangle,
    rounded_outline,
    segments,
)
from railgen.papers.stretches import SCALE
from railgen.papers.subject import Subject
from railgen.papers.symbols import locating_squares, symbols
from railgen.papers.views import View, part_lines
from railgen.papers.wording import say

_NAME_KEYS = {Face.TOP: "top", Face.WEB: "web", Face.BOTTOM: "bottom"}
_FINDING_LEADER, _SLOPE = 0.18, 0.8
_MATCH_BEYOND = 1.5


@dataclass(frozen=True)
class PartSheets:
    """The elevation sheets of one part, seen from one of them.

    `cuts`: stations (mm) of the part's ends and of the match lines between; `first`: number of the first sheet;
    `index`: which of them this is, from 0.
    """

    cuts: tuple[float, ...]
    first: int
    index: int

    @property
    def ahead(self) -> int:
        """Number of the sheet ahead of this one, 0 where there is none."""
        return self.first + self.index - 1 if self.index else 0

    @property
    def behind(self) -> int:
        """Number of the sheet behind this one, 0 where there is none."""
        return self.first + self.index + 1 if self.index < len(self.cuts) - 2 else 0


def elevation_items(subject: Subject, layout: ElevationLayout, place: PartSheets) -> list[Item]:
    """Everything inside the frame but the title block.

    `place`: where this sheet stands among those of its part.
    """
    items: list[Item] = []
    for view in layout.views.values():
        if layout.part.part == RAIL:
            items += foot_figures(subject, layout.side, view)
    items += _axes(layout)
    for view in layout.views.values():
        items += part_lines(layout.part, view)
    items += _dimensions(subject, layout)
    for view in layout.views.values():
        items += _holes(subject, layout, view)
        items += _view_name(layout, view)
    items += _rings(layout)
    for band, labels in layout.bands.items():
        items += _band(subject, layout, band, labels)
    items += station_ruler(layout.views[Face.WEB], layout.ruler, subject.style, (layout.part.front, layout.part.rear))
    items += _match_lines(subject, layout, place)
    items += _header(subject, layout, place)
    return items + legend(subject, layout)


def _holes(subject: Subject, layout: ElevationLayout, view: View) -> list[Item]:
    holes, chart = subject.holes, subject.chart
    shown = (holes.side == layout.side) & (holes.part == layout.part.part) & (holes.face == view.face)
    rows = np.flatnonzero(shown & layout.stretch.shows(holes.station))
    items: list[Item] = []
    for index in np.unique(chart.row_class[rows]).tolist():
        own = rows[chart.row_class[rows] == index]
        centres = view.points(np.stack([holes.station[own], holes.across[own]], axis=-1))
        items += symbols(chart.classes[index], chart.fills[index], centres, view.angle(holes.angle[own]), view.scale)
    locating = rows[holes.locating[rows]]
    centres = view.points(np.stack([holes.station[locating], holes.across[locating]], axis=-1))
    reach = np.maximum(subject.along, subject.across)[locating] * view.scale
    return items + locating_squares(reach, centres)


def _axes(layout: ElevationLayout) -> list[Item]:
    """Axis lines of the anchors across the views."""
    named = [callout.station for callout in layout.bands[Band.ANCHORS].callouts]
    stations = np.array([station for station in named if layout.part.front < station < layout.part.rear])
    items: list[Item] = []
    for view in layout.views.values():
        x = view.x(stations)
        ends = [np.stack([x, np.full(len(x), y)], -1) for y in (view.lower - 0.8, view.upper + 0.8)]
        items.append(segments(np.stack(ends, axis=1), AXIS))
    return items


def _dimensions(subject: Subject, layout: ElevationLayout) -> list[Item]:
    """Stations from the part's front end beside each view, heights and across at its sides."""
    items: list[Item] = []
    for (face, side_way), dimensions in layout.sides.items():
        view = layout.views[face]
        edge = view.left if side_way == "left" else view.right
        items += running_items(dimensions, side_way, edge, float(view.y(view.zero)))
    for band in (Band.ABOVE, Band.LOWER, Band.BELOW):
        view, edge = _edge(subject, layout, band)
        dimensions = layout.bands[band].running
        way: Way = "above" if band == Band.ABOVE else "below"
        items += running_items(dimensions, way, edge, float(view.x(view.start)))
        if dimensions.words:
            y = edge + (1 if way == "above" else -1) * (dimensions.words_at + 2.0) - SMALL / 2
            items.append(Text(FRAME_LEFT + 2.0, y, say("elevation.from_front"), SMALL))
    return items


def _rings(layout: ElevationLayout) -> list[Item]:
    return [_ring(ring, layout.views[ring.face]) for ring in layout.rings]


def _ring(ring: Ring, view: View) -> Item:
    centres = view.points(ring.centres)
    pen = FINDING_PENS[ring.severity]
    if len(centres) == 1:
        return circles(centres, ring.radius, pen)
    run = centres[-1] - centres[0]
    commands, outline = rounded_outline(float(np.hypot(*run)) / 2 + ring.radius, ring.radius, ring.radius)
    turn = np.arctan2(run[1], run[0])
    rotation = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return Figures(commands, (outline @ rotation + centres.mean(axis=0))[None], pen)


def _band(subject: Subject, layout: ElevationLayout, band: Band, labels: BandLayout) -> list[Item]:
    """Labels of one band with their leaders; rows are counted away from the view and its dimensions."""
    view, edge = _edge(subject, layout, band)
    away = -1.0 if band in (Band.LOWER, Band.BELOW) else 1.0
    items: list[Item] = []
    placing = labels.placing
    base = edge + away * labels.running.depth
    for callout, slot, staff, row, leftward in zip(
        labels.callouts,
        labels.running.slots.tolist(),
        placing.staff.tolist(),
        placing.row.tolist(),
        placing.leftward.tolist(),
        strict=True,
    ):
        level = base + away * (labels.jog + ROW * (row + 0.5))
        bends = [(slot, base + away * _SLOPE), (staff, base + away * (labels.jog - 0.4))]
        if labels.running.words:
            bends = [(slot, edge + away * (labels.running.words_at - 0.4)), *bends]
        items += _leader(callout, view, edge, [*bends, (staff, level + away * SMALL / 2)], away)
        items += words_of(callout, staff, level, leftward)
    left_out = labels.left_out + labels.running.left_out
    if left_out:
        words = say("elevation.left_out", count=left_out)
        items.append(Text(FRAME_LEFT + NAMES + 1.0, edge + away * 2 - SMALL / 2, words, SMALL, colour=GREY))
    return items


def _edge(subject: Subject, layout: ElevationLayout, band: Band) -> tuple[View, float]:
    """The view a band's labels point into, and the y from which the band grows."""
    if band == Band.ANCHORS:
        return layout.views[Face.WEB], layout.ruler
    faces = {flange_band(face, subject.style): face for face in (Face.TOP, Face.BOTTOM)}
    view = layout.views[faces.get(band, Face.WEB)]
    return view, view.upper if band in (Band.ABOVE, Band.UPPER) else view.lower


def _leader(callout: Callout, view: View, edge: float, bends: list[tuple[float, float]], away: float) -> list[Item]:
    """From what a label points at to its words: straight out of the view, through the dimensions, to the staff."""
    x = float(view.x(callout.station)) + callout.aside
    if callout.band == Band.ANCHORS:
        points = [(x, edge), (x, edge + away * _SLOPE), *bends[1:]]
        return [polyline(points, Pen(0.18, BLUE, layer="AXES"))]
    y = float(view.y(callout.across)) + away * callout.clear
    points = [(x, y), (x, edge + away * _SLOPE), *bends]
    if callout.severity:
        pen = Pen(_FINDING_LEADER, FINDING_PENS[callout.severity].colour, layer="FINDINGS")
        return [polyline(points, pen)]
    return [polyline(points, FINE), circles([(x, y)], 0.35, None, FINE.colour)]


def words_of(callout: Callout, staff: float, level: float, leftward: bool) -> list[Item]:
    """A label's words beside its staff, about y = `level`; a finding's number in a box."""
    way = -1.0 if leftward else 1.0
    colour = BLUE if callout.band == Band.ANCHORS else BLACK
    side: Anchor = "right" if leftward else "left"
    words = Text(staff + way * WORDS_FROM_STAFF, level - SMALL / 2, callout.words, SMALL, side, colour=colour)
    if not callout.severity:
        return [words]
    half = ROW / 2 - 0.25
    ends = sorted((staff, staff + way * callout.width))
    return [rectangle(ends[0], level - half, ends[1], level + half, FINDING_PENS[callout.severity], "#ffffff"), words]


def _view_name(layout: ElevationLayout, view: View) -> list[Item]:
    middle, key = (view.lower + view.upper) / 2, _NAME_KEYS[view.face]
    return [
        Text(FRAME_LEFT + 3.0, middle, say(f"elevation.view_{key}"), SMALL, "middle", True, angle=90),
        Text(FRAME_LEFT + 6.0, middle, say(f"elevation.seen_{key}"), SMALL, "middle", angle=90),
    ]


def _match_lines(subject: Subject, layout: ElevationLayout, place: PartSheets) -> list[Item]:
    """The match lines, named below the lowest view."""
    matches = ((layout.stretch.start, place.ahead), (layout.stretch.end, place.behind))
    ends = [(view.lower - _MATCH_BEYOND, view.upper + _MATCH_BEYOND) for view in layout.views.values()]
    lowest = min(low for low, _ in ends)
    foot = lowest + _MATCH_BEYOND - layout.bands[Band.BELOW].height - 3.0
    items: list[Item] = []
    names: list[Text] = []
    for station, sheet in matches:
        if not sheet:
            continue
        x = float(layout.views[Face.WEB].x(station))
        items.append(segments([[(x, low), (x, high)] for low, high in ends], MATCH))
        words = say("elevation.match", station=subject.style.length(station), sheet=sheet)
        on_left = (sheet == place.ahead) != (layout.side == 1)
        name = Text(x + (1.0 if on_left else -1.0), foot, words, SMALL, "left" if on_left else "right", bold=True)
        if names and min(name.box[2], names[0].box[2]) + 1.0 > max(name.box[0], names[0].box[0]):
            name = replace(name, y=foot - 3.2)
        names.append(name)
        items.append(segments([[(x, lowest), (x, name.y)]], THIN))
    return [*items, *names]


def _header(subject: Subject, layout: ElevationLayout, place: PartSheets) -> list[Item]:
    """Which part, which stations, which way is front; and the part in small with this sheet's stretch grey."""
    part, stretch = layout.part, layout.stretch
    start, end = (subject.style.length(x) for x in (max(stretch.start, part.front), min(stretch.end, part.rear)))
    y = FRAME_TOP - 6
    name = say(f"elevation.heading_{part.name}", side=SIDES[layout.side])
    items: list[Item] = [
        Text(FRAME_LEFT + 3, y, name, LARGE, bold=True),
        Text(FRAME_LEFT + 112, y, say("elevation.stations", start=start, end=end, scale=SCALE), MIDDLE),
    ]
    return items + front_arrow(layout.side == 1, FRAME_LEFT + 226.0, y) + _small_part(layout.side == 1, place)


def front_arrow(mirrored: bool, x: float, y: float) -> list[Item]:
    """An arrow that points to the front, its words at x and on y."""
    way = 1.0 if mirrored else -1.0
    tip = x + way * 15
    head = [(tip, y + 1.2), (tip - way * 4, y + 2.6), (tip - way * 4, y - 0.2)]
    shaft = [[(x + way * 0.5, y + 1.2), (tip - way * 4, y + 1.2)]]
    words = Text(x - way * 1.0, y, say("elevation.front"), MIDDLE, "right" if mirrored else "left", True)
    return [segments(shaft, THIN), polygon(head, None, BLACK), words]


def _small_part(mirrored: bool, place: PartSheets) -> list[Item]:
    left, right, low, high = FRAME_RIGHT - 133.0, FRAME_RIGHT - 3.0, FRAME_TOP - 7.0, FRAME_TOP - 2.6
    cuts = np.array(place.cuts)
    share = (cuts - cuts[0]) / (cuts[-1] - cuts[0])
    x = left + (right - left) * (1 - share if mirrored else share)
    items: list[Item] = []
    for index in range(len(cuts) - 1):
        ends, here = sorted(x[index : index + 2].tolist()), index == place.index
        items.append(rectangle(ends[0], low, ends[1], high, THIN, PALE if here else None))
        items.append(centred(sum(ends) / 2, (low + high) / 2, str(place.first + index), SMALL, here))
    return items
