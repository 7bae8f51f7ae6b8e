"""At each limit no finding, a micrometre outside it none, a micrometre inside one: over 200 random rails.

Ratios are held a hundred-thousandth off their limits, counts by one more hole.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from at_limit_cases import CASES, pressed
from at_limit_rails import FIT, STUD, Draw, Table, bolts, draw, holes, part
from clearance_cases import Placed, pattern, row

from railgen.data.findings import Finding
from railgen.data.limit_sets import MEASURES
from railgen.rules.check import every_finding
from railgen.rules.pattern import Pattern

RAILS = 5  # of each case
MICROMETRE, RATIO = 1e-3, 1e-5
IN_RATIOS = {"press-limit force", "hole-size punch-stress"}
WITH_TAPER = {"weld-clearance hole", "ramp-flush proud", "ramp-flush recess"}
WITH_LINER = {"liner-edge hole", "liner-edge washer"}
BOTH_SIDES = {"taper-shape relief", "taper-shape seam-bend", "liner-fit proud", "liner-fit interference"}
BOTH_SIDES |= {"press-limit blank"}


def of_measure(found: Iterable[Finding], measure: str) -> list[Finding]:
    return [finding for finding in found if f"{finding.rule} {finding.measure}" == measure]


@pytest.mark.parametrize("seed", range(RAILS))
@pytest.mark.parametrize("case", CASES)
def test_at_outside_and_inside_a_limit(case: str, seed: int) -> None:
    measure = case.partition(",")[0]
    step = RATIO if measure in IN_RATIOS else MICROMETRE
    counts, severities = [], set()
    for shift in (0.0, step, -step):
        drawn = draw(hash_of(case, seed), measure in WITH_TAPER, measure in WITH_LINER)
        found = of_measure(every_finding(CASES[case](drawn, shift)), measure)
        counts.append(len(found))
        severities |= {finding.severity for finding in found}
    broken = 2 if measure in BOTH_SIDES else 1
    assert counts == [0, 0, broken]
    assert severities == {_severity(measure, drawn)}


def hash_of(case: str, seed: int) -> int:
    """A seed of its own for each case, the same in every run."""
    return 1000 * seed + sum(ord(letter) * (place + 1) for place, letter in enumerate(case))


def _severity(measure: str, drawn: Draw) -> str:
    own = {"off-rail outside", "duplicate-hole pair", "size-conflict pair"}  # held to the set's own row
    return "error" if measure in own else drawn.severity


def holes_in_flange(count: int) -> Pattern:
    """So many holes on one line across a flange."""
    return _counted("flange-hole count", 2, holes(*[(0.0, 38.0 + 16.0 * i) for i in range(count)], **FLANGE))


def flange_zone(count: int) -> Pattern:
    """So many holes in a flange where none may be."""
    group = holes(*[(100.0 * i, 60.0) for i in range(count)], **FLANGE)
    return _counted("flange-hole zone", 0, group, unit="violations")


def holes_in_web(count: int) -> Pattern:
    """So many web holes on one line."""
    return _counted("holes-in-line count", 3, holes(*[(0.0, 50.0 + 40.0 * i) for i in range(count)], diameter=12.0))


def centres_in_web(count: int) -> Pattern:
    """So many web holes with their centres within one radius of a line."""
    group = holes(*[(0.5 * i, 50.0 + 40.0 * i) for i in range(count)], diameter=12.0)
    return _counted("holes-in-line count", 3, group, counted="centres")


def studs_on_flange(count: int) -> Pattern:
    """So many studs where none may be welded."""
    group = holes(*[(100.0 * i, 60.0) for i in range(count)], face="top", shape="mark") | STUD
    return _counted("weld-clearance flange", 0, group, unit="violations")


def without_tool(count: int) -> Pattern:
    """A hole that the crib has a tool for, and so many that it has none for."""
    odd = [{"id": f"o{i}", "station": 100.0 * (i + 1), "across": 150.0, "diameter": 13.37} for i in range(count)]
    group = bolts((0.0, 150.0))
    made = _counted("press-limit tool", 0, group | {"features": [*group["features"], *odd]}, unit="violations")
    fitting = made.order.library.press.tools[0].model_copy(update={"shape": "round", "diameter": FIT})
    return pressed(made, tools=(fitting,))


FLANGE = {"face": "top", "diameter": 12.0}


def _counted(measure: str, limit: int, group: Table, **keys: str) -> Pattern:
    rule, name = measure.split()
    owner = part("a", *([group] if group["features"] else []), flange_holes=True)
    return pattern([Placed(owner, 1000.0)], rows=[row(rule, name, limit, **{"unit": "count"} | keys)])


COUNTED = {
    "flange-hole count": (holes_in_flange, 2),
    "flange-hole zone": (flange_zone, 0),
    "holes-in-line count": (holes_in_web, 3),
    "holes-in-line count, by centres": (centres_in_web, 3),
    "weld-clearance flange": (studs_on_flange, 0),
    "press-limit tool": (without_tool, 0),
}


@pytest.mark.parametrize("case", COUNTED)
def test_one_hole_fewer_as_many_and_one_more_than_allowed(case: str) -> None:
    build, allowed = COUNTED[case]
    counts = range(max(allowed - 1, 0), allowed + 2)
    found = [len(of_measure(every_finding(build(count)), case.partition(",")[0])) for count in counts]
    assert found[-1] == 1
    assert not any(found[:-1])


@pytest.mark.parametrize("seed", range(RAILS))
@pytest.mark.parametrize("measure", ["rail", "with-liner"])
def test_a_ratio_at_outside_and_inside_its_limit(measure: str, seed: int) -> None:
    """The limit is put a hundred-thousandth off the ratio that the holes leave."""
    drawn = draw(900 + seed, liner=True)
    places = [(0.0, drawn.middle + off) for off in (-70.0, 0.0, 70.0)]
    holed = part("a", holes(*places, diameter=drawn.rng.uniform(15.0, 40.0)))

    def found(limit: float) -> list[Finding]:
        made = drawn.of(f"net-section {measure}", holed, limit=limit, unit="ratio")
        return of_measure(every_finding(made), f"net-section {measure}")

    least = min(finding.value for finding in found(0.9999) if finding.value is not None)
    assert [len(found(least + shift)) for shift in (0.0, -RATIO, RATIO)] == [0, 0, 1]


def test_every_measure_that_has_a_limit_is_held_to_it_here() -> None:
    elsewhere = {
        "taper-shape upset": "a note",
        "option-rule": "held in the tests of the layout",
        "bending": "in those of strength",
        "joint": "in those of strength",
        "grip": "in those of the kit",
        "drain": "in those of coating",
    }
    here = {case.partition(",")[0] for case in (*CASES, *COUNTED)} | {"net-section rail", "net-section with-liner"}
    every = {f"{rule} {measure}" for rule, measures in MEASURES.items() for measure in measures}
    assert not {name for name in every - here if not {name, name.split()[0]} & set(elsewhere)}
