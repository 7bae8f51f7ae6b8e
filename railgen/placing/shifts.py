"""The least shift of a component that clears a finding and brings no new error, found among whole steps.

Closed stations tell at once of nearly all steps that do not serve. The rules themselves then say of the nearest that is
left whether it does. Where they still find the section too weak, the line that is told leads on to the next step that
may serve; where they find what no closed stations tell of, such as a joint too weak, steps are tried ever further on
and then closed in upon.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.holes.table import HoleTable
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import hole_table
from railgen.layout.place import preferred_station
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.placing.free import Interval, intersected, without
from railgen.placing.moved_sections import moved_sections
from railgen.placing.open_stations import OpenStations
from railgen.placing.open_steps import Steps
from railgen.placing.same_findings import is_same, new_error, what_remains
from railgen.placing.trial import errors_about
from railgen.rules.pattern import pattern_of

Check = Callable[[Placements, HoleTable | None], Iterable[Finding]]
"""Findings of the order with its components so placed; a hole table, where given, in place of the one that follows."""
TOLD = 0.1
"""mm; fixed components are moved by whole steps of this."""
_BEYOND = 10**9
"""A step that no rail is long enough for."""
_NEAR = 250.0
"""mm; a shift that leaves a component in no error at all is told beside the least one if it is not greater."""


@dataclass(frozen=True)
class Checks:
    """Both kinds of rules: about shapes, and about strength, which are asked last."""

    shapes: Check
    strength: Check


@dataclass(frozen=True)
class Shift:
    """A component moved by so much (mm, rearward above 0) to a station; widens: beyond its window.

    clean: the least shift (mm) near by that leaves it in no error at all, where that is another one.
    """

    component: str
    by: float
    station: float
    widens: bool
    clean: float | None = None

    def told(self) -> str:
        words = f"move {self.component} {_way(self.by)}, to {self.station:.1f} mm"
        if self.widens:
            words = f"widen the window of {self.component} and {words.replace(self.component, 'it')}"
        if self.clean is not None:
            words += f" (clear of every error {_way(self.clean)}, at {self.station - self.by + self.clean:.1f} mm)"
        return words


def _way(by: float) -> str:
    return f"{abs(by):.1f} mm {'rearward' if by > 0 else 'forward'}"


@dataclass(frozen=True)
class Mover:
    """One component of an order moved among all others, which stand; findings: of the order as it stands."""

    component: Component
    order: ResolvedOrder
    catalogue: Catalogue
    standing: Placements
    findings: tuple[Finding, ...]
    checks: Checks
    _found: dict[float, list[Finding]] = field(default_factory=dict, repr=False)
    _strength: dict[float, list[Finding]] = field(default_factory=dict, repr=False)

    def shift(self, finding: Finding) -> Shift | None:
        """The least shift that clears a finding and brings no new error: within its window, or else beyond it."""
        intervals = self._open.without_new_errors(finding)
        for window, widens in self._windows:
            step = self._least(intersected([intervals, [window]]), finding)
            if step is not None:
                by, clean = step * self._pitch, None
                if self._is_in_error(self.at + by):
                    clean = self._clean_shift(finding)
                return Shift(self.component.id, by, self.at + by, widens, clean)
        return None

    @cached_property
    def at(self) -> float:
        """Where the component's first instance stands, mm."""
        return float(self.standing.station[self._rows].min())

    @cached_property
    def _rows(self) -> np.ndarray:
        return np.asarray(self.standing.component == self.catalogue.index[self.component.id])

    @cached_property
    def _open(self) -> OpenStations:
        return OpenStations(self.component, self.order, self.catalogue, self.standing, self.findings, self.at)

    @property
    def _pitch(self) -> float:
        return self.component.floating.pitch if self.component.floating else TOLD

    @cached_property
    def _windows(self) -> tuple[tuple[Interval, bool], ...]:
        """Where it may go, and whether that takes a wider window."""
        rail, window = self._open.window, self.component.floating
        if window is None:
            return ((rail, False),)
        anchor = preferred_station(self.component, self.order) - self.component.position.offset
        return ((anchor + window.least - 1e-6, anchor + window.most + 1e-6), False), (rail, True)

    def _least(self, intervals: tuple[Interval, ...], finding: Finding | None) -> int | None:
        """The step of the least size to where a finding is cleared or, without one, to where no error is left."""

        def holds(step: int) -> bool:
            return self._against(self.at + step * self._pitch, finding) is None

        def past(step: int, way: int) -> int | None:
            against = self._against(self.at + step * self._pitch, finding)
            if against is not None and against.rule == "net-section":
                return step + way * self._steps_of_section(step, against, way)
            return way * _BEYOND if against is not None and self._is_hidden(against) else None

        return Steps(self.at, self._pitch, intervals).least(holds, past)

    def _is_hidden(self, against: Finding) -> bool:
        """Whether an error is not the component's own, and only hidden by it where it stands: found without it too."""
        if self.component.id in against.components:
            return False
        return any(other.severity == "error" and is_same(against, other, "") for other in self._found_without)

    @cached_property
    def _found_without(self) -> list[Finding]:
        others = without(self.standing, self.catalogue.index[self.component.id])
        return [*self.checks.shapes(others, None), *self.checks.strength(others, None)]

    def _steps_of_section(self, step: int, against: Finding, way: int) -> int:
        placed = self._moved(self.at + step * self._pitch)
        others = without(placed, self.catalogue.index[self.component.id])
        pattern, still = (
            pattern_of(self.order, hole_table(self.order, self.catalogue, some), some) for some in (placed, others)
        )
        return moved_sections(pattern, still, against, self.component.id).steps(against, self._pitch, way)

    def _against(self, station: float, finding: Finding | None) -> Finding | None:
        """What stands against a station: a new error, the finding if it remains, or without one an error of its own."""
        for check, known in ((self.checks.shapes, self._found), (self.checks.strength, self._strength)):
            if station not in known:
                known[station] = list(check(self._moved(station), None))
            found = known[station]
            against = new_error(self.findings, found, self.component.id)
            if against is None and finding is None:
                against = next(iter(errors_about(self.component.id, found)), None)
            if against is not None:
                return against
        if finding is None:
            return None
        after = [*self._found[station], *self._strength[station]]
        return what_remains(finding, self.findings, after, self.component.id)

    def _is_in_error(self, station: float) -> bool:
        return bool(errors_about(self.component.id, [*self._found[station], *self._strength[station]]))

    def _clean_shift(self, finding: Finding) -> float | None:
        """The least shift that leaves the component in no error, if it clears a finding too."""
        clean = self._clean
        return None if clean is None or self._against(self.at + clean, finding) is not None else clean

    @cached_property
    def _clean(self) -> float | None:
        near = self.at - _NEAR, self.at + _NEAR
        window, _ = self._windows[0]
        step = self._least(intersected([self._open.without_errors, [window], [near]]), None)
        return None if step is None else step * self._pitch

    def _moved(self, station: float) -> Placements:
        by = np.where(self._rows, station - self.at, 0.0)
        return replace(self.standing, station=self.standing.station + by)
