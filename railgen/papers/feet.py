"""Footprints: the areas of rail face that components cover, drawn faintly behind everything else."""

from __future__ import annotations

import numpy as np
import shapely

from railgen.holes.table import FACES, FloatArray
from railgen.layout.feet import foot_corners
from railgen.papers.sheet import Item, Pen, polygon
from railgen.papers.subject import Subject
from railgen.papers.views import View

FOOT_FILL = "#f1f1f1"
OUTSIDE_FOOT, INSIDE_FOOT = Pen(0.13, "#8c8c8c"), Pen(0.13, "#8c8c8c", (1.2, 0.6))
"""A foot on the outside face is drawn full, one on the inside, hidden, dashed."""


def foot_figures(subject: Subject, side: int, view: View) -> list[Item]:
    """The feet of one side's components in a view, cut off at its ends."""
    placed, components = subject.plan.placements, subject.plan.order.library.components
    section, names = subject.plan.order.rail.section, subject.holes.names.components
    items: list[Item] = []
    for index in np.flatnonzero(placed.side == side).tolist():
        component = components.get(names[placed.component[index]])
        for foot in component.footprints if component else ():
            if FACES.index(foot.face) != view.face:
                continue
            corners = foot_corners(foot, section, float(placed.station[index]), float(placed.direction[index]))
            items += _foot(corners, foot.surface == "outside", view)
    return items


def _foot(corners: FloatArray, outside: bool, view: View) -> list[Item]:
    if corners[:, 0].max() <= view.start or corners[:, 0].min() >= view.end:
        return []
    pen = OUTSIDE_FOOT if outside else INSIDE_FOOT
    if corners[:, 0].min() >= view.start and corners[:, 0].max() <= view.end:
        return [polygon(view.points(corners), pen, FOOT_FILL if outside else None)]
    low, high = corners[:, 1].min(), corners[:, 1].max()
    kept = shapely.intersection(
        shapely.make_valid(shapely.Polygon(corners)), shapely.box(view.start, low, view.end, high)
    )
    pieces = [piece for piece in shapely.get_parts(kept) if piece.geom_type == "Polygon"]
    return [
        polygon(view.points(shapely.get_coordinates(piece.exterior)[:-1]), pen, FOOT_FILL if outside else None)
        for piece in pieces
    ]
