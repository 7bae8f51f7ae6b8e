"""Findings told apart while a component moves: which of them remains, and which error is a new one.

A finding about features, feet or envelopes is the same while rule, measure and all that it names stay, whatever its
station and value, and in whatever order its holes now follow each other. One about a line across the rail names what
lies on that line: it is the same while it names something that stands still and was on the line before, or nothing but
what is left of that line.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from railgen.data.findings import Finding

LINES = frozenset(
    {("net-section", "rail"), ("net-section", "with-liner"), ("holes-in-line", "count"), ("flange-hole", "count")}
)
_ALONG = frozenset({"bending"})
"""Rules whose findings are of a stretch and name what lies at its worst station: they are told by side and counted."""


def is_same(before: Finding, after: Finding, moved: str) -> bool:
    """Whether two findings are one, made before and after a component moved."""
    if (before.rule, before.measure, before.side) != (after.rule, after.measure, after.side):
        return False
    if before.rule in _ALONG:
        return True
    if is_of_line(before):
        return set(after.holes) <= set(before.holes) or bool(_still(before, moved) & _still(after, moved))
    return _key(before) == _key(after)


def new_error(before: Sequence[Finding], after: Iterable[Finding], moved: str) -> Finding | None:
    """The first error after a component moved that was none before; None without any."""
    known = Counter(_key(finding) for finding in before if finding.severity == "error")
    lines = [finding for finding in before if finding.severity == "error" and is_of_line(finding)]
    for finding in after:
        if finding.severity != "error":
            continue
        if is_of_line(finding):
            if not any(is_same(line, finding, moved) for line in lines):
                return finding
            continue
        known[_key(finding)] -= 1
        if known[_key(finding)] < 0:
            return finding
    return None


def what_remains(finding: Finding, before: Sequence[Finding], after: Iterable[Finding], moved: str) -> Finding | None:
    """What is left of a finding from before, an error as an error, a warning as it is or worse; None if it is gone."""
    found = [other for other in _as_grave(finding, after) if is_same(finding, other, moved)]
    if finding.rule in _ALONG and len(found) < sum(is_same(finding, f, moved) for f in _as_grave(finding, before)):
        return None
    return found[0] if found else None


def is_of_line(finding: Finding) -> bool:
    """Whether a finding is about lines across the rail."""
    return (finding.rule, finding.measure) in LINES


def owner_of(hole: str) -> str:
    """The component that a hole is named by."""
    return hole.partition(".")[0]


def _as_grave(finding: Finding, others: Iterable[Finding]) -> list[Finding]:
    severities = ("error",) if finding.severity == "error" else ("error", "warning")
    return [other for other in others if other.severity in severities]


def _key(finding: Finding) -> tuple[object, ...]:
    key = (finding.rule, finding.measure, finding.side)
    return (
        key
        if finding.rule in _ALONG
        else (*key, finding.part, finding.face, *sorted(finding.holes), finding.components)
    )


def _still(finding: Finding, moved: str) -> set[str]:
    return {hole for hole in finding.holes if owner_of(hole) != moved}
