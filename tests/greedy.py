"""A plain placer to hold the real one to: floats settled one after the other, at the nearest free station of the grid.

Components go in id order, each against what is already placed; of two stations equally near the rearward one is taken.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from railgen.data.component import Component
from railgen.data.findings import Finding
from railgen.holes.table import BoolArray
from railgen.layout.catalogue import Catalogue
from railgen.layout.place import place, preferred_station
from railgen.layout.plan import ResolvedOrder
from railgen.placing.floats import grid_stations
from railgen.placing.ground import Blocked, Ground
from railgen.placing.notes import Told, note_of
from railgen.placing.placed import Placed, placed_at
from railgen.placing.trial import Trial, errors_about

MOST_TRIED = 40
"""Stations of one component tried under all rules, where one was found in error after all."""


def place_greedily(order: ResolvedOrder, catalogue: Catalogue) -> Placed:
    """All components of an order at their stations, checked."""
    return _placed(order, catalogue)[0]


def settle(order: ResolvedOrder, catalogue: Catalogue) -> tuple[dict[str, float], list[Finding]]:
    """Stations of the components that float, and a note for each that moves, and for each that cannot."""
    placed, settled = _placed(order, catalogue)
    return settled, [finding for finding in placed.findings if finding.rule == "placed"]


def _placed(order: ResolvedOrder, catalogue: Catalogue) -> tuple[Placed, dict[str, float]]:
    settled, notes = _settled(order, catalogue)
    placed = _checked(order, catalogue, settled, notes)
    if not _in_error(placed, order):
        return placed, settled
    # Something that intervals do not know of: a line across the rail, the press, or a float that none was left for.
    settled, notes = _settled(order, catalogue, under_all_rules=True)
    return _relieved(_checked(order, catalogue, settled, notes), settled, order, catalogue)


def _settled(
    order: ResolvedOrder, catalogue: Catalogue, under_all_rules: bool = False
) -> tuple[dict[str, float], list[Finding]]:
    ground = Ground(order, catalogue)
    floating = [component for component in order.components if component.floating]
    if floating:
        for component in order.components:
            if not component.floating:
                ground.add(component, preferred_station(component, order))
    settled: dict[str, float] = {}
    notes: list[Finding] = []
    for component in floating:
        wanted = preferred_station(component, order)
        station, blocking = _nearest_free(component, wanted, ground, under_all_rules)
        if station is None or station != wanted:
            notes.append(_note(component, wanted, station, blocking))
        settled[component.id] = wanted if station is None else station
        ground.add(component, settled[component.id])
    return settled, notes


def _checked(order: ResolvedOrder, catalogue: Catalogue, settled: dict[str, float], notes: list[Finding]) -> Placed:
    placed = placed_at(order, catalogue, place(order, catalogue, settled))
    return replace(placed, findings=(*placed.findings, *notes))


def _in_error(placed: Placed, order: ResolvedOrder) -> list[Component]:
    """Floating components that an error finding names, which another station might be without."""
    return [c for c in order.components if c.floating and errors_about(c.id, placed.findings)]


def _relieved(
    placed: Placed, settled: dict[str, float], order: ResolvedOrder, catalogue: Catalogue
) -> tuple[Placed, dict[str, float]]:
    """Floats still in error moved out of it, the last placed first, where a station is free beside all that stands.

    One that came later found no free station, or closed the one of another. What none is free for is placed beside all
    but one other float, which is placed anew after it.
    """
    floats = [component for component in order.components if component.floating]
    alone = [(component,) for component in reversed(_in_error(placed, order))]
    pairs = [(component, other) for (component,) in alone for other in floats if other is not component]
    for group in (*alone, *pairs):
        if not errors_about(group[0].id, placed.findings):
            continue
        moved = _placed_anew(group, settled, order, catalogue)
        if not moved:
            continue
        settled = settled | {name: station for name, (station, _) in moved.items()}
        notes = [note for note in placed.findings if note.rule == "placed" and not set(note.components) & set(moved)]
        for name, (station, blocking) in moved.items():
            wanted = preferred_station(order.library.components[name], order)
            if station != wanted:
                notes.append(_note(order.library.components[name], wanted, station, blocking))
        placed = _checked(order, catalogue, settled, notes)
    # What has been given room stands free at its preferred station after all.
    kept = [f for f in placed.findings if not (_unmoved(f) and not errors_about(f.components[0], placed.findings))]
    return replace(placed, findings=tuple(kept)), settled


_Moves = dict[str, tuple[float, set[Blocked]]]
"""New stations of components, with what closes their preferred ones."""


def _placed_anew(
    group: tuple[Component, ...], settled: dict[str, float], order: ResolvedOrder, catalogue: Catalogue
) -> _Moves:
    """Free stations of some floats, one after the other, beside all else; none where one finds none, or none moves."""
    ground = Ground(order, catalogue)
    for other in order.components:
        if other not in group:
            ground.add(other, settled.get(other.id, preferred_station(other, order)))
    moves: _Moves = {}
    for component in group:
        station, blocking = _nearest_free(component, preferred_station(component, order), ground, under_all_rules=True)
        if station is None:
            return {}
        moves[component.id] = station, blocking
        ground.add(component, station)
    return moves if any(station != settled[name] for name, (station, _) in moves.items()) else {}


def _unmoved(finding: Finding) -> bool:
    """Whether a finding is the note of a component that found no free station."""
    return finding.rule == "placed" and finding.value == finding.limit


def _nearest_free(
    component: Component, wanted: float, ground: Ground, under_all_rules: bool = False
) -> tuple[float | None, set[Blocked]]:
    """The first station of the grid without an error against what is placed, and what closes the wanted one.

    The station is None where there is no free one. Under all rules so many stations are tried at most.
    """
    unseen = needs_whole_pattern(component)
    closed, unsure = ground.closed(component, np.array([wanted]))
    if not (closed[0] or unsure[0] or unseen or under_all_rules):
        return wanted, set()
    stations = list(grid_stations(component, wanted))
    ascending = np.argsort(stations, kind="stable")
    closed, unsure = (found[np.argsort(ascending)] for found in ground.closed(component, np.array(stations)[ascending]))
    known = closed & ~unsure
    if unseen or under_all_rules:
        unsure |= ~closed
    trial = Trial(component, ground)
    station = _first_free(trial, stations, closed, unsure, MOST_TRIED if under_all_rules else None)
    if station is None and under_all_rules:
        # In error everywhere: by itself, or by what no interval tells. At least it keeps clear of the others.
        return _nearest_free(component, wanted, ground)
    if station == wanted:
        return wanted, set()
    return station, ground.blocked_by(component, wanted) if known[0] else trial.blocked_by(wanted)


def _note(component: Component, wanted: float, station: float | None, blocking: set[Blocked]) -> Finding:
    return note_of(
        Told(component, wanted, wanted if station is None else station, station is None, None, None), blocking
    )


def _first_free(
    trial: Trial, stations: list[float], closed: BoolArray, unsure: BoolArray, most: int | None = None
) -> float | None:
    """The first of some stations without an error of the component, None without any.

    Only the unsure ones are tried: first all at once under the rules that look at one or two features, then one by one
    under every rule, no more than ``most`` of them.
    """
    doubtful = np.flatnonzero(unsure)
    out = closed & ~unsure
    out[doubtful] = trial.features_in_error([stations[index] for index in doubtful.tolist()])
    left: list[int] = np.flatnonzero(~out)[:most].tolist()
    return next((stations[n] for n in left if not unsure[n] or not trial.errors(stations[n])), None)


def needs_whole_pattern(component: Component) -> bool:
    """Whether rules over whole patterns look at the component."""
    return bool(component.mates) or any(group.face != "web" for group in component.groups)
