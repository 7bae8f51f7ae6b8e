"""Orders of a family looked at one by one: sets of values of the order dimensions that matter, others left free."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from railgen.holes.table import BoolArray, FloatArray, IntArray
from railgen.placing.forms import Dimensions, form_range
from railgen.placing.regions import Region


@dataclass(frozen=True)
class Forms:
    """n linear forms of the order dimensions: offset (n,) mm, per (n, D)."""

    offset: FloatArray
    per: FloatArray


@dataclass(frozen=True)
class Cells:
    """Sets of values of some dimensions, m of them.

    taken (d,): which dimensions; values (m, d); free (D,): those left free; single (D,): the value of those that have
    only one; place: of each taken one by its name, where among its values each cell stands.
    """

    taken: IntArray
    values: FloatArray
    free: BoolArray
    single: FloatArray
    place: dict[str, IntArray]

    def __len__(self) -> int:
        return len(self.values)

    def range(self, dimensions: Dimensions, forms: Forms) -> tuple[FloatArray, FloatArray]:
        """(n, m) least and greatest value of n forms in each cell."""
        offset, per = forms.offset + forms.per @ self.single, np.where(self.free, forms.per, 0.0)
        at = forms.per[:, self.taken] @ self.values.T
        low, high = form_range(offset, per, dimensions)
        return at + low[:, None], at + high[:, None]

    def of(self, found: Region) -> BoolArray:
        """Which cells lie in a region for certain."""
        axes = found.axes
        if found.all:
            return np.ones(len(self), dtype=np.bool_)
        if any(name not in self.place for name in axes.names):
            return np.zeros(len(self), dtype=np.bool_)
        sizes = [len(_values(axes.dimensions, name)) for name in axes.names]
        return np.asarray(found.sure_cells.reshape(sizes)[tuple(self.place[name] for name in axes.names)])


def _values(dimensions: Dimensions, name: str) -> FloatArray:
    values = dimensions.each[dimensions.names.index(name)].values
    return np.empty(0) if values is None else values


def cells_of(dimensions: Dimensions, used: BoolArray, most: int) -> Cells:
    """Cells over the dimensions used (D,), the wheelbase and those with fewest values first, so many at most.

    Dimensions of a single value are in every cell.
    """
    each, names = dimensions.each, dimensions.names
    single = dimensions.least == dimensions.most
    stepped = [i for i in np.flatnonzero(used & ~single).tolist() if each[i].values is not None]
    taken, count = [], 1
    for index in sorted(stepped, key=lambda i: (i > 0, len(_values(dimensions, names[i])))):
        if count * len(_values(dimensions, names[index])) <= most:
            taken.append(index)
            count *= len(_values(dimensions, names[index]))
    grids = np.indices([len(_values(dimensions, names[i])) for i in taken]).reshape(len(taken), count)
    place = dict(zip((names[index] for index in taken), grids, strict=True))
    columns = [_values(dimensions, name)[grid] for name, grid in place.items()]
    values = np.stack(columns, axis=-1) if columns else np.zeros((1, 0))
    free = ~single
    free[taken] = False
    return Cells(np.array(taken, dtype=np.int64), values, free, np.where(single, dimensions.least, 0.0), place)


def one_cell(dimensions: Dimensions, used: BoolArray, values: Mapping[str, float]) -> Cells:
    """The cell of one order's values of the dimensions used (D,)."""
    single = dimensions.least == dimensions.most
    taken = np.flatnonzero(used & ~single)
    names = [dimensions.names[index] for index in taken.tolist()]
    at = np.array(
        [values.get(name, dimensions.least[index]) for name, index in zip(names, taken.tolist(), strict=True)]
    )
    each = [_values(dimensions, name) for name in names]
    place = {
        name: np.array([np.abs(found - value).argmin()])
        for name, value, found in zip(names, at.tolist(), each, strict=True)
        if len(found)
    }
    free = ~single
    free[taken] = False
    return Cells(taken, at[None, :], free, np.where(single, dimensions.least, 0.0), place)
