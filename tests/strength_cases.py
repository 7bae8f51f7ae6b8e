"""Serials for the strength tests: a few components on a straight rail of 300 x 90 x 9.5, planned for real."""

from __future__ import annotations

import datetime
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from railgen.data.component import Component
from railgen.data.library import Library, load_library
from railgen.data.order import Order
from railgen.frame.section import properties
from railgen.holes.table import FloatArray, IntArray
from railgen.layout.catalogue import compile_catalogue
from railgen.layout.plan import SerialPlan
from railgen.pipeline import plan

SMALL = Path(__file__).parent / "small_library"
Table = dict[str, Any]


@lru_cache(maxsize=1)
def stock() -> Library:
    """The small library of the tests."""
    return load_library(SMALL)


def component(id: str, station: float, **entries: Any) -> Table:
    """A component that stands at a station (mm) on both rails, without holes unless they are given."""
    plain: Table = {"name": id, "options": ["AAA01"], "kind": "bracket", "side": "both"}
    return plain | {"id": id, "position": {"anchor": "front_axle", "offset": station}} | entries


def web_holes(*places: tuple[float, float], fastener: str = "M16x1.5", **entries: Any) -> Table:
    """A hole group on the web: (station, height from mid-depth) of each hole, named a, b, c and so on."""
    features = [{"id": "abcdefghijklmnop"[number], "station": x, "across": z} for number, (x, z) in enumerate(places)]
    return {"face": "web", "datum": "middle", "fastener": fastener, "features": features} | entries


def planned(components: list[Table], **entries: Any) -> SerialPlan:
    """A serial of these components and nothing else; ``entries`` are the order's."""
    models = [Component.model_validate(entry) for entry in components]
    named = {model.id: model for model in sorted(models, key=lambda model: model.id)}
    library = replace(stock(), components=named)
    plain: Table = {
        "serial": "X-1",
        "family": "tractor",
        "build_date": datetime.date(2027, 1, 5),
        "options": ["AAA01"],
    }
    return plan(Order.model_validate(plain | entries), compile_catalogue(library))


def gross_modulus(serial: SerialPlan) -> float:
    """Section modulus of the rail without holes, mm3."""
    return properties(serial.order.rail.section).modulus_xx


def without_holes(serial: SerialPlan) -> Any:
    """A section modulus that no hole takes from."""
    modulus = gross_modulus(serial)

    def at(side: IntArray, station: FloatArray) -> FloatArray:
        return np.full(len(station), modulus)

    return at
