"""Planned serials with a press, finishing data and steels, for the tests of the shop and its papers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np
from builders import STEEL, Hole, no_placements, rail_shape, rail_table, resolved_order, small_library

from railgen.data.component import Family
from railgen.data.findings import Finding
from railgen.data.library import Library, LibraryFile
from railgen.data.plant import Finishing, Press
from railgen.data.stock import Steel
from railgen.holes.table import HoleTable
from railgen.layout.plan import SerialPlan
from railgen.shop.strings import with_string_tools

PRESS = Press.model_validate(
    {
        "id": "blank-press",
        "name": "Blank press 1",
        "force": 2000.0,
        "longest_blank": 12000.0,
        "widest_blank": 700.0,
        "thickest_blank": 10.0,
        "reach": 700.0,
        "along": {"speed": 800.0, "acceleration": 4000.0},
        "across": {"speed": 600.0, "acceleration": 4000.0},
        "hit_time": 0.5,
        "change_time": 4.0,
        "load_time": 90.0,
        "reposition_time": 6.0,
        "mounted_tools": 12,
        "tools": [
            {"id": "R 13", "shape": "round", "diameter": 13.0},
            {"id": "R 17", "shape": "round", "diameter": 17.0, "hits_since_regrind": 1200},
            {"id": "R 17.5", "shape": "round", "diameter": 17.5},
            {"id": "R 25", "shape": "round", "diameter": 25.0},
            {"id": "S 18x40", "shape": "slot", "diameter": 18.0, "length": 40.0, "angles": [0.0, 90.0]},
            {
                "id": "Q 40x70",
                "shape": "rectangle",
                "diameter": 40.0,
                "length": 70.0,
                "corner_radius": 5.0,
                "angles": [0.0],
            },
            {"id": "Q 40x40", "shape": "rectangle", "diameter": 40.0, "length": 40.0, "angles": [0.0]},
            {"id": "Marker", "shape": "mark"},
        ],
    }
)

FINISHING = Finishing.model_validate(
    {
        "peening": {
            "bands": [
                {
                    "thickness_from": 2.286,
                    "thickness_below": 9.525,
                    "intensity_least": 0.20,
                    "intensity_most": 0.30,
                    "gauge": "A",
                    "source": "AMS-S-13165 table VI",
                },
                {
                    "thickness_from": 9.525,
                    "thickness_below": 25.4,
                    "intensity_least": 0.30,
                    "intensity_most": 0.41,
                    "gauge": "A",
                    "source": "AMS-S-13165 table VI",
                },
            ],
            "shot": "cast steel, 0.8 mm",
            "coverage": 98.0,
            "single_pass_coverage": 0.7,
            "ring_width": 20.0,
            "travel_speed": 25.0,
            "highest_temperature_after": 246.0,
            "temperature_source": "AMS 2430",
        },
        "coating": {
            "film_least": 25.0,
            "film_most": 35.0,
            "solids_density": 1300.0,
            "coulombic_yield": 30.0,
            "bake_temperature": 175.0,
            "bake_minutes": 25.0,
            "source": "trade journal, electrocoat question column",
        },
        "rack": {
            "longest_part": 11500.0,
            "highest_mass": 900.0,
            "slope": 3.0,
            "open_side": "down",
            "tank_length": 12500.0,
            "oven_length": 13000.0,
        },
        "times": {
            "blank": {"fixed": 6.0},
            "locating": {"fixed": 1.0, "each": 0.05},
            "punch": {"fixed": 4.0, "each": 0.02},
            "drill": {"fixed": 5.0, "each": 0.6},
            "form": {"fixed": 3.0, "each": 2.0},
            "taper": {"fixed": 20.0, "each": 12.0},
            "stud": {"fixed": 3.0, "each": 0.3},
            "peen": {"fixed": 8.0, "each": 0.2},
        },
        "weld_procedure": "WPS-RAIL-04",
        "stud_procedure": "WPS-STUD-02",
    }
)

FAMILY = Family.model_validate(
    {
        "id": "plough-carrier",
        "name": "Plough carrier",
        "serial_prefix": "P",
        "drive": "left",
        "section": "300x90x9.5",
        "steel": "S700MC",
        "dimensions": {
            name: {"least": 0.0, "most": 20000.0, "default": 5000.0}
            for name in ("wheelbase", "axle_spread", "front_overhang", "rear_overhang", "frame_width")
        },
        "anchors": {"last_axle": {}, "front_hanger": {}},
    }
)

HOLES = (
    Hole(-900.0, 60.0),
    Hole(-900.0, 240.0),
    Hole(0.0, 150.0, 25.0, component="hanger"),
    Hole(0.0, 100.0, 17.0, fastener="M16x1.5", component="hanger"),
    Hole(300.0, 100.0, 18.0, shape="slot", length=40.0, component="stay"),
    Hole(1000.0, 150.0, 40.0, shape="rectangle", length=70.0, corner_radius=5.0, component="passage"),
    Hole(1200.0, 180.0, 17.5, operation="countersink", fastener="M16x1.5 flush", component="ramp"),
    Hole(1500.0, 120.0, 9.0, operation="drill", component="clamp"),
    Hole(-950.0, 60.0, 17.0, face="top", component="plate"),
    Hole(2800.0, 150.0, shape="mark", operation="stud", fastener="stud M8", component="stand-off"),
    Hole(4900.0, 60.0),
)
LOCATING_STATIONS = (-900.0, 4900.0)


def shop_library() -> Library:
    """The small library with a press, finishing data, steels and a family."""
    steel = Steel(standard="EN 10149-2", bands=(STEEL,))
    return replace(
        small_library(),
        about=LibraryFile(name="small library", revision="A", press=PRESS.id),
        presses={PRESS.id: PRESS},
        finishing=FINISHING,
        steels={"S700MC": steel, "S500MC": steel},
    )


def shop_plan(
    taper: Literal["", "after-forming", "in-blank"] = "",
    liner: bool = False,
    holes: Sequence[Hole] = HOLES,
    library: Library | None = None,
    findings: tuple[Finding, ...] = (),
) -> SerialPlan:
    """A serial with its tools assigned; web holes at LOCATING_STATIONS are locating ones."""
    library = library or shop_library()
    rail = rail_shape(taper, liner)
    order = replace(resolved_order(rail, library=library), family=FAMILY)
    table = with_tools(rail_table(rail, holes), library.press, order.thickness_of("rail"))
    located = np.isin(table.station, LOCATING_STATIONS) & (table.face == 0)
    return SerialPlan(order, no_placements(), table.with_columns(locating=located), findings)


def with_tools(table: HoleTable, press: Press, thickness: float) -> HoleTable:
    """The table with the press's tools, one thickness for all rows (mm)."""
    named = replace(table, names=replace(table.names, tools=tuple(tool.id for tool in press.tools)))
    return named.with_columns(tool=with_string_tools(named, press, np.full(len(table), thickness)))
