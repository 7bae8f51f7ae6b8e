"""Where one more hole may go: areas of web and flanges in which its centre breaks no rule of the order's limit set.

Each panel is looked at in stretches along which the limits of the hole do not change. What is closed by distances is
drawn round everything there is, and round the bolts of rated joints, whose steel it would take; lines across the rail
and sections close stations, or stations by height.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from railgen.frame.panel_shapes import panels
from railgen.frame.panels import Face, Panel
from railgen.holes.table import FACES, LINER, RAIL, SIDES, FloatArray
from railgen.layout.features import through_liner
from railgen.layout.plan import SerialPlan
from railgen.placing.added_hole import AddedHole, Adding
from railgen.placing.free_clear import closed
from railgen.placing.free_frame import FAR, Frame
from railgen.placing.free_joints import joints_closed
from railgen.placing.free_lines import flange_strips, web_strips
from railgen.placing.free_near import Near
from railgen.placing.free_press import clamps_closed
from railgen.placing.free_sections import Sections, flange_closed, sections_of, web_closed
from railgen.rules.along import limit_cuts
from railgen.rules.breaks import Breaks
from railgen.rules.flanges import flange_hole
from railgen.rules.pattern import Pattern
from railgen.rules.press import press_limit
from railgen.rules.ramp import ramp_flush
from railgen.rules.sizes import hole_size
from railgen.rules.strength import Strength, low_grips


def _grip(pattern: Pattern) -> list[Breaks]:
    return low_grips(pattern, Strength(pattern).stacks)


_ALONE: tuple[Callable[[Pattern], list[Breaks]], ...] = (hole_size, flange_hole, press_limit, ramp_flush, _grip)
_OF_PLACE = ("reach", "clamp")
"""Measures of these that depend on where the hole is on its blank."""
_SIMPLER = 0.005
"""mm that a border may be moved by so that it has fewer corners."""
_LEAST_AREA = 0.01
"""mm2; nothing smaller is told."""


@dataclass(frozen=True)
class FreeArea:
    """An area in which the centre may lie: side, face, and a polygon of (station, across) in the finished part, mm."""

    side: str
    face: str
    polygon: shapely.Polygon


@dataclass(frozen=True)
class FreeZone:
    """All free areas of a hole, by side, face and station; refused: why there are none, where no place is asked for."""

    hole: AddedHole
    warnings: bool
    areas: tuple[FreeArea, ...]
    refused: tuple[str, ...]


def free_zone(plan: SerialPlan, hole: AddedHole, sides: tuple[str, ...] = SIDES, warnings: bool = False) -> FreeZone:
    """The free areas of a hole on some sides of a planned serial; warnings: keep clear of warnings as well.

    Exact to 0.1 mm: circles are drawn outside the true ones by less than 0.03 mm.
    """
    adding = Adding(plan, hole)
    strength = Strength(adding.present)
    areas, refused = [], dict[str, None]()
    for side in (SIDES.index(name) for name in sides):
        sections = list(sections_of(adding.present, strength, side, warnings))
        for panel in panels(plan.order.rail):
            panel_of = _Panel(adding, Frame(plan.order.rail, panel), side, warnings)
            refused |= dict.fromkeys(panel_of.refusals)
            free = panel_of.free(sections, strength)
            areas += [FreeArea(SIDES[side], FACES[panel_of.frame.face], polygon) for polygon in free]
    areas.sort(key=lambda area: (area.side, FACES.index(area.face), *area.polygon.bounds))
    return FreeZone(hole, warnings, tuple(areas), tuple(refused) if not areas else ())


@dataclass(frozen=True)
class _Stretch:
    """Stations from start to end (mm); row: the hole there in the pattern of it alone; lined: its row in the liner."""

    start: float
    end: float
    row: int
    lined: int | None


class _Panel:
    """One panel of one side."""

    def __init__(self, adding: Adding, frame: Frame, side: int, warnings: bool) -> None:
        self.adding, self.frame, self.side, self.warnings = adding, frame, side, warnings
        cuts = _cuts(adding, frame)
        places = np.array([self._probe(low, high) for low, high in pairwise(cuts)])
        self.alone = adding.alone(side, frame.face, places[:, 0], places[:, 1])
        count = len(places)
        through = np.flatnonzero(through_liner(adding.order.rail, self.alone.table.rows(np.arange(count))))
        lined = {int(row): count + number for number, row in enumerate(through.tolist())}
        self.stretches = [_Stretch(low, high, row, lined.get(row)) for row, (low, high) in enumerate(pairwise(cuts))]
        self.refused, self.refusals = self._refused()

    def _probe(self, low: float, high: float) -> tuple[float, float]:
        station, across = self.frame.inside((low + high) / 2)
        # Near the web even a hole in a flange meets the liner.
        return station, across if self.frame.face == Face.WEB else self.adding.order.rail.section.tangent

    def _refused(self) -> tuple[set[int], list[str]]:
        """Rows of the hole alone that a rule refuses wherever they are, and what they are refused for."""
        rows: set[int] = set()
        words: list[str] = []
        for rule in _ALONE:
            for found in rule(self.alone):
                if found.rule == "press-limit" and found.measure in _OF_PLACE:
                    continue
                chosen = np.ones(len(found), dtype=np.bool_) if self.warnings else found.is_error
                rows |= set(found.first[chosen].tolist())
                words += [f"{found.rule} {found.measure}"] * int(chosen.any())
        return rows, words

    def free(self, sections: list[Sections], strength: Strength) -> list[shapely.Polygon]:
        """Free areas of the panel in the finished part."""
        everywhere = shapely.union_all([*self._sections(sections)])
        areas = []
        for stretch in self.stretches:
            if {stretch.row, stretch.lined} & self.refused:
                continue
            whole = self.frame.to_blank(shapely.Polygon(self.frame.corners))
            area = shapely.intersection(whole, self.frame.stations(stretch.start, stretch.end))
            found = [*self._of_part(stretch.row, RAIL), *self._lines(stretch), *self._in_liner(stretch)]
            found += joints_closed(self._near(stretch.row), strength)
            forbidden = np.array(found, dtype=object)
            shapely.prepare(area)
            forbidden = forbidden[shapely.intersects(area, forbidden)]
            areas.append(shapely.difference(area, shapely.union_all(forbidden)))
        free = shapely.difference(self.frame.to_finished(shapely.union_all(areas)), everywhere)
        free = shapely.simplify(free, _SIMPLER)
        return [part for part in shapely.get_parts(free) if part.geom_type == "Polygon" and part.area > _LEAST_AREA]

    def _near(self, row: int) -> Near:
        return Near(self.frame, self.adding.present, self.alone, row, self.side, self.warnings)

    def _of_part(self, row: int, part: int) -> list[shapely.Geometry]:
        """Closed areas in the blank axes of the part."""
        found = closed(self._near(row))
        if self.adding.hole.operation == "punch":
            found += clamps_closed(self.adding.present, self.alone, row, self.side, part, self.warnings)
        return found

    def _in_liner(self, stretch: _Stretch) -> Iterator[shapely.Geometry]:
        """What the liner closes, moved to where the rail's blank has it; on flanges only where the hole meets it."""
        row, rail = stretch.row, self.adding.order.rail
        if stretch.lined is None or rail.liner is None:
            return
        table = self.alone.table
        shift = np.array([table.u[row] - table.u[stretch.lined], table.v[row] - table.v[stretch.lined]])
        meets = None
        if self.frame.face != Face.WEB:
            reach = rail.liner.flange_edge + float(self.alone.cores.radius[row])
            meets = self.frame.to_blank(shapely.box(-FAR, -FAR, FAR, reach))
        for area in self._of_part(stretch.lined, LINER):
            moved = shapely.transform(area, lambda points: points + shift)
            yield moved if meets is None else shapely.intersection(moved, meets)

    def _lines(self, stretch: _Stretch) -> Iterator[shapely.Geometry]:
        """Stations closed by lines across the web or a flange."""
        present, table = self.adding.present, self.adding.present.table
        if self.frame.face == Face.WEB:
            strips = web_strips(present, self.alone, stretch.row, self.side, self.warnings)
            yield from (self.frame.stations(*_bounded(strip)) for strip in strips)
            return
        here = present.is_hole & (table.part == RAIL) & (table.side == self.side) & (table.panel == self.frame.panel)
        for strip in flange_strips(present, self.alone, stretch.row, np.flatnonzero(here), self.warnings):
            low, high = _bounded(strip)
            yield shapely.box(low, -FAR, high, FAR)

    def _sections(self, sections: list[Sections]) -> Iterator[shapely.Geometry]:
        """What sections close, in the finished part."""
        radius, rail = self.adding.hole.diameter / 2, self.adding.order.rail
        for one in sections:
            if self.frame.face == Face.WEB:
                low, high = self.frame.corners[:, 1].min(), self.frame.corners[:, 1].max()
                yield web_closed(one, radius, float(low), float(high))
                continue
            ramp = self.frame.panel == Panel.TAIL_TOP and rail.taper is not None
            shortened = float(np.cos(rail.taper.slope)) if ramp and rail.taper else 1.0
            for start, end in flange_closed(one, radius, self.frame.face == Face.TOP, shortened):
                yield shapely.box(start, -FAR, end, FAR)


def _bounded(strip: tuple[float, float]) -> tuple[float, float]:
    low, high = np.clip(strip, -FAR, FAR).tolist()
    return low, high


def _cuts(adding: Adding, frame: Frame) -> list[float]:
    """Stations of a panel's ends and wherever the limits of the hole on it may change, mm."""
    pattern, rail, reach = adding.present, adding.order.rail, adding.hole.diameter / 2
    cuts = [station for key in pattern.limits.rows for station in limit_cuts(pattern, pattern.limits, *key)]
    if rail.liner:
        cuts += [rail.liner.start - reach, rail.liner.end + reach]
    if rail.taper:
        cuts += list(_passage_depths(adding))
    low, high = frame.span
    return sorted({low, high, *(cut for cut in cuts if low < cut < high)})


def _passage_depths(adding: Adding) -> Iterator[float]:
    """Stations on the taper where the depth is what a passage of this size asks for, mm."""
    taper = adding.order.rail.taper
    for entry in adding.limits.rows.get(("hole-size", "passage"), ()):
        for figure in (entry.row.error, entry.row.warning):
            if taper and figure and entry.row.of == "depth":
                depth = adding.hole.diameter / figure
                yield taper.start + (taper.depth - depth) / float(np.tan(taper.slope))


def contains(zone: FreeZone, side: str, face: str, points: FloatArray) -> np.ndarray:
    """Whether places (n, 2) of station and across on a face lie in a free area, (n,)."""
    polygons = [area.polygon for area in zone.areas if (area.side, area.face) == (side, face)]
    whole = shapely.union_all(polygons)
    return np.asarray(shapely.covers(whole, shapely.points(points)))
