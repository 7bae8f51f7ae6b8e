"""The fastener kit of one serial: screws, hardened washers and lock nuts, by component and summed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from railgen.data.findings import Finding
from railgen.data.library import Library
from railgen.data.stock import Fastener
from railgen.holes.table import FACES, RAIL, SIDES, HoleTable
from railgen.layout.features import through_liner
from railgen.layout.plan import ResolvedOrder, SerialPlan
from railgen.shop.screws import Screws, has_screw, screws_at, washers_of
from railgen.shop.stacks import Stacks, stacks_of

CAP_SCREW, FLUSH_SCREW, WASHER, NUT = "cap screw", "flush screw", "hardened washer", "lock nut"
ITEMS = (CAP_SCREW, FLUSH_SCREW, WASHER, NUT)
"""What a kit is made of, in the order of its lists."""


@dataclass(frozen=True)
class KitLine:
    """One line of a kit: item, size, length (mm, None for washers and nuts), count, and whose holes it is for."""

    item: str
    size: str
    length: float | None
    count: int
    components: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Kit:
    """The screws of a serial: those of all rows of its rails that have one."""

    plan: SerialPlan
    screws: Screws

    @property
    def holes(self) -> HoleTable:
        """The serial's hole table."""
        return self.plan.holes

    @property
    def library(self) -> Library:
        """Where its fasteners stand."""
        return self.plan.order.library

    @cached_property
    def place(self) -> dict[int, int]:
        """Which of the screws stands at a row of the hole table."""
        return {row: place for place, row in enumerate(self.screws.row.tolist())}

    def fastener_at(self, place: int) -> Fastener:
        """The fastener of one screw."""
        return self.library.fasteners[self.holes.fastener_of(int(self.screws.row[place]))]

    def length_at(self, place: int) -> float | None:
        """Standard length (mm) of one screw, None where the library has none that will do."""
        length = float(self.screws.length[place])
        return None if np.isnan(length) else length


def kit_of(plan: SerialPlan) -> Kit:
    """The kit of a planned serial. Studs are welded to the rail and are no part of it."""
    return Kit(plan, _screws(plan.order, plan.holes))


def serial_stacks(order: ResolvedOrder, holes: HoleTable) -> Stacks:
    """What the fastener at each hole of a serial clamps."""
    lined = through_liner(order.rail, holes) & (holes.part == RAIL)
    return stacks_of(order.rail, order.library, holes, np.asarray(lined))


def _screws(order: ResolvedOrder, holes: HoleTable) -> Screws:
    rows = np.flatnonzero(has_screw(holes, order.library) & (holes.part == RAIL))
    return screws_at(rows, holes, order.library, serial_stacks(order, holes))


def kit_lines(kit: Kit) -> tuple[KitLine, ...]:
    """The kit by component: one line for each item, size, length and set of components that own the holes."""
    counts: Counter[tuple[str, str, float | None, tuple[str, ...]]] = Counter()
    for place, row in enumerate(kit.screws.row.tolist()):
        owners = kit.holes.owners_of(row)
        for item, size, length, count in _pieces(kit, place, row):
            counts[item, size, length, owners] += count
    lines = [KitLine(item, size, length, count, owners) for (item, size, length, owners), count in counts.items()]
    return _in_order(kit, lines)


def summed(kit: Kit, lines: Iterable[KitLine]) -> tuple[KitLine, ...]:
    """The same lines summed: one for each item, size and length, with all their components."""
    counts: Counter[tuple[str, str, float | None]] = Counter()
    owners: dict[tuple[str, str, float | None], set[str]] = {}
    for line in lines:
        key = line.item, line.size, line.length
        counts[key] += line.count
        owners.setdefault(key, set()).update(line.components)
    return _in_order(kit, [KitLine(*key, count, tuple(sorted(owners[key]))) for key, count in counts.items()])


def _pieces(kit: Kit, place: int, row: int) -> Iterator[tuple[str, str, float | None, int]]:
    """Item, size, length and count of what goes with one screw."""
    fastener, name = kit.fastener_at(place), kit.holes.fastener_of(row)
    size = plain_size(kit.library, name)
    yield FLUSH_SCREW if fastener.kind == "flush screw" else CAP_SCREW, name, kit.length_at(place), 1
    yield WASHER, size, None, washers_of(fastener)
    yield NUT, size, None, 1


def plain_size(library: Library, name: str) -> str:
    """The size that a fastener's washers and nut are ordered by: that of the cap screw which takes the same ones."""
    fastener = library.fasteners[name]
    if fastener.kind == "screw":
        return name
    return next((other for other, entry in library.fasteners.items() if _same_pieces(entry, fastener)), name)


def _same_pieces(entry: Fastener, fastener: Fastener) -> bool:
    alike = ("diameter", "pitch", "washer_outside", "washer_thickness", "nut_height")
    return entry.kind == "screw" and all(getattr(entry, key) == getattr(fastener, key) for key in alike)


def _in_order(kit: Kit, lines: Iterable[KitLine]) -> tuple[KitLine, ...]:
    """By item, then diameter, size, length and components."""
    fasteners = kit.library.fasteners

    def key(line: KitLine) -> tuple[object, ...]:
        fastener = fasteners[line.size]
        return ITEMS.index(line.item), fastener.diameter, line.size, line.length or 0.0, line.components

    return tuple(sorted(lines, key=key))


def stack_findings(order: ResolvedOrder, holes: HoleTable) -> tuple[Finding, ...]:
    """An error for each hole whose stack no standard screw covers. Source: common practice.

    A fastener for which the library lists no lengths at all gives none.
    """
    screws = _screws(order, holes)
    missing = np.flatnonzero(np.isnan(screws.length))
    found = (_stack_finding(order.library, holes, screws, int(place)) for place in missing)
    return tuple(finding for finding in found if finding is not None)


def _stack_finding(library: Library, holes: HoleTable, screws: Screws, place: int) -> Finding | None:
    row, needed = int(screws.row[place]), float(screws.needed[place])
    hole, name, grip = holes.hole_id(row), holes.fastener_of(row), float(screws.grip[place])
    longest = max(library.fasteners[name].lengths, default=None)
    if longest is None:
        return None
    too_long = needed > longest
    message = f"{hole} clamps {grip:.1f} mm, for which its {name} must be {needed:.1f} mm long"
    message += (
        f"; the longest listed is {longest:g} mm"
        if too_long
        else "; no length listed clamps that and keeps its thread out of the shear planes where that is asked"
    )
    return Finding(
        rule="grip",
        measure="screw-length",
        severity="error",
        side=SIDES[holes.side[row]],
        part="rail",
        face=FACES[holes.face[row]],
        holes=(hole,),
        components=holes.owners_of(row),
        station_mm=float(holes.station[row]),
        value=needed,
        limit=longest if too_long else None,
        unit="mm",
        source="common practice",
        message=message,
        remedy="Clamp less, name another fastener, or add the length to the library.",
    )
