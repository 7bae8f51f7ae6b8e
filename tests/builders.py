"""Small rails, hole tables and orders for tests, built without any library file."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, cast

import numpy as np

from railgen.data.component import Component, Family
from railgen.data.library import Library, LibraryFile
from railgen.data.order import Order
from railgen.data.plant import Finishing
from railgen.data.stock import Countersink, Fastener, SteelBand
from railgen.frame.development import (
    blank_angle,
    develop,
    develop_liner,
    liner_blank_angle,
    mirror_angle,
    mirror_blank,
    panel_of,
)
from railgen.frame.liner import LinerShape
from railgen.frame.rail import RailShape
from railgen.frame.section import Section, neutral_line_factor
from railgen.frame.taper import TaperShape
from railgen.holes.table import (
    COUNTERSINK,
    DRILL,
    FACES,
    LINER,
    MARK,
    NONE,
    OPERATIONS,
    SHAPES,
    SIDES,
    HoleTable,
    Names,
    in_file_order,
    stacked,
)
from railgen.layout.plan import Placements, ResolvedOrder

SECTION = Section(300, 90, 9.5, 24, neutral_line_factor(24, 9.5))
LINER_SECTION = Section(280, 76, 6, 16, neutral_line_factor(16, 6))
FRONT, REAR, TAPER_START = -1000.0, 5000.0, 3800.0
STEEL = SteelBand(
    thickness_to=12, yield_strength=700, tensile_least=750, tensile_most=950, least_bend_radius=2.5, spring_back=0
)


@dataclass(frozen=True)
class Hole:
    """One feature on the rail of each of `sides`: across is z on the web, y on a flange; mm, degrees."""

    station: float
    across: float
    diameter: float = 17.0
    face: str = "web"
    shape: str = "round"
    length: float = float("nan")
    angle: float = 0.0
    corner_radius: float = 0.0
    fastener: str = ""
    operation: str = "punch"
    component: str = "bracket"
    instance: int = 1
    feature: str = ""
    tool: str = ""
    owners: tuple[str, ...] = ()
    sides: tuple[str, ...] = SIDES


def rail_shape(taper: Literal["", "after-forming", "in-blank"] = "", liner: bool = False) -> RailShape:
    """A 6 m rail of 300 x 90 x 9.5; the taper over its last 1.2 m, the liner from station 500 to 2500."""
    tail = None
    if taper:
        tail = TaperShape(
            start=TAPER_START,
            end_depth=220.0,
            slit_depth=70.0,
            root_gap=3.0,
            trim=15.0,
            relief_diameter=24.0,
            in_blank=taper == "in-blank",
            depth=SECTION.depth,
            thickness=SECTION.thickness,
            tangent=SECTION.tangent,
            rear=REAR,
        )
    inner = LinerShape(500.0, 2500.0, LINER_SECTION, SECTION) if liner else None
    return RailShape(SECTION, FRONT, REAR, tail, inner)


def rail_table(rail: RailShape, holes: Sequence[Hole]) -> HoleTable:
    """The hole table of some features, in file order; those that lie within the liner go through it."""
    named = [replace(hole, feature=hole.feature or f"f{number}") for number, hole in enumerate(holes)]
    rows = [(side, hole) for hole in named for side in hole.sides]
    names = _names([hole for _, hole in rows])
    table = _rail_rows(rail, rows, names)
    liner = rail.liner
    if liner:
        ends = (table.station > liner.start) & (table.station < liner.end)
        met = (table.face == 0) | (table.across < liner.flange_edge)
        table = stacked([table, _through_liner(liner, table.rows(ends & met & (table.shape != MARK)))])
    return in_file_order(table)


def _names(holes: list[Hole]) -> Names:
    def used(values: list[str]) -> tuple[str, ...]:
        return tuple(sorted(set(values) - {""}))

    components = used([name for hole in holes for name in (hole.component, *hole.owners)])
    return Names(
        components,
        used([hole.feature for hole in holes]),
        used([hole.fastener for hole in holes]),
        used([hole.tool for hole in holes]),
    )


def _rail_rows(rail: RailShape, rows: list[tuple[str, Hole]], names: Names) -> HoleTable:
    holes = [hole for _, hole in rows]
    side = np.array([SIDES.index(name) for name, _ in rows], dtype=np.int64)
    face = np.array([FACES.index(hole.face) for hole in holes], dtype=np.int64)
    station, across, angle = (
        np.array([getattr(hole, name) for hole in holes], dtype=np.float64) for name in ("station", "across", "angle")
    )
    shape = np.array([SHAPES.index(hole.shape) for hole in holes], dtype=np.int64)
    panel = panel_of(rail, face, station, across).astype(np.int64)
    u, v = develop(rail, panel, station, across)
    turned = blank_angle(rail, panel, angle)
    owners = [tuple(dict.fromkeys((hole.component, *hole.owners))) for hole in holes]

    def index(values: Sequence[str], name: str) -> np.ndarray:
        found = [getattr(hole, name) for hole in holes]
        return np.array([values.index(value) if value else NONE for value in found], dtype=np.int64)

    return HoleTable(
        names=names,
        side=side,
        part=np.zeros(len(rows), dtype=np.int64),
        panel=panel,
        station=station,
        across=across,
        u=u,
        v=v,
        blank_x=np.where(side == 1, mirror_blank(u, rail.blank_length), u),
        shape=shape,
        diameter=np.where(shape == MARK, np.nan, [hole.diameter for hole in holes]),
        length=np.array([hole.length for hole in holes], dtype=np.float64),
        angle=angle,
        blank_angle=np.where(side == 1, mirror_angle(turned), turned),
        corner_radius=np.array([hole.corner_radius for hole in holes], dtype=np.float64),
        fastener=index(names.fasteners, "fastener"),
        operation=index(OPERATIONS, "operation"),
        locating=np.zeros(len(rows), dtype=np.bool_),
        strings=np.ones(len(rows), dtype=np.bool_),
        shareable=np.zeros(len(rows), dtype=np.bool_),
        component=index(names.components, "component"),
        instance=np.array([hole.instance for hole in holes], dtype=np.int64),
        feature=index(names.features, "feature"),
        tool=index(names.tools, "tool"),
        owner_start=np.cumsum([0, *map(len, owners)]),
        owners=np.array([names.components.index(name) for group in owners for name in group], dtype=np.int64),
    )


def _through_liner(liner: LinerShape, rows: HoleTable) -> HoleTable:
    u, v = develop_liner(liner, rows.face, rows.station, rows.across)
    turned = liner_blank_angle(rows.face, rows.angle)
    return rows.with_columns(
        part=np.full(len(rows), LINER),
        panel=rows.face,
        u=u,
        v=v,
        blank_x=np.where(rows.side == 1, mirror_blank(u, liner.length), u),
        blank_angle=np.where(rows.side == 1, mirror_angle(turned), turned),
        operation=np.where(rows.operation == COUNTERSINK, DRILL, rows.operation),
    )


FLUSH_SCREW = Fastener(
    kind="flush screw",
    diameter=16,
    pitch=1.5,
    stress_area=167,
    proof_stress=830,
    clamp=100,
    torque=250,
    friction=0.16,
    washer_outside=30,
    washer_thickness=4,
    socket_outside=38,
    head_height=9,
    nut_height=16,
    holes={"fine": 17, "medium": 17.5, "coarse": 18.5},
    countersink=Countersink(diameter=32, angle=90),
    source="invented for the tests",
)


def small_library(components: Sequence[Component] = ()) -> Library:
    """A library that holds a flush screw and some components, and nothing else."""
    return Library(
        folder="library",
        about=LibraryFile(name="small library", revision="A", press="press"),
        sections={},
        steels={},
        fasteners={"M16x1.5 flush": FLUSH_SCREW},
        presses={},
        finishing=cast(Finishing, None),
        limit_sets={},
        families={},
        options={},
        components={component.id: component for component in components},
        sources={"library.toml": "0" * 64, "components/bracket.toml": "1" * 64},
        files={},
    )


def resolved_order(rail: RailShape, serial: str = "P-1001", library: Library | None = None) -> ResolvedOrder:
    """An order for a rail, as far as files need it."""
    plain: dict[str, object] = {"serial": serial, "family": "plough-carrier", "build_date": datetime.date(2025, 1, 2)}
    if rail.liner:
        plain["liner"] = {"start": rail.liner.start, "end": rail.liner.end, "section": "280x76x6", "steel": "S500MC"}
    return ResolvedOrder(
        order=Order.model_validate(plain),
        library=library or small_library(),
        family=cast(Family, None),
        drive="left",
        section="300x90x9.5",
        steel="S700MC",
        rail_steel=STEEL,
        liner_steel=STEEL if rail.liner else None,
        dimensions={},
        anchors={},
        zones={},
        limit_set="house",
        rail=rail,
        components=tuple((library or small_library()).components.values()),
        bringing={},
        findings=(),
    )


def no_placements() -> Placements:
    """Placements of nothing."""
    empty, integers = np.empty(0), np.empty(0, dtype=np.int64)
    return Placements(integers, integers, integers, empty, empty)
