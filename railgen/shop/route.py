"""The route of a part through the shop: only the operations that apply to it, in the order of the library."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from railgen.frame.rail import Part
from railgen.layout.plan import SerialPlan
from railgen.shop import finish_operations, flat_operations, form_operations
from railgen.shop.operation import Operation, Task, standard_minutes
from railgen.shop.part_work import PartWork, part_work

_NUMBER_STEP = 10  # room on a card for an operation written in by hand

TASKS: Mapping[str, Callable[[PartWork], Task | None]] = {
    "blank": flat_operations.blank,
    "locating": flat_operations.locating,
    "punch": flat_operations.punch,
    "drill": flat_operations.drill,
    "dress": flat_operations.dress,
    "deburr": flat_operations.deburr,
    "form": form_operations.form,
    "straighten": form_operations.straighten,
    "taper": form_operations.taper,
    "stud": form_operations.stud,
    "inspect": form_operations.inspect,
    "peen": finish_operations.peen,
    "clean": finish_operations.clean,
    "coat": finish_operations.coat,
    "nest": finish_operations.nest,
    "rack": finish_operations.rack,
}
"""What is done at each operation of the library, None where a part does not need it."""


def route(plan: SerialPlan, part: Part, side: str) -> tuple[Operation, ...]:
    """Operations of a part ("rail" or "liner") of a side ("LH" or "RH"), in shop order.

    Raises ValueError when a liner is asked for and there is none, InputError when the library has no peening
    data for the part's thickness.
    """
    return route_of(part_work(plan, part, side))


def route_of(work: PartWork) -> tuple[Operation, ...]:
    """As `route`, from work already gathered."""
    tasks = [(kind, TASKS[kind](work)) for kind in work.finishing.operations]
    needed = [(kind, task) for kind, task in tasks if task is not None]
    return tuple(
        Operation(
            number=place * _NUMBER_STEP,
            kind=kind,
            minutes=standard_minutes(work.finishing, kind, task),
            **vars(task),
        )
        for place, (kind, task) in enumerate(needed, 1)
    )
