"""The two hands of a serial against each other: both have the same shape, one the mirror image of the other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from railgen.formats.cut_entities import Line, Path
from railgen.formats.cut_file import CutFile
from railgen.formats.names import Part, Side, cut_file_name
from railgen.holes.table import FloatArray
from railgen.records.check_cut_file import DXF
from railgen.records.discrepancy import Discrepancy, Kind
from railgen.records.features import drawn_features, match
from railgen.records.subject import Subject

_ALIKE = 2e-6
"""mm between a point and its mirror image, both of nine decimals."""


def check_hands(subject: Subject) -> Iterator[Discrepancy]:
    """Edge, bends, later cuts and the corners of rectangles of LH blanks against those of RH ones.

    Which of the two files is wrong cannot be told from them; the difference stands beside the LH one and names both.
    """
    parts: tuple[Part, ...] = ("rail", "liner")
    for part in parts:
        left, right = subject.cut_file("LH", part), subject.cut_file("RH", part)
        sizes = subject.outline_sizes("RH", part)
        if left is None or right is None or sizes is None:
            continue
        name, other = (cut_file_name(subject.serial, side, part) for side in ("LH", "RH"))
        for kind, what in unlike(left, right, sizes[0]):
            yield Discrepancy(kind, name, f"{what} not the mirror image of that in {other}; one of them is wrong")
        yield from _unlike_corners(subject, part, name, other)


def unlike(left: CutFile, right: CutFile, length: float) -> Iterator[tuple[Kind, str]]:
    """What of an LH blank is not the mirror image of the RH one; length (mm) of the blank."""
    if not _same_paths([left.outline], [right.outline], length):
        yield "wrong edge", "the blank's edge is"
    if not _same_paths(left.second_cuts, right.second_cuts, length):
        yield "wrong cut", "the cut after forming is"
    if not same_points(_ends(left.bends), mirrored(_ends(right.bends), length)):
        yield "wrong bend", "a bend is"


def _same_paths(left: Sequence[Path], right: Sequence[Path], length: float) -> bool:
    first, second = (sorted(abs(b) for path in paths for _, _, b in path.vertices) for paths in (left, right))
    if len(first) != len(second) or not np.allclose(first, second, rtol=0, atol=_ALIKE):
        return False
    return same_points(vertices(left), mirrored(vertices(right), length))


def vertices(paths: Iterable[Path]) -> FloatArray:
    """Vertices (n, 2) of some paths."""
    return np.array([(x, y) for path in paths for x, y, _ in path.vertices], dtype=np.float64).reshape(-1, 2)


def _ends(bends: Iterable[Line]) -> FloatArray:
    points = [point for bend in bends for point in ((bend.x1, bend.y1), (bend.x2, bend.y2))]
    return np.array(points, dtype=np.float64).reshape(-1, 2)


def mirrored(points: FloatArray, length: float) -> FloatArray:
    """Points (n, 2) of a blank on that of the other hand."""
    return np.asarray(points * [-1, 1] + [length, 0])


def same_points(first: FloatArray, second: FloatArray) -> bool:
    """Whether two sets of points (n, 2), in any order, are the same."""
    if len(first) != len(second):
        return False
    apart = np.abs(first[:, None, :] - second[None, :, :]).max(axis=2, initial=0.0) <= _ALIKE
    return bool(apart.any(axis=1).all() and apart.any(axis=0).all())


def _unlike_corners(subject: Subject, part: Part, name: str, other: str) -> Iterator[Discrepancy]:
    left, right = (_corner_radii(subject, side, part) for side in ("LH", "RH"))
    for hole in sorted(left.keys() & right.keys()):
        by = left[hole] - right[hole]
        if abs(by) > DXF.size:
            words = f"{hole} has a corner radius of {left[hole]:.3f} mm, in {other} of {right[hole]:.3f}"
            yield Discrepancy("wrong size", name, words, (hole,), by)


def _corner_radii(subject: Subject, side: Side, part: Part) -> dict[str, float]:
    """Corner radii (mm) of a blank's rectangles as drawn, by the hole table's names."""
    cut = subject.cut_file(side, part)
    rectangles = [feature for feature in cut.features if feature.shape == "rectangle"] if cut else []
    if not rectangles:
        return {}
    table, drawn = subject.features(side, part), drawn_features(rectangles, "layer")
    found = match(table, drawn, DXF)
    pairs = zip(found.table.tolist(), found.drawn.tolist(), strict=True)
    return {table.hole[i]: rectangles[j].corner_radius for i, j in pairs}
