"""What gives a part its shape: forming, straightening, taper, studs; and its inspection."""

from __future__ import annotations

from math import degrees

import numpy as np

from railgen.data.inspection import REFERENCE_TEMPERATURE
from railgen.data.messages import InputError, Problem
from railgen.frame.measure import STEEL_DENSITY
from railgen.frame.taper import TaperShape
from railgen.holes.table import FACES, NONE, STUD, IntArray
from railgen.shop.card_line import CardLine, line
from railgen.shop.forming import FLANGE_ANGLE, Forming, bending_force, forming
from railgen.shop.measuring import measuring_plan, warm_stretch
from railgen.shop.operation import Task
from railgen.shop.part_work import PartWork


def form(work: PartWork) -> Task:
    """Form the flanges, one bend after the other. Raises InputError where the steel has no forming data."""
    plan, press = _forming(work), work.finishing.forming
    bends = tuple(
        line(f"form.bend_{bend.flange}", number=number, blank_y=bend.blank_y, angle=bend.angle)
        for number, bend in enumerate(plan.bends, 1)
    )
    opening = press.die_opening * work.thickness
    force = bending_force(work.steel, work.thickness, work.blank_length, press) / 1000
    limits = [line("form.least_radius", radius=plan.least_radius, steel=work.steel_name)]
    cautions = [] if plan.radius_allowed else [line("form.too_tight")]
    if press.force is not None:
        limits.append(line("form.press", force=press.force, share=force / press.force))
        cautions += [line("form.over")] if force > press.force else []
    return Task(
        inputs=(line("form.hand", part=work.name),),
        instructions=bends,
        targets=(
            line("form.section", depth=work.section.depth, flange=work.section.flange),
            line("form.radius", radius=plan.inside_radius),
            line("form.spring_back", angle=plan.bends[0].angle - FLANGE_ANGLE),
            line("form.force", force=force, opening=opening, source=press.source),
        ),
        limits=tuple(limits),
        cautions=tuple(cautions),
        units=len(plan.bends),
    )


def straighten(work: PartWork) -> Task:
    """Straighten the formed part."""
    return Task(
        instructions=(line("straighten.cold"),),
        targets=form_tolerances(work),
        limits=(line("straighten.no_heat"),),
    )


def form_tolerances(work: PartWork) -> tuple[CardLine, ...]:
    """How far depth, flanges, their angle, bow, camber and twist may be off over the part's length."""
    held, metres = work.finishing.form, work.finished_length / 1000
    return (
        line("straighten.depth", depth=work.section.depth, limit=held.depth),
        line("straighten.flange", flange=work.section.flange, limit=held.flange),
        line("straighten.angle", limit=held.angle),
        line("straighten.bow", limit=held.bow * metres, each=held.bow),
        line("straighten.camber", limit=held.camber * metres, each=held.camber),
        line("straighten.twist", limit=held.twist * metres, each=held.twist, source=held.source),
    )


def _forming(work: PartWork) -> Forming:
    """The bends. Raises InputError, naming the file, where the steel has no forming data."""
    try:
        return forming(work.section, work.steel, work.press.gauge_edge)
    except ValueError as error:
        place = f"steels.{work.steel_name}.bands, {work.thickness:g} mm: spring_back"
        allowed = "degrees that a flange opens after forming: without it the flanges cannot be formed"
        file = f"{work.plan.order.library.folder}/steels.toml"
        raise InputError([Problem(file, place, "nothing", allowed)]) from error


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
            line("taper.weld", length=shape.seam_length, thickness=work.thickness, metal=_weld_metal(work, shape)),
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


def _weld_metal(work: PartWork, shape: TaperShape) -> float:
    """Mass (g) of weld metal that fills the root gap, its cap not counted."""
    return shape.root_gap * work.thickness * shape.seam_length * STEEL_DENSITY * 1000


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
    plan = measuring_plan(work)
    instructions = [line("inspect.count", total=len(rows), **dict(zip(FACES, counts, strict=True)))]
    if len(plan):
        instructions += [line("inspect.plan", count=len(plan)), line("inspect.tolerances")]
    if studs := len(stud_rows(work)):
        instructions.append(line("inspect.studs", studs=studs))
    instructions.append(line("inspect.edges"))
    length = work.finished_length
    stretch = line(
        "inspect.temperature", reference=REFERENCE_TEMPERATURE, metre=warm_stretch(1000.0), whole=warm_stretch(length)
    )
    return Task(
        inputs=(line("inspect.table"), stretch),
        instructions=tuple(instructions),
        targets=(line("inspect.length", length=length), *_depths(work), *form_tolerances(work)[2:]),
        limits=(line("inspect.last_chance"),),
        units=len(plan),
        sign_off=("inspector", "date"),
    )


def stud_rows(work: PartWork) -> IntArray:
    """Rows of the welded studs that this part carries."""
    return np.flatnonzero(work.holes.operation == STUD)


def _depths(work: PartWork) -> tuple[CardLine, ...]:
    shape = work.rail.taper if work.part == "rail" else None
    if shape is None:
        return (line("inspect.depth", depth=work.section.depth),)
    return (
        line("inspect.depth", depth=work.section.depth),
        line("inspect.end_depth", depth=shape.end_depth),
    )
