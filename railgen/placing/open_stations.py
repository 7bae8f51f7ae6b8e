"""Stations of a component that closed stations leave open: free of new errors, of a finding, or of all errors."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.data.limit_sets import MEASURES, LimitRow
from railgen.holes.table import PARTS, RAIL
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import Placements, ResolvedOrder
from railgen.placing.free import Closed, Interval, closed_stations, intersected
from railgen.placing.same_findings import LINES, is_of_line
from railgen.placing.spans import REASON, REASONS, Spans, joined, union
from railgen.rules.limits import HeldRow, LimitTable, limit_table

_LINES = [index for index, reason in enumerate(REASONS) if reason in LINES]
_ACROSS = frozenset({"nut-length", "head-length"})
"""Measures whose findings may be of the other side, before whose screws an envelope stands."""


_Key = tuple[int, str, frozenset[str], str]
"""What an interval is told by: reason, part, the holes that it names, and whose foot or envelope is met, if any's."""
_ALONE = "-"
"""In place of whose foot is met: nothing is, the interval is the component's own, and may be about two of its holes."""
_BESIDE = frozenset({"wrench-access", "footprint-clash"})
"""Rules that find a hole of one component beside a foot or an envelope of another."""


@dataclass(frozen=True)
class _Side:
    """What is closed to a component on one side, each interval with what it is told by."""

    side: str
    closed: Closed

    def of(self, finding: Finding) -> list[int]:
        """Intervals that a finding is about, and no others."""
        reason = self._reason(finding)
        if is_of_line(finding):
            return [row for hole in finding.holes for row in self._on_lines.get((reason, finding.part, hole), ())]
        holes = frozenset(finding.holes)
        alone = () if finding.rule in _BESIDE else (_ALONE,)
        keys = [(reason, finding.part, holes, owner) for owner in ("", *alone, *finding.components)]
        return [row for key in keys for row in self._told.get(key, ())]

    def of_any(self, findings: Iterable[Finding]) -> list[int]:
        """Intervals that some findings may be about: of two holes of the component an interval names only one."""
        found: set[int] = set()
        for finding in findings:
            reason = self._reason(finding)
            found.update(self.of(finding))
            for hole in finding.holes:
                found.update(self._told.get((reason, finding.part, frozenset([hole]), _ALONE), ()))
        return sorted(found)

    def _reason(self, finding: Finding) -> int:
        if finding.side != self.side and finding.rule != "space-clash" and finding.measure not in _ACROSS:
            return -1
        return REASON.get((finding.rule, finding.measure), -1)

    @cached_property
    def _told(self) -> dict[_Key, list[int]]:
        """The intervals by what they are told by."""
        spans, moved, still = self.closed.spans, self.closed.moved, self.closed.still
        names = moved.names.components
        of_moved, of_still = moved.part.tolist(), still.part.tolist()
        found: dict[_Key, list[int]] = {}
        columns = (spans.reason, spans.first, spans.second, self.closed.owner)
        for row, (reason, first, second, owner) in enumerate(zip(*(c.tolist() for c in columns), strict=True)):
            part = of_moved[first] if first >= 0 else of_still[second] if second >= 0 else RAIL
            holes = [table.hole_id(at) for table, at in ((moved, first), (still, second)) if at >= 0]
            met = names[owner] if owner >= 0 else "" if second >= 0 else _ALONE
            found.setdefault((reason, PARTS[part], frozenset(holes), met), []).append(row)
        return found

    @cached_property
    def _on_lines(self) -> dict[tuple[int, str, str], list[int]]:
        """The intervals by what stands still on the lines that close them."""
        spans, still = self.closed.spans, self.closed.still
        found: dict[tuple[int, str, str], list[int]] = {}
        for row in np.flatnonzero(np.isin(spans.reason, _LINES) & (spans.second >= 0)).tolist():
            second = int(spans.second[row])
            key = int(spans.reason[row]), PARTS[int(still.part[second])], still.hole_id(second)
            found.setdefault(key, []).append(row)
        return found


@dataclass(frozen=True)
class OpenStations:
    """Where a component may go, from where it stands beside all others; findings: of the order as it stands."""

    component: Component
    order: ResolvedOrder
    catalogue: Catalogue
    standing: Placements
    findings: Sequence[Finding]
    at: float
    _asked: dict[tuple[str, str], tuple[_Side, ...]] = field(default_factory=dict, repr=False)

    @cached_property
    def window(self) -> Interval:
        """The rail's ends, mm."""
        return self.order.rail.front, self.order.rail.rear

    def without_new_errors(self, finding: Finding) -> tuple[Interval, ...]:
        """Stations at which nothing is told of that a finding is about, nor of an error that there is none of now."""
        sides = []
        for plain, asked in zip(self._plain, self._with_warnings(finding), strict=True):
            own = asked.closed.spans.at(np.array(asked.of(finding), dtype=np.int64))
            sides.append(_gaps(self.window, joined([self._new[plain.side], own])))
        return intersected(sides)

    @cached_property
    def without_errors(self) -> tuple[Interval, ...]:
        """Stations at which no error at all is told of."""
        return intersected([_gaps(self.window, side.closed.spans) for side in self._plain])

    @cached_property
    def _plain(self) -> tuple[_Side, ...]:
        return self._closed(None)

    @cached_property
    def _new(self) -> dict[str, Spans]:
        """By side the intervals of errors that are none at the component's station."""
        errors = [finding for finding in self.findings if finding.severity == "error"]
        found = {}
        for side in self._plain:
            spans = side.closed.spans
            fresh = (spans.low >= self.at) | (spans.high <= self.at)
            fresh[side.of_any(errors)] = False
            found[side.side] = spans.at(fresh)
        return found

    def _with_warnings(self, finding: Finding) -> tuple[_Side, ...]:
        """What is closed by errors and, for a warning, by warnings of its measure too."""
        if finding.severity == "error":
            return self._plain
        key = (finding.rule, finding.measure)
        if key not in self._asked:
            self._asked[key] = self._closed(_held_to_warnings(self.order, key))
        return self._asked[key]

    def _closed(self, limits: LimitTable | None) -> tuple[_Side, ...]:
        found = closed_stations(self.component, self.order, self.catalogue, self.standing, self.window, limits)
        return tuple(_Side(side, closed) for side, closed in found.items())


def _gaps(window: Interval, closed: Spans) -> list[Interval]:
    """What closed stations leave of a window."""
    below, above = union(closed.low, closed.high)
    starts = np.maximum(np.concatenate([[window[0]], above]), window[0])
    ends = np.minimum(np.concatenate([below, [window[1]]]), window[1])
    gaps = [(start, end) for start, end in zip(starts.tolist(), ends.tolist(), strict=True) if start <= end]
    # Intervals that are cut off at the window's ends hold there too.
    return [gap for gap in gaps if gap[0] < gap[1] or gap[0] not in window]


def _held_to_warnings(order: ResolvedOrder, key: tuple[str, str]) -> LimitTable:
    """The order's limits, with the warnings of a measure in place of its errors."""
    table = limit_table(order.library, order.limit_set, order.order.limits.zones)
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
