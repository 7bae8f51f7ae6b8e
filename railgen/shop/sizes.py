"""Features of a table grouped by their size, for the lists that a shop works from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from railgen.holes.table import SHAPES, HoleTable, IntArray
from railgen.shop.card_line import CardLine

_KEPT_DECIMALS = 6  # of a millimetre: sizes that agree so far are one size


@dataclass(frozen=True)
class SizeGroup:
    """Features of one size: SHAPES index, sizes in mm (0 where they do not apply), rows of a table."""

    shape: int
    diameter: float
    length: float
    rows: IntArray

    @property
    def count(self) -> int:
        """How many features."""
        return len(self.rows)

    @property
    def name(self) -> CardLine:
        """The size in words."""
        return CardLine(f"size.{SHAPES[self.shape]}", {"diameter": self.diameter, "length": self.length})


def size_at(table: HoleTable, row: int) -> CardLine:
    """The size of one feature in words."""
    diameter, length = np.nan_to_num([table.diameter[row], table.length[row]]).tolist()
    return SizeGroup(int(table.shape[row]), diameter, length, np.array([row])).name


def group_by_size(table: HoleTable, rows: IntArray) -> tuple[SizeGroup, ...]:
    """The rows at an index array grouped by shape, diameter and length, in that order."""
    if not len(rows):
        return ()
    columns = np.column_stack([table.shape, np.nan_to_num(table.diameter), np.nan_to_num(table.length)])
    keys, group = np.unique(columns[rows].round(_KEPT_DECIMALS), axis=0, return_inverse=True)
    return tuple(
        SizeGroup(int(shape), float(diameter), float(length), rows[group.ravel() == number])
        for number, (shape, diameter, length) in enumerate(keys)
    )
