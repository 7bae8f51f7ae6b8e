"""The frame from above: both rails at their distance, cross members and axles as lines."""

from __future__ import annotations

import numpy as np

from railgen.frame.panels import Face
from railgen.papers.callouts import Band, Callout
from railgen.papers.dimensions import extensions, upright_dimension
from railgen.papers.elevation import words_of
from railgen.papers.elevation_layout import ROW, BandLayout
from railgen.papers.fonts import SMALL, printable
from railgen.papers.sheet import AXIS, CENTRE, FINE, HIDDEN, OUTLINE, Item, Pen, Text, polyline, rectangle, segments
from railgen.papers.subject import Subject
from railgen.papers.views import View
from railgen.papers.wording import say

PLAN_ROWS = 3
_AXLE_PAST = 3.0


def plan_names(subject: Subject, view: View) -> list[Callout]:
    """The cross members by name, at their stations on the LH rail."""
    return [
        Callout(printable(name), Band.ABOVE, Face.TOP, station, 0.0, 0.0)
        for name, station in _cross_members(subject, view)
    ]


def _cross_members(subject: Subject, view: View) -> list[tuple[str, float]]:
    placed, names = subject.plan.placements, subject.holes.names.components
    library = subject.plan.order.library.components
    found = []
    for index in np.flatnonzero(placed.side == 0).tolist():
        component = library.get(names[placed.component[index]])
        station = float(placed.station[index])
        if component and component.kind == "cross member" and view.start <= station <= view.end:
            found.append((component.id, station))
    return found


def plan_items(subject: Subject, title: Text, view: View, names: BandLayout, top: float) -> list[Item]:
    """The frame below its names, whose band begins at y = `top`; stations and scale of `view`; LH is the lower rail."""
    order, scale = subject.plan.order, view.scale
    rail, width = order.rail, order.dimensions.get("frame_width", 0.0) * scale
    if not width:
        return []
    upper = top - names.height
    lower = upper - width
    left, right = view.left, view.right
    items: list[Item] = [title]
    for outside, way in ((lower, 1.0), (upper, -1.0)):
        edge, inner = outside + way * rail.section.flange * scale, outside + way * rail.section.thickness * scale
        items.append(rectangle(left, min(outside, edge), right, max(outside, edge), OUTLINE))
        items.append(segments([[(left, inner), (right, inner)]], HIDDEN))
    stations = [station for _, station in _cross_members(subject, view)]
    lines = [[(x, lower + rail.section.thickness * scale), (x, upper)] for x in view.x(np.array(stations)).tolist()]
    items.append(segments(lines, CENTRE))
    axles = [[(x, lower - _AXLE_PAST), (x, upper)] for x in view.x(np.array(_axles(subject, view))).tolist()]
    items.append(segments(axles, AXIS))
    items += labels_above(names, view, upper, upper, FINE)
    x = right + 6.0
    items.append(extensions([((right, lower), (x, lower)), ((right, upper), (x, upper))]))
    length = subject.style.length(width / scale)
    return [*items, *upright_dimension(lower, upper, x, say("arrangement.width", length=length), short=length)]


def _axles(subject: Subject, view: View) -> list[float]:
    """Stations of the axles: the front one, and those of the rear group."""
    dimensions = subject.plan.order.dimensions
    rear, spread = dimensions.get("wheelbase", 0.0), dimensions.get("axle_spread", 0.0)
    rears = (rear - spread / 2, rear + spread / 2) if spread > 0 else (rear,)
    return [station for station in (0.0, *rears) if view.start < station < view.end]


def labels_above(labels: BandLayout, view: View, edge: float, foot: float, pen: Pen) -> list[Item]:
    """Labels of a band above a view's `edge`, leaders from y = `foot`."""
    placing = labels.placing
    items: list[Item] = []
    for callout, staff, row, leftward in zip(
        labels.callouts, placing.staff.tolist(), placing.row.tolist(), placing.leftward.tolist(), strict=True
    ):
        x, level = float(view.x(callout.station)), edge + labels.jog + ROW * (row + 0.5)
        bends = [(x, foot), (x, edge + 0.8), (staff, edge + labels.jog - 0.4), (staff, level + SMALL / 2)]
        items += [polyline(bends, pen), *words_of(callout, staff, level, leftward)]
    return items
