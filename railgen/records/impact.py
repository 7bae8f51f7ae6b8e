"""What a change of the library does to the orders of a bank: serials, holes, findings, and rails already punched."""

from __future__ import annotations

import csv
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import asdict, dataclass
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from railgen.data.component import serial_key
from railgen.data.findings import Finding
from railgen.data.messages import InputError, Problem
from railgen.data.order_input import OrderInput
from railgen.formats.hole_table import hole_table_csv
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import ResolvedOrder, SerialPlan
from railgen.pipeline import plan
from railgen.records.compare import KINDS, Change, Comparison, Kind, compare
from railgen.records.pattern import pattern_of_plan

State = Literal["same", "findings", "changed", "only before", "only after", "refused"]
STATES: tuple[State, ...] = ("changed", "findings", "same", "only before", "only after", "refused")
"""changed: holes or rail differ; findings: only what is found differs; only before, only after: the other library
refuses the order; refused: both do."""


@dataclass(frozen=True, eq=False)
class SerialImpact:
    """One serial under both libraries.

    comparison: of its holes, None where they are all the same or where one library refuses the order; rail: sizes and
    steels that differ, in words; new, gone: findings; problems: why an order is refused; is_released: whether its rails
    are punched already.
    """

    serial: str
    family: str
    state: State
    comparison: Comparison | None
    rail: tuple[str, ...]
    new: tuple[Finding, ...]
    gone: tuple[Finding, ...]
    problems: tuple[Problem, ...]
    is_released: bool

    @property
    def changes(self) -> tuple[Change, ...]:
        """Holes that differ."""
        return self.comparison.changes if self.comparison else ()

    @cached_property
    def counts(self) -> Counter[Kind]:
        """Holes that differ, by what has become of them."""
        return Counter(kind for change in self.changes for kind in change.kinds)

    @property
    def no_longer_matches(self) -> bool:
        """Whether rails of the old library are not those of the new one."""
        return self.state in ("changed", "only before")

    @property
    def parts(self) -> tuple[str, ...]:
        """Parts that differ: LH rail, RH liner ..."""
        found = {f"{change.hole.side} {change.hole.part}" for change in self.changes}
        if self.rail:
            found |= {"LH rail", "RH rail"}
        return tuple(sorted(found))


@dataclass(frozen=True)
class ComponentImpact:
    """What becomes of one component over the bank.

    serials: those in which holes of it differ; released: those of them that are punched; counts: holes by what has
    become of them; take_effect: for each prefix the first serial from which the change touches no punched rail.
    """

    component: str
    serials: tuple[str, ...]
    released: tuple[str, ...]
    counts: dict[Kind, int]
    take_effect: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Impact:
    """Two libraries over a bank. not_in_bank: released serials that no order of the bank has."""

    before: Catalogue
    after: Catalogue
    serials: tuple[SerialImpact, ...]
    not_in_bank: tuple[str, ...]

    @property
    def differs(self) -> bool:
        """Whether any serial is not the same."""
        return any(one.state not in ("same", "refused") for one in self.serials)

    @property
    def broken(self) -> tuple[SerialImpact, ...]:
        """Punched serials that would no longer match."""
        return tuple(one for one in self.serials if one.is_released and one.no_longer_matches)

    def take_effect(self, family: str) -> str:
        """The first serial of a family from which the whole change touches no punched rail; empty where any can."""
        return _next_serial(one.serial for one in self.broken if one.family == family)

    @cached_property
    def components(self) -> tuple[ComponentImpact, ...]:
        """Every component of which holes differ, by name."""
        touched: dict[str, dict[str, list[Change]]] = defaultdict(lambda: defaultdict(list))
        for one in self.serials:
            for change in one.changes:
                touched[change.hole.component][one.serial].append(change)
        punched = {one.serial for one in self.serials if one.is_released}
        return tuple(_component(name, touched[name], punched) for name in sorted(touched))

    @cached_property
    def findings(self) -> tuple[tuple[str, str, str, str, int, int], ...]:
        """Findings that come and go: which, rule, measure, severity, how many, in how many serials."""
        count: Counter[tuple[str, str, str, str]] = Counter()
        serials: dict[tuple[str, str, str, str], set[str]] = defaultdict(set)
        for one in self.serials:
            for which, found in (("new", one.new), ("gone", one.gone)):
                for finding in found:
                    key = (which, finding.rule, finding.measure, finding.severity)
                    count[key] += 1
                    serials[key].add(one.serial)
        order = {"error": 0, "warning": 1, "note": 2}
        keys = sorted(count, key=lambda key: (key[0] != "new", order[key[3]], -count[key], key))
        return tuple((*key, count[key], len(serials[key])) for key in keys)


def _component(name: str, touched: dict[str, list[Change]], punched: AbstractSet[str]) -> ComponentImpact:
    counts = Counter(kind for changes in touched.values() for change in changes for kind in change.kinds)
    released = tuple(serial for serial in touched if serial in punched)
    prefixes = sorted({serial_key(serial)[0] for serial in released})
    effect = tuple(_next_serial(s for s in released if serial_key(s)[0] == prefix) for prefix in prefixes)
    return ComponentImpact(name, tuple(touched), released, {kind: counts[kind] for kind in KINDS}, effect)


def _next_serial(serials: Iterable[str]) -> str:
    """The number after the last of some serials of one prefix."""
    last = max(serials, key=serial_key, default="")
    if not last:
        return ""
    prefix, number = serial_key(last)
    return f"{prefix}-{number + 1}"


def impact_of(
    before: Catalogue, after: Catalogue, orders: Iterable[OrderInput], released: Sequence[str] = ()
) -> Impact:
    """Every order of a bank planned with both libraries and compared; released: serials whose rails are punched.

    Raises InputError for an order that cannot be read, and for a serial that comes twice.
    """
    punched, seen = frozenset(released), dict[str, str]()
    serials, problems = [], list[Problem]()
    for given in orders:
        if given.error is not None or given.order is None:
            problems += given.error.problems if given.error else ()
        elif given.serial in seen:
            hint = f"It stands first at {seen[given.serial]}."
            problems.append(Problem(given.place, "serial", repr(given.serial), "each serial once", hint))
        else:
            seen[given.serial] = given.place
            serials.append(serial_impact(given, before, after, given.serial in punched))
    if problems:
        raise InputError(problems)
    return Impact(before, after, tuple(serials), tuple(name for name in dict.fromkeys(released) if name not in seen))


def serial_impact(given: OrderInput, before: Catalogue, after: Catalogue, is_released: bool) -> SerialImpact:
    """One order under both libraries."""
    assert given.order is not None
    serial, family = given.order.serial, given.order.family
    (old, old_problems), (new, new_problems) = _planned(given, before), _planned(given, after)
    if old is None or new is None:
        state: State = "refused" if old is new else "only after" if old is None else "only before"
        problems = (*old_problems, *new_problems) if state != "refused" else new_problems
        return SerialImpact(serial, family, state, None, (), (), (), problems, is_released)
    same = hole_table_csv(serial, old.holes) == hole_table_csv(serial, new.holes)
    rail = tuple(_rail_changes(old.order, new.order))
    comparison = None if same else compare(pattern_of_plan(old), pattern_of_plan(new))
    had, has = ({_key(finding): finding for finding in planned.findings} for planned in (old, new))
    come = tuple(finding for key, finding in has.items() if key not in had)
    went = tuple(finding for key, finding in had.items() if key not in has)
    state = "changed" if rail or not same else "findings" if come or went else "same"
    return SerialImpact(serial, family, state, comparison, rail, come, went, (), is_released)


def _planned(given: OrderInput, catalogue: Catalogue) -> tuple[SerialPlan | None, tuple[Problem, ...]]:
    assert given.order is not None
    try:
        return plan(given.order, catalogue, given.place), ()
    except InputError as error:
        return None, error.problems


def _rail_changes(old: ResolvedOrder, new: ResolvedOrder) -> Iterator[str]:
    """Every size and every steel of rail and liner that differs, in words."""
    before, after = (dict(_sizes(order)) for order in (old, new))
    for name in dict.fromkeys((*before, *after)):
        one, other = before.get(name, "none"), after.get(name, "none")
        if one != other:
            yield f"{name} {one} to {other}"


def _sizes(order: ResolvedOrder) -> Iterator[tuple[str, str]]:
    yield "steel", order.steel
    if order.order.liner:
        yield "liner's steel", order.order.liner.steel
    yield from _fields(asdict(order.rail), "")


def _fields(table: dict[str, Any], of: str) -> Iterator[tuple[str, str]]:
    for name, value in table.items():
        words = f"{of} {name.replace('_', ' ')}".strip()
        if isinstance(value, dict):
            yield from _fields(value, words)
        elif value is not None:
            yield words, f"{value:.9g}" if isinstance(value, float) else str(value)


def _key(finding: Finding) -> tuple[object, ...]:
    return (
        finding.rule,
        finding.measure,
        finding.severity,
        finding.side,
        finding.part,
        finding.face,
        finding.holes,
        finding.components,
    )


def read_released(path: Path) -> tuple[str, ...]:
    """Serials of rails that are punched already: the column ``serial`` of a CSV; other columns are not looked at.

    Raises InputError with every problem of the file.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as stream:
            rows = csv.DictReader(stream)
            header = rows.fieldnames or []
            if "serial" not in header:
                found = ", ".join(header) or "an empty file"
                raise InputError([Problem(str(path), "line 1", found, "a column serial", "Name it so.")])
            told = [(rows.line_num, (row["serial"] or "").strip()) for row in rows]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        found = getattr(error, "strerror", None) or str(error)
        raise InputError([Problem(str(path), "", found, "a CSV file in UTF-8", "Check the path.")]) from None
    problems = list(_bad_serials(told, str(path)))
    if problems:
        raise InputError(problems)
    return tuple(serial for _, serial in told)


def _bad_serials(told: Iterable[tuple[int, str]], file: str) -> Iterator[Problem]:
    for line, serial in told:
        prefix, _, number = serial.partition("-")
        if not (prefix.isascii() and prefix.isupper() and prefix.isalpha() and number.isascii() and number.isdigit()):
            yield Problem(file, f"line {line}", repr(serial), "a serial as P-1001")
