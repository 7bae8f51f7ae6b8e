"""Floating components settled together, so that their weighted departure from preferred stations is least.

Every float stands at its preferred station first. Those that cannot stay, and those that they meet, make clusters, each
settled on its own by branch and bound (see ``tree``); clusters that then meet become one. What intervals cannot tell,
such as the net section, is asked of the rules themselves at the stations found: a combination in error is forbidden and
the floats in it are settled again, so many times at most.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from railgen.data.findings import Finding
from railgen.layout.catalogue import Catalogue
from railgen.layout.plan import ResolvedOrder
from railgen.placing.conflict import Conflict
from railgen.placing.floats import Floats
from railgen.placing.ground import Blocked, Ground
from railgen.placing.notes import Told, note_of
from railgen.placing.placed import Placed, placed_at
from railgen.placing.problem import CROSSING
from railgen.placing.tree import Solution
from railgen.placing.trial import SAME_ANYWHERE, Trial
from railgen.placing.why import conflict_among

MOST_ROUNDS = 12
"""Times that stations found are held to the rules themselves."""
LAZY_ROUNDS = 4
"""Times after which intervals of pairs are believed where they need not hold too; the bounds known then stay."""
_PROBES = 6
"""Stations of a float tried under every rule, once one was in error."""


@dataclass(frozen=True)
class Cluster:
    """Floats settled together, and what their search proved."""

    floats: tuple[str, ...]
    solution: Solution


@dataclass(frozen=True)
class Settling:
    """Floats at their stations (mm) and all that follows.

    unsettled: those that found no station and are left at their preferred one, with the components that leave them
    none where that is known; rounds: times that stations were held to all rules.
    """

    placed: Placed
    stations: dict[str, float]
    wanted: dict[str, float]
    clusters: tuple[Cluster, ...]
    unsettled: dict[str, Conflict | None]
    rounds: int

    @property
    def cost(self) -> float:
        """Weighted departure of the floats that found stations, mm."""
        return sum(cluster.solution.cost for cluster in self.clusters)

    @property
    def bound(self) -> float:
        """What it must at least be, mm."""
        return sum(cluster.solution.bound for cluster in self.clusters)

    @property
    def is_proved(self) -> bool:
        """Whether the floats that found stations cannot depart less."""
        return all(cluster.solution.is_proved for cluster in self.clusters)


def place_together(order: ResolvedOrder, catalogue: Catalogue) -> Placed:
    """All components of an order at their stations, checked."""
    return settle(order, catalogue).placed


def settle(order: ResolvedOrder, catalogue: Catalogue) -> Settling:
    """The floats of an order settled together; of several attempts that all leave errors the one with fewest."""
    search = _Search(Floats(order, catalogue))
    best: tuple[int, Placed, _Found] | None = None
    for number in range(1, MOST_ROUNDS + 1):
        found = search.settle(number)
        placed = placed_at(order, catalogue, search.floats.placements(found.stations))
        errors = search.errors_among(placed.findings)
        if best is None or len(errors) < best[0]:
            best = len(errors), placed, found
        if not errors:
            break
        search.learn(errors)
        search.floats.careful = number >= LAZY_ROUNDS
    if best is None:
        raise ValueError("no round was made")
    return search.told(best[1], best[2])


@dataclass(frozen=True)
class _Found:
    """What one round found."""

    stations: dict[str, float]
    clusters: tuple[Cluster, ...]
    unsettled: dict[str, Conflict | None]
    number: int


@dataclass(eq=False)
class _Search:
    """Clusters and stations so far; reasons: what the rules found in error about each float."""

    floats: Floats
    stations: dict[str, float] = field(default_factory=dict)
    clusters: list[tuple[str, ...]] = field(default_factory=list)
    unsettled: dict[str, Conflict | None] = field(default_factory=dict)
    reasons: dict[str, set[Blocked]] = field(default_factory=dict)
    _solutions: dict[tuple[str, ...], Solution] = field(default_factory=dict)
    _remembered: dict[tuple[tuple[str, ...], int, int], Solution] = field(default_factory=dict)

    def settle(self, number: int) -> _Found:
        """Floats at the cheapest stations that are not known to be in error."""
        self._remembered.clear()
        while True:
            left = len(self.unsettled)
            self.stations, self._solutions = dict(self.floats.wanted), {}
            self.clusters = [kept for cluster in self.clusters if (kept := self._solved(cluster))]
            joined = self._joined()
            if joined == self.clusters and left == len(self.unsettled):
                break
            self.clusters = joined
        clusters = tuple(Cluster(names, self._solutions[names]) for names in self.clusters)
        return _Found(dict(self.stations), clusters, dict(self.unsettled), number)

    def _solved(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """Settles a cluster; returns those of its floats that found stations."""
        while names:
            solution = self._solution(names)
            if solution.places is not None:
                self._solutions[names] = solution
                for name, k in zip(names, solution.places, strict=True):
                    self.stations[name] = float(self.floats.grid(name).stations[self.floats.free(name)[k]])
                return names
            if self.floats.left and not self.floats.careless.issuperset(names):
                self.floats.careless.update(names)
            else:
                names = self._without_one(names)
        return names

    def _solution(self, names: tuple[str, ...]) -> Solution:
        """The same while nothing more is left or careless: neither becomes less while floats are settled."""
        key = names, len(self.floats.left), len(self.floats.careless)
        if key not in self._remembered:
            self._remembered[key] = self.floats.solve(names)
        return self._remembered[key]

    def _without_one(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """The lightest float of a conflict left unsettled, the last of several."""
        conflict = conflict_among(self.floats, names)
        involved = [name for name in names if conflict is None or name in conflict.components]
        components = self.floats.components
        weights = {name: f.weight for name in involved if (f := components[name].floating)}
        lightest = min(reversed(involved), key=lambda name: weights[name])
        self.unsettled[lightest] = conflict
        self.floats.left[lightest] = self.floats.wanted[lightest]
        return tuple(name for name in names if name != lightest)

    def _joined(self) -> list[tuple[str, ...]]:
        """Clusters with the floats that cannot stay, and those that meet; each in id order."""
        settled = [name for name in self.floats.components if name not in self.unsettled]
        group = {name: frozenset(cluster) for cluster in self.clusters for name in cluster}
        for name in settled:
            if name not in group and not self.floats.may_stay(name):
                group[name] = frozenset({name})
        for a, b in self._near(settled):
            one, other = group.get(a, frozenset({a})), group.get(b, frozenset({b}))
            if one != other and self.floats.clash(a, self.stations[a], b, self.stations[b]):
                for name in one | other:
                    group[name] = one | other
        for combination in self.floats.combinations:
            names = [name for name, _, _ in combination if name not in self.unsettled]
            if len(names) == len(combination) and self._stand_in(combination):
                together = frozenset(names).union(*(group.get(name, ()) for name in names))
                for name in together:
                    group[name] = together
        return [tuple(sorted(cluster)) for cluster in dict.fromkeys(group[name] for name in settled if name in group)]

    def _near(self, names: Sequence[str]) -> Iterator[tuple[str, str]]:
        """Pairs of floats that reach each other from where they stand."""
        at, extents = self.stations, self.floats.extents
        ends = [(at[name] + extents[name][0], at[name] + extents[name][1]) for name in names]
        for place, (low, high) in enumerate(ends):
            for before in range(place):
                if ends[before][0] < high and low < ends[before][1]:
                    yield names[before], names[place]

    def _stand_in(self, combination: Iterable[tuple[str, float, float]]) -> bool:
        return all(low - 1e-6 <= self.stations[name] <= high + 1e-6 for name, low, high in combination)

    def errors_among(self, findings: Iterable[Finding]) -> list[Finding]:
        """Error findings about settled floats that other stations might put right."""
        settled = set(self.floats.components) - set(self.unsettled)
        return [
            finding
            for finding in findings
            if finding.severity == "error"
            and (finding.rule, finding.measure) not in SAME_ANYWHERE
            and not settled.isdisjoint(finding.components)
            and set(self.unsettled).isdisjoint(finding.components)
        ]

    def learn(self, errors: Iterable[Finding]) -> None:
        """Forbids what was found in error: a float's station, or several floats' stations at once."""
        for finding in errors:
            for name in set(finding.components) & set(self.floats.components):
                others = [other for other in finding.components if other != name] or [""]
                self.reasons.setdefault(name, set()).update((finding.rule, other) for other in others)
        for names in sorted({tuple(sorted(set(f.components) & set(self.floats.components))) for f in errors}):
            if len(names) == 1:
                self._drop(names[0])
            else:
                self._forbid(names)

    def _drop(self, name: str) -> None:
        """Closes a float's station, and the nearest others that are in error beside what is fixed too."""
        component, grid = self.floats.components[name], self.floats.grid(name)
        grid.dropped[np.abs(grid.stations - self.stations[name]) < 1e-6] = True
        trial = Trial(component, self.floats.fixed)
        free = sorted(grid.free, key=lambda k: abs(float(grid.stations[k]) - self.floats.wanted[name]))
        for k in free[:_PROBES]:
            if not trial.errors(float(grid.stations[k])):
                break
            grid.dropped[k] = True

    def _forbid(self, names: tuple[str, ...]) -> None:
        """Forbids floats their stations at once; of two where intervals do not hold, all that are in error there."""
        stretches = {name: (self.stations[name], self.stations[name]) for name in names}
        if len(names) == 2 and any(max(self.floats.grid(name).kinds) >= CROSSING for name in names):
            stretches[names[0]] = self._stretch(*names)
        combination = tuple((name, *stretches[name]) for name in names)
        if combination not in self.floats.combinations:
            self.floats.combinations.append(combination)

    def _stretch(self, name: str, other: str) -> tuple[float, float]:
        """First and last station round a float's own at which it is in error beside another at its station."""
        ground = self.floats.fixed.copy()
        ground.add(self.floats.components[other], self.stations[other])
        stations = self.floats.grid(name).stations
        wrong = Trial(self.floats.components[name], ground).features_in_error(stations.tolist())
        first = last = int(np.argmin(np.abs(stations - self.stations[name])))
        while first and wrong[first - 1]:
            first -= 1
        while last + 1 < len(stations) and wrong[last + 1]:
            last += 1
        return float(stations[first]), float(stations[last])

    def told(self, placed: Placed, found: _Found) -> Settling:
        """What one round found, with a note for each float that moved or found no station."""
        solutions = {name: cluster.solution for cluster in found.clusters for name in cluster.floats}
        notes, everything = [], self._everything(found)
        for name, component in self.floats.components.items():
            wanted, station = self.floats.wanted[name], found.stations[name]
            if station != wanted or name in found.unsettled:
                why = found.unsettled.get(name)
                told = Told(component, wanted, station, name in found.unsettled, why, solutions.get(name))
                notes.append(note_of(told, self._blocked(name, everything)))
        with_notes = replace(placed, findings=(*placed.findings, *notes))
        return Settling(
            with_notes, found.stations, dict(self.floats.wanted), found.clusters, found.unsettled, found.number
        )

    def _everything(self, found: _Found) -> Ground:
        """What is fixed, and the floats at the stations found."""
        ground = self.floats.fixed.copy()
        for name, component in self.floats.components.items():
            if name not in found.unsettled:
                ground.add(component, found.stations[name])
        return ground

    def _blocked(self, name: str, everything: Ground) -> set[Blocked]:
        """What stands in the way at a float's preferred station, the others at theirs."""
        component, wanted = self.floats.components[name], self.floats.wanted[name]
        closed, unsure = everything.closed_at(component, wanted)
        blocked = everything.blocked_by(component, wanted) if closed and not unsure else set()
        return blocked or self.reasons.get(name) or Trial(component, everything.without(component)).blocked_by(wanted)
