"""The pattern under check: a serial's hole table with everything the rules measure against, as arrays."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache, partial, reduce

import numpy as np
from shapely.affinity import scale

from railgen.data.library import Library, LibraryKey
from railgen.frame.development import mirror_angle
from railgen.frame.panels import FACE_OF_PANEL, Face, Panel
from railgen.frame.rail import RailShape
from railgen.frame.section import Section
from railgen.holes.shapes import Cores, MadeOnce, core_geometries, cores_of
from railgen.holes.table import LINER, MARK, NONE, PARTS, RH, BoolArray, FloatArray, HoleTable, IntArray
from railgen.layout.envelopes import Envelopes, envelopes_of
from railgen.layout.features import through_liner
from railgen.layout.feet import Feet, feet_of
from railgen.layout.place import placements as placements_from
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.rules.limits import Limits, LimitTable, Quantities, evaluate, limit_table, sense_of
from railgen.shop.stacks import Stacks, stacks_of
from railgen.shop.tools import assign_tools

_PANELS = len(Panel)
_IS_WEB = np.array([FACE_OF_PANEL[panel] == Face.WEB for panel in Panel])
_NOTHING_PLACED = placements_from([])


@dataclass(frozen=True)
class Bounds:
    """The straight boundaries of each row's panel in blank axes (mm), infinite where there is none.

    ``*_edge`` are free edges, ``*_tangent`` tangents of bends or of the taper's fold.
    """

    low_u_edge: FloatArray
    high_u_edge: FloatArray
    low_v_edge: FloatArray
    high_v_edge: FloatArray
    low_u_tangent: FloatArray
    high_u_tangent: FloatArray
    low_v_tangent: FloatArray
    high_v_tangent: FloatArray


@dataclass(frozen=True)
class Pattern:
    """A hole table with its order, its limits, the true shapes of its features, and what stands beside the rails."""

    order: ResolvedOrder
    table: HoleTable
    limits: LimitTable
    placements: Placements = _NOTHING_PLACED
    _evaluated: dict[tuple[str, str, str], Limits] = field(default_factory=dict, repr=False, compare=False)
    _asked: dict[tuple[str, str], FloatArray] = field(default_factory=dict, repr=False, compare=False)
    _computed: dict[Callable[..., FloatArray], FloatArray] = field(default_factory=dict, repr=False, compare=False)

    def once(self, function: Callable[[Pattern], FloatArray]) -> FloatArray:
        """What a function says of this pattern, computed the first time only: several rules ask the same."""
        if function not in self._computed:
            self._computed[function] = function(self)
        return self._computed[function]

    @property
    def rail(self) -> RailShape:
        return self.order.rail

    @cached_property
    def thickness(self) -> FloatArray:
        """Thickness of each row's part, mm."""
        return self.order.thicknesses_of(self.table)

    @cached_property
    def cores(self) -> Cores:
        """Core of each row."""
        return cores_of(self.table, self.thickness)

    @cached_property
    def is_hole(self) -> BoolArray:
        """Rows that are openings; marks and studs are not."""
        return np.asarray(self.table.shape != MARK)

    @cached_property
    def on_web(self) -> BoolArray:
        """Rows on the web or on the tail's web strip."""
        return np.asarray(_IS_WEB[self.table.panel])

    @cached_property
    def hole_diameter(self) -> FloatArray:
        """Hole diameter, slot width or shorter side of each row, mm; 0 for marks."""
        return np.fmax(self.table.diameter, 0.0)

    @cached_property
    def reach(self) -> tuple[FloatArray, FloatArray]:
        """How far each true shape reaches from its centre along u and v, mm."""
        along, across = self.cores.reach(self.table.blank_angle)
        return along + self.cores.radius, across + self.cores.radius

    @cached_property
    def seen_along(self) -> FloatArray:
        """Length along the rail, seen from above, over length in each row's panel: below 1 on a ramp."""
        taper = self.rail.taper
        return np.where(self.table.panel == Panel.TAIL_TOP, np.cos(taper.slope) if taper else 1.0, 1.0)

    @cached_property
    def finished_core_reach(self) -> tuple[FloatArray, FloatArray]:
        """How far each core reaches from its centre along x and across (z or y) in the finished part, mm."""
        along, across = self.cores.reach(self.table.angle)
        return along * self.seen_along, across

    @cached_property
    def finished_reach(self) -> tuple[FloatArray, FloatArray]:
        """The same of each true shape, mm."""
        along, across = self.finished_core_reach
        return along + self.cores.radius * self.seen_along, across + self.cores.radius

    @cached_property
    def quantities(self) -> Quantities:
        """What limit rows multiply and ask for."""
        liner = self.rail.liner
        depth = self.rail.depth_at(self.table.station)
        if liner:
            depth = np.where(self.table.part == LINER, liner.section.depth, depth)
        tensile = np.array([self.order.steel_of(part).tensile_least for part in PARTS])
        return Quantities(
            station=self.table.station,
            thickness=self.thickness,
            liner_thickness=liner.section.thickness if liner else 0.0,
            hole=self.hole_diameter,
            bolt=bolt_diameters(self.table, self.order.library, self.hole_diameter),
            depth=depth,
            tensile=tensile[self.table.part],
            zones=self.order.zones,
        )

    @cached_property
    def bounds(self) -> Bounds:
        """Boundaries of each row's panel."""
        lines = _boundary_lines(self.rail)
        columns = lines[:, self.table.part * _PANELS + self.table.panel]
        return Bounds(*columns)

    @cached_property
    def passes_liner(self) -> BoolArray:
        """Rail rows that go through the liner as well."""
        return np.asarray(through_liner(self.rail, self.table) & (self.table.part != LINER))

    @cached_property
    def washer_radius(self) -> FloatArray:
        """Radius of the hardened washer of each row, mm; 0 where the row has no fastener or is a stud."""
        return self._of_screws([f.washer_outside for f in self.order.library.fasteners.values()]) / 2

    @cached_property
    def socket_radius(self) -> FloatArray:
        """Radius of the socket that turns each row's screw, mm; 0 where the row has no fastener or is a stud."""
        return self._of_screws([f.socket_outside for f in self.order.library.fasteners.values()]) / 2

    def _of_screws(self, sizes: Sequence[float | None]) -> FloatArray:
        """A size of each row's screw, from those of all fasteners; 0 where there is none."""
        values = np.array([*(size or 0.0 for size in sizes), 0.0])
        return np.where(self.is_hole, values[self.table.fastener], 0.0)

    @cached_property
    def own_tools(self) -> IntArray:
        """The press's tool of each row's own shape and size, by its number in the crib; NONE without one."""
        return assign_tools(self.table, self.order.library.press, self.thickness)

    @cached_property
    def stacks(self) -> Stacks:
        """What the fastener of each row clamps."""
        return stacks_of(self.rail, self.order.library, self.table, self.passes_liner)

    @cached_property
    def head_outside(self) -> BoolArray:
        """Rows whose first owner puts the heads on the outside face and the nuts inside."""
        components = self.order.library.components
        outside = np.array([components[name].head == "outside" for name in self.table.names.components], dtype=np.bool_)
        return np.asarray(outside[self.table.component])

    @cached_property
    def library_index(self) -> IntArray:
        """Of each component of the table's names its index in the library."""
        index = {name: row for row, name in enumerate(self.order.library.components)}
        return np.array([index[name] for name in self.table.names.components], dtype=np.int64)

    @cached_property
    def feet(self) -> Feet:
        """Feet of all placements."""
        return feet_of(self.rail, self.order.library, self.placements)

    @cached_property
    def envelopes(self) -> Envelopes:
        """Envelopes of all placements, those of both sides in one set of axes."""
        width = self.order.dimensions["frame_width"]
        return envelopes_of(self.rail, self.order.library, self.placements, width)

    def limit(self, rule: str, measure: str, direction: str = "") -> Limits:
        """Limits of a measure for every row; evaluated once."""
        key = (rule, measure, direction if (rule, measure) in self.limits.directed else "")
        if key not in self._evaluated:
            self._evaluated[key] = evaluate(self.limits, rule, measure, self.quantities, direction)
        return self._evaluated[key]

    def asked(self, rule: str, measure: str) -> FloatArray:
        """Of every row a figure that no limit of the measure is stricter than, or one for all: cheaper than limits.

        What keeps to it keeps to the limits. Computed once.
        """
        if (rule, measure) not in self._asked:
            self._asked[rule, measure] = self._asks(rule, measure)
        return self._asked[rule, measure]

    def most_asked(self, rule: str, measure: str) -> float:
        """The greatest figure of them, no less than 0, mm: how far away something may still matter."""
        return float(np.max(self.asked(rule, measure), initial=0.0)) if self.limits.holds(rule, measure) else 0.0

    def _asks(self, rule: str, measure: str) -> FloatArray:
        pick = np.fmax if sense_of(rule, measure) == "least" else np.fmin
        screen = self.limits.screens.get((rule, measure), ())
        if not screen:
            return pick(*(self.limit(rule, measure, direction).strictest for direction in ("along", "across")))
        figures = [figure if of is None else figure * self.quantities.multiplied(of) for of, figure in screen]
        return np.asarray(reduce(pick, figures))

    def geometries(self, rows: IntArray, finished: bool = False) -> np.ndarray:
        """Shapely cores of some rows, in un-mirrored blank axes, or as finished (station, across); each made once."""
        return self._made[finished].at(rows, partial(self._geometries, finished=finished))

    @cached_property
    def _made(self) -> tuple[MadeOnce, MadeOnce]:
        return MadeOnce(len(self.table)), MadeOnce(len(self.table))

    def _geometries(self, rows: IntArray, finished: bool) -> np.ndarray:
        table, cores = self.table, self.cores
        shape, half_length, half_width = table.shape[rows], cores.half_length[rows], cores.half_width[rows]
        if finished:
            x, y, angle = table.station[rows], table.across[rows], table.angle[rows]
        else:
            x, y, angle = table.u[rows], table.v[rows], self.unmirrored_angle[rows]
        geometries = core_geometries(x, y, angle, shape, half_length, half_width)
        for row in np.flatnonzero((self.seen_along[rows] < 1) & (half_length > 0)) if finished else ():
            geometries[row] = scale(geometries[row], xfact=self.seen_along[rows[row]], origin=(x[row], y[row]))
        return geometries

    @cached_property
    def unmirrored_angle(self) -> FloatArray:
        """Angle of each long axis in un-mirrored blank axes, degrees."""
        return np.where(self.table.side == RH, mirror_angle(self.table.blank_angle), self.table.blank_angle)


def pattern_of(
    order: ResolvedOrder,
    table: HoleTable,
    placements: Placements = _NOTHING_PLACED,
    limits: LimitTable | None = None,
) -> Pattern:
    """The pattern of an order's hole table under its own limit set and zones."""
    if limits is None:
        limits = limit_table(order.library, order.limit_set, order.order.limits.zones)
    return Pattern(order, table, limits, placements)


def bolt_diameters(table: HoleTable, library: Library, hole: FloatArray) -> FloatArray:
    """Bolt diameter of each row, mm: its fastener's, else the largest screw that the hole takes, else the hole itself.

    A hole takes a screw whose fine clearance hole is not larger; beyond the largest coarse hole it is no bolt hole.
    """
    screws = _screws(LibraryKey(library))
    named = screws.diameter[table.fastener]
    if not len(screws.fine):
        return np.where(table.fastener == NONE, hole, named)
    position = np.searchsorted(screws.fine, hole, side="right")
    taken = np.where(position > 0, screws.largest[np.maximum(position - 1, 0)], hole)
    unnamed = np.where(hole > screws.coarsest, hole, taken)
    return np.where(table.fastener == NONE, unnamed, named)


@dataclass(frozen=True)
class _Screws:
    """Diameters of all fasteners, NaN last; fine clearance holes, ascending, the largest screw that each takes; mm."""

    diameter: FloatArray
    fine: FloatArray
    largest: FloatArray
    coarsest: float


@lru_cache(maxsize=8)
def _screws(key: LibraryKey) -> _Screws:
    fasteners = key.library.fasteners.values()
    with_holes = sorted((f.holes.fine, f.diameter, f.holes.coarse) for f in fasteners if f.holes is not None)
    sizes = np.array(with_holes, dtype=np.float64).reshape(-1, 3)
    coarsest = float(np.max(sizes[:, 2], initial=0.0))
    diameter = np.array([*(f.diameter for f in fasteners), np.nan])
    return _Screws(diameter, sizes[:, 0], np.maximum.accumulate(sizes[:, 1]), coarsest)


def _boundary_lines(rail: RailShape) -> FloatArray:
    """(8, parts x panels) boundaries in the order of Bounds' fields."""
    lines = np.full((len(Bounds.__dataclass_fields__), len(PARTS) * _PANELS), np.inf)
    lines[[0, 2, 4, 6]] = -np.inf
    _set_channel(lines, 0, rail.section, rail.length)
    if rail.liner:
        _set_channel(lines, _PANELS, rail.liner.section, rail.liner.length)
    taper = rail.taper
    if taper:
        fold = taper.start - rail.front
        lines[1, Panel.TOP], lines[5, Panel.TOP] = np.inf, fold - taper.fold_half_width
        lines[4, Panel.TAIL_TOP], lines[1, Panel.TAIL_TOP] = fold + taper.fold_half_width, fold + taper.flange_length
        lines[[6, 3], Panel.TAIL_TOP] = lines[[6, 3], Panel.TOP]
        lines[7, Panel.TAIL_WEB] = lines[7, Panel.WEB]
    return lines


def _set_channel(lines: FloatArray, first: int, section: Section, length: float) -> None:
    for panel in (Panel.WEB, Panel.TOP, Panel.BOTTOM):
        lines[0, first + panel], lines[1, first + panel] = 0.0, length
    lines[6, first + Panel.WEB] = section.web_lower_tangent_blank_y
    lines[7, first + Panel.WEB] = section.web_upper_tangent_blank_y
    lines[6, first + Panel.TOP], lines[3, first + Panel.TOP] = section.top_tangent_blank_y, section.developed_width
    lines[2, first + Panel.BOTTOM], lines[7, first + Panel.BOTTOM] = 0.0, section.bottom_tangent_blank_y
