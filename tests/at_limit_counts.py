"""Holes and studs in numbers, to be held to the limits that are counts; and the cases of them.

Each takes how many there are to be, and the limit row that holds.
"""

from __future__ import annotations

from collections.abc import Callable

from at_limit_rails import FIT, STUD, Table, bolts, holes, part
from at_limit_shapes import pressed
from builders import FRONT, REAR, SECTION
from clearance_cases import Placed, pattern, row

from railgen.frame.rail import RailShape
from railgen.frame.section import Section, neutral_line_factor
from railgen.rules.pattern import Pattern

FLANGE = {"face": "top", "diameter": 12.0}


def holes_in_flange(count: int, held: Table) -> Pattern:
    """So many holes on one line across a flange."""
    return _counted(held, holes(*[(0.0, 38.0 + 16.0 * i) for i in range(count)], **FLANGE))


def flange_zone(count: int, held: Table) -> Pattern:
    """So many holes in a flange where none may be."""
    return _counted(held, holes(*[(100.0 * i, 60.0) for i in range(count)], **FLANGE))


def holes_in_web(count: int, held: Table) -> Pattern:
    """So many web holes on one line."""
    return _counted(held, holes(*[(0.0, 45.0 + 32.0 * i) for i in range(count)], diameter=12.0))


def centres_in_web(count: int, held: Table) -> Pattern:
    """So many web holes with their centres within one radius of a line."""
    return _counted(held, holes(*[(0.5 * i, 45.0 + 32.0 * i) for i in range(count)], diameter=12.0))


def studs_on_flange(count: int, held: Table) -> Pattern:
    """So many studs where none may be welded."""
    return _counted(held, holes(*[(100.0 * i, 60.0) for i in range(count)], face="top", shape="mark") | STUD)


def without_tool(count: int, held: Table) -> Pattern:
    """A hole that the crib has a tool for, and so many that it has none for."""
    odd = [{"id": f"o{i}", "station": 100.0 * (i + 1), "across": 150.0, "diameter": 13.37} for i in range(count)]
    group = bolts((0.0, 150.0))
    made = _counted(held, group | {"features": [*group["features"], *odd]})
    fitting = made.order.library.press.tools[0].model_copy(update={"shape": "round", "diameter": FIT})
    return pressed(made, tools=(fitting,))


def _counted(held: Table, group: Table) -> Pattern:
    """On a rail of the least depth that the row is for."""
    owner = part("a", *([group] if group["features"] else []), flange_holes=True)
    depth = held.get("when", {}).get("depth", {}).get("below", SECTION.depth + 10.0) - 10.0
    shape = Section(depth, SECTION.flange, SECTION.thickness, 24.0, neutral_line_factor(24.0, SECTION.thickness))
    return pattern([Placed(owner, 1000.0)], RailShape(shape, FRONT, REAR, None, None), [held])


def counts(rule: str, measure: str, allowed: int, **keys: str) -> Table:
    """A row that allows so many."""
    return row(rule, measure, allowed, **{"unit": "count"} | keys)


COUNTED: dict[str, tuple[Callable[[int, Table], Pattern], Table]] = {
    "flange-hole count": (holes_in_flange, counts("flange-hole", "count", 2)),
    "flange-hole zone": (flange_zone, counts("flange-hole", "zone", 0, unit="violations")),
    "holes-in-line count": (holes_in_web, counts("holes-in-line", "count", 3)),
    "holes-in-line count, by centres": (centres_in_web, counts("holes-in-line", "count", 3, counted="centres")),
    "weld-clearance flange": (studs_on_flange, counts("weld-clearance", "flange", 0, unit="violations")),
    "press-limit tool": (without_tool, counts("press-limit", "tool", 0, unit="violations")),
}
"""Cases and what they are held to, by rule and measure."""
