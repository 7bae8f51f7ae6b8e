"""The finding: one departure from a limit. It lives here since layout and placing make some too."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Literal

Severity = Literal["error", "warning", "note"]
_SEVERITY_ORDER = {"error": 0, "warning": 1, "note": 2}
VALUE_TOLERANCE = 1e-6
"""A limit is broken when the value is worse than it by more than this."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One departure from a limit, as it stands in ``findings.json``.

    station_mm is the station where the value was found, None for findings about options;
    value and limit are in unit; source names the standard, the guide or "common practice".
    """

    rule: str
    measure: str
    severity: Severity
    side: str
    part: str
    face: str
    holes: tuple[str, ...]
    components: tuple[str, ...]
    station_mm: float | None
    value: float | None
    limit: float | None
    unit: str
    source: str
    message: str
    remedy: str = ""

    def as_dict(self) -> dict[str, object]:
        """The finding as plain data, keys in the order of the file."""
        plain = asdict(self)
        plain["holes"] = list(self.holes)
        plain["components"] = list(self.components)
        return plain

    @property
    def order(self) -> tuple[object, ...]:
        """Sort key: errors first, then rule, place and holes; the numbering on paper follows it."""
        station = float("-inf") if self.station_mm is None else self.station_mm
        place = (self.side, self.part, self.face, station)
        return (_SEVERITY_ORDER[self.severity], self.rule, self.measure, *place, self.holes, self.components)


def in_order(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings in the order in which every paper and file numbers them."""
    return tuple(sorted(findings, key=lambda finding: finding.order))


def has_errors(findings: Iterable[Finding]) -> bool:
    """Whether any finding is an error."""
    return any(finding.severity == "error" for finding in findings)
