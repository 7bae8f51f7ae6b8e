"""Where one more hole may go, over the drawing: a sheet a side, web and flanges in stretches, free areas in green."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil

import numpy as np
import shapely

from railgen.formats.names import free_zone_name
from railgen.frame.panels import Face
from railgen.holes.table import FACES, RAIL, SIDES
from railgen.layout.plan import SerialPlan
from railgen.papers.drawing import drawing_pictures
from railgen.papers.feet import foot_figures
from railgen.papers.fonts import LARGE, SMALL
from railgen.papers.part import drawn_rail
from railgen.papers.pdf import write_pdf
from railgen.papers.sheet import (
    FRAME_LEFT,
    FRAME_RIGHT,
    FRAME_TOP,
    Drawing,
    Figures,
    Item,
    Pen,
    Sheet,
    Text,
    circles,
    rectangle,
)
from railgen.papers.strength_field import station_axis
from railgen.papers.strip_notes import strip_notes
from railgen.papers.subject import Subject, subject_of
from railgen.papers.symbols import symbols
from railgen.papers.title_block import STRIP_TOP, SheetTitle, sheet_frame, title_block
from railgen.papers.views import View, grid_lines, part_lines
from railgen.papers.wording import say
from railgen.placing.free_zone import FreeArea, FreeZone

FREE = Pen(0.18, "#1d7a2f", layer="FREE")
FREE_FILL = "#bfe6bf"
_SCALES = (2.5, 5.0, 10.0, 20.0, 25.0, 50.0)
_LEFT, _RIGHT, _TOP = FRAME_LEFT + 16.0, FRAME_RIGHT - 8.0, FRAME_TOP - 12.0
_GAP, _AXIS, _ABOVE, _MOST_SPARE = 2.0, 9.0, 2.0, 24.0


@dataclass(frozen=True, eq=False)
class _Layout:
    """How a rail lies on its sheet: mm of steel for one of paper, and its stretches of stations."""

    scale: float
    stretches: tuple[tuple[float, float], ...]
    height: float


def free_zone_files(
    plan: SerialPlan, zone: FreeZone, sides: Sequence[str], pictures: Sequence[str] = ()
) -> dict[str, bytes]:
    """The sheets by file name: as PDF, and a picture a sheet ("png", "svg") where asked for; same zone, same bytes."""
    drawing, serial = draw_free_zone(plan, zone, sides), plan.serial
    files = {free_zone_name(serial, "pdf"): write_pdf(drawing.sheets, say("subject.free_zone", serial=serial))}
    for ending in dict.fromkeys(pictures):
        for sheet, picture in enumerate(drawing_pictures(drawing, ending), 1):
            files[free_zone_name(serial, ending, sheet)] = picture
    return files


def draw_free_zone(plan: SerialPlan, zone: FreeZone, sides: Sequence[str]) -> Drawing:
    """A sheet for each of some sides of a planned serial."""
    subject, layout = subject_of(plan), _layout(plan)
    sheets = []
    for number, side in enumerate(sides, 1):
        name = say("free_zone.sheet", side=side)
        title = SheetTitle(name, side, say("title.scale_of", scale=layout.scale), number, len(sides), part="freezone")
        items = [*_rail(subject, zone, SIDES.index(side), layout), *strip_notes(_notes(plan, zone, side), _key(zone))]
        sheets.append(Sheet(f"{number} {name}", (*sheet_frame(plan), *items, *title_block(plan, title))))
    return Drawing(plan.serial, tuple(sheets))


def _layout(plan: SerialPlan) -> _Layout:
    """The largest scale at which all stretches of the rail go below one another."""
    rail = plan.order.rail
    for scale in _SCALES:
        height = (rail.section.depth + 2 * rail.section.flange) / scale + 2 * _GAP + _AXIS + _ABOVE
        count = ceil(rail.length / scale / (_RIGHT - _LEFT) - 1e-9)
        step = rail.length / count
        stretches = tuple((rail.front + n * step, rail.front + (n + 1) * step) for n in range(count))
        layout = _Layout(scale, stretches, height)
        if count * height <= _TOP - STRIP_TOP:
            break
    spare = (_TOP - STRIP_TOP - count * height) / count
    return replace(layout, height=height + min(max(spare, 0.0), _MOST_SPARE))


def _rail(subject: Subject, zone: FreeZone, side: int, layout: _Layout) -> Iterator[Item]:
    """One rail in its stretches, each with top flange, web and bottom flange."""
    hole = zone.hole
    words = say("free_zone.heading", side=SIDES[side], diameter=hole.diameter, operation=_made(zone))
    yield Text(FRAME_LEFT + 3, FRAME_TOP - 6.5, words, LARGE, bold=True)
    stretches = layout.stretches[::-1] if side else layout.stretches
    for number, (start, end) in enumerate(stretches):
        views = _views(subject, layout, start, end, _TOP - number * layout.height, side)
        for face, view in views.items():
            yield from foot_figures(subject, side, view)
            yield from _areas(zone, side, face, view)
            yield from grid_lines(view)
            yield from part_lines(drawn_rail(subject.plan.order.rail), view)
            yield from _holes(subject, side, view)
            middle = (view.lower + view.upper) / 2
            yield Text(FRAME_LEFT + 14, middle - SMALL / 2, say(f"short_face.{FACES[face]}"), SMALL, "right")
        last = number == len(stretches) - 1
        yield from station_axis(views[Face.WEB], views[Face.BOTTOM].lower - 0.6, say("free_zone.axis") if last else "")


def _made(zone: FreeZone) -> str:
    """How the hole is made and what for."""
    made = say(f"free_zone.{zone.hole.operation}")
    return f"{made}, {say('free_zone.fastener', name=zone.hole.fastener)}" if zone.hole.fastener else made


def _views(subject: Subject, layout: _Layout, start: float, end: float, top: float, side: int) -> dict[Face, View]:
    section, scale = subject.plan.order.rail.section, 1 / layout.scale
    flange, depth, mirrored = section.flange, section.depth, side == 1
    upper = top - _ABOVE - flange * scale
    web = upper - _GAP - depth * scale
    return {
        Face.TOP: View(Face.TOP, start, end, _LEFT, upper, scale, flange, mirrored),
        Face.WEB: View(Face.WEB, start, end, _LEFT, web, scale, depth, mirrored),
        Face.BOTTOM: View(Face.BOTTOM, start, end, _LEFT, web - _GAP, scale, flange, mirrored, down=True, below=True),
    }


def _areas(zone: FreeZone, side: int, face: Face, view: View) -> Iterator[Item]:
    """Free areas in a view, cut off at its ends."""
    shown = shapely.box(view.start, -1e4, view.end, 1e4)
    for area in zone.areas:
        if (area.side, area.face) == (SIDES[side], FACES[face]):
            for part in shapely.get_parts(shapely.intersection(area.polygon, shown)):
                if part.geom_type == "Polygon" and not part.is_empty:
                    yield _area(part, view)


def _area(polygon: shapely.Polygon, view: View) -> Figures:
    """An area with what is taken out of it, as one figure: rings inside run the other way round."""
    rings = [polygon.exterior.normalize(), *(ring.normalize() for ring in polygon.interiors)]
    commands, points = "", []
    for number, ring in enumerate(rings):
        corners = view.points(shapely.get_coordinates(ring)[:-1])
        corners = corners if bool(_is_ccw(corners)) == (number == 0) else corners[::-1]
        commands += "M" + "L" * (len(corners) - 1) + "Z"
        points.append(corners)
    return Figures(commands, np.concatenate(points)[None], FREE, FREE_FILL)


def _is_ccw(corners: np.ndarray) -> bool:
    x, y = corners.T
    return bool(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) > 0)


def _holes(subject: Subject, side: int, view: View) -> Iterator[Item]:
    holes, chart = subject.holes, subject.chart
    shown = (holes.side == side) & (holes.part == RAIL) & (holes.face == view.face)
    rows = np.flatnonzero(shown & (holes.station >= view.start) & (holes.station <= view.end))
    for index in np.unique(chart.row_class[rows]).tolist():
        own = rows[chart.row_class[rows] == index]
        centres = view.points(np.stack([holes.station[own], holes.across[own]], axis=-1))
        angle = view.angle(holes.angle[own])
        yield from symbols(chart.classes[index], chart.fills[index], centres, angle, view.scale)


def _notes(plan: SerialPlan, zone: FreeZone, side: str) -> list[str]:
    kept = say("free_zone.warnings" if zone.warnings else "free_zone.errors")
    lines = [say("free_zone.centre", diameter=zone.hole.diameter), say("free_zone.rules", set=plan.order.limit_set)]
    lines += [kept, say("free_zone.one")]
    if zone.refused:
        lines.append(say("free_zone.refused", rules=", ".join(zone.refused)))
    sizes = [
        say("free_zone.size", face=say(f"short_face.{face}"), area=_size(zone.areas, side, face)) for face in FACES
    ]
    return [*lines, "; ".join(sizes)]


def _size(areas: Sequence[FreeArea], side: str, face: str) -> float:
    """Free area of a face, dm2."""
    return sum(float(area.polygon.area) for area in areas if (area.side, area.face) == (side, face)) / 1e4


def _key(zone: FreeZone) -> list[tuple[str, list[Figures]]]:
    """What is drawn how, each with a sample 10 mm long about y = 0."""
    sample = rectangle(0, -1.2, 10, 1.2, FREE, FREE_FILL)
    return [(say("free_zone.free"), [sample]), (say("free_zone.hole"), [circles([(5, 0)], 1.0)])]
