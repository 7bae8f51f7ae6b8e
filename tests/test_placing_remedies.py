"""Remedies: each shift applied clears its finding, none smaller does, and none is told where there is none."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from remedy_cases import CASES, STATION, Sweep, foot, holes, part, random_case, sample, swept

from railgen.data.findings import Finding
from railgen.holes.table import HoleTable
from railgen.layout.features import hole_table
from railgen.layout.plan import Placements
from railgen.placing.remedies import MOST, with_remedies
from railgen.placing.shifts import TOLD, Checks, Shift

STEP, FINE = 3.0, 0.05
"""mm: how finely smaller shifts are tried, and the last of them; bench_remedies tries every tenth."""


def _is_least(sweep: Sweep, finding: Finding, component: str, by: float, pitch: float | None = None) -> None:
    """The shift serves and none smaller does: of a float's steps none, of others none of what is tried."""
    assert sweep.serves(finding, component, by)
    if pitch:
        assert sweep.smaller_that_serves(finding, component, abs(by), pitch) is None
        return
    # What is told is rounded away from the clash to a tenth of a millimetre: one just below may serve.
    within = abs(by) - TOLD + 1e-9
    assert sweep.smaller_that_serves(finding, component, within, STEP) is None
    nearly = np.arange(max(within - 4 * FINE, FINE), within, FINE).tolist()
    assert not any(sweep.serves(finding, component, way * near) for near in nearly for way in (1, -1))


@pytest.mark.parametrize("name", list(CASES))
def test_the_least_shift_clears_a_finding_of_every_rule(name: str) -> None:
    sweep, rule = swept(CASES[name][0], **CASES[name][1]), name.partition(" ")[0]
    told = 0
    for finding, component, shift in sweep.told():
        if finding.rule == rule:
            assert shift is not None
            _is_least(sweep, finding, component, shift.by)
            told += 1
    assert told >= 2, "both components can be moved"


@pytest.mark.parametrize("seed", [0, 3])
def test_random_clashes(seed: int) -> None:
    """Among several components no smaller shift serves, and where none is told none does within 30 mm."""
    sweep = swept(random_case(seed))
    floats = {c.id: c.floating for c in sweep.order.components if c.floating}
    told = 0
    for finding, component, shift in sweep.told():
        window = floats.get(component)
        if shift is not None and not shift.widens:
            _is_least(sweep, finding, component, shift.by, window.pitch if window else None)
            told += 1
        elif shift is None:
            assert sweep.smaller_that_serves(finding, component, 30.0, window.pitch if window else STEP) is None
        elif window is not None:
            reach = window.most - window.least + window.pitch
            assert sweep.smaller_that_serves(finding, component, reach, window.pitch) is None
    assert told


def test_a_screw_beside_a_foot_is_told_from_screws_of_one_component_too_near_each_other() -> None:
    """Its own screws leave each other no room wherever it stands; the foot of another it can leave."""
    own = part("aa", 0, groups=[holes((0, 150), (0, 176))])
    sweep = swept([own, part("bb", 45, groups=[holes((0, 80))], footprints=[foot(-30, 30)])])
    finding = next(f for f in sweep.between if (f.rule, f.measure) == ("wrench-access", "radial"))
    assert any(f.rule == "wrench-access" and f.components == ("aa",) for f in sweep.planned.findings)
    shift = next(shift for shift in sweep.search().shifts(finding) if shift.component == "aa")
    _is_least(sweep, finding, "aa", shift.by)


@cache
def _clash() -> Sweep:
    """The sample with the deliberate clash of two fixed components."""
    return sample("P-1002")


def test_the_deliberate_clash_is_cleared_by_its_remedies() -> None:
    sweep, told = _clash(), 0
    for finding, component, shift in sweep.told():
        assert shift is not None
        assert sweep.serves(finding, component, shift.by)
        if shift.clean is not None:
            assert sweep.serves(finding, component, shift.clean)
            assert not [f for f in sweep.after(component, shift.clean) if f.severity == "error"]
            told += 1
    assert told, "the whole clash is cleared by what is said in brackets"


def test_no_smaller_shift_clears_the_deliberate_clash() -> None:
    sweep = _clash()
    for finding, component, shift in sweep.told():
        if component == "pump-bracket" and (finding.rule, finding.measure) == ("hole-spacing", "centre"):
            assert shift is not None
            assert sweep.smaller_that_serves(finding, component, abs(shift.by) - TOLD, 2.0) is None
            assert not sweep.serves(finding, component, shift.by - np.sign(shift.by) * TOLD)


def test_a_shift_brings_no_new_error_of_strength() -> None:
    """Rearward the component is clear sooner, but there the rail bends too much under it."""
    parts = [part("aa", -1000, mass=4980, groups=[holes((0, 150))]), part("bb", -1025, groups=[holes((0, 160))])]
    unloaded, loaded = swept(parts), swept(parts, loads={"dynamic_factor": 3.0})
    shifts = []
    for sweep in (unloaded, loaded):
        finding = next(f for f in sweep.between if (f.rule, f.measure) == ("hole-spacing", "centre"))
        shift = next(shift for shift in sweep.search().shifts(finding) if shift.component == "aa")
        _is_least(sweep, finding, "aa", shift.by)
        shifts.append(shift.by)
    assert shifts[1] < 0 < shifts[0]
    assert any(f.rule == "bending" and f.severity == "error" for f in loaded.after("aa", shifts[0]))


def test_findings_tell_their_remedy_in_words() -> None:
    sweep = _clash()
    found = with_remedies(sweep.order, sweep.catalogue, sweep.planned.placements, sweep.planned.findings, sweep.checks)
    for before, after in zip(sweep.planned.findings, found, strict=True):
        assert (before == after) == (before not in sweep.between)
        if before in sweep.between:
            assert "ove pump-bracket" in after.remedy
            assert " mm forward, to " in after.remedy or " mm rearward, to " in after.remedy


def test_a_finding_that_nothing_clears_says_so() -> None:
    """With a rule that is broken wherever the components stand, and whatever their holes measure."""
    sweep = swept(CASES["hole-spacing"][0])
    always = next(f for f in sweep.between if f.measure == "centre")
    plain = sweep.checks

    def stubborn(placed: Placements, table: HoleTable | None) -> list[Finding]:
        return [*plain.shapes(placed, table), always]

    checks = Checks(stubborn, plain.strength)
    found = with_remedies(sweep.order, sweep.catalogue, sweep.planned.placements, [always], checks)
    assert found[0].remedy.endswith("No other station of aa or bb and no other size clears it.")


def test_of_very_many_findings_the_first_have_their_remedies() -> None:
    sweep = swept(CASES["hole-spacing"][0])
    one = sweep.between[0]
    many = [replace(one, source=str(number)) for number in range(MOST + 1)]
    found = with_remedies(sweep.order, sweep.catalogue, sweep.planned.placements, many, sweep.checks)
    assert all("ove aa 17.6 mm forward" in finding.remedy for finding in found[:MOST])
    assert "first 200 findings" in found[MOST].remedy


def test_what_runs_up_to_a_station_is_not_moved_and_said_so() -> None:
    upto = {"greatest_pitch": 500, "to": {"anchor": "front_axle", "offset": STATION + 400}}
    parts = [part("aa", 0, repeat=upto, groups=[holes((0, 150))]), part("bb", 25, groups=[holes((0, 160))])]
    sweep = swept(parts)
    always = next(f for f in sweep.between if f.measure == "centre")
    assert {shift.component for shift in sweep.search().shifts(always)} == {"bb"}
    stubborn = Checks(lambda placed, table: [always], lambda placed, table: [])
    found = with_remedies(sweep.order, sweep.catalogue, sweep.planned.placements, [always], stubborn)
    assert found[0].remedy.endswith("aa cannot be moved as one, since the instances run up to a station.")


@pytest.mark.parametrize("by_operation", [False, True])
def test_where_no_station_helps_the_nearest_size_or_operation_does(by_operation: bool) -> None:
    """With a check that fails for every move another size, or the hole drilled, is all that is left."""
    sweep = swept(CASES["hole-spacing"][0])
    finding = next(f for f in sweep.between if f.measure == "centre")
    standing, plain = sweep.planned.placements, sweep.checks
    own = hole_table(sweep.order, sweep.catalogue, standing)

    def only_changed(placed: Placements, table: HoleTable | None) -> list[Finding]:
        changed = table is not None and (
            not np.array_equal(table.operation, own.operation)
            if by_operation
            else not np.array_equal(table.diameter, own.diameter)
        )
        return [] if changed and np.array_equal(placed.station, standing.station) else [finding]

    checks = Checks(only_changed, plain.strength)
    found = with_remedies(sweep.order, sweep.catalogue, standing, sweep.planned.findings, checks)
    words = found[sweep.planned.findings.index(finding)].remedy
    told = "Drill aa.1.f0 instead of punching it." if by_operation else "Make aa.1.f0 17.0 mm."
    assert words.endswith(told)


@pytest.mark.parametrize("widens", [False, True])
def test_a_wider_window_is_said_to_be_one(widens: bool) -> None:
    words = Shift("air-tank", -25.0, 1800.0, widens).told()
    assert ("widen the window of air-tank" in words) == widens
    assert words.endswith("25.0 mm forward, to 1800.0 mm")


def test_a_shift_out_of_all_errors_is_said_beside_the_least_one() -> None:
    words = Shift("pump", -25.0, 1800.0, False, -48.0).told()
    assert words == "move pump 25.0 mm forward, to 1800.0 mm (clear of every error 48.0 mm forward, at 1777.0 mm)"


def test_a_float_that_must_leave_its_window_is_told_to_widen_it() -> None:
    """A float whose window holds its preferred station only, beside one that stands in the way."""
    window = {"least": STATION, "most": STATION, "pitch": 5.0}
    aa, bb = CASES["hole-spacing"][0]
    sweep = swept([{**aa, "floating": window}, bb])
    finding = next(f for f in sweep.between if f.measure == "centre")
    shifts = {shift.component: shift for shift in sweep.search().shifts(finding)}
    assert (shifts["aa"].by, shifts["aa"].widens) == (-20.0, True)
    assert not shifts["bb"].widens
    assert sweep.serves(finding, "aa", -20.0)
    assert sweep.smaller_that_serves(finding, "aa", 20.0, 5.0, widens=True) is None


def test_whole_steps_are_found_among_intervals() -> None:
    from railgen.placing.open_steps import Steps

    steps = Steps(100.0, 2.0, ((80.0, 95.0), (103.0, 103.5), (109.9, 130.0)))
    assert steps.next_open(1, 1) == 5
    assert steps.next_open(-1, -1) == -3
    assert steps.least(lambda step: True, lambda step, way: None) == -3
    assert steps.least(lambda step: step in (-9, 8), lambda step, way: None) == 8
    assert steps.least(lambda step: False, lambda step, way: None) is None
    assert steps.least(lambda step: abs(step) > 6, lambda step, way: step + way) == 7
    assert replace(steps, intervals=()).least(lambda step: True, lambda step, way: None) is None
