"""Rules ``hole-spacing``, ``duplicate-hole`` and ``size-conflict``: pairs of holes and the steel between them.

Pairs are measured in the blank, within a panel or across one bend, never across slit, wedge or seam; web pairs across
a taper's bisector in the finished part.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from railgen.data.findings import VALUE_TOLERANCE
from railgen.frame.panels import Face, Panel
from railgen.frame.taper import TaperShape
from railgen.holes.neighbours import close_pairs, close_to
from railgen.holes.sharing import may_share
from railgen.holes.table import PARTS, RECTANGLE, ROUND, SIDES, SLOT, BoolArray, FloatArray, HoleTable, IntArray
from railgen.rules.breaks import Breaks, breaks_if_held
from railgen.rules.limits import Limits
from railgen.rules.pattern import Pattern

COINCIDENT = 0.05
"""mm; centres nearer than this are one place."""

MEASURED_IN_BLANK = np.zeros((len(Panel), len(Panel)), dtype=np.bool_)
for _one, _other in (
    *((panel, panel) for panel in Panel),
    (Panel.WEB, Panel.TOP),
    (Panel.WEB, Panel.BOTTOM),
    (Panel.TAIL_WEB, Panel.TAIL_TOP),
    (Panel.TOP, Panel.TAIL_TOP),
):
    MEASURED_IN_BLANK[_one, _other] = MEASURED_IN_BLANK[_other, _one] = True


@dataclass(frozen=True)
class Pairs:
    """Pairs of holes near each other, measured; arrays of one length, lengths mm.

    dx, dy: difference of the centres in the coordinates the pair is measured in; centre: the centre distance as rules
    take it (slots from their end-radius centres, rectangles from d/2 inside their edge); ligament: steel between the
    true shapes, below zero where they overlap.
    """

    pattern: Pattern
    first: IntArray
    second: IntArray
    dx: FloatArray
    dy: FloatArray
    centre: FloatArray
    ligament: FloatArray

    @cached_property
    def same_panel(self) -> BoolArray:
        panel = self.pattern.table.panel
        return np.asarray(panel[self.first] == panel[self.second])

    @cached_property
    def coincident(self) -> BoolArray:
        """Pairs of one panel whose centres agree."""
        apart = np.hypot(self.dx, self.dy)
        return np.asarray(self.same_panel & (apart < COINCIDENT - VALUE_TOLERANCE))

    @cached_property
    def in_conflict(self) -> BoolArray:
        """Pairs of one panel that coincide or overlap: they give no spacing and no washer finding."""
        return np.asarray(self.coincident | (self.same_panel & (self.ligament < -VALUE_TOLERANCE)))

    def spacing_limits(self, rows: IntArray) -> Limits:
        """Limits of some pairs' centre distance; sets may tell pairs along the rail from pairs across it."""
        first, second = self.first[rows], self.second[rows]
        along, across = (self.pattern.limit("hole-spacing", "centre", way) for way in ("along", "across"))
        chosen = np.abs(self.dx[rows]) < np.abs(self.dy[rows])
        of_pair = along.at(first).stricter(along.at(second))
        return of_pair.chosen(across.at(first).stricter(across.at(second)), chosen)


def hole_spacing(pairs: Pairs) -> list[Breaks]:
    """Centre distance and ligament of pairs, mm. AISC 360 J3.3, EN 1993-1-8 table 3.3, body-builder values."""
    apart = np.flatnonzero(~pairs.in_conflict)
    first, second = pairs.first[apart], pairs.second[apart]

    def along_or_across(index: IntArray) -> Limits:
        return pairs.spacing_limits(apart[index])

    return [
        *breaks_if_held(pairs.pattern, "hole-spacing", "centre", first, pairs.centre[apart], second, along_or_across),
        *breaks_if_held(pairs.pattern, "hole-spacing", "ligament", first, pairs.ligament[apart], second),
    ]


def coinciding(pairs: Pairs) -> list[Breaks]:
    """Holes one on the other that are not validly shared, and holes that overlap. Common practice."""
    found: list[Breaks] = []
    near = np.flatnonzero(pairs.in_conflict)
    if not len(near):
        return found
    table, first, second = pairs.pattern.table, pairs.first[near], pairs.second[near]
    length = np.nan_to_num(table.length)
    alike = (
        (table.shape[first] == table.shape[second])
        & (table.fastener[first] == table.fastener[second])
        & (np.abs(table.diameter[first] - table.diameter[second]) <= VALUE_TOLERANCE)
        & (np.abs(length[first] - length[second]) <= VALUE_TOLERANCE)
    )
    apart = np.hypot(pairs.dx[near], pairs.dy[near])
    double = pairs.coincident[near] & alike
    conflict = ~double
    double &= ~may_share(table, first, second, apart)
    for rule, chosen, value in (
        ("duplicate-hole", double, apart),
        ("size-conflict", conflict, pairs.ligament[near]),
    ):
        rows = np.flatnonzero(chosen)
        found += breaks_if_held(pairs.pattern, rule, "pair", first[rows], value[rows], second[rows])
    return found


def pairs_within(pattern: Pattern, rows: IntArray | None = None, group: IntArray | None = None) -> Pairs:
    """Every pair of holes that is near enough for any of the pair rules: of all rows, or of some within groups."""
    table = pattern.table
    rows = np.arange(len(table)) if rows is None else rows
    groups = np.zeros(len(rows), dtype=np.int64) if group is None else group
    holes, groups = rows[pattern.is_hole[rows]], groups[pattern.is_hole[rows]]
    x, skew = _sweep_position(pattern)
    parts = len(SIDES) * len(PARTS)
    key = groups * parts + table.side[holes] * len(PARTS) + table.part[holes]
    reach = _reach(pattern)
    first, second = close_pairs(x[holes], key, reach + skew)
    return measured(pattern, *_near_across(pattern, holes[first], holes[second], reach))


def pairs_between(pattern: Pattern, some: IntArray, others: IntArray) -> Pairs:
    """Pairs of some rows with other rows that are near enough for any of the pair rules."""
    table = pattern.table
    some, others = some[pattern.is_hole[some]], others[pattern.is_hole[others]]
    x, skew = _sweep_position(pattern)
    group = table.side * len(PARTS) + table.part
    reach = _reach(pattern)
    first, second = close_to(x[some], group[some], x[others], group[others], reach + skew)
    return measured(pattern, *_near_across(pattern, some[first], others[second], reach))


def _near_across(pattern: Pattern, first: IntArray, second: IntArray, reach: float) -> tuple[IntArray, IntArray]:
    """Those pairs that are no further apart than reach (mm) across the rail, in the blank or as finished."""
    table = pattern.table
    apart = np.abs(table.v[first] - table.v[second])
    if pattern.rail.taper:
        apart = np.minimum(apart, np.abs(table.across[first] - table.across[second]))
    near = apart <= reach
    return first[near], second[near]


def _sweep_position(pattern: Pattern) -> tuple[FloatArray, float]:
    """Position of each row along the rail, and how far blank and finished positions differ at most, mm."""
    table = pattern.table
    if pattern.rail.taper is None:
        return table.u, 0.0
    x = table.station - pattern.rail.front
    difference = np.abs(np.where(table.part == 0, x - table.u, 0.0))
    return np.where(table.part == 0, x, table.u), 2 * float(difference.max(initial=0.0))


def _reach(pattern: Pattern) -> float:
    """Distance beyond which no pair rule can be broken, mm."""
    core = float(np.max(pattern.cores.half_length + pattern.cores.half_width, initial=0.0))
    radius = float(np.max(pattern.cores.radius, initial=0.0))
    washer = float(np.max(pattern.washer_radius, initial=0.0))
    socket = float(np.max(pattern.socket_radius, initial=0.0))
    return 2 * core + max(
        pattern.most_asked("hole-spacing", "centre"),
        pattern.most_asked("hole-spacing", "ligament") + 2 * radius,
        pattern.most_asked("washer-seat", "washer") + 2 * washer,
        pattern.most_asked("wrench-access", "radial") + socket + washer,
    )


def measured(pattern: Pattern, first: IntArray, second: IntArray) -> Pairs:
    """The pairs that are measured at all, with their distances."""
    table, taper = pattern.table, pattern.rail.taper
    in_blank = MEASURED_IN_BLANK[table.panel[first], table.panel[second]]
    finished = np.zeros(len(first), dtype=np.bool_)
    if taper:
        finished = _across_bisector(table, taper, first, second)
        in_blank &= ~_across_slit(pattern, taper, first, second)
    kept = np.flatnonzero(in_blank | finished)
    first, second, finished = first[kept], second[kept], finished[kept]
    dx = np.where(finished, table.station[first] - table.station[second], table.u[first] - table.u[second])
    dy = np.where(finished, table.across[first] - table.across[second], table.v[first] - table.v[second])
    centre = np.hypot(dx, dy)
    radius = pattern.cores.radius
    ligament = centre - radius[first] - radius[second]
    not_round = (table.shape[first] != ROUND) | (table.shape[second] != ROUND)
    for rows, in_finished in (
        (np.flatnonzero(not_round & ~finished), False),
        (np.flatnonzero(not_round & finished), True),
    ):
        if len(rows):
            centre[rows], ligament[rows] = _shape_distances(pattern, first[rows], second[rows], in_finished)
    return Pairs(pattern, first, second, dx, dy, centre, ligament)


def _across_bisector(table: HoleTable, taper: TaperShape, first: IntArray, second: IntArray) -> BoolArray:
    """Web-strip pairs whose centres see each other across the bisector, above the apex or at it."""
    panel = table.panel
    swapped = panel[first] == Panel.TAIL_WEB
    web, strip = np.where(swapped, second, first), np.where(swapped, first, second)
    kind = (panel[web] == Panel.WEB) & (panel[strip] == Panel.TAIL_WEB) & (table.part[web] == 0)
    behind_web = taper.behind_bisector(table.station[web], table.across[web])
    behind_strip = taper.behind_bisector(table.station[strip], table.across[strip])
    crosses = kind & (behind_web <= 0) & (behind_strip > 0)
    share = np.divide(-behind_web, behind_strip - behind_web, out=np.zeros(len(web)), where=crosses)
    height = table.across[web] + share * (table.across[strip] - table.across[web])
    return np.asarray(crosses & (height >= taper.apex[1]))


def _across_slit(pattern: Pattern, taper: TaperShape, first: IntArray, second: IntArray) -> BoolArray:
    """Rail pairs whose line in the blank crosses the slit behind the apex: no steel joins them along it."""
    table = pattern.table
    apex, slit = taper.apex[0] - pattern.rail.front, float(pattern.rail.section.blank_y(Face.WEB, taper.apex[1]))
    above, below = table.v[first] - slit, table.v[second] - slit
    crosses = (above * below < 0) & (table.part[first] == 0)
    crosses &= (table.panel[first] <= Panel.TOP) & (table.panel[second] <= Panel.TOP)
    share = np.divide(above, above - below, out=np.zeros(len(first)), where=crosses)
    return np.asarray(crosses & (table.u[first] + share * (table.u[second] - table.u[first]) > apex))


def _shape_distances(
    pattern: Pattern, first: IntArray, second: IntArray, finished: bool
) -> tuple[FloatArray, FloatArray]:
    """Centre distance and ligament of pairs with a slot or a rectangle among them."""
    radius, half = pattern.cores.radius, pattern.hole_diameter / 2
    cores = [pattern.geometries(rows, finished) for rows in (first, second)]
    ligament = shapely.distance(cores[0], cores[1]) - radius[first] - radius[second]
    box = pattern.table.shape == RECTANGLE
    points = [
        _end_centres(geometries, pattern.table.shape[rows])
        for geometries, rows in zip(cores, (first, second), strict=True)
    ]
    inside_edge = np.where(box, radius, 0.0)
    added = np.where(box, half, 0.0)
    outlines = shapely.distance(points[0], points[1]) - inside_edge[first] - inside_edge[second]
    return np.maximum(outlines, 0.0) + added[first] + added[second], ligament


def core_points_apart(pattern: Pattern, first: IntArray, second: IntArray) -> FloatArray:
    """Least distance between the cores' points of pairs on one panel, mm: centres, end centres of slots, corners."""
    table = pattern.table
    apart = np.hypot(table.u[first] - table.u[second], table.v[first] - table.v[second])
    rows = np.flatnonzero((table.shape[first] != ROUND) | (table.shape[second] != ROUND))
    if len(rows):
        points = [shapely.extract_unique_points(pattern.geometries(some[rows])) for some in (first, second)]
        apart[rows] = shapely.distance(points[0], points[1])
    return apart


def _end_centres(geometries: np.ndarray, shape: IntArray) -> np.ndarray:
    """The geometries that centre distances are taken from: of a slot its two end-radius centres."""
    slot = np.flatnonzero(shape == SLOT)
    if not len(slot):
        return geometries
    points = geometries.copy()
    ends = shapely.get_coordinates(geometries[slot]).reshape(-1, 2, 2)
    points[slot] = shapely.multipoints(ends)
    return points
