"""An elevation sheet: one stretch of one rail, web and both flanges true to scale, with holes, names and findings."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import RAIL, SIDES
from railgen.papers.callouts import WORDS_FROM_STAFF, Band, Callout
from railgen.papers.elevation_layout import ROW, BandLayout, ElevationLayout
from railgen.papers.feet import foot_figures
from railgen.papers.fonts import LARGE, MIDDLE, SMALL
from railgen.papers.legend import legend
from railgen.papers.rings import FINDING_PENS, Ring
from railgen.papers.ruler import across_ruler, station_ruler
from railgen.papers.sheet import (
    AXIS,
    BLACK,
    BLUE,
    EDGE,
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
from railgen.papers.views import View, grid_lines, rail_lines

_VIEW_NAMES = {
    Face.TOP: ("TOP FLANGE", "from above"),
    Face.WEB: ("WEB", "from outside"),
    Face.BOTTOM: ("BOTTOM FL.", "from below"),
}
_LEADER, _FINDING_LEADER = Pen(0.13, "#505050"), 0.18


@dataclass(frozen=True)
class RailSheets:
    """The elevation sheets of one rail, seen from one of them.

    `cuts`: stations (mm) of the rail's ends and of the match lines between; `first`: number of the first sheet;
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


def elevation_items(subject: Subject, layout: ElevationLayout, place: RailSheets) -> list[Item]:
    """Everything inside the frame but the title block.

    `place`: where this sheet stands among those of its rail.
    """
    rail = subject.plan.order.rail
    items: list[Item] = []
    for view in layout.views.values():
        items += grid_lines(view)
        items += foot_figures(subject, layout.side, view)
    items += _axes(subject, layout)
    for view in layout.views.values():
        items += rail_lines(rail, view)
        items += _holes(subject, layout, view)
        items += _view_name(view)
        items += across_ruler(view, (rail.front, rail.rear))
    items += _rings(layout)
    for band, labels in layout.bands.items():
        items += _band(layout, band, labels)
    items += _rulers(subject, layout)
    items += _match_lines(layout, place)
    items += _header(subject, layout, place)
    return items + legend(subject, layout)


def _holes(subject: Subject, layout: ElevationLayout, view: View) -> list[Item]:
    holes, chart = subject.holes, subject.chart
    shown = (holes.side == layout.side) & (holes.part == RAIL) & (holes.face == view.face)
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


def _axes(subject: Subject, layout: ElevationLayout) -> list[Item]:
    """Axis lines of the anchors across the views."""
    rail = subject.plan.order.rail
    named = [callout.station for callout in layout.bands[Band.ANCHORS].callouts]
    stations = np.array([station for station in named if rail.front < station < rail.rear])
    items: list[Item] = []
    for view in layout.views.values():
        x = view.x(stations)
        ends = [np.stack([x, np.full(len(x), y)], -1) for y in (view.lower - 0.8, view.upper + 0.8)]
        items.append(segments(np.stack(ends, axis=1), AXIS))
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


def _band(layout: ElevationLayout, band: Band, labels: BandLayout) -> list[Item]:
    """Labels of one band with their leaders; rows are counted away from the view."""
    view, edge = _edge(layout, band)
    away = -1.0 if band in (Band.LOWER, Band.BOTTOM) else 1.0
    items: list[Item] = []
    placing = labels.placing
    for callout, staff, row, leftward in zip(
        labels.callouts, placing.staff.tolist(), placing.row.tolist(), placing.leftward.tolist(), strict=True
    ):
        level = edge + away * (labels.jog + ROW * (row + 0.5))
        bend = edge + away * (labels.jog - 0.4)
        items += _leader(callout, view, (edge, bend, level), staff)
        items += words_of(callout, staff, level, leftward)
    if labels.left_out:
        words = f"{labels.left_out} more labels find no room here: see the lists"
        items.append(Text(FRAME_LEFT + 2, edge + away * 2 - 1, words, SMALL, colour=GREY))
    return items


def _edge(layout: ElevationLayout, band: Band) -> tuple[View, float]:
    """The view a band's labels point into, and the y from which the band grows."""
    if band == Band.ANCHORS:
        return layout.views[Face.TOP], layout.rulers[0]
    face = {Band.TOP: Face.TOP, Band.BOTTOM: Face.BOTTOM}.get(band, Face.WEB)
    view = layout.views[face]
    return view, view.upper if band in (Band.TOP, Band.UPPER) else view.lower


def _leader(callout: Callout, view: View, heights: tuple[float, float, float], staff: float) -> list[Item]:
    """From what a label points at to its words: straight out of the view, across to the staff, along it.

    `heights`: y of the view's edge, of the bend to the staff, of the words' middle.
    """
    edge, bend, level = heights
    away = 1.0 if level > edge else -1.0
    x = float(view.x(callout.station)) + callout.aside
    y = float(view.y(callout.across)) + away * callout.clear
    if callout.band == Band.ANCHORS:
        y = edge
    points = [(x, y), (x, edge + away * 0.8), (staff, bend), (staff, level + away * SMALL / 2)]
    if callout.severity:
        return [polyline(points, Pen(_FINDING_LEADER, FINDING_PENS[callout.severity].colour))]
    pen = Pen(0.18, BLUE) if callout.band == Band.ANCHORS else _LEADER
    return [polyline(points, pen), circles([(x, y)], 0.35, None, pen.colour)]


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


def _view_name(view: View) -> list[Item]:
    middle = (view.lower + view.upper) / 2
    first, second = _VIEW_NAMES[view.face]
    return [
        Text(FRAME_LEFT + 3.0, middle, first, SMALL, "middle", True, angle=90),
        Text(FRAME_LEFT + 6.0, middle, second, SMALL, "middle", angle=90),
    ]


def _rulers(subject: Subject, layout: ElevationLayout) -> list[Item]:
    view, rail = layout.views[Face.WEB], subject.plan.order.rail
    upper, lower = layout.rulers
    return [
        *station_ruler(view, upper, 0.0, ("from", "front axle"), (rail.front, rail.rear)),
        *station_ruler(view, lower, rail.front, ("from", "front end"), (rail.front, rail.rear)),
    ]


def _match_lines(layout: ElevationLayout, place: RailSheets) -> list[Item]:
    items: list[Item] = []
    for station, sheet in ((layout.stretch.start, place.ahead), (layout.stretch.end, place.behind)):
        if not sheet:
            continue
        for view in layout.views.values():
            x = float(view.x(station))
            items.append(segments([[(x, view.lower - 1.5), (x, view.upper + 1.5)]], MATCH))
        web = layout.views[Face.WEB]
        on_left = float(web.x(station)) < (web.left + web.right) / 2
        x, middle = web.left - 11.2 if on_left else web.right + 3, (web.lower + web.upper) / 2
        items.append(Text(x, middle, f"MATCH LINE {station:.0f}", SMALL, "middle", True, angle=90))
        items.append(Text(x + 2.9, middle, f"continues on sheet {sheet}", SMALL, "middle", angle=90))
    return items


def _header(subject: Subject, layout: ElevationLayout, place: RailSheets) -> list[Item]:
    """Which rail, which stations, which way is front; and the rail in small with this sheet's part grey."""
    rail, stretch = subject.plan.order.rail, layout.stretch
    start, end = max(stretch.start, rail.front), min(stretch.end, rail.rear)
    y = FRAME_TOP - 6
    name = f"{SIDES[layout.side]} rail, finished, seen from outside"
    items: list[Item] = [
        Text(FRAME_LEFT + 3, y, name, LARGE, bold=True),
        Text(FRAME_LEFT + 112, y, f"stations {start:.1f} to {end:.1f}   scale 1:{SCALE}", MIDDLE),
    ]
    return items + _front_arrow(layout.side == 1, y) + _small_rail(layout.side == 1, place)


def _front_arrow(mirrored: bool, y: float) -> list[Item]:
    x, way = FRAME_LEFT + 222.0, 1.0 if mirrored else -1.0
    tip = x + way * 15
    head = [(tip, y + 1.2), (tip - way * 4, y + 2.6), (tip - way * 4, y - 0.2)]
    shaft = [[(x + way * 0.5, y + 1.2), (tip - way * 4, y + 1.2)]]
    words = Text(x - way * 1.0, y, "FRONT", MIDDLE, "right" if mirrored else "left", True)
    return [segments(shaft, EDGE), polygon(head, None, BLACK), words]


def _small_rail(mirrored: bool, place: RailSheets) -> list[Item]:
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
