"""What is kept of each serial of a bank: a few counts, enough to sum up a day without planning the serial again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from itertools import combinations
from typing import Any

import numpy as np

from railgen.data.findings import Finding
from railgen.frame.measure import part_measures
from railgen.frame.rail import Part, part_length, part_section
from railgen.holes.shapes import areas
from railgen.holes.table import NONE, PARTS, RAIL, SIDES
from railgen.layout.plan import ResolvedOrder, SerialPlan
from railgen.shop.strings import hit_strings
from railgen.shop.tools import needs_tool

CLEAN, WARNINGS, ERRORS, REFUSED = "clean", "warnings", "errors", "refused"
OUTCOMES = (CLEAN, WARNINGS, ERRORS, REFUSED)
"""Outcomes of an order: notes at most, warnings at most, some error finding, or an order that cannot be used."""
NO_TOOL = "no tool in the crib"
_LENGTH_DECIMALS = 6  # of a mm
_MILLIGRAMS = 1e6  # a kg


@dataclass(frozen=True, order=True)
class Blank:
    """A blank as it is cut from stock, lengths mm."""

    side: str
    part: str
    section: str
    steel: str
    thickness: float
    width: float
    length: float


@dataclass(frozen=True)
class SerialRecord:
    """One serial, planned and checked, as counts; whole numbers, so that sums do not depend on their order.

    findings: (rule, measure, severity, count); pairs: (component, other component or "", rule, severity, count);
    hits: (tool, hits, features it makes); masses: (steel, thickness mm, milligrams of the finished parts); fasteners:
    (fastener, count).
    """

    serial: str
    family: str
    build_date: str
    outcome: str
    findings: tuple[tuple[str, str, str, int], ...]
    pairs: tuple[tuple[str, str, str, str, int], ...]
    hits: tuple[tuple[str, int, int], ...]
    blanks: tuple[Blank, ...]
    masses: tuple[tuple[str, float, int], ...]
    fasteners: tuple[tuple[str, int], ...]

    def found(self, severity: str) -> int:
        """How many findings of a severity there are."""
        return sum(count for *_, of, count in self.findings if of == severity)

    def as_dict(self) -> dict[str, Any]:
        """The record as plain data, to be written and forgotten: its rows are the record's own."""
        return {**vars(self), "blanks": list(map(vars, self.blanks))}


def record_from(plain: dict[str, Any]) -> SerialRecord:
    """A record from its plain data. Raises KeyError or TypeError where it is none."""
    values = {field.name: plain[field.name] for field in fields(SerialRecord)}
    values |= {name: tuple(map(tuple, values[name])) for name in ("findings", "pairs", "hits", "masses", "fasteners")}
    return SerialRecord(**{**values, "blanks": tuple(Blank(**blank) for blank in plain["blanks"])})


def record_of(planned: SerialPlan) -> SerialRecord:
    """What is kept of a planned serial."""
    order = planned.order
    return SerialRecord(
        serial=planned.serial,
        family=order.family.id,
        build_date=order.order.build_date.isoformat(),
        outcome=_outcome(planned.findings),
        findings=_counted((f.rule, f.measure, f.severity) for f in planned.findings),
        pairs=_counted(pair for finding in planned.findings for pair in _pairs(finding)),
        hits=_hits(planned),
        blanks=tuple(blanks_of(order)),
        masses=_masses(planned),
        fasteners=_fasteners(planned),
    )


def blanks_of(order: ResolvedOrder) -> Iterator[Blank]:
    """The blanks of a serial: both rails, then both liners where there are any."""
    for part in _parts(order):
        section = part_section(order.rail, part)
        length = round(part_length(order.rail, part), _LENGTH_DECIMALS)
        width = round(section.developed_width, _LENGTH_DECIMALS)
        name, steel = _section_and_steel(order, part)
        for side in SIDES:
            yield Blank(side, part, name, steel, section.thickness, width, length)


def _parts(order: ResolvedOrder) -> tuple[Part, ...]:
    return ("rail", "liner") if order.rail.liner else ("rail",)


def _section_and_steel(order: ResolvedOrder, part: Part) -> tuple[str, str]:
    liner = order.order.liner
    return (liner.section, liner.steel) if part == "liner" and liner else (order.section, order.steel)


def _outcome(findings: Iterable[Finding]) -> str:
    severities = {finding.severity for finding in findings}
    return ERRORS if "error" in severities else WARNINGS if "warning" in severities else CLEAN


def _counted(keys: Iterable[tuple[str, ...]]) -> tuple[Any, ...]:
    """Each key with how often it comes, by key."""
    return tuple((*key, count) for key, count in sorted(Counter(keys).items()))


def _pairs(finding: Finding) -> Iterator[tuple[str, str, str, str]]:
    """The pairs of components that a warning or an error is between; one component alone stands with nothing."""
    if finding.severity == "note" or finding.rule == "option-rule":
        return
    names = sorted(finding.components)
    pairs = list(combinations(names, 2)) if len(names) > 1 else [(name, "") for name in names]
    yield from ((first, second, finding.rule, finding.severity) for first, second in pairs)


def _hits(planned: SerialPlan) -> tuple[tuple[str, int, int], ...]:
    """Hits and features by tool: one hit a feature, or as many as its string has."""
    table, press = planned.holes, planned.order.library.press
    made = needs_tool(table)
    counts = np.bincount(table.tool[made & (table.tool != NONE)], minlength=len(press.tools))
    hits = {press.tools[tool].id: [int(counts[tool])] * 2 for tool in np.flatnonzero(counts).tolist()}
    left = np.flatnonzero(made & (table.tool == NONE))
    if len(left):
        rows = table.rows(left)
        strings = hit_strings(rows, press, planned.order.thicknesses_of(rows))
        for row in range(len(left)):
            string = strings.get(row)
            of_tool = hits.setdefault(press.tools[string.tool].id if string else NO_TOOL, [0, 0])
            of_tool[0] += len(string.places) if string else 1
            of_tool[1] += 1
    return tuple((tool, *of_tool) for tool, of_tool in sorted(hits.items()))  # type: ignore[misc]


def _masses(planned: SerialPlan) -> tuple[tuple[str, float, int], ...]:
    """Mass of the finished parts by steel and thickness; countersinks count as plain holes."""
    order, table = planned.order, planned.holes
    opened = areas(table, order.thicknesses_of(table))
    masses: Counter[tuple[str, float]] = Counter()
    for part in _parts(order):
        steel = _section_and_steel(order, part)[1], float(order.thickness_of(part))
        for side in range(len(SIDES)):
            rows = (table.side == side) & (table.part == PARTS.index(part))
            masses[steel] += round(part_measures(order.rail, part, float(opened[rows].sum()), 0.0).mass * _MILLIGRAMS)
    return tuple((*steel, mass) for steel, mass in sorted(masses.items()))


def _fasteners(planned: SerialPlan) -> tuple[tuple[str, int], ...]:
    """Fasteners by name: one a feature of the rail, shared holes once; a liner's features are the rail's again."""
    table = planned.holes
    held = table.fastener[(table.part == RAIL) & (table.fastener != NONE)]
    counts = np.bincount(held, minlength=len(table.names.fasteners))
    names = table.names.fasteners
    return tuple(sorted((names[index], int(counts[index])) for index in np.flatnonzero(counts).tolist()))
