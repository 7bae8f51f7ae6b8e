"""Random builds held to the proof of a catalogue, both ways, rule by rule.

A build stands every component where its order puts it, floats anywhere on their grids; the rules themselves then look
at it. Nothing is placed, so that a build takes milliseconds and floats meet in every way.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from railgen.data.findings import Finding
from railgen.data.messages import InputError
from railgen.holes.table import HoleTable
from railgen.layout.catalogue import Catalogue
from railgen.layout.features import hole_table
from railgen.layout.place import place, preferred_station
from railgen.layout.plan import ResolvedOrder
from railgen.placing.catalogue_proof import ComponentClash
from railgen.placing.floats import grid_stations
from railgen.placing.regions import Region
from railgen.placing.verdicts import DECIDED, Matrix
from railgen.rules.check import every_finding
from railgen.rules.limits import LimitTable, limit_table
from railgen.rules.pattern import Pattern, pattern_of

NEAREST_ONLY = {("wrench-access", "nut-length"), ("wrench-access", "head-length")}
"""What the rules tell of the nearest envelope alone."""
Reason = tuple[str, str]


@dataclass
class Tally:
    """What has been compared so far."""

    builds: int = 0
    found: int = 0
    foretold: int = 0
    always: int = 0
    rules: set[Reason] = field(default_factory=set)
    wrong: list[str] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class Foretold:
    """The clashes of a matrix, ready to be held to builds."""

    matrix: Matrix

    @cached_property
    def clashes(self) -> tuple[ComponentClash, ...]:
        """Every clash once."""
        once = {id(clash): clash for cell in self.matrix.cells.values() for clash in cell.clashes}
        return tuple(once.values())

    @cached_property
    def by_names(self) -> Mapping[frozenset[str], list[ComponentClash]]:
        """Clashes by the components' ids."""
        found: dict[frozenset[str], list[ComponentClash]] = {}
        for clash in self.clashes:
            found.setdefault(_names(clash), []).append(clash)
        return found

    @cached_property
    def pairs(self) -> np.ndarray:
        """(n, 2) rows of the catalogue of every clash's components; one by itself twice."""
        index = self.matrix.proof.catalogue.index
        rows = [[index[c.first.id], index[c.second.id if c.second else c.first.id]] for c in self.clashes]
        return np.array(rows, dtype=np.int64).reshape(-1, 2)

    @cached_property
    def always(self) -> tuple[tuple[str, str, tuple[tuple[frozenset[str], tuple[Reason, ...]], ...]], ...]:
        """Pairs of options that clash in every order, with the components that do and what they break."""
        cells = [cell for cell in self.matrix.cells.values() if cell.verdict == "always"]
        return tuple(
            (cell.first, cell.second, tuple((_names(c), c.found.reasons) for c in cell.clashes)) for cell in cells
        )


def _names(clash: ComponentClash) -> frozenset[str]:
    return frozenset(part.id for part in (clash.first, clash.second) if part is not None)


def compare(order: ResolvedOrder, foretold: Foretold, catalogue: Catalogue, rng: random.Random, tally: Tally) -> None:
    """One build held to the proof; what differs goes to the tally's ``wrong``."""
    settled = {
        c.id: rng.choice(list(grid_stations(c, preferred_station(c, order)))) for c in order.components if c.floating
    }
    try:
        stands = place(order, catalogue, settled)
    except InputError:
        return  # a repeat that would run forward
    table = hole_table(order, catalogue, stands)
    found = [f for f in every_finding(Pattern(order, table, _limits(order), stands)) if f.severity == "error"]
    tally.builds += 1
    tally.wrong += [*_not_foretold(found, order, foretold, tally), *_not_found(found, order, table, foretold, tally)]
    tally.wrong += [*_said_never(found, order, foretold), *_said_always(found, order, foretold, tally)]


def _limits(order: ResolvedOrder) -> LimitTable:
    """The order's limits but those that three components or more break together, which the proof does not decide."""
    limits = limit_table(order.library, order.limit_set)
    kept = {key: rows for key, rows in limits.rows.items() if key in DECIDED}
    return LimitTable(kept, limits.replaced)


def _not_foretold(found: list[Finding], order: ResolvedOrder, foretold: Foretold, tally: Tally) -> Iterable[str]:
    """Errors that the proof knows nothing of."""
    for finding in found:
        reason = (finding.rule, finding.measure)
        if reason not in DECIDED:
            continue
        names = finding.components
        asked = [frozenset((a, b)) for a in names for b in names]
        met = [clash for one in dict.fromkeys(asked) for clash in foretold.by_names.get(one, ())]
        if not any(order.drive in c.drives and holds(c.found.by_reason.get(reason), order) for c in met):
            yield f"{order.serial}: the proof does not foretell {finding.message}"
        tally.found += 1
        tally.rules.add(reason)


def _said_never(found: list[Finding], order: ResolvedOrder, foretold: Foretold) -> Iterable[str]:
    """Errors between two fixed components of options that the matrix calls free of clashes."""
    floats = {component.id for component in order.components if component.floating}
    for finding in found:
        names = finding.components
        if (finding.rule, finding.measure) not in DECIDED or len(names) > 2 or floats & set(names):
            continue
        first, second = (order.bringing[name] for name in (names[0], names[-1]))
        both = set(first) & set(second)
        for a, b in ((a, b) for a in both or first for b in both or second):
            verdict = foretold.matrix.cells[min(a, b), max(a, b)].verdict
            if verdict not in ("only for", "always") and (a == b or not both):
                yield f"{order.serial}: {a} and {b} are called {verdict}, but {finding.message}"


def _said_always(found: list[Finding], order: ResolvedOrder, foretold: Foretold, tally: Tally) -> Iterable[str]:
    """Options that clash in every order, and show no error here."""
    seen = {frozenset((a, b)) for f in found for a in f.components for b in f.components}
    before_screws = {name for f in found if (f.rule, f.measure) in NEAREST_ONLY for name in f.components}
    bringing = {code for codes in order.bringing.values() for code in codes}
    for first, second, clashes in foretold.always:
        if first in bringing and second in bringing:
            tally.always += 1
            # Of envelopes before a screw the finding names the nearest alone.
            shown = seen & {names for names, _ in clashes}
            shown |= {names for names, reasons in clashes if set(reasons) & NEAREST_ONLY and names & before_screws}
            if not shown:
                yield f"{order.serial}: {first} and {second} are called always, and show no error"


def _not_found(
    found: list[Finding], order: ResolvedOrder, table: HoleTable, foretold: Foretold, tally: Tally
) -> Iterable[str]:
    """Clashes that the proof foretells for certain and the rules do not find."""
    here = np.zeros(len(foretold.matrix.proof.catalogue.names.components), dtype=np.bool_)
    here[[foretold.matrix.proof.catalogue.index[component.id] for component in order.components]] = True
    by_reason: dict[Reason, list[frozenset[str]]] = {}
    for finding in found:
        by_reason.setdefault((finding.rule, finding.measure), []).append(frozenset(finding.components))
    sharing = _sharing(table)
    for number in np.flatnonzero(here[foretold.pairs].all(axis=1)).tolist():
        clash = foretold.clashes[number]
        names = _names(clash)
        if order.drive not in clash.drives or any(sharing.get(name, names) - names for name in names):
            continue  # who shares a hole with a third is under its foot, and of its stack
        for reasons in _certain(clash, order):
            tally.foretold += 1
            if not any(names <= told for reason in reasons for told in by_reason.get(reason, ())):
                yield f"{order.serial}: {' and '.join(sorted(names))} must break {sorted(reasons)}, and do not"


def _certain(clash: ComponentClash, order: ResolvedOrder) -> Iterable[set[Reason]]:
    """Sets of reasons of which a build must show at least one."""
    found = clash.found
    if found.forced is not found.possible:
        if not set(found.reasons) & NEAREST_ONLY and holds(found.forced, order, certain=True):
            yield set(found.reasons)
        return
    for reason, where in found.by_reason.items():
        if reason in DECIDED - NEAREST_ONLY and holds(where, order, certain=True):
            yield {reason}


def holds(where: Region | None, order: ResolvedOrder, certain: bool = False) -> bool:
    """Whether a region is that of an order; certain: whatever else the order says."""
    if where is None:
        return False
    axes = where.axes
    each = [axes.dimensions.each[index] for index in (*axes.others, axes.along)]
    if any(dimension.values is None for dimension in each):
        return where.holds(order.dimensions) and not certain
    # On steps: where the order's values stand among those of each dimension.
    place = [int(np.abs(d.values - order.dimensions[d.name]).argmin()) for d in each if d.values is not None]
    sizes = [len(d.values) for d in each if d.values is not None]
    cells = where.sure_cells if certain else where.cells
    return bool(cells.reshape(sizes)[tuple(place)])


def _sharing(table: HoleTable) -> dict[str, set[str]]:
    """Components that share a hole, with those they share one with and themselves."""
    found: dict[str, set[str]] = {}
    for row in np.flatnonzero(np.diff(table.owner_start) > 1).tolist():
        owners = set(table.owners_of(row))
        for name in owners:
            found[name] = found.get(name, set()) | owners
    return found


def kept_lines_broken(order: ResolvedOrder, matrix: Matrix, catalogue: Catalogue) -> tuple[list[str], int]:
    """Lines in error among fixed components that are clear of each other, though the bounds keep them; how many seen.

    Of too many holes on a line a finding names more than one line's, of which the worst must be open.
    """
    fixed = replace(order, components=tuple(c for c in order.components if not c.floating))
    try:
        stands = place(fixed, catalogue)
    except InputError:
        return [], 0
    table = hole_table(fixed, catalogue, stands)
    found = [f for f in every_finding(pattern_of(fixed, table, stands)) if f.severity == "error"]
    apart = {
        frozenset((a, b)) for f in found for a in f.components for b in f.components if (f.rule, f.measure) in DECIDED
    }
    kept = {(line.rule, line.component): line.is_kept for line in matrix.crowding.lines}
    wrong, seen = [], 0
    for finding in found:
        if (finding.rule, finding.measure) not in {("net-section", "rail"), ("holes-in-line", "count")}:
            continue
        names = finding.components
        if any(frozenset((a, b)) in apart for a in names for b in names if a != b):
            continue
        seen += 1
        of_each = [kept[finding.rule, name] for name in names]
        if all(of_each) if finding.rule == "holes-in-line" else any(of_each):
            wrong.append(f"{order.serial}: {finding.message} ({', '.join(names)})")
    return wrong, seen
