"""Two serials, or two revisions of one, hole by hole: added, removed, moved, resized; by component.

Holes are told apart by side, part, face, component and feature. Of those that share all of these (instances of a
repeat) holes at the same place are one; then those of the same instance; then the rest in the order of their stations.
A hole that has left one component and stands at the same place in another is one hole with another owner.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from typing import Literal

import numpy as np

from railgen.formats.hole_table import HoleRows
from railgen.records.pattern import Pattern

Kind = Literal["added", "removed", "moved", "resized", "changed"]
KINDS: tuple[Kind, ...] = ("added", "removed", "moved", "resized", "changed")
SAME_PLACE = 1e-6
"""mm: what is nearer has not moved."""
_SAME_SIZE = 1e-6


@dataclass(frozen=True, slots=True)
class Hole:
    """One row of a hole table, as far as a comparison looks at it; sizes and angle 0 where they do not apply."""

    side: str
    part: str
    face: str
    hole: str
    component: str
    feature: str
    station_mm: float
    across_mm: float
    shape: str
    diameter_mm: float
    length_mm: float
    angle_deg: float
    tool: str
    fastener: str
    operation: str
    components: tuple[str, ...]

    @property
    def size(self) -> str:
        """Shape and size in words."""
        if self.shape == "mark":
            return self.fastener or "mark"
        if self.shape == "round":
            return f"round {self.diameter_mm:g}"
        return f"{self.shape} {self.diameter_mm:g} x {self.length_mm:g}"


@dataclass(frozen=True, slots=True)
class Change:
    """What has become of one hole: it is missing from before (added), from after (removed), or stands in both."""

    before: Hole | None
    after: Hole | None
    kinds: tuple[Kind, ...]
    along_mm: float = 0.0
    across_mm: float = 0.0
    details: tuple[str, ...] = ()

    @property
    def hole(self) -> Hole:
        """The hole as it is, or was."""
        found = self.after or self.before
        assert found is not None
        return found

    def as_dict(self) -> dict[str, object]:
        """The change as plain data."""
        return {**asdict(self), "component": self.hole.component}


@dataclass(frozen=True)
class Comparison:
    """Two patterns: the holes that are the same in both, every change, ordered by place, and changes of the rail."""

    before: Pattern
    after: Pattern
    same: tuple[tuple[Hole, Hole], ...]
    changes: tuple[Change, ...]
    rail: tuple[RailChange, ...]

    @property
    def differ(self) -> bool:
        """Whether anything is not the same."""
        return bool(self.changes or self.rail)


@dataclass(frozen=True, slots=True)
class RailChange:
    """A size of the rail that is not the same, mm; None where there is none (a rail without a taper has no fold)."""

    what: str
    before_mm: float | None
    after_mm: float | None

    @property
    def words(self) -> str:
        """The change in words."""
        before, after = ("none" if mm is None else f"{mm:.3f}" for mm in (self.before_mm, self.after_mm))
        return f"{self.what} {before} to {after} mm"


_RAIL = (
    ("front end at station", "front"),
    ("rear end at station", "rear"),
    ("depth", "depth"),
    ("flange width", "flange"),
    ("taper's start at station", "fold"),
    ("depth at the rear end", "end_depth"),
)
_RAIL_SAME = 2e-3
"""mm: of a folder, sizes come from a slope and from notes of three decimals."""


def _rail_changes(before: Pattern, after: Pattern) -> Iterator[RailChange]:
    """Sizes of the rail that differ, where both are known; a folder without flange holes knows no flange width."""
    if before.edges is None or after.edges is None:
        return
    for what, name in _RAIL:
        a, b = getattr(before.edges, name), getattr(after.edges, name)
        if name == "flange" and not (a and b):
            continue
        if (a is None) != (b is None) or (a is not None and b is not None and abs(b - a) > _RAIL_SAME):
            yield RailChange(what, a, b)


def compare(before: Pattern, after: Pattern) -> Comparison:
    """Every difference between two patterns."""
    pairs, gone, new = _pairs(list(_holes(before.holes)), list(_holes(after.holes)))
    found = [(a, b, *_difference(a, b)) for a, b in pairs]
    same = tuple((a, b) for a, b, kinds, _ in found if not kinds)
    changes = [_changed(a, b, kinds, details) for a, b, kinds, details in found if kinds]
    changes += [Change(hole, None, ("removed",)) for hole in gone]
    changes += [Change(None, hole, ("added",)) for hole in new]
    ordered = tuple(sorted(changes, key=_order))
    return Comparison(before, after, same, ordered, tuple(_rail_changes(before, after)))


def _changed(a: Hole, b: Hole, kinds: tuple[Kind, ...], details: tuple[str, ...]) -> Change:
    along, across = b.station_mm - a.station_mm, b.across_mm - a.across_mm
    return Change(a, b, kinds, round(along, 9) + 0.0, round(across, 9) + 0.0, details)


def _order(change: Change) -> tuple[object, ...]:
    hole = change.hole
    return (hole.component, hole.part, hole.side, hole.face, hole.station_mm, hole.across_mm, hole.hole, change.kinds)


def _holes(rows: HoleRows) -> Iterator[Hole]:
    sizes = [np.nan_to_num(column).tolist() for column in (rows.diameter_mm, rows.length_mm, rows.angle_deg)]
    station, across = rows.station_mm.tolist(), rows.across_mm.tolist()
    for row, name in enumerate(rows.hole):
        component, feature = (name.rsplit(".", 2)[0], name.rsplit(".", 1)[-1])
        yield Hole(
            side=rows.side[row],
            part=rows.part[row],
            face=rows.face[row],
            hole=name,
            component=component,
            feature=feature,
            station_mm=station[row],
            across_mm=across[row],
            shape=rows.shape[row],
            diameter_mm=sizes[0][row],
            length_mm=sizes[1][row],
            angle_deg=sizes[2][row],
            tool=rows.tool[row],
            fastener=rows.fastener[row],
            operation=rows.operation[row],
            components=rows.components[row],
        )


_Key = Callable[[Hole], object]
_Left = tuple[list[Hole], list[Hole]]


def _place_of_feature(hole: Hole) -> object:
    return (*_place(hole), hole.component, hole.feature)


def _name(hole: Hole) -> object:
    return hole.side, hole.part, hole.face, hole.hole


def _feature(hole: Hole) -> object:
    return hole.side, hole.part, hole.face, hole.component, hole.feature


def _place(hole: Hole) -> tuple[object, ...]:
    return hole.side, hole.part, hole.face, round(hole.station_mm, 6), round(hole.across_mm, 6)


_KEYS: tuple[_Key, ...] = (_place_of_feature, _name, _feature, _place)
"""What makes two holes one, tried in turn on those that are left."""


def _pairs(before: list[Hole], after: list[Hole]) -> tuple[list[tuple[Hole, Hole]], list[Hole], list[Hole]]:
    """Holes of both that are one, and those left on either side."""
    pairs: list[tuple[Hole, Hole]] = []
    left: _Left = before, after
    for key in _KEYS:
        found, left = _paired(left, key)
        pairs += found
    return pairs, *left


def _paired(holes: _Left, key: _Key) -> tuple[list[tuple[Hole, Hole]], _Left]:
    """Holes with the same key, paired in the order of their stations; and those left."""
    groups: dict[object, _Left] = defaultdict(lambda: ([], []))
    for index, side in enumerate(holes):
        for hole in sorted(side, key=lambda hole: (hole.station_mm, hole.across_mm, hole.hole)):
            groups[key(hole)][index].append(hole)
    pairs: list[tuple[Hole, Hole]] = []
    left: _Left = ([], [])
    for first, second in groups.values():
        count = min(len(first), len(second))
        pairs += zip(first[:count], second[:count], strict=True)
        left[0].extend(first[count:])
        left[1].extend(second[count:])
    return pairs, left


def _difference(a: Hole, b: Hole) -> tuple[tuple[Kind, ...], tuple[str, ...]]:
    """How two holes that are one differ, and in what words."""
    kinds: list[Kind] = []
    details = []
    if max(abs(b.station_mm - a.station_mm), abs(b.across_mm - a.across_mm)) > SAME_PLACE:
        kinds.append("moved")
    if a.shape != b.shape or max(abs(b.diameter_mm - a.diameter_mm), abs(b.length_mm - a.length_mm)) > _SAME_SIZE:
        kinds.append("resized")
        details.append(f"{a.size} to {b.size}")
    named = [
        ("angle", f"{a.angle_deg:g}", f"{b.angle_deg:g}"),
        ("fastener", a.fastener, b.fastener),
        ("operation", a.operation, b.operation),
        ("owners", ", ".join(a.components), ", ".join(b.components)),
    ]
    # Another size has another tool; that says nothing more.
    named += [] if "resized" in kinds else [("tool", a.tool, b.tool)]
    changed = [f"{name} {old or 'none'} to {new or 'none'}" for name, old, new in named if old != new]
    if changed:
        kinds.append("changed")
    return tuple(kinds), (*details, *changed)


@dataclass(frozen=True, slots=True)
class ComponentChanges:
    """Holes of one component by what has become of them; `moves`, mm along and across, of those that have moved."""

    component: str
    same: int
    counts: dict[Kind, int]
    moves: tuple[tuple[float, float], ...]


def by_component(comparison: Comparison) -> tuple[ComponentChanges, ...]:
    """The components with any change, and what it is, in the order of their names."""
    changes: dict[str, list[Change]] = defaultdict(list)
    for change in comparison.changes:
        changes[change.hole.component].append(change)
    same = Counter(after.component for _, after in comparison.same)
    found = []
    for component in sorted(changes):
        counts = Counter(kind for change in changes[component] for kind in change.kinds)
        moves = {
            (round(change.along_mm, 3) + 0.0, round(change.across_mm, 3) + 0.0)
            for change in changes[component]
            if "moved" in change.kinds
        }
        found.append(ComponentChanges(component, same[component], dict(counts), tuple(sorted(moves))))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class AlikeChanges:
    """Changes that read alike: of one component on one part and face, the same in words."""

    component: str
    part: str
    face: str
    words: str
    changes: tuple[Change, ...]


def alike(comparison: Comparison) -> tuple[AlikeChanges, ...]:
    """All changes, those that read alike together, in order."""
    groups: dict[tuple[str, str, str, str], list[Change]] = defaultdict(list)
    for change in comparison.changes:
        hole = change.hole
        groups[hole.component, hole.part, hole.face, in_words(change)].append(change)
    return tuple(AlikeChanges(*key, tuple(changes)) for key, changes in groups.items())


def in_words(change: Change) -> str:
    """A change without the hole's name and place."""
    words = []
    for kind in change.kinds:
        if kind == "moved":
            words.append(f"moved {moved_by(change.along_mm, change.across_mm)}")
        elif kind in ("added", "removed"):
            words.append(f"{kind}: {change.hole.size}")
    return "; ".join((*words, *change.details))


def moved_by(along: float, across: float, ways: tuple[str, str] = ("along", "across")) -> str:
    """A move in words, mm; rearward and up or inboard are above 0. ``ways``: the words for along and across."""
    steps = zip((along, across), ways, strict=True)
    return ", ".join(f"{step:+.3f} {way}" for step, way in steps if abs(step) > SAME_PLACE)
