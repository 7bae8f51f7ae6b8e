"""What is done to a part while it is flat: blank, locating holes, punching, drilling, dressing, deburring."""

from __future__ import annotations

import numpy as np

from railgen.data.stock import Countersink
from railgen.holes.shapes import perimeters
from railgen.holes.table import COUNTERSINK, DRILL, MARK, NONE, PUNCH, IntArray
from railgen.shop.card_line import CardLine, line
from railgen.shop.operation import Task
from railgen.shop.part_work import PartWork
from railgen.shop.sizes import SizeGroup, group_by_size
from railgen.shop.strings import SCALLOP_LIMIT
from railgen.shop.tools import ToolUse, needs_tool, tool_uses


def blank(work: PartWork) -> Task:
    """Cut the blank to size and name it."""
    taper = work.rail.taper if work.part == "rail" else None
    instructions = [line("blank.cut", length=work.blank_length, width=work.blank_width)]
    if taper and taper.in_blank:
        instructions.append(line("blank.wedge", relief=taper.relief_diameter))
    if taper and taper.trim > 0:
        instructions.append(line("blank.trim", trim=taper.trim))
    instructions.append(line("blank.identify", serial=work.plan.serial, part=work.name))
    press = work.press
    return Task(
        inputs=(
            line(
                "blank.steel",
                steel=work.steel_name,
                standard=work.steel_standard,
                thickness=work.thickness,
            ),
        ),
        instructions=tuple(instructions),
        targets=(line("blank.mass", mass=work.blank_mass),),
        limits=(
            line(
                "blank.press",
                length=press.longest_blank,
                width=press.widest_blank,
                thickness=press.thickest_blank,
            ),
        ),
        units=work.blank_length / 1000,
        records=("coil", "heat"),
    )


def locating(work: PartWork) -> Task | None:
    """Punch the locating holes, before any other."""
    rows = locating_rows(work)
    if not len(rows):
        return None
    holes = work.holes
    rows = rows[np.argsort(holes.blank_x[rows], kind="stable")]
    first, last = rows[0], rows[-1]
    return Task(
        inputs=(_gauge(work),),
        instructions=(
            *(_hits(use) for use in tool_uses(holes, work.press, rows, work.strokes)),
            line(
                "locating.span",
                first_x=float(holes.blank_x[first]),
                first_y=float(holes.v[first]),
                last_x=float(holes.blank_x[last]),
                last_y=float(holes.v[last]),
            ),
        ),
        targets=(_force(work, rows),),
        limits=(_press_force(work),),
        cautions=(line("locating.first"), *_over_force(work, rows), *_without_tool(work, rows)),
        units=len(rows),
    )


def punch(work: PartWork) -> Task | None:
    """Punch all other holes and the marks, flat."""
    marks = np.flatnonzero(work.holes.shape == MARK)
    located = locating_rows(work)
    rows = np.setdiff1d(np.flatnonzero(needs_tool(work.holes)), located)
    if not len(rows):
        return None
    holes = np.setdiff1d(rows, marks)
    tools = len({use.tool.id for use in tool_uses(work.holes, work.press, holes, work.strokes) if use.tool})
    instructions = [line("punch.holes", holes=len(holes), tools=tools)] if len(holes) else []
    if len(marks):
        instructions.append(line("punch.marks", marks=len(marks)))
    instructions.append(line("punch.stamp"))
    return Task(
        inputs=(*(() if len(located) else (_gauge(work),)), line("punch.setup", mounted=work.press.mounted_tools)),
        instructions=tuple(instructions),
        targets=(_force(work, holes),) if len(holes) else (),
        limits=(_press_force(work),),
        cautions=(line("punch.face"), *_over_force(work, rows), *_without_tool(work, rows)),
        units=len(rows),
    )


def drill(work: PartWork) -> Task | None:
    """Drill and countersink what is not punched."""
    drilled = np.flatnonzero(work.holes.operation == DRILL)
    sunk = np.flatnonzero(work.holes.operation == COUNTERSINK)
    if not len(drilled) + len(sunk):
        return None
    instructions = [
        line("drill.holes", count=group.count, size=group.name)
        for group in group_by_size(work.holes, np.concatenate([drilled, sunk]))
    ]
    instructions += [_sink(work, group) for group in _by_fastener(work, sunk)]
    return Task(
        instructions=tuple(instructions),
        targets=(line("drill.flush"),) if len(sunk) else (),
        cautions=(line("drill.before_forming"),),
        units=len(drilled) + len(sunk),
    )


def dress(work: PartWork) -> Task | None:
    """Dress the edges of openings that strings of hits have cut."""
    if not work.strings:
        return None
    rows = np.array(sorted(work.strings), dtype=np.int64)
    instructions = [
        line(
            "dress.openings",
            count=group.count,
            size=group.name,
            first=float(work.holes.blank_x[group.rows].min()),
            last=float(work.holes.blank_x[group.rows].max()),
            scallop=max(work.strings[row].scallop for row in group.rows.tolist()),
        )
        for group in group_by_size(work.holes, rows)
    ]
    return Task(
        instructions=tuple(instructions),
        targets=(line("dress.smooth"),),
        limits=(line("dress.limit", scallop=SCALLOP_LIMIT),),
        cautions=(line("dress.fasteners"),),
        units=len(rows),
    )


def deburr(work: PartWork) -> Task:
    """Take the burr off holes and edges on both faces."""
    holes = work.hole_rows
    edge = float(perimeters(work.holes, np.full(len(work.holes), work.thickness)).sum()) / 1000
    instructions = [line("deburr.holes", holes=len(holes), edge=edge), line("deburr.edges")]
    liner = work.rail.liner
    limits = []
    if liner:
        limits.append(line(f"deburr.mating_{work.part}", start=liner.start, end=liner.end))
    return Task(instructions=tuple(instructions), limits=tuple(limits), units=len(holes))


def locating_rows(work: PartWork) -> IntArray:
    """Rows of the punched locating holes."""
    holes = work.holes
    return np.flatnonzero(holes.locating & (holes.operation == PUNCH) & (holes.shape != MARK))


def _gauge(work: PartWork) -> CardLine:
    press = work.press
    return line("press.gauge", edge=line(f"gauge.{press.gauge_edge}"), end=line(f"gauge.{press.gauge_end}"))


def _hits(use: ToolUse) -> CardLine:
    tool = use.tool.id if use.tool else line("tool.none")
    return line("locating.hits", hits=use.hits, size=use.size.name, tool=tool)


def _force(work: PartWork, rows: IntArray) -> CardLine:
    return line("press.greatest", force=float(work.forces[rows].max()) / 1000)


def _press_force(work: PartWork) -> CardLine:
    share = float(work.forces.max()) / 1000 / work.press.force
    return line("press.force", name=work.press.name, force=work.press.force, share=share)


def _over_force(work: PartWork, rows: IntArray) -> tuple[CardLine, ...]:
    return (line("press.over"),) if (work.forces[rows] > work.press.force * 1000).any() else ()


def _without_tool(work: PartWork, rows: IntArray) -> tuple[CardLine, ...]:
    count = int(np.count_nonzero(needs_tool(work.holes)[rows] & (work.holes.tool[rows] == NONE)))
    return (line("tool.missing", count=count),) if count else ()


def _by_fastener(work: PartWork, rows: IntArray) -> list[tuple[str, SizeGroup]]:
    """Groups of one size with their one fastener's name, fasteners in the table's order."""
    groups = []
    for fastener in np.unique(work.holes.fastener[rows]).tolist():
        name = "" if fastener == NONE else work.holes.names.fasteners[fastener]
        chosen = rows[work.holes.fastener[rows] == fastener]
        groups += [(name, group) for group in group_by_size(work.holes, chosen)]
    return groups


def _sink(work: PartWork, named: tuple[str, SizeGroup]) -> CardLine:
    name, group = named
    fastener = work.plan.order.library.fasteners.get(name)
    seat: Countersink | None = fastener.countersink if fastener else None
    if seat is None:
        return line("drill.countersink_plain", count=group.count, size=group.name)
    return line("drill.countersink", count=group.count, fastener=name, diameter=seat.diameter, angle=seat.angle)
