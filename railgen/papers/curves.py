"""Contours of the frame, straight and with arcs, as figures in a view."""

from __future__ import annotations

from math import atan, atan2, degrees, hypot

import numpy as np

from railgen.frame.contour import Contour
from railgen.papers.sheet import Figures, Pen, arc_curve
from railgen.papers.views import View


def contour_figures(contour: Contour, view: View, pen: Pen | None, fill: str | None = None) -> Figures:
    """A contour whose vertices are the view's (station, across), its arcs as arcs."""
    points = view.points(contour.vertices)
    commands, drawn = "M", [points[:1]]
    count = len(points)
    for index in range(count if contour.closed else count - 1):
        end, bulge = points[(index + 1) % count], float(contour.bulges[index])
        # A mirrored view turns arcs over; so does one in which across grows downward.
        bulge *= -1.0 if view.mirrored != view.down else 1.0
        if bulge == 0.0:
            commands, drawn = commands + "L", [*drawn, end[None]]
            continue
        more, curve = _arc(points[index], end, bulge)
        commands, drawn = commands + more, [*drawn, curve]
    return Figures(commands + ("Z" if contour.closed else ""), np.concatenate(drawn)[None], pen, fill)


def _arc(first: np.ndarray, second: np.ndarray, bulge: float) -> tuple[str, np.ndarray]:
    """Commands and points of an arc between two points; `bulge`: tan of a quarter of its angle, above 0 to the left."""
    chord = second - first
    left = np.array([-chord[1], chord[0]])
    centre = (first + second) / 2 + left * (1 - bulge**2) / (4 * bulge)
    start = degrees(atan2(first[1] - centre[1], first[0] - centre[0]))
    radius = hypot(*(first - centre).tolist())
    return arc_curve((float(centre[0]), float(centre[1])), radius, start, start + degrees(4 * atan(bulge)))
