"""At each limit no finding, a micrometre outside it none, a micrometre inside one: over 200 random rails.

Ratios are held a hundred-thousandth off their limits, counts by one more hole.
"""

from __future__ import annotations

from collections.abc import Iterable

import pytest
from at_limit_cases import CASES
from at_limit_counts import COUNTED
from at_limit_rails import Draw, draw, holes, part

from railgen.data.findings import Finding
from railgen.rules.check import every_finding

RAILS = 5  # of each case
MICROMETRE, RATIO = 1e-3, 1e-5
IN_RATIOS = {"press-limit force", "hole-size punch-stress"}
WITH_TAPER = {"weld-clearance hole", "ramp-flush proud", "ramp-flush recess"}
WITH_LINER = {"liner-edge hole", "liner-edge washer"}
BOTH_SIDES = {"taper-shape relief", "taper-shape seam-bend", "taper-shape upset"}
BOTH_SIDES |= {"liner-fit proud", "liner-fit interference", "press-limit blank"}


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


@pytest.mark.parametrize("case", COUNTED)
def test_one_hole_fewer_as_many_and_one_more_than_allowed(case: str) -> None:
    build, held = COUNTED[case]
    numbers = range(max(held["error"] - 1, 0), held["error"] + 2)
    found = [len(of_measure(every_finding(build(count, held)), case.partition(",")[0])) for count in numbers]
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
