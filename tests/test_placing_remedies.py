"""Remedies: each shift applied clears its finding, none smaller does, and none is told where there is none."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pytest
from greedy import place_greedily
from placing_world import DEMO, catalogue_of, some_orders

from railgen.data.findings import Finding
from railgen.data.order_files import read_order
from railgen.holes.table import HoleTable
from railgen.layout.features import hole_table
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.layout.resolve import resolve
from railgen.placing.remedies import Search, Shift, is_between, with_remedies
from railgen.rules.check import every_finding
from railgen.rules.pattern import pattern_of

SAMPLES = DEMO.parent / "samples"
TOLD = 0.1
"""mm; what shifts are rounded to."""


@dataclass(frozen=True)
class Checked:
    """An order with its components placed, and a check of it that knows nothing of remedies."""

    order: ResolvedOrder
    standing: Placements
    findings: tuple[Finding, ...]

    def check(self, placed: Placements, table: HoleTable | None = None) -> list[Finding]:
        catalogue = catalogue_of()
        holes = hole_table(self.order, catalogue, placed) if table is None else table
        return every_finding(pattern_of(self.order, holes, placed))

    def search(self) -> Search:
        return Search(self.order, catalogue_of(), self.standing, self.findings, self.check)

    def after(self, component: str, by: float) -> list[Finding]:
        rows = self.standing.component == catalogue_of().index[component]
        return self.check(replace(self.standing, station=self.standing.station + np.where(rows, by, 0.0)))

    def is_cleared(self, finding: Finding, component: str, by: float, in_no_error: bool = True) -> bool:
        """By names: the finding is gone (an error as an error), and no error names the component, or none is new."""
        after = self.after(component, by)
        graver = ("error",) if finding.severity == "error" else ("error", "warning")
        gone = _name(finding) not in {_name(f) for f in after if f.severity in graver}
        before = {_name(f) for f in self.findings if f.severity == "error"}
        errors = [f for f in after if f.severity == "error"]
        named = in_no_error and any(component in f.components for f in errors)
        return gone and {_name(f) for f in errors} <= before and not named


def _name(finding: Finding) -> tuple[object, ...]:
    return finding.rule, finding.measure, finding.side, finding.part, finding.face, finding.holes, finding.components


def _checked(order: ResolvedOrder) -> Checked:
    placed = place_greedily(order, catalogue_of())
    plain = Checked(order, placed.placements, ())
    return replace(plain, findings=tuple(plain.check(placed.placements)))


def _sample(name: str) -> Checked:
    order = read_order(SAMPLES / f"{name}.toml").order
    assert order is not None
    return _checked(resolve(order, catalogue_of().library))


@pytest.fixture(scope="module")
def clash() -> Checked:
    """The sample with the deliberate clash of two fixed components."""
    return _sample("P-1002")


def _between(checked: Checked) -> list[Finding]:
    return [finding for finding in checked.findings if is_between(finding)]


def test_the_deliberate_clash_is_cleared_by_its_remedy_and_by_no_smaller_shift(clash: Checked) -> None:
    search, told = clash.search(), 0
    for finding in [f for f in _between(clash) if f.measure == "centre"]:
        shifts = {shift.component: shift for shift in search.shifts(finding)}
        assert set(shifts) == set(finding.components), "both can be moved"
        for shift in shifts.values():
            assert clash.is_cleared(finding, shift.component, shift.by)
            told += 1
        pump = shifts["pump-bracket"]
        nearer = np.arange(TOLD, abs(pump.by) - TOLD / 2, 5 * TOLD)
        nearer = np.append(nearer, abs(pump.by) - TOLD)
        assert not any(clash.is_cleared(finding, "pump-bracket", way * by) for by in nearer.tolist() for way in (1, -1))
    assert told >= 4


def test_floats_are_moved_on_their_grid_and_by_no_fewer_steps() -> None:
    told = 0
    for order in some_orders(catalogue_of(), 12, seed=61):
        checked = _checked(order)
        search = checked.search()
        floats = {c.id: c.floating for c in order.components if c.floating}
        for finding in _between(checked)[:3]:
            for shift in search.shifts(finding):
                # One that stands in another error is left in it where no station is free of all.
                strict = checked.is_cleared(finding, shift.component, shift.by)
                assert strict or checked.is_cleared(finding, shift.component, shift.by, in_no_error=False)
                window = floats.get(shift.component)
                if window is None:
                    continue
                steps = shift.by / window.pitch
                assert steps == pytest.approx(round(steps), abs=1e-6)
                for step in range(1, abs(round(steps))):
                    assert not any(
                        checked.is_cleared(finding, shift.component, w * step * window.pitch, strict) for w in (1, -1)
                    )
                told += 1
    assert told >= 5


def test_findings_tell_their_remedy_in_words(clash: Checked) -> None:
    found = with_remedies(clash.order, catalogue_of(), clash.standing, clash.findings, clash.check)
    assert [_name(f) for f in found] == [_name(f) for f in clash.findings]
    for before, after in zip(clash.findings, found, strict=True):
        assert (before == after) == (not is_between(before))
        if is_between(before):
            assert "ove pump-bracket" in after.remedy
            assert " mm forward, to " in after.remedy or " mm rearward, to " in after.remedy


def test_a_finding_that_nothing_clears_says_so(clash: Checked) -> None:
    """With a rule that is broken wherever the components stand, and whatever their holes measure."""
    always = next(f for f in _between(clash) if f.measure == "centre")

    def stubborn(placed: Placements, table: HoleTable | None = None) -> list[Finding]:
        return [*clash.check(placed, table), always]

    found = with_remedies(clash.order, catalogue_of(), clash.standing, [always], stubborn)
    assert (
        "no other station of brake-junction-bracket or pump-bracket and no other size clears it"
        in found[0].remedy.lower()
    )


def test_where_no_station_helps_the_nearest_smaller_size_does(clash: Checked) -> None:
    """With a check that fails for every move a smaller hole is all that is left."""
    finding = next(f for f in _between(clash) if any("dowel" in hole for hole in f.holes) and f.measure == "centre")
    at_home = clash.standing.station

    def only_sizes(placed: Placements, table: HoleTable | None = None) -> list[Finding]:
        found = clash.check(placed, table)
        sizes = set(table.diameter.tolist()) if table is not None else set()
        clear = np.array_equal(placed.station, at_home) and table is not None and sizes != _sizes(clash)
        return [f for f in found if not (clear and _name(f) == _name(finding))] + ([] if clear else [finding])

    found = with_remedies(clash.order, catalogue_of(), clash.standing, clash.findings, only_sizes)
    words = found[clash.findings.index(finding)].remedy
    assert "ake " in words
    assert " mm" in words.split("ake ")[1]


def _sizes(checked: Checked) -> set[float]:
    return set(hole_table(checked.order, catalogue_of(), checked.standing).diameter.tolist())


@pytest.mark.parametrize("widens", [False, True])
def test_a_wider_window_is_said_to_be_one(widens: bool) -> None:
    words = Shift("air-tank", -25.0, 1800.0, widens).told()
    assert ("widen the window of air-tank" in words) == widens
    assert words.endswith("25.0 mm forward, to 1800.0 mm")


def test_a_float_that_must_leave_its_window_is_told_to_widen_it() -> None:
    """A float whose window holds its preferred station only, beside one that stands in the way."""
    widened = 0
    for order in some_orders(catalogue_of(), 12, seed=61):
        checked = _checked(order)
        narrow = tuple(
            c.model_copy(
                update={
                    "floating": c.floating.model_copy(update={"least": c.position.offset, "most": c.position.offset})
                }
            )
            if c.floating
            else c
            for c in order.components
        )
        narrowed = replace(checked, order=replace(order, components=narrow))
        search = narrowed.search()
        floats = {c.id for c in narrow if c.floating}
        for finding in _between(checked)[:2]:
            for shift in search.shifts(finding):
                assert shift.widens == (shift.component in floats)
                widened += shift.widens
    assert widened
