"""What gives a part its shape: forming, straightening, taper, studs; and its inspection."""

from __future__ import annotations

from math import degrees

import numpy as np

from railgen.holes.table import FACES, NONE, STUD, IntArray
from railgen.shop.card_line import CardLine, line
from railgen.shop.flat_operations import locating_rows
from railgen.shop.forming import forming
from railgen.shop.operation import Task
from railgen.shop.part_work import PartWork


def form(work: PartWork) -> Task:
    """Form the flanges, one bend after the other."""
    plan = forming(work.section, work.steel, work.press.gauge_edge)
    bends = tuple(
        line(f"form.bend_{bend.flange}", number=number, blank_y=bend.blank_y, angle=bend.angle)
        for number, bend in enumerate(plan.bends, 1)
    )
    return Task(
        instructions=(line("form.hand", part=work.name), *bends),
        targets=(_section(work), line("form.radius", radius=plan.inside_radius)),
        limits=(line("form.least_radius", radius=plan.least_radius, steel=work.steel_name),),
        cautions=() if plan.radius_allowed else (line("form.too_tight"),),
        units=len(plan.bends),
    )


def straighten(work: PartWork) -> Task:
    """Straighten the formed part."""
    return Task(
        instructions=(line("straighten.cold"),),
        targets=(_section(work), line("straighten.angle")),
        limits=(line("straighten.no_heat"),),
    )


def taper(work: PartWork) -> Task | None:
    """Cut the wedge, turn the upper panel down, weld the seam, cut the rear end square."""
    shape = work.rail.taper if work.part == "rail" else None
    if shape is None:
        return None
    apex_station, apex_height = shape.apex
    cut = "taper.cut_in_blank" if shape.in_blank else "taper.cut"
    return Task(
        inputs=(line("taper.template"), line("taper.procedure", procedure=work.finishing.weld_procedure)),
        instructions=(
            line(cut, station=apex_station, height=apex_height, relief=shape.relief_diameter),
            line("taper.fold", station=shape.start, slope=degrees(shape.slope)),
            line("taper.weld", length=shape.seam_length),
            line("taper.trim", station=shape.rear),
        ),
        targets=(
            line("taper.end_depth", depth=shape.end_depth),
            line("taper.gap", gap=shape.root_gap),
        ),
        limits=(line("taper.relief", radius=shape.least_relief_radius),),
        cautions=(line("taper.flange"),),
        units=shape.seam_length / 1000,
    )


def stud(work: PartWork) -> Task | None:
    """Weld the studs at their marks."""
    rows = stud_rows(work)
    if not len(rows):
        return None
    holes = work.holes
    instructions = []
    for fastener in np.unique(holes.fastener[rows]).tolist():
        chosen = rows[holes.fastener[rows] == fastener]
        stations = holes.station[chosen]
        instructions.append(
            line(
                "stud.weld",
                count=len(chosen),
                fastener=line("stud.unnamed") if fastener == NONE else holes.names.fasteners[fastener],
                first=float(stations.min()),
                last=float(stations.max()),
            )
        )
    return Task(
        inputs=(line("stud.procedure", procedure=work.finishing.stud_procedure),),
        instructions=tuple(instructions),
        limits=(line("stud.square"),),
        cautions=(line("stud.flange"),),
        units=len(rows),
    )


def inspect(work: PartWork) -> Task:
    """Measure the part before it is peened."""
    rows = work.hole_rows
    counts = np.bincount(work.holes.face[rows], minlength=len(FACES)).tolist()
    instructions = [line("inspect.count", total=len(rows), **dict(zip(FACES, counts, strict=True)))]
    located = locating_rows(work)
    if len(located):
        instructions.append(_measured(work, located))
    if studs := len(stud_rows(work)):
        instructions.append(line("inspect.studs", studs=studs))
    instructions.append(line("inspect.edges"))
    return Task(
        inputs=(line("inspect.table"),),
        instructions=tuple(instructions),
        targets=(line("inspect.length", length=work.finished_length), *_depths(work)),
        limits=(line("inspect.last_chance"),),
        units=len(located),
        sign_off=("inspector", "date"),
    )


def stud_rows(work: PartWork) -> IntArray:
    """Rows of the welded studs that this part carries."""
    return np.flatnonzero(work.holes.operation == STUD)


def _measured(work: PartWork, located: IntArray) -> CardLine:
    stations = work.holes.station[located]
    return line("inspect.locating", count=len(located), first=float(stations.min()), last=float(stations.max()))


def _section(work: PartWork) -> CardLine:
    return line("form.section", depth=work.section.depth, flange=work.section.flange)


def _depths(work: PartWork) -> tuple[CardLine, ...]:
    shape = work.rail.taper if work.part == "rail" else None
    if shape is None:
        return (line("inspect.depth", depth=work.section.depth),)
    return (
        line("inspect.depth", depth=work.section.depth),
        line("inspect.end_depth", depth=shape.end_depth),
    )
