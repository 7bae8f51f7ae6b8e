"""What would put a finding between components right: a shift, a wider window, another diameter, or plainly nothing.

Closed stations give the least shift of a component that clears the finding and leaves the component in no error at
all; where there is none, the least that clears the finding and brings no new error. The rules themselves then say of
the pattern so shifted whether it holds. Lines of holes and other rules that no closed stations tell of are searched
step by step.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from math import ceil, floor

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.data.library import Library
from railgen.data.limit_sets import MEASURES, LimitRow
from railgen.holes.table import DRILL, NONE, ROUND, BoolArray, HoleTable
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import hole_table
from railgen.layout.place import preferred_station
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.placing.free import Closed, Interval, closed_stations, intersected
from railgen.placing.spans import REASON, Spans, joined, union
from railgen.rules.limits import HeldRow, LimitTable, limit_table

Check = Callable[[Placements, HoleTable | None], Iterable[Finding]]
"""Findings of the order with its components so placed; a hole table, where given, in place of the one that follows."""
_TOLD = 0.1
"""mm; shifts are rounded away from the clash to this."""
_TRIED = 6
"""Candidates that are held to the rules before a component is said to have no station."""
_STEP, _FARTHEST = 10.0, 150.0
"""mm; how rules over whole lines are searched, to either side."""


@dataclass(frozen=True)
class Shift:
    """A component moved by so much (mm, rearward above 0) to a station; widens: beyond its window."""

    component: str
    by: float
    station: float
    widens: bool

    def told(self) -> str:
        way = f"{abs(self.by):.1f} mm {'rearward' if self.by > 0 else 'forward'}, to {self.station:.1f} mm"
        if self.widens:
            return f"widen the window of {self.component} and move it {way}"
        return f"move {self.component} {way}"


def is_between(finding: Finding) -> bool:
    """Whether a finding is one between components that a remedy is searched for."""
    return finding.severity != "note" and len(finding.components) > 1


def with_remedies(
    order: ResolvedOrder, catalogue: Catalogue, standing: Placements, findings: Iterable[Finding], check: Check
) -> tuple[Finding, ...]:
    """The findings; those between components with what would put them right added to their remedies."""
    known = tuple(findings)
    search = Search(order, catalogue, standing, known, check)
    return tuple(_with_remedy(finding, search) if is_between(finding) else finding for finding in known)


def _with_remedy(finding: Finding, search: Search) -> Finding:
    shifts = search.shifts(finding)
    if shifts:
        words = ", or ".join(shift.told() for shift in shifts)
    else:
        resized = search.resized(finding)
        words = resized or f"no other station of {' or '.join(finding.components)} and no other size clears it"
    return replace(finding, remedy=f"{finding.remedy} {words[0].upper()}{words[1:]}.".strip())


@dataclass(frozen=True)
class Search:
    """An order with its components placed, and what is found in it so far."""

    order: ResolvedOrder
    catalogue: Catalogue
    standing: Placements
    findings: tuple[Finding, ...]
    check: Check
    _known: dict[tuple[str, tuple[str, str] | None], dict[str, Closed]] = field(default_factory=dict, repr=False)

    def shifts(self, finding: Finding) -> list[Shift]:
        """The least shift of each component of a finding that clears it and brings no new error, the least first.

        A shift that leaves its component in no error goes before a smaller one that leaves it in those it was in.
        """
        movable = [c for c in self.order.components if c.id in finding.components and not _follows(c)]
        found = [shift for component in movable if (shift := self._shift(component, finding))]
        return sorted(found, key=lambda shift: (shift.widens, abs(shift.by), shift.component))

    def _shift(self, component: Component, finding: Finding) -> Shift | None:
        at = self._station(component)
        if at is None:
            return None
        wider = None
        for station in self._stations(component, finding, at):
            if not self._clears(finding, self._moved(component, station - at)):
                continue
            shift = Shift(component.id, station - at, station, not _in_window(component, station, self.order))
            if not shift.widens:
                return shift
            wider = wider or shift
        return wider

    def _stations(self, component: Component, finding: Finding, at: float) -> Iterator[float]:
        """Stations that may clear a finding, nearest first: of a float those of its grid."""
        free = self._free(component, finding, at)
        if free is None:
            yield from self._steps(component, finding, at)
            return
        pitch = component.floating.pitch if component.floating else _TOLD
        for intervals in free:
            nearest = [near for interval in intervals if (near := _nearest_step(interval, at, pitch)) is not None]
            ordered = sorted(nearest, key=lambda station: (abs(station - at), -station))
            yield from [station for station in ordered if abs(station - at) > 1e-9][:_TRIED]

    def _free(self, component: Component, finding: Finding, at: float) -> list[tuple[Interval, ...]] | None:
        """Stations free of errors and of the finding, then those free of new errors and of the finding.

        None where the finding's rule closes no stations of the component.
        """
        window = (self.order.rail.front, self.order.rail.rear)
        plain = self._closed(component)
        asked = plain if finding.severity == "error" else self._closed(component, finding)
        reason = REASON.get((finding.rule, finding.measure), -1)
        told, sides, new_only = False, [], []
        for side, closed in asked.items():
            own = closed.spans.at(np.flatnonzero(_of_finding(closed, finding, reason)))
            told |= bool(len(own.holding(at)))
            errors = plain[side].spans
            new = errors.at((errors.low >= at) | (errors.high <= at))
            sides.append(_gaps(window, joined([errors, own])))
            new_only.append(_gaps(window, joined([new, own])))
        return [intersected(sides), intersected(new_only)] if told else None

    def _closed(self, component: Component, finding: Finding | None = None) -> dict[str, Closed]:
        """Stations closed by errors and, with a finding, by its measure's warnings; worked out once."""
        key = (component.id, (finding.rule, finding.measure) if finding else None)
        if key not in self._known:
            window = (self.order.rail.front, self.order.rail.rear)
            limits = _with_warnings(self.order, finding) if finding else None
            self._known[key] = closed_stations(component, self.order, self.catalogue, self.standing, window, limits)
        return self._known[key]

    def _steps(self, component: Component, finding: Finding, at: float) -> Iterator[float]:
        """Steps to either side, the nearer first; without a grid the first that clears is closed in on."""
        floating = component.floating
        step = max(floating.pitch, 1.0) if floating else _STEP
        for number in range(1, floor(_FARTHEST / step) + 1):
            for station in (at + number * step, at - number * step):
                if self._clears(finding, self._moved(component, station - at)):
                    yield station if floating else self._closed_in(component, finding, at, station, step)

    def _closed_in(self, component: Component, finding: Finding, at: float, clear: float, step: float) -> float:
        """The nearest station to ``at`` that still clears, between one that does and the step before it."""
        way = 1.0 if clear > at else -1.0
        low, high = 0, round(step / _TOLD)
        while high - low > 1:
            middle = (low + high) // 2
            if self._clears(finding, self._moved(component, clear - way * (step - middle * _TOLD) - at)):
                high = middle
            else:
                low = middle
        return clear - way * (step - high * _TOLD)

    def resized(self, finding: Finding) -> str:
        """The nearest smaller diameter of one of the finding's holes that clears it, drilled where it must be."""
        table = hole_table(self.order, self.catalogue, self.standing)
        for hole in finding.holes:
            rows = [r for r in np.flatnonzero(table.shape == ROUND).tolist() if table.hole_id(r) == hole]
            for diameter in _smaller_diameters(self.order.library, table, rows):
                for operation in dict.fromkeys((int(table.operation[rows[0]]), DRILL)):
                    here = np.isin(np.arange(len(table)), rows)
                    diameters = np.where(here, diameter, table.diameter)
                    operations = np.where(here, operation, table.operation)
                    changed = table.with_columns(diameter=diameters, operation=operations)
                    if self._clears(finding, self.standing, changed):
                        return f"make {hole} {diameter:.1f} mm{' and drill it' if operation == DRILL else ''}"
        return ""

    def _clears(self, finding: Finding, placed: Placements, table: HoleTable | None = None) -> bool:
        """Whether the finding is gone with the components so placed and no error is new."""
        found = list(self.check(placed, table))
        before, after = _errors(self.findings), _errors(found)
        if any(count > before[key] for key, count in after.items()):
            return False
        same = {_key(other) for other in found if finding.severity == "warning" or other.severity == "error"}
        if finding.rule in _ALONG:
            return (finding.rule, finding.measure, finding.side) not in {key[:3] for key in same}
        return _key(finding) not in same

    def _station(self, component: Component) -> float | None:
        rows = self.standing.component == self.catalogue.index[component.id]
        return float(self.standing.station[rows].min()) if rows.any() else None

    def _moved(self, component: Component, by: float) -> Placements:
        rows = self.standing.component == self.catalogue.index[component.id]
        return replace(self.standing, station=np.where(rows, self.standing.station + by, self.standing.station))


_ALONG = frozenset({"net-section", "holes-in-line", "bending"})
"""Rules along the rail: their findings name whatever holes lie on a line, so that they are told apart by side alone."""


def _key(finding: Finding) -> tuple[object, ...]:
    """What a finding is told by when components move: not by its station or value."""
    key = (finding.rule, finding.measure, finding.side)
    return key if finding.rule in _ALONG else (*key, finding.part, finding.face, finding.holes, finding.components)


def _errors(findings: Iterable[Finding]) -> Counter[tuple[object, ...]]:
    return Counter(_key(finding) for finding in findings if finding.severity == "error")


def _follows(component: Component) -> bool:
    """Whether its instances run up to a station and do not move as one."""
    return component.repeat is not None and component.repeat.to is not None


def _in_window(component: Component, station: float, order: ResolvedOrder) -> bool:
    window = component.floating
    if window is None:
        return True
    anchor = preferred_station(component, order) - component.position.offset
    return anchor + window.least - 1e-6 <= station <= anchor + window.most + 1e-6


def _nearest_step(interval: Interval, at: float, pitch: float) -> float | None:
    """The station nearest to ``at`` inside an interval that is whole steps away from it; None where there is none."""
    start, end = ceil((interval[0] - at) / pitch - 1e-9), floor((interval[1] - at) / pitch + 1e-9)
    return at + min(max(0, start), end) * pitch if start <= end else None


def _gaps(window: Interval, closed: Spans) -> list[Interval]:
    """What closed stations leave of a window."""
    below, above = union(closed.low, closed.high)
    starts = np.maximum(np.concatenate([[window[0]], above]), window[0])
    ends = np.minimum(np.concatenate([below, [window[1]]]), window[1])
    return [(start, end) for start, end in zip(starts.tolist(), ends.tolist(), strict=True) if start <= end]


def _of_finding(closed: Closed, finding: Finding, reason: int) -> BoolArray:
    """Spans that a finding's rule closes, between the holes, feet or envelopes that it names where it names some."""
    spans = closed.spans
    chosen = np.asarray(spans.reason == reason)
    pairs = np.flatnonzero(chosen & ((spans.second >= 0) | (closed.owner >= 0)))
    for index, (_, hole, other, owners) in zip(pairs.tolist(), closed.bounds(pairs), strict=True):
        holes = {hole, other} - {""}
        chosen[index] = holes <= set(finding.holes) and (bool(other) or set(owners) <= set(finding.components))
    return chosen


def _with_warnings(order: ResolvedOrder, finding: Finding) -> LimitTable:
    """The order's limits, with the warnings of a finding's measure in place of its errors."""
    table = limit_table(order.library, order.limit_set, order.order.limits.zones)
    key = (finding.rule, finding.measure)
    if key not in table.rows:
        return table
    rows = tuple(HeldRow(_warning_row(held.row), held.source, held.zone) for held in table.rows[key])
    return LimitTable({**table.rows, key: rows}, table.replaced)


def _warning_row(row: LimitRow) -> LimitRow:
    if row.warning is None:
        return row
    stricter = max if MEASURES[row.rule][row.measure] == "least" else min
    error = row.warning if row.error is None else stricter(row.error, row.warning)
    return row.model_copy(update={"error": error})


def _smaller_diameters(library: Library, table: HoleTable, rows: list[int]) -> list[float]:
    """Diameters below a hole's own, the nearest first: finer fits of its screw, or else those that the crib has."""
    if not rows:
        return []
    own = float(table.diameter[rows[0]])
    if table.fastener[rows[0]] == NONE:
        found = {tool.diameter for tool in library.press.tools if tool.shape == "round" and tool.diameter is not None}
    else:
        holes = library.fasteners[table.fastener_of(rows[0])].holes
        found = {holes.fine, holes.medium, holes.coarse} if holes else set()
    return sorted((diameter for diameter in found if diameter < own - 1e-9), reverse=True)[:_TRIED]
