"""The picture of one part's deviations: its holes true to scale, an arrow from each to where it was measured.

Arrows are drawn many times longer than the deviations are; red ones are out of tolerance. The part is drawn in rows,
front end first, each with the web from outside and a strip for each measured flange, as on the drawing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.inspection import PartInspection
from railgen.holes.table import FACES, FloatArray, IntArray
from railgen.papers.fonts import SMALL
from railgen.papers.sheet import (
    BLACK,
    BLUE,
    EDGE,
    FRAME_LEFT,
    FRAME_RIGHT,
    GREY,
    GRID,
    RED,
    Figures,
    Item,
    Pen,
    Text,
    circles,
    rectangle,
    segments,
)
from railgen.papers.views import View
from railgen.papers.wording import say

_LEFT = FRAME_LEFT + 14.0
_WIDTH = FRAME_RIGHT - _LEFT - 8.0
_MARGIN = 40.0
"""mm of steel shown beyond the outermost holes."""
_GAP, _RULER, _BETWEEN = 3.0, 6.0, 5.0
"""mm of paper between views, for the stations below a row, and between rows."""
_MOST_ROWS = 6
_ARROW = 7.0
"""mm of paper that nine of ten arrows do not reach beyond."""
_LONGEST = 20.0
"""mm of paper after which an arrow is cut off, so that one wrong hole does not cross out the others."""
_STEPS = (1, 2, 5)
_LEAST_HOLE = 0.35
"""Radius (mm of paper) below which a hole is not drawn, however small it is."""
_GOOD, _BAD = Pen(0.25, BLUE), Pen(0.35, RED)
_HOLE = Pen(0.12, GREY)
_TICK = 500


@dataclass(frozen=True)
class _Row:
    """A stretch of stations (mm of steel) and where its views lie on the sheet."""

    views: Mapping[str, View]
    bottom: float


def deviation_items(part: PartInspection, numbers: Mapping[int, int], top: float, bottom: float) -> list[Item]:
    """The picture between y = `top` and y = `bottom`, mm; `numbers` of the faulty rows as in the table."""
    if not len(part.hole) + len(part.extra):
        return []
    rows = _layout(part, top, bottom)
    magnified = _magnification(part)
    items: list[Item] = []
    for row in rows:
        for face, view in row.views.items():
            items += _face_items(part, face, view, magnified, numbers)
        items += _ruler(row)
    return [*items, *_legend(magnified, rows[-1].bottom - 2.0)]


def _spans(part: PartInspection) -> tuple[float, float, dict[str, float]]:
    """Least and greatest station, and the breadth of each measured face, mm of steel."""
    stations = np.concatenate([part.nominal[:, 0], part.extra[:, 0]])
    breadths = {}
    for face in FACES:
        rows = np.array([f == face for f in part.face], dtype=np.bool_)
        extra = np.array([f == face for f in part.extra_face], dtype=np.bool_)
        across = np.concatenate([part.nominal[rows, 1], part.extra[extra, 1]])
        if len(across):
            # The web's edges are about as far from its outermost holes below as above.
            breadths[face] = float(across.max() + (max(across.min(), 0.0) if face == "web" else _MARGIN))
    return float(stations.min()) - _MARGIN, float(stations.max()) + _MARGIN, breadths


def _layout(part: PartInspection, top: float, bottom: float) -> list[_Row]:
    """As many rows as make the picture largest between top and bottom."""
    start, end, breadths = _spans(part)
    gaps = _GAP * (len(breadths) - 1)

    def scale(rows: int) -> float:
        room = (top - bottom - 4.0) / rows - _RULER - _BETWEEN - gaps
        return min(_WIDTH * rows / (end - start), max(room, 1.0) / sum(breadths.values()))

    count = max(range(1, _MOST_ROWS + 1), key=scale)
    step = (end - start) / count
    rows, y = [], top
    for row in range(count):
        views, y = _views(part, breadths, (start + row * step, start + (row + 1) * step), scale(count), y)
        rows.append(_Row(views, y - _RULER))
        y -= _RULER + _BETWEEN
    return rows


def _views(
    part: PartInspection, breadths: Mapping[str, float], stretch: tuple[float, float], scale: float, top: float
) -> tuple[dict[str, View], float]:
    """Views of a row from its upper edge down (top flange, web, bottom flange), and the y of its lower edge."""
    views, y = {}, top
    for face in ("top", "web", "bottom"):
        if face not in breadths:
            continue
        height = breadths[face] * scale
        base = y if face == "bottom" else y - height
        kind = {"top": Face.TOP, "web": Face.WEB, "bottom": Face.BOTTOM}[face]
        mirrored = part.side == "RH"
        views[face] = View(kind, *stretch, _LEFT, base, scale, breadths[face], mirrored, face == "bottom")
        y -= height + _GAP
    return views, y + _GAP


def _magnification(part: PartInspection) -> float:
    """mm of paper for a mm of deviation, 1, 2 or 5 times a power of ten."""
    found = part.deviation[~np.isnan(part.measured[:, 0])]
    usual = float(np.quantile(np.hypot(*found.T), 0.9)) if len(found) else 0.0
    wanted = _ARROW / max(usual, 0.01)
    power = 10.0 ** np.floor(np.log10(wanted))
    return float(power * max(step for step in _STEPS if step * power <= wanted * (1 + 1e-9)))


def _face_items(
    part: PartInspection, face: str, view: View, magnified: float, numbers: Mapping[int, int]
) -> Iterator[Item]:
    yield rectangle(view.left, view.lower, view.right, view.upper, GRID)
    yield Text(
        view.left - 1.0,
        (view.lower + view.upper) / 2 - SMALL / 2,
        say(f"short_face.{face}"),
        SMALL,
        "right",
        colour=GREY,
    )
    rows = _within(part.face, face, part.nominal, view)
    radius = np.maximum(np.nan_to_num(part.diameter[rows]) / 2 * view.scale, _LEAST_HOLE)
    for size in np.unique(radius).tolist():
        yield circles(view.points(part.nominal[rows[radius == size]]), size, _HOLE)
    there = ~np.isnan(part.measured[rows, 0])
    for bad, pen in ((False, _GOOD), (True, _BAD)):
        yield from _arrows(part, rows[there & (part.out[rows] == bad)], view, magnified, pen)
    gone = rows[~there]
    if len(gone):
        yield _crosses(view.points(part.nominal[gone]))
    strays = _within(part.extra_face, face, part.extra, view)
    if len(strays):
        yield circles(view.points(part.extra[strays]), 1.2, _BAD)
    marked = [(row, part.nominal[row]) for row in rows.tolist() if row in numbers]
    marked += [(len(part.hole) + row, part.extra[row]) for row in strays.tolist()]
    for row, place in marked:
        x, y = view.points(place).tolist()
        yield Text(x + 1.5, y + 1.0, str(numbers[row]), SMALL, colour=RED)


def _within(faces: tuple[str, ...], face: str, places: FloatArray, view: View) -> IntArray:
    """Rows of a face whose stations the view shows; each station is in one view alone."""
    on = np.array([name == face for name in faces], dtype=np.bool_)
    return (
        np.flatnonzero(on & (places[:, 0] >= view.start) & (places[:, 0] < view.end)) if len(on) else np.zeros(0, int)
    )


def _arrows(part: PartInspection, rows: IntArray, view: View, magnified: float, pen: Pen) -> Iterator[Figures]:
    """From each hole an arrow toward where it was measured, `magnified` mm of paper for each mm."""
    if not len(rows):
        return
    start = view.points(part.nominal[rows])
    signs = np.array([-1.0 if view.mirrored else 1.0, -1.0 if view.down else 1.0])
    way = part.deviation[rows] * signs * magnified
    way = way * np.minimum(1.0, _LONGEST / np.maximum(np.hypot(*way.T), _LEAST_HOLE))[:, None]
    end = start + way
    yield segments(np.stack([start, end], axis=1), pen)
    length = np.hypot(*way.T)
    long = length > 0.8
    if long.any():
        along = way[long] / length[long, None]
        aside = np.stack([-along[:, 1], along[:, 0]], axis=-1)
        back = end[long] - along * 0.9
        tips = [np.stack([back + aside * sign * 0.35, end[long]], axis=1) for sign in (-1, 1)]
        yield segments(np.concatenate(tips), pen)


def _crosses(points: FloatArray) -> Figures:
    arms = [np.array([[-1.2, -1.2 * sign], [1.2, 1.2 * sign]]) for sign in (1, -1)]
    return segments(np.concatenate([points[:, None, :] + arm for arm in arms]), _BAD)


def _ruler(row: _Row) -> Iterator[Item]:
    """Stations below a row, every half metre."""
    view = next(iter(row.views.values()))
    y = min(other.lower for other in row.views.values()) - 0.8
    marks = np.arange(np.ceil(view.start / _TICK), np.floor(view.end / _TICK) + 1) * _TICK
    x = view.x(marks)
    yield segments([[(view.left, y), (view.right, y)]], EDGE)
    yield segments(np.stack([np.stack([x, np.full(len(x), y)], -1), np.stack([x, np.full(len(x), y - 1.2)], -1)], 1))
    for mark, at in zip(marks.tolist(), x.tolist(), strict=True):
        yield Text(at, y - 1.6 - SMALL, f"{mark:.0f}", SMALL, "middle")


def _legend(magnified: float, y: float) -> list[Item]:
    """How long arrows are drawn, and what the marks mean."""
    x = _LEFT
    bar = [[(x, y), (x + magnified, y)]] if magnified <= _WIDTH else []
    words = say("inspection.arrows", magnified=magnified, longest=_LONGEST)
    scale_bar: list[Item] = [segments(bar, _GOOD)] if bar and magnified <= 60 else []
    start = x + magnified + 2.0 if scale_bar else x
    return [*scale_bar, Text(start, y - SMALL / 2, words, SMALL, colour=BLACK)]
