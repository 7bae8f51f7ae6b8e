"""Hole criticality on a sheet: both rails with every hole by the peak stress at its edge, and a list of the worst."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from railgen.frame.panels import Face
from railgen.holes.table import FACES, PARTS, RAIL, SIDES, IntArray
from railgen.layout.plan import SerialPlan
from railgen.papers.fonts import LARGE, MIDDLE, SMALL, text_width
from railgen.papers.labels import spread
from railgen.papers.sheet import (
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    GREY,
    THIN,
    Item,
    Pen,
    Text,
    circles,
    polyline,
    rectangle,
    segments,
)
from railgen.papers.strength_field import round_stations
from railgen.papers.tables import Column, Row, table_pages
from railgen.papers.title_block import STRIP_TOP
from railgen.papers.views import View, rail_lines
from railgen.papers.wording import say
from railgen.strength.criticality import Criticality

WORST = 20
"""How many of the holes are listed."""
_SHADES = ("#fff4c2", "#fddc84", "#fbb04f", "#f07c2d", "#d5431c", "#96150f")
"""From the least to the greatest peak stress."""
_COLUMNS = (
    ("rank", 12.0, True),
    ("side", 12.0, False),
    ("part", 14.0, False),
    ("face", 16.0, False),
    ("hole", 92.0, False),
    ("station", 26.0, True),
    ("across", 22.0, True),
    ("size", 22.0, True),
    ("nominal", 30.0, True),
    ("factor", 22.0, True),
    ("peak", 30.0, True),
    ("of_yield", 26.0, True),
    ("components", 60.0, False),
)
_LEFT, _RIGHT = FRAME_LEFT + 12.0, FRAME_RIGHT - 12.0
_LEAST_HOLE, _GAP = 0.6, 1.6
_NUMBERS = 8.0
"""Height (mm) of the numbers above a rail with the lines down from them."""
_DEEPEST = _SHADES[-1]
_RING = Pen(0.3, _DEEPEST)


def hole_pages(plan: SerialPlan, found: Criticality) -> tuple[tuple[Item, ...], ...]:
    """Pages with both rails and the worst holes; none where no hole is ranked."""
    if not len(found):
        return ()
    items: list[Item] = [Text(FRAME_LEFT + 3, FRAME_TOP - 6.5, say("strength_hole.heading"), LARGE, bold=True)]
    y = FRAME_TOP - 12.0
    for side in range(len(SIDES)):
        drawn, y = _rail(plan, found, side, y)
        items += drawn
    items += _scale(found, y)
    columns = [Column(say(f"strength_hole.{key}"), width, right) for key, width, right in _COLUMNS]
    rows = [_row(plan, found, index) for index in range(min(WORST, len(found)))]
    first, *rest = table_pages(columns, rows, FRAME_LEFT + 3, y - 7.0, STRIP_TOP + 1.0)
    return ((*items, *first), *rest)


def _rail(plan: SerialPlan, found: Criticality, side: int, top: float) -> tuple[list[Item], float]:
    """One rail with its holes shaded, the listed ones ringed and numbered above; and the y below it."""
    views = _views(plan, side, top - MIDDLE - _NUMBERS - 1.0)
    upper, lower = views[Face.TOP].upper, views[Face.BOTTOM].lower
    items: list[Item] = [Text(_LEFT, top - MIDDLE, say("strength_hole.rail", side=SIDES[side]), MIDDLE, bold=True)]
    holes, row, shade = plan.holes, found.row, _shade(found)
    on_rail = (holes.side[row] == side) & (holes.part[row] == RAIL)
    items += _numbers(plan, found, np.flatnonzero(on_rail), views[Face.WEB], upper)
    for face, view in views.items():
        items += rail_lines(plan.order.rail, view)
        # The most stressed are drawn last, on top.
        for index in np.flatnonzero(on_rail & (holes.face[row] == face))[::-1].tolist():
            hole = int(row[index])
            centre = view.points(np.array([[holes.station[hole], holes.across[hole]]]))
            radius = max(float(holes.diameter[hole]) / 2 * view.scale, _LEAST_HOLE)
            items.append(circles(centre, radius, Pen(0.1, GREY), _SHADES[shade[index]]))
            if index < WORST:
                items.append(circles(centre, 1.3, _RING))
    stations = round_stations(views[Face.WEB], 500.0)
    x = views[Face.WEB].x(stations)
    items.append(segments([[(at, lower - 0.6), (at, lower - 1.6)] for at in x.tolist()], THIN))
    for station, at in zip(stations.tolist(), x.tolist(), strict=True):
        items.append(Text(at, lower - 2.4 - SMALL, f"{station:.0f}", SMALL, "middle", colour=GREY))
    return items, lower - 7.0


def _views(plan: SerialPlan, side: int, upper: float) -> dict[Face, View]:
    """Top flange, web and bottom flange below one another, from y = upper down."""
    rail = plan.order.rail
    scale = (_RIGHT - _LEFT) / rail.length
    depth, flange, mirrored = rail.section.depth, rail.section.flange, side == 1
    ends = (rail.front, rail.rear, _LEFT)
    top = View(Face.TOP, *ends, upper - flange * scale, scale, flange, mirrored)
    web = View(Face.WEB, *ends, top.base - _GAP - depth * scale, scale, depth, mirrored)
    bottom = View(Face.BOTTOM, *ends, web.base - _GAP, scale, flange, mirrored, down=True, below=True)
    return {Face.TOP: top, Face.WEB: web, Face.BOTTOM: bottom}


def _shade(found: Criticality) -> list[int]:
    """Index of each hole's shade: equal steps of peak stress."""
    greatest = max(float(found.peak.max()), 1e-9)
    steps = (found.peak / greatest * len(_SHADES)).astype(np.int64)
    shades: list[int] = np.minimum(steps, len(_SHADES) - 1).tolist()
    return shades


def _numbers(plan: SerialPlan, found: Criticality, mine: IntArray, view: View, upper: float) -> Iterator[Item]:
    """The ranks of the listed holes above the rail, those of one line together."""
    ranks: dict[float, list[str]] = {}
    for index in mine[mine < WORST].tolist():
        on_line = ranks.setdefault(round(float(found.station[index]), 3), [])
        words = str(int(found.rank[index]))
        if words not in on_line:
            on_line.append(words)
    stations = sorted(ranks, key=lambda at: float(view.x(at)))
    x, texts = view.x(np.array(stations)), [", ".join(ranks[station]) for station in stations]
    sizes = np.array([text_width(text, SMALL, True) + 1.2 for text in texts])
    placed = spread(x, sizes, FRAME_LEFT + 2, FRAME_RIGHT - 2)
    bend, top = upper + 1.0, upper + _NUMBERS - SMALL - 0.8
    for at, place, text in zip(x.tolist(), (x if placed is None else placed).tolist(), texts, strict=True):
        yield polyline([(at, view.lower), (at, bend), (place, top - 1.2), (place, top - 0.4)], Pen(0.13, _DEEPEST))
        yield Text(place, top, text, SMALL, "middle", bold=True, colour=_DEEPEST)


def _scale(found: Criticality, y: float) -> Iterator[Item]:
    """What the shades mean."""
    greatest, x = float(found.peak.max()), _LEFT
    yield Text(x, y - SMALL, say("strength_hole.shades"), SMALL)
    x += 62.0
    for index, shade in enumerate(_SHADES):
        yield rectangle(x, y - 2.4, x + 14.0, y, THIN, shade)
        upto = greatest * (index + 1) / len(_SHADES)
        yield Text(x + 14.0, y - 5.0, f"{upto:.0f}", SMALL, "middle", colour=GREY)
        x += 14.0
    yield Text(x + 4.0, y - SMALL, "MPa", SMALL)


def _row(plan: SerialPlan, found: Criticality, index: int) -> Row:
    holes, row = plan.holes, int(found.row[index])
    part = PARTS[holes.part[row]]
    length = holes.length[row]
    size = f"{holes.diameter[row]:.4g}" + ("" if np.isnan(length) else f" × {length:.4g}")
    return Row(
        (
            str(int(found.rank[index])),
            SIDES[holes.side[row]],
            say(f"short_part.{part}"),
            say(f"short_face.{FACES[holes.face[row]]}"),
            holes.hole_id(row),
            f"{holes.station[row]:.1f}",
            f"{holes.across[row]:.1f}",
            size,
            f"{found.nominal[index]:.1f}",
            f"{found.factor[index]:.3f}",
            f"{found.peak[index]:.1f}",
            f"{found.peak[index] / plan.order.steel_of(part).yield_strength:.2f}",
            ", ".join(holes.owners_of(row)),
        )
    )
