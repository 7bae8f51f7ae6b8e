"""Lines and arcs of cut files, as plain arrays."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Polyline:
    """An open line of straight segments: `vertices` (n, 2) in mm."""

    vertices: Floats


@dataclass(frozen=True, eq=False)
class Contour:
    """A line of straight segments and arcs, as a CAD polyline; mm.

    `vertices` (n, 2); `bulges` (n,), tan of a quarter of the included angle of the segment that leaves a
    vertex, above 0 when it turns left; `closed` True when the last segment returns to the first vertex.
    """

    vertices: Floats
    bulges: Floats
    closed: bool = True


def polygon_contour(vertices: Floats) -> Contour:
    """Closed contour of straight segments through `vertices` (n, 2)."""
    return Contour(vertices, np.zeros(len(vertices)))


def mirror_polyline(line: Polyline, blank_length: float) -> Polyline:
    """The line on the RH blank: u (mm) becomes blank_length - u."""
    return Polyline(_mirrored(line.vertices, blank_length))


def mirror_contour(contour: Contour, blank_length: float) -> Contour:
    """The contour on the RH blank: u (mm) becomes blank_length - u; it still runs the same way round.

    Mirroring turns every arc over and so does running backward, so bulges only change places.
    """
    vertices = _mirrored(contour.vertices[::-1], blank_length)
    return Contour(vertices, np.roll(contour.bulges[::-1], -1), contour.closed)


def _mirrored(vertices: Floats, blank_length: float) -> Floats:
    return np.column_stack([blank_length - vertices[:, 0], vertices[:, 1]])


def contour_points(contour: Contour, arc_segments: int = 256) -> Floats:
    """Points (n, 2) along the contour, each arc as `arc_segments` chords; the first is not repeated."""
    last = len(contour.vertices) if contour.closed else len(contour.vertices) - 1
    pieces = []
    for index in range(last):
        first, bulge = contour.vertices[index], contour.bulges[index]
        second = contour.vertices[(index + 1) % len(contour.vertices)]
        pieces.append(first[None, :] if bulge == 0 else _arc_points(first, second, bulge, arc_segments))
    if not contour.closed:
        pieces.append(contour.vertices[-1:])
    return np.concatenate(pieces)


def _arc_points(first: Floats, second: Floats, bulge: float, segments: int) -> Floats:
    """Points on the arc from `first` up to, but without, `second`."""
    chord = second - first
    left = np.array([-chord[1], chord[0]])
    centre = (first + second) / 2 + left * (1 - bulge**2) / (4 * bulge)
    angles = 4 * np.arctan(bulge) * np.arange(segments) / segments
    arm = first - centre
    across = np.array([-arm[1], arm[0]])
    return np.asarray(centre + np.outer(np.cos(angles), arm) + np.outer(np.sin(angles), across))
