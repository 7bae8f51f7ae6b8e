"""Drawings of plans made up for the tests, drawn once for all tests of a run."""

from __future__ import annotations

import re
from functools import cache
from io import BytesIO

import pytest
from builders import rail_shape, rail_table
from builders_plan import finding, made_plan, plan_of
from pypdf import PdfReader

from railgen.layout.plan import SerialPlan
from railgen.papers.drawing import draw, drawing_pdf
from railgen.papers.elevation_layout import ElevationLayout, elevation_layouts
from railgen.papers.part import drawn_liner, drawn_rail
from railgen.papers.sheet import Drawing
from railgen.papers.subject import subject_of

POINTS_PER_MM = 72 / 25.4
PLANS = {
    "bare": lambda: made_plan(1, 25, 0),
    "tapered": lambda: made_plan(2, 35, 30, rail_shape("after-forming")),
    "lined": lambda: made_plan(3, 40, 25, rail_shape(liner=True)),
    "crowded": lambda: made_plan(4, 110, 120),
    "hopeless": lambda: made_plan(5, 130, 90, rail_shape("in-blank"), (1000.0, 1150.0)),
    "empty": lambda: plan_of(rail_shape(), rail_table(rail_shape(), []), (finding((), side="", station_mm=None),)),
}


every_plan = pytest.mark.parametrize("name", PLANS)


@cache
def plan(name: str) -> SerialPlan:
    return PLANS[name]()


@cache
def drawing(name: str) -> Drawing:
    return draw(plan(name))


@cache
def pdf(name: str) -> bytes:
    return drawing_pdf(plan(name))


Layouts = tuple[tuple[ElevationLayout, ...], tuple[ElevationLayout, ...]]


def layouts_of(made: SerialPlan) -> Layouts:
    """Elevation sheets of the rails, LH and RH."""
    return elevation_layouts(subject_of(made), drawn_rail(made.order.rail))


@cache
def layouts(name: str) -> Layouts:
    return layouts_of(plan(name))


@cache
def liner_layouts(name: str) -> Layouts:
    """Elevation sheets of the liners, LH and RH; none where there are none."""
    part = drawn_liner(plan(name).order.rail)
    return elevation_layouts(subject_of(plan(name)), part) if part else ((), ())


def all_layouts(name: str) -> list[ElevationLayout]:
    return [layout for side in (*layouts(name), *liner_layouts(name)) for layout in side]


@cache
def page_words(data: bytes) -> tuple[str, ...]:
    """The words of each page, single spaces between them."""
    return tuple(re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(BytesIO(data)).pages)


def words_of(data: bytes) -> str:
    return " ".join(page_words(data))
