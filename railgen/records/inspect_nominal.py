"""What measured holes are held to: the hole table's features with what the library says of bolts and locating holes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.data.component import Component
from railgen.data.inspection import Tolerances
from railgen.data.library import Library
from railgen.data.messages import InputError, Problem
from railgen.formats.hole_table import HoleRows
from railgen.holes.inspection import position_tolerances
from railgen.holes.table import FACES, BoolArray, FloatArray, IntArray
from railgen.records.inspect_match import Pattern


@dataclass(frozen=True, eq=False)
class Nominal:
    """The n features of one part: lengths mm, diameters NaN for marks.

    group: index of the hole group (the features of one instance of one component on one face; a shared hole belongs to
    its first owner's); station_tolerance and group_tolerance without bonus; bonus: whether there is one.
    """

    hole: tuple[str, ...]
    tool: tuple[str, ...]
    fastener: tuple[str, ...]
    pattern: Pattern
    locating: BoolArray
    group: IntArray
    station_tolerance: FloatArray
    group_tolerance: FloatArray
    bonus: BoolArray

    def __len__(self) -> int:
        return len(self.hole)


def nominal_of(rows: HoleRows, side: str, part: str, library: Library, tolerances: Tolerances) -> Nominal:
    """The features of one part of a hole table.

    Raises InputError where the library lacks a fastener of the table, since then no tolerance follows.
    """
    kept = [row for row in range(len(rows)) if rows.side[row] == side and rows.part[row] == part]
    columns = {name: tuple(getattr(rows, name)[row] for row in kept) for name in ("hole", "tool", "fastener", "face")}
    pattern = pattern_of(rows, kept)
    names = [f"{hole.rpartition('.')[0]} {face}" for hole, face in zip(columns["hole"], columns["face"], strict=True)]
    locating = np.array([is_locating(hole, library) for hole in columns["hole"]], dtype=np.bool_)
    bolts = np.array([_bolt(name, library) for name in columns["fastener"]], dtype=np.float64)
    owners = [hole.partition(".")[0] for hole in columns["hole"]]
    station, group, bonus = position_tolerances(owners, pattern.diameter, bolts, locating, tolerances)
    return Nominal(
        columns["hole"],
        columns["tool"],
        columns["fastener"],
        pattern,
        locating,
        np.unique(names, return_inverse=True)[1].astype(np.int64) if names else np.zeros(0, dtype=np.int64),
        station,
        group,
        bonus,
    )


def pattern_of(rows: HoleRows, kept: list[int]) -> Pattern:
    """Faces, places and diameters of some rows of a hole table."""
    place = np.stack([rows.station_mm[kept], rows.across_mm[kept]], axis=-1)
    faces = np.array([FACES.index(rows.face[row]) for row in kept], dtype=np.int64)
    return Pattern(faces, place, rows.diameter_mm[kept])


def is_locating(hole: str, library: Library) -> bool:
    """Whether the library says that a hole (component.instance.feature) is a locating hole."""
    component, _, rest = hole.partition(".")
    found = library.components.get(component)
    return found is not None and _locates(found, rest.rpartition(".")[2])


def _locates(component: Component, name: str) -> bool:
    return any(
        feature.locating if feature.locating is not None else group.locating
        for group in component.groups
        for feature in group.features
        if feature.id == name
    )


def _bolt(fastener: str, library: Library) -> float:
    """Diameter (mm) of the bolt through a hole, NaN where there is none; a welded stud needs no hole."""
    if not fastener:
        return float("nan")
    if fastener not in library.fasteners:
        hint = "Name the library that shaped the serial by --library, or inspect against the register."
        raise InputError([Problem(library.folder, "fasteners", f"no {fastener!r}", "each of the hole table", hint)])
    found = library.fasteners[fastener]
    return float("nan") if found.kind == "stud" else found.diameter
