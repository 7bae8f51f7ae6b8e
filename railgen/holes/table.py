"""The hole table as columns of numpy arrays: one row a feature, the same code for one serial or fifty thousand."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from railgen.frame.panels import FACE_OF_PANEL

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

SIDES = ("LH", "RH")
PARTS = ("rail", "liner")
FACES = ("web", "top", "bottom")
SHAPES = ("round", "slot", "rectangle", "mark")
OPERATIONS = ("punch", "drill", "countersink", "stud")
LH, RH = 0, 1
RAIL, LINER = 0, 1
ROUND, SLOT, RECTANGLE, MARK = 0, 1, 2, 3
PUNCH, DRILL, COUNTERSINK, STUD = 0, 1, 2, 3
FILE_DECIMALS = 9
"""Decimals of a millimetre or a degree that files carry; what is equal to these is one number to everybody."""
NONE = -1
"""Stands in an index column where there is nothing: no fastener, no tool."""


@dataclass(frozen=True)
class Names:
    """The names behind the index columns of a table."""

    components: tuple[str, ...]
    features: tuple[str, ...]
    fasteners: tuple[str, ...]
    tools: tuple[str, ...] = ()


@dataclass(frozen=True)
class HoleTable:
    """Features of one serial, all columns of equal length n.

    Integers index the tuples above (side, part, shape, operation), ``frame.panels.Panel`` (panel) or ``names``.
    Lengths are mm, angles degrees. ``u`` and ``v`` are the blank's axes as drawn for LH (u = 0 at the front end, on
    both sides); ``blank_x`` is u for LH and the mirror of it for RH, and ``blank_angle`` is as drawn on that hand's
    blank. ``diameter`` is a slot's width and a rectangle's shorter side; ``length`` is NaN where it does not apply.
    ``strings`` says whether a component lets a string of hits cut the opening.
    ``owners`` lists the components of all rows, row i having ``owners[owner_start[i]:owner_start[i + 1]]``, the first
    owner first.
    """

    names: Names
    side: IntArray
    part: IntArray
    panel: IntArray
    station: FloatArray
    across: FloatArray
    u: FloatArray
    v: FloatArray
    blank_x: FloatArray
    shape: IntArray
    diameter: FloatArray
    length: FloatArray
    angle: FloatArray
    blank_angle: FloatArray
    corner_radius: FloatArray
    fastener: IntArray
    operation: IntArray
    locating: BoolArray
    strings: BoolArray
    shareable: BoolArray
    component: IntArray
    instance: IntArray
    feature: IntArray
    tool: IntArray
    owner_start: IntArray
    owners: IntArray

    def __len__(self) -> int:
        return len(self.station)

    @cached_property
    def face(self) -> IntArray:
        """Index into FACES of each row."""
        return FACE_OF_PANEL[self.panel].astype(np.int64)

    @cached_property
    def ids(self) -> tuple[str, ...]:
        """component.instance.feature of each row's first owner."""
        components, features = self.names.components, self.names.features
        columns = (self.component.tolist(), self.instance.tolist(), self.feature.tolist())
        return tuple(f"{components[c]}.{i}.{features[f]}" for c, i, f in zip(*columns, strict=True))

    def hole_id(self, row: int) -> str:
        """The same of one row."""
        component, feature = self.names.components[self.component[row]], self.names.features[self.feature[row]]
        return f"{component}.{self.instance[row]}.{feature}"

    @cached_property
    def _owners(self) -> tuple[list[int], list[int]]:
        return self.owner_start.tolist(), self.owners.tolist()

    def owners_of(self, row: int) -> tuple[str, ...]:
        """Names of all components that own the row's feature, sorted."""
        start, owners = self._owners
        first, last = start[row], start[row + 1]
        if last - first == 1:
            return (self.names.components[owners[first]],)
        return tuple(sorted({self.names.components[owner] for owner in owners[first:last]}))

    def fastener_of(self, row: int) -> str:
        """Name of the row's fastener, empty where it has none."""
        index = self.fastener[row]
        return "" if index == NONE else self.names.fasteners[index]

    def tool_of(self, row: int) -> str:
        """Name of the row's tool, empty where it has none."""
        index = self.tool[row]
        return "" if index == NONE else self.names.tools[index]

    def rows(self, index: NDArray[Any]) -> HoleTable:
        """The rows at an index array or mask, in its order."""
        chosen = np.flatnonzero(index) if index.dtype == np.bool_ else index
        columns = {f.name: getattr(self, f.name)[chosen] for f in fields(self) if f.name not in _RAGGED}
        counts = np.diff(self.owner_start)[chosen]
        start = np.concatenate(([0], np.cumsum(counts)))
        flat = np.repeat(self.owner_start[:-1][chosen] - start[:-1], counts) + np.arange(start[-1])
        return HoleTable(names=self.names, owner_start=start, owners=self.owners[flat], **columns)

    def with_columns(self, **columns: Any) -> HoleTable:
        """A copy with some columns replaced."""
        return replace(self, **columns)


_RAGGED = ("names", "owner_start", "owners")


def stacked(tables: list[HoleTable]) -> HoleTable:
    """Tables with the same names, one below the other."""
    columns = {
        f.name: np.concatenate([getattr(table, f.name) for table in tables])
        for f in fields(HoleTable)
        if f.name not in _RAGGED
    }
    counts = np.concatenate([np.diff(table.owner_start) for table in tables])
    start = np.concatenate(([0], np.cumsum(counts)))
    owners = np.concatenate([table.owners for table in tables])
    return HoleTable(names=tables[0].names, owner_start=start, owners=owners, **columns)


def in_file_order(table: HoleTable) -> HoleTable:
    """Rows ordered as in every file: side, part, face, station, across, then hole name."""
    ids = np.array(table.ids, dtype=np.str_)
    station, across = np.round(table.station, FILE_DECIMALS), np.round(table.across, FILE_DECIMALS)
    return table.rows(np.lexsort((ids, across, station, table.face, table.part, table.side)))
