"""A comparison as an overlaid picture: the rails of both sides, and the list of components with changes."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from railgen.papers.overlay_subject import Label, Move, Overlay, OverlayHole, State
from railgen.papers.wording import say
from railgen.records.compare import KINDS, Change, Comparison, ComponentChanges, Hole, by_component, moved_by
from railgen.records.pattern import Pattern

_COLUMNS = (
    ("number", 10.0),
    ("component", 75.0),
    *((kind, 18.0) for kind in KINDS),
    ("same", 18.0),
    ("moved_by", 140.0),
)
_MOST_MOVES = 6


def overlay_of(comparison: Comparison) -> Overlay:
    """The comparison as a picture shows it."""
    components = by_component(comparison)
    numbers = {one.component: number for number, one in enumerate(components, 1)}
    changes = [change for change in comparison.changes if change.hole.part == "rail"]
    return Overlay(
        (_title(comparison.before), _title(comparison.after)),
        (comparison.before.edges, comparison.after.edges),
        [*_same_holes(comparison), *(hole for change in changes for hole in _changed_holes(change))],
        list(_moves(changes)),
        list(_labels(changes, numbers)),
        [(say(f"overlay_table.{key}"), width) for key, width in _COLUMNS],
        [(str(numbers[one.component]), *component_cells(one)) for one in components],
    )


def _title(pattern: Pattern) -> str:
    if not pattern.revision:
        return pattern.serial
    return say("overlay.revision", serial=pattern.serial, revision=pattern.revision)


def component_cells(one: ComponentChanges) -> tuple[str, ...]:
    """One component's row: name, holes by kind of change, holes that are the same, and how far it has moved."""
    ways = say("overlay.along"), say("overlay.across")
    moves = [moved_by(*move, ways) for move in one.moves[:_MOST_MOVES]]
    left = len(one.moves) - len(moves)
    words = "; ".join(moves) + (f"; {say('overlay.other_moves', count=left)}" if left > 0 else "")
    counts = (str(one.counts.get(kind, 0) or "") for kind in KINDS)
    return (one.component, *counts, str(one.same or ""), words)


def _same_holes(comparison: Comparison) -> Iterator[OverlayHole]:
    return (_drawn(after, "same") for _, after in comparison.same if after.part == "rail")


def _changed_holes(change: Change) -> Iterator[OverlayHole]:
    """A changed hole as it was and as it is; where steel is the same, once."""
    if change.before is None or change.after is None:
        yield _drawn(change.hole, "added" if change.before is None else "removed")
    elif change.kinds == ("changed",):
        yield _drawn(change.after, "changed")
    else:
        yield _drawn(change.before, "before")
        yield _drawn(change.after, "after")


def _drawn(hole: Hole, state: State) -> OverlayHole:
    place = (hole.side, hole.face, hole.station_mm, hole.across_mm)
    return OverlayHole(state, *place, hole.shape, hole.diameter_mm, hole.length_mm, hole.angle_deg)


def _moves(changes: list[Change]) -> Iterator[Move]:
    for change in changes:
        if "moved" in change.kinds and change.before and change.after:
            before, after = change.before, change.after
            places = (before.station_mm, before.across_mm), (after.station_mm, after.across_mm)
            yield Move(after.side, after.face, *places)


def _labels(changes: list[Change], numbers: dict[str, int]) -> Iterator[Label]:
    """One number for each instance of a component with changes, at the middle of its changed holes."""
    stations: dict[tuple[str, str, str], list[float]] = defaultdict(list)
    for change in changes:
        hole = change.hole
        stations[hole.side, hole.component, hole.hole.rsplit(".", 1)[0]].append(hole.station_mm)
    for (side, component, _), found in stations.items():
        yield Label(side, (min(found) + max(found)) / 2, numbers[component])
