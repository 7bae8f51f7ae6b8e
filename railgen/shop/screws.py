"""Which screw goes through each hole: the shortest standard one that its stack, washers and nut leave room for."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from railgen.data.library import Library, LibraryKey
from railgen.data.stock import Fastener
from railgen.data.values import MM_PER_INCH
from railgen.holes.table import NONE, BoolArray, FloatArray, HoleTable, IntArray
from railgen.shop.stacks import Stacks

PITCHES_BEYOND_NUT = 2
"""Thread beyond the nut, at least. Source: common practice, no source."""
_RUN_OUT = 5  # pitches between shank and full thread
_KEPT_DECIMALS = 6  # of a millimetre: grips that agree so far take one screw
_SAME = 1e-9


@dataclass(frozen=True)
class Screws:
    """The screws at n holes, mm: the grip each clamps, the length it needs, and the standard length it gets.

    length is NaN where no standard length will do.
    """

    row: IntArray
    grip: FloatArray
    needed: FloatArray
    length: FloatArray


def screws_at(rows: IntArray, holes: HoleTable, library: Library, stacks: Stacks) -> Screws:
    """The screws at some rows of rails that have one."""
    asked = _asks_for_shank(holes, library)[rows].tolist()
    deepest = _kept(_deepest_plane(holes, library, stacks)[rows])
    plane = [deep if asks else None for asks, deep in zip(asked, deepest, strict=True)]
    grip, names, key = stacks.grip[rows], holes.names.fasteners, LibraryKey(library)
    asking = list(zip(holes.fastener[rows].tolist(), _kept(grip), plane, strict=True))
    chosen = {alike: _choice(key, names[alike[0]], *alike[1:]) for alike in set(asking)}
    needed, length = np.array([chosen[alike] for alike in asking], dtype=np.float64).reshape(-1, 2).T
    return Screws(rows, grip, needed, length)


@lru_cache(maxsize=4096)
def _choice(key: LibraryKey, name: str, grip: float, plane: float | None) -> tuple[float, float]:
    """Length that a fastener needs and length that it gets, NaN without one, mm."""
    fastener = key.library.fasteners[name]
    length = screw_length(fastener, grip, plane)
    return needed_length(fastener, grip), np.nan if length is None else length


def _kept(values: FloatArray) -> list[float]:
    return [float(value) for value in values.round(_KEPT_DECIMALS).tolist()]


def has_screw(holes: HoleTable, library: Library) -> BoolArray:
    """Rows of a hole table whose fastener is a screw, not a stud."""
    is_screw = np.array([library.fasteners[name].kind != "stud" for name in holes.names.fasteners] + [False])
    return np.asarray(is_screw[np.where(holes.fastener == NONE, -1, holes.fastener)])


def washers_of(fastener: Fastener) -> int:
    """Hardened washers of a screw: under head and nut; a flush screw has none under its head."""
    return 1 if fastener.kind == "flush screw" else 2


def needed_length(fastener: Fastener, grip: float) -> float:
    """Least length (mm) of a screw for a grip (mm): its washers, the nut and two pitches beyond it more.

    A flush screw's length counts its head, which lies in the stack. Source: common practice, no source.
    """
    washers = washers_of(fastener) * (fastener.washer_thickness or 0.0)
    return grip + washers + (fastener.nut_height or 0.0) + PITCHES_BEYOND_NUT * fastener.pitch


def screw_length(fastener: Fastener, grip: float, plane: float | None = None) -> float | None:
    """The shortest standard screw (mm) for a grip (mm), None where the fastener has none that will do.

    plane: how deep below the stack's face under the head a shear plane lies in which there may be no thread, mm; None
    where thread may lie in all of them. The thread must also reach into the stack, or the nut would meet the shank
    before it clamps. A flush screw is taken to be threaded all along. Source: common practice, no source.
    """
    lengths = np.array(sorted(fastener.lengths), dtype=np.float64)
    clamped = grip + washers_of(fastener) * (fastener.washer_thickness or 0.0)
    fits = lengths >= needed_length(fastener, grip) - _SAME
    unified = fastener.thread == "unified"
    fits &= lengths - thread_length(lengths, fastener.diameter, unified) <= clamped + _SAME
    if plane is not None:
        shank = shank_length(lengths, fastener.diameter, fastener.pitch, unified)
        fits &= (shank >= plane + (fastener.washer_thickness or 0.0) - _SAME) & (fastener.kind != "flush screw")
    return float(lengths[fits.argmax()]) if fits.any() else None


def thread_length(length: ArrayLike, diameter: ArrayLike, unified: ArrayLike = False) -> FloatArray:
    """Length of thread on a screw, mm: 2 d + 6 for screws to 125 mm, 2 d + 12 to 200 mm, 2 d + 25 above.

    unified: which have inch threads, 2 d + 1/4 in for screws to 6 in, 2 d + 1/2 in above. Source: ISO 4014 and ASME
    B18.2.1, from memory.
    """
    length = np.asarray(length)
    metric = np.where(length <= 125, 6.0, np.where(length <= 200, 12.0, 25.0))
    inch = np.where(length <= 6 * MM_PER_INCH + _SAME, MM_PER_INCH / 4, MM_PER_INCH / 2)
    return np.asarray(np.minimum(2 * np.asarray(diameter) + np.where(unified, inch, metric), length))


def shank_length(length: ArrayLike, diameter: ArrayLike, pitch: ArrayLike, unified: ArrayLike = False) -> FloatArray:
    """Length of full shank under the head that a screw has at least, mm: length - thread - 5 pitches, 0 or more.

    Source: ISO 4014 and ASME B18.2.1, from memory.
    """
    shank = np.asarray(length) - thread_length(length, diameter, unified) - _RUN_OUT * np.asarray(pitch)
    return np.asarray(np.maximum(shank, 0.0))


def heads_outside(holes: HoleTable, library: Library) -> BoolArray:
    """Whether the screw's head lies on the rail's outside face, as the hole's first owner says."""
    outside = np.array([library.components[name].head == "outside" for name in holes.names.components])
    return np.asarray(outside[holes.component])


def _asks_for_shank(holes: HoleTable, library: Library) -> BoolArray:
    """Rows with an owner that wants no thread in a shear plane."""
    asks = np.array([library.components[name].shank_in_shear for name in holes.names.components])
    row = np.repeat(np.arange(len(holes)), np.diff(holes.owner_start))
    return np.bincount(row, asks[holes.owners], len(holes)) > 0


def _deepest_plane(holes: HoleTable, library: Library, stacks: Stacks) -> FloatArray:
    """From the stack's face under the head to the furthest plane in which plies shear against the steel, mm."""
    outer = heads_outside(holes, library)
    under_head = np.where(outer, stacks.outside, stacks.inside)
    under_nut = np.where(outer, stacks.inside, stacks.outside)
    return under_head + np.where(under_nut > 0, stacks.steel, 0.0)
