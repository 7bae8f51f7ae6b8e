"""Two patterns over each other, true to scale: what is in both in grey, what has gone in red, what is new in blue.

A sheet a side, A3 landscape: the rail in stretches one below the other, each with its top flange, web and bottom flange
as seen from outside. The list of components follows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Literal

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import SIDES
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, fitted, printable
from railgen.papers.overlay_subject import Overlay, OverlayHole, RailEdges
from railgen.papers.sheet import (
    FRAME_BOTTOM,
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    OUTLINE,
    THIN,
    Figures,
    Item,
    Pen,
    Sheet,
    Text,
    circles,
    rectangle,
    rounded_outline,
    segments,
)
from railgen.papers.tables import Column, Row, table_pages
from railgen.papers.views import View, clipped, grid_lines
from railgen.papers.wording import cautions, say

_GONE, _NEW, _OTHER = "#c0392b", "#1f5fae", "#b8860b"
_SAME_PEN = Pen(0.15, "#8a8a8a")
_GONE_PEN, _NEW_PEN, _OTHER_PEN = Pen(0.3, _GONE), Pen(0.3, _NEW), Pen(0.35, _OTHER)
_BEFORE_PEN, _MOVE_PEN = Pen(0.25, _GONE, (0.8, 0.5)), Pen(0.2, "#333333")
_EDGE_PENS = (Pen(0.25, _GONE, (1.5, 0.8)), Pen(0.35, "#222222"))
_SCALES = (2, 4, 5, 8, 10, 15, 20, 25, 50, 100)
"""Millimetres of steel for one of paper, tried in turn."""
_FOOT = FRAME_BOTTOM + 24.0
_LEFT, _RIGHT, _TOP = FRAME_LEFT + 8.0, FRAME_RIGHT - 6.0, FRAME_TOP - 14.0
_STRIP_GAP, _LABEL_BAND, _RULER_BAND = 2.5, 7.0, 6.0
_MARK, _RING, _LABEL_WIDTH = 2.0, 2.6, 5.0  # mm of paper
_STRAIGHT = 1e-3  # mm of paper: an arrow shorter than this has no direction
_LEGEND = (
    ("in_both", _SAME_PEN, None),
    ("gone", _GONE_PEN, "#f3c9c4"),
    ("new", _NEW_PEN, "#c5d8f0"),
    ("was", _BEFORE_PEN, None),
    ("is", _NEW_PEN, None),
    ("otherwise", _OTHER_PEN, None),
)


@dataclass(frozen=True)
class _Layout:
    """How one side's rail lies on its sheet: scale, stretches of stations (mm), depth and flange width drawn."""

    scale: int
    stretches: tuple[tuple[float, float], ...]
    depth: float
    flange: float

    @property
    def height(self) -> float:
        """Of one stretch with its label and ruler bands, mm of paper."""
        flanges = 2 * (self.flange / self.scale + _STRIP_GAP) if self.flange else 0.0
        return self.depth / self.scale + flanges + _LABEL_BAND + _RULER_BAND


def overlay_sheets(overlay: Overlay) -> tuple[Sheet, ...]:
    """All sheets: one a side that has any hole, then the components' changes."""
    sides = [side for side in SIDES if any(hole.side == side for hole in overlay.holes)]
    layout = _layout(overlay)
    bodies = [(say("part.rail", side=side), f"1:{layout.scale}", _side_items(overlay, side, layout)) for side in sides]
    columns = [
        Column(name, width, right=place > 0 and width < 25) for place, (name, width) in enumerate(overlay.columns)
    ]
    rows = [Row(cells) for cells in overlay.rows]
    pages = table_pages(columns, rows, FRAME_LEFT + 3, _TOP - 2, _FOOT + 3)
    bodies += [(say("overlay.components"), "", list(page)) for page in pages]
    return tuple(
        Sheet(f"{number} {name}", (*items, *_frame(overlay, name, scale, number, len(bodies))))
        for number, (name, scale, items) in enumerate(bodies, 1)
    )


def _layout(overlay: Overlay) -> _Layout:
    """The largest scale at which a whole side goes on one sheet, the same for both sides."""
    known = [edges for edges in overlay.edges if edges]
    stations = [hole.station for hole in overlay.holes]
    start = min([edges.front for edges in known] + stations) - 20.0
    end = max([edges.rear for edges in known] + stations) + 20.0
    on_web = [hole.across for hole in overlay.holes if hole.face == "web"]
    on_flange = [hole.across for hole in overlay.holes if hole.face != "web"]
    depth = max([edges.depth for edges in known] + [across + 20.0 for across in on_web] + [50.0])
    flange = max([edges.flange for edges in known] + [across + 15.0 for across in on_flange]) if on_flange else 0.0
    for scale in _SCALES:
        count = ceil((end - start) / scale / (_RIGHT - _LEFT))
        step = (end - start) / count
        stretches = tuple((start + n * step, start + (n + 1) * step) for n in range(count))
        layout = _Layout(scale, stretches, depth, flange)
        if layout.height * count <= _TOP - _FOOT - 3.0:
            return layout
    return layout


def _side_items(overlay: Overlay, side: str, layout: _Layout) -> list[Item]:
    items: list[Item] = []
    mirrored = side == "RH"
    stretches = layout.stretches[::-1] if mirrored else layout.stretches
    for row, (start, end) in enumerate(stretches):
        views = _views(layout, start, end, _TOP - row * layout.height, mirrored)
        for view in views.values():
            items += grid_lines(view)
            for edges, pen in zip(overlay.edges, _EDGE_PENS, strict=True):
                if edges and (pen is _EDGE_PENS[1] or edges != overlay.edges[1]):
                    items += _edges(edges, view, pen)
        for name, view in views.items():
            items += _hole_items(overlay, side, name, view)
        items += _labels(overlay, side, next(iter(views.values())))
        items += _ruler(list(views.values())[-1])
    return items


def _views(layout: _Layout, start: float, end: float, top: float, mirrored: bool) -> dict[str, View]:
    """Views of one stretch by face, from above."""
    scale = 1.0 / layout.scale
    depth, flange = layout.depth * scale, layout.flange * scale
    y = top - _LABEL_BAND
    common = (start, end, _LEFT)
    if not flange:
        return {"web": View(Face.WEB, *common, y - depth, scale, layout.depth, mirrored)}
    web = y - flange - _STRIP_GAP - depth
    return {
        "top": View(Face.TOP, *common, y - flange, scale, layout.flange, mirrored),
        "web": View(Face.WEB, *common, web, scale, layout.depth, mirrored),
        "bottom": View(Face.BOTTOM, *common, web - _STRIP_GAP, scale, layout.flange, mirrored, down=True),
    }


def _edges(edges: RailEdges, view: View, pen: Pen) -> Iterator[Item]:
    """The outline of one face of the rail."""
    high = edges.depth if view.face == Face.WEB else edges.flange
    corners = [(edges.front, 0.0), (edges.front, high), (edges.rear, high), (edges.rear, 0.0)]
    if view.face == Face.WEB and edges.fold is not None:
        corners[2:3] = [(edges.fold, high), (edges.rear, edges.end_depth)]
    ends = np.array([corners, [*corners[1:], corners[0]]]).transpose(1, 0, 2)
    yield from view.lines(ends, pen)


def _hole_items(overlay: Overlay, side: str, face: str, view: View) -> Iterator[Item]:
    """Holes of one view, those that have not changed first, then moves as arrows."""
    pens: tuple[tuple[str, Pen, str | None], ...] = (
        ("same", _SAME_PEN, None),
        ("removed", _GONE_PEN, "#f3c9c4"),
        ("before", _BEFORE_PEN, None),
        ("changed", _OTHER_PEN, None),
        ("after", _NEW_PEN, None),
        ("added", _NEW_PEN, "#c5d8f0"),
    )
    shown = [h for h in overlay.holes if h.side == side and h.face == face and view.start <= h.station <= view.end]
    for state, pen, fill in pens:
        chosen = [hole for hole in shown if hole.state == state]
        for hole in chosen:
            yield hole_outline(hole, view, pen, fill)
        if chosen and state in ("removed", "added", "after", "changed"):
            centres = view.points(np.array([(hole.station, hole.across) for hole in chosen]))
            yield circles(centres, _RING, Pen(0.12, pen.colour))
    steps = [(m.before, m.after) for m in overlay.moves if m.side == side and m.face == face]
    if steps:
        kept = clipped(np.array(steps, dtype=np.float64), view.start, view.end)
        if len(kept):
            yield segments(view.points(kept), _MOVE_PEN)
        yield from _arrow_heads(np.array(steps, dtype=np.float64), view)


def hole_outline(hole: OverlayHole, view: View, pen: Pen, fill: str | None) -> Figures:
    """One hole true to scale; a mark or stud as a cross."""
    centre = view.points(np.array([[hole.station, hole.across]]))
    if hole.shape == "mark":
        half = _MARK / 2
        cross = np.array([(-half, 0), (half, 0), (0, -half), (0, half)])
        return Figures("MLML", centre[:, None, :] + cross, pen)
    half_width = hole.diameter / 2 * view.scale
    half_length = max(hole.length, hole.diameter) / 2 * view.scale
    corner = min(half_width, 4.0 * view.scale) if hole.shape == "rectangle" else half_width
    commands, points = rounded_outline(half_length, half_width, corner)
    turn = np.radians(float(view.angle(np.array(hole.angle))))
    matrix = np.array([(np.cos(turn), -np.sin(turn)), (np.sin(turn), np.cos(turn))])
    return Figures(commands, centre[:, None, :] + points @ matrix.T, pen, fill)


def _arrow_heads(steps: np.ndarray, view: View) -> Iterator[Item]:
    """A head at the end of each move that ends in the view."""
    inside = (steps[:, 1, 0] >= view.start) & (steps[:, 1, 0] <= view.end)
    ends = view.points(steps[inside])
    along = ends[:, 1] - ends[:, 0]
    length = np.hypot(along[:, 0], along[:, 1])
    long_enough = length > _STRAIGHT
    along = along[long_enough] / length[long_enough, None]
    if not len(along):
        return
    tips = ends[long_enough, 1]
    side = np.stack([-along[:, 1], along[:, 0]], axis=-1)
    heads = np.stack([tips - 1.2 * along + 0.4 * side, tips, tips - 1.2 * along - 0.4 * side], axis=1)
    yield Figures("MLLZ", heads, None, _MOVE_PEN.colour)


def _labels(overlay: Overlay, side: str, view: View) -> Iterator[Item]:
    """Numbers of components above a stretch, pushed apart, each with a line to its holes' station."""
    found = [label for label in overlay.labels if label.side == side and view.start <= label.station < view.end]
    wanted = sorted((float(view.x(label.station)), label.number) for label in found)
    y, at = view.upper + 2.4, -np.inf
    for x, number in wanted:
        at = max(x, at + _LABEL_WIDTH)
        yield Text(at, y, str(number), SMALL, "middle", bold=True)
        yield segments([[(x, view.upper), (at, y - 0.5)]], THIN)


def _ruler(view: View) -> Iterator[Item]:
    """Stations every 500 mm below a stretch."""
    first, last = ceil(view.start / 500.0), int(np.floor(view.end / 500.0))
    for station in (500 * n for n in range(first, last + 1)):
        x = float(view.x(float(station)))
        yield segments([[(x, view.lower), (x, view.lower - 1.2)]], THIN)
        yield Text(x, view.lower - 1.6 - SMALL, str(station), SMALL, "middle", colour=GREY)


def _title(overlay: Overlay) -> str:
    before, after = overlay.titles
    return say("overlay.title", before=before, after=after)


def _frame(overlay: Overlay, name: str, scale: str, number: int, count: int) -> Iterator[Item]:
    """Frame, title, legend and cautions."""
    yield rectangle(FRAME_LEFT, FRAME_BOTTOM, FRAME_RIGHT, FRAME_TOP, OUTLINE)
    yield segments([[(FRAME_LEFT, _FOOT), (FRAME_RIGHT, _FOOT)]], OUTLINE)
    words = fitted(printable(_title(overlay)), LARGE, FRAME_RIGHT - FRAME_LEFT - 120, True)
    yield Text(FRAME_LEFT + 4, FRAME_TOP - 8, words, LARGE, bold=True)
    right = ", ".join(part for part in (name, scale, say("page.sheet", sheet=number, sheets=count)) if part)
    yield Text(FRAME_RIGHT - 4, FRAME_TOP - 8, right, MIDDLE, "right")
    x = FRAME_LEFT + 6.0
    for key, pen, fill in _LEGEND:
        yield circles([(x, _FOOT - 6)], 1.7, pen, fill)
        yield Text(x + 3.5, _FOOT - 6 - SMALL / 2, say(f"overlay.{key}"), SMALL)
        x += 62.0
    for line, text in enumerate((say("overlay.how_to_read"), *cautions())):
        yield Text(FRAME_LEFT + 4, _FOOT - 13 - 3.4 * line, text, SMALL)


def overlay_pdf(overlay: Overlay) -> bytes:
    """The sheets as a PDF; the same overlay gives the same bytes."""
    from railgen.papers.pdf import write_pdf

    return write_pdf(overlay_sheets(overlay), _title(overlay))


def overlay_pictures(overlay: Overlay, kind: str) -> Sequence[bytes]:
    """The sheets as pictures, kind "png" or "svg", in order; the same overlay gives the same bytes."""
    from railgen.papers.pictures import write_picture

    picture_kind: Literal["png", "svg"] = "png" if kind == "png" else "svg"
    return [write_picture(sheet, picture_kind) for sheet in overlay_sheets(overlay)]
