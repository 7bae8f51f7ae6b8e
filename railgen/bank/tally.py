"""A day's bank summed up, order by order: only totals are held, however long the bank is."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from railgen.bank.job import Done
from railgen.bank.record import ERRORS, OUTCOMES, REFUSED, Blank, SerialRecord
from railgen.data.messages import Problem

_MOST_NAMED = 200
"""Refused and faulty serials that are named one by one; the table of serials has them all."""
FamilyKey = tuple[str, str]
FindingKey = tuple[str, str, str]
PairKey = tuple[str, str, str, str]
BlankKey = tuple[str, str, str, float, float, float]


@dataclass
class Tally:
    """Totals of a bank. What is to be made (hits, blanks, steel, fasteners) is of serials without error findings.

    findings: by (rule, measure, severity), and in how many serials each is met; pairs: findings by (component, other
    component, rule, severity); hits and features: by tool; blanks: by (part, section, steel, thickness, width, length),
    mm; masses: milligrams of finished steel by (steel, thickness); outcomes_of: by (family, outcome).
    """

    outcomes: Counter[str] = field(default_factory=Counter)
    outcomes_of: Counter[FamilyKey] = field(default_factory=Counter)
    days: Counter[FamilyKey] = field(default_factory=Counter)
    findings: Counter[FindingKey] = field(default_factory=Counter)
    serials_with: Counter[FindingKey] = field(default_factory=Counter)
    pairs: Counter[PairKey] = field(default_factory=Counter)
    hits: Counter[str] = field(default_factory=Counter)
    features: Counter[str] = field(default_factory=Counter)
    blanks: Counter[BlankKey] = field(default_factory=Counter)
    masses: Counter[tuple[str, float]] = field(default_factory=Counter)
    fasteners: Counter[str] = field(default_factory=Counter)
    refused: list[Problem] = field(default_factory=list)
    in_error: list[tuple[str, str, int]] = field(default_factory=list)
    kept: int = 0

    @property
    def serials(self) -> int:
        """All orders of the bank, those refused too."""
        return self.outcomes.total()

    @property
    def made(self) -> int:
        """Serials without error findings: those that are cut."""
        return sum(self.outcomes[outcome] for outcome in OUTCOMES if outcome not in (ERRORS, REFUSED))

    def add(self, done: Done) -> None:
        """Add one order."""
        self.kept += done.kept
        record = done.record
        if record is None:
            self.outcomes[REFUSED] += 1
            self.outcomes_of["", REFUSED] += 1
            if len(self.refused) < _MOST_NAMED:
                self.refused.extend(done.problems)
            return
        self.outcomes[record.outcome] += 1
        self.outcomes_of[record.family, record.outcome] += 1
        self.days[record.build_date, record.outcome] += 1
        self._add_findings(record)
        if record.outcome != ERRORS:
            self._add_work(record)
        elif len(self.in_error) < _MOST_NAMED:
            self.in_error.append((record.serial, record.family, record.found("error")))

    def _add_findings(self, record: SerialRecord) -> None:
        for *finding, count in record.findings:
            rule, measure, severity = finding
            self.findings[rule, measure, severity] += count
            self.serials_with[rule, measure, severity] += 1
        for first, second, rule, severity, count in record.pairs:
            self.pairs[first, second, rule, severity] += count

    def _add_work(self, record: SerialRecord) -> None:
        for tool, hits, features in record.hits:
            self.hits[tool] += hits
            self.features[tool] += features
        for blank in record.blanks:
            self.blanks[blank_key(blank)] += 1
        for steel, thickness, mass in record.masses:
            self.masses[steel, thickness] += mass
        self.fasteners.update(dict(record.fasteners))


def blank_key(blank: Blank) -> BlankKey:
    """What blanks of both hands have in common."""
    return blank.part, blank.section, blank.steel, blank.thickness, blank.width, blank.length
