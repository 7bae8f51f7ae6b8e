"""Which measured hole is which nominal one, and whether the pattern is that of this hand at all.

The measured pattern may be shifted, turned a little, and have holes too many or too few: the shift is found by a vote
of all pairs' differences, the turn by a vote among pairs at about one station, both refined by turns of assignment and
fit. The same is tried with the pattern of the other hand and with mirror images, to know a wrong hand.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.spatial import cKDTree

from railgen.holes.table import FACES, FloatArray, IntArray
from railgen.records.inspect_fit import Rigid, best_rigid

_BIN = 1.0
"""mm, of the vote for the shift along the part."""
_ALONG, _ACROSS = 3.0, 2.0
"""mm by which pairs may be off in the votes: wrong temperature, turn, scatter."""
_TURNS = np.radians(np.linspace(-0.4, 0.4, 81))
_NEAR = 30.0
"""mm: a shift of no more is taken wherever it has most of the votes, since parts are measured from their datums."""
_MOST = 0.8
_COUNTED = 3.0
"""mm within which a hole counts as found when hands are compared."""
_SIZE = 1.0
"""mm by which diameters of one hole may differ when patterns are compared."""
_GATES = (25.0, 12.0, 12.0, 12.0)
_CLEARLY = 0.05


@dataclass(frozen=True, eq=False)
class Pattern:
    """Points of one part: face as index into FACES (n,), place (n, 2) station and across, diameter (n,) or NaN; mm."""

    face: IntArray
    place: FloatArray
    diameter: FloatArray

    def __len__(self) -> int:
        return len(self.face)


@dataclass(frozen=True, eq=False)
class Matched:
    """Pairs of rows: nominal[i] was measured as measured[i]; `motions` lays the measured holes of a face on them."""

    nominal: IntArray
    measured: IntArray
    motions: Mapping[int, Rigid]


def match(measured: Pattern, nominal: Pattern, search: float) -> Matched:
    """Pairs of measured and nominal holes, no more than `search` mm apart after the whole pattern was laid on."""
    motions, pairs = {}, list[tuple[IntArray, IntArray]]()
    common = _shift_along(measured, nominal)
    for face in np.unique(measured.face).tolist():
        rows, others = np.flatnonzero(measured.face == face), np.flatnonzero(nominal.face == face)
        if not len(others):
            continue
        motion = _registered(_rows(measured, rows), _rows(nominal, others), common)
        first, second = _assigned(_rows(measured, rows), _rows(nominal, others), motion, search)
        motions[face] = motion
        pairs.append((others[second], rows[first]))
    none = np.zeros(0, dtype=np.int64)
    joined = [np.concatenate([none, *(pair[side] for pair in pairs)]) for side in (0, 1)]
    return Matched(joined[0], joined[1], motions)


def _rows(pattern: Pattern, rows: IntArray) -> Pattern:
    return Pattern(pattern.face[rows], pattern.place[rows], pattern.diameter[rows])


def _shift_along(measured: Pattern, nominal: Pattern) -> float:
    """The shift along the part that most pairs of holes of one face agree on, mm."""
    differences = [
        (nominal.place[nominal.face == face, 0][None, :] - measured.place[measured.face == face, 0][:, None]).ravel()
        for face in range(len(FACES))
    ]
    all_of_them = np.concatenate(differences)
    if not len(all_of_them):
        return 0.0
    bins = np.round(all_of_them / _BIN).astype(np.int64)
    least = int(bins.min())
    votes = np.convolve(np.bincount(bins - least), np.ones(int(2 * _ALONG / _BIN) + 1), mode="same")
    shifts = (np.arange(len(votes)) + least) * _BIN
    near = np.abs(shifts) <= _NEAR
    if near.any() and votes[near].max() >= _MOST * votes.max():
        votes = np.where(near, votes, 0)
    peak = np.flatnonzero(votes >= votes.max() - 1e-9)
    return float(shifts[peak[np.argmin(np.abs(shifts[peak]))]])


def _registered(measured: Pattern, nominal: Pattern, shift: float) -> Rigid:
    """The motion that lays one face's measured holes on the nominal ones, from the shift along that is known."""
    motion = _turned(measured.place, nominal.place, shift)
    for gate in _GATES:
        first, second = _assigned(measured, nominal, motion, gate)
        if len(first) < 2:
            return motion
        apart = np.hypot(*(motion(measured.place[first]) - nominal.place[second]).T)
        kept = apart <= 3 * np.median(apart) + 0.5
        motion = best_rigid(measured.place[first[kept]], nominal.place[second[kept]])
    return motion


def _turned(measured: FloatArray, nominal: FloatArray, shift: float) -> Rigid:
    """The turn and the shift across that most pairs at about one station agree on."""
    first, second = np.nonzero(np.abs(measured[:, None, 0] + shift - nominal[None, :, 0]) <= _ALONG)
    still = Rigid(0.0, np.array([shift, 0.0]))
    if not len(first):
        return still
    along, across = measured[first, 0], nominal[second, 1] - measured[first, 1]
    middle = float(along.mean())
    best, found = -np.inf, still
    for turn in sorted(_TURNS.tolist(), key=abs):
        left = across - turn * (along - middle)
        bins = np.round(left / _ACROSS).astype(np.int64)
        least = int(bins.min())
        votes = np.convolve(np.bincount(bins - least), np.ones(3), mode="same")
        at = np.flatnonzero(votes == votes.max())
        lift = (at + least)[np.argmin(np.abs(at + least))] * _ACROSS
        # A vote more for a narrow peak: among turns with equal votes the one with the least scatter.
        inside = np.abs(left - lift) <= 1.5 * _ACROSS
        score = float(votes.max()) - float(left[inside].std()) / 10
        if score > best + 1e-9:
            best, found = score, Rigid(turn, np.array([shift, lift - turn * middle]))
    return found


def _assigned(measured: Pattern, nominal: Pattern, motion: Rigid, gate: float) -> tuple[IntArray, IntArray]:
    """Rows of measured and nominal holes in pairs of the least total distance, none further apart than `gate` mm."""
    place = motion(measured.place)
    apart = np.hypot(place[:, None, 0] - nominal.place[None, :, 0], place[:, None, 1] - nominal.place[None, :, 1])
    sizes = np.nan_to_num(np.abs(measured.diameter[:, None] - nominal.diameter[None, :]))
    # A pair that is too far apart costs more than leaving both alone, whatever their sizes.
    cost = np.where(apart <= gate, apart + np.minimum(2 * sizes, gate), 1000 * gate)
    first, second = linear_sum_assignment(cost)
    kept = apart[first, second] <= gate
    return np.asarray(first[kept], dtype=np.int64), np.asarray(second[kept], dtype=np.int64)


@dataclass(frozen=True)
class Hand:
    """What the measured pattern is: `wrong` says what else fits clearly better, `alike` that both hands fit alike."""

    wrong: str
    alike: bool


def hand_of(measured: Pattern, own: Pattern, other: Pattern, other_name: str) -> Hand:
    """Whether the measured holes are those of the part's own pattern, the other hand's, or a mirror image of either.

    Wrong is only what has clearly more holes in place than the part's own pattern.
    """
    needed = max(3.0, _CLEARLY * len(measured))
    found = _found(measured, own)
    best, words = found + needed, ""
    for name, pattern, along, across in _suppositions(own, other, other_name):
        count = _found(_mirrored(measured, along, across), pattern)
        if count > best:
            best, words = count, _in_words(name, along, across)
    same = _found(measured, other)
    return Hand(words, not words and len(other) > 0 and same >= found)


def _suppositions(own: Pattern, other: Pattern, other_name: str) -> Iterator[tuple[str, Pattern, bool, bool]]:
    for along, across in product((False, True), repeat=2):
        if along or across:
            yield "", own, along, across
        if len(other):
            yield other_name, other, along, across


def _in_words(name: str, along: bool, across: bool) -> str:
    how = {
        (False, False): "",
        (True, False): "front and rear reversed (a mirror image)",
        (False, True): "upside down (a mirror image)",
        (True, True): "turned end for end",
    }[along, across]
    holes = f"the holes of the {name}" if name else ""
    return ", ".join(part for part in (holes, how) if part)


def _mirrored(pattern: Pattern, along: bool, across: bool) -> Pattern:
    """The pattern with stations reversed, or upside down: then top and bottom flange change places, too."""
    signs = np.ones((len(pattern), 2))
    face = pattern.face
    if along:
        signs[:, 0] = -1
    if across:
        signs[face == 0, 1] = -1
        face = np.where(face == 0, 0, 3 - face)
    return Pattern(face, pattern.place * signs, pattern.diameter)


def _found(measured: Pattern, nominal: Pattern) -> int:
    """How many measured holes lie where the nominal pattern has one of their size, after it was laid on."""
    shift, count = _shift_along(measured, nominal), 0
    for face in np.unique(measured.face).tolist():
        ours, theirs = _rows(measured, measured.face == face), _rows(nominal, nominal.face == face)
        if not len(theirs):
            continue
        motion = _registered(ours, theirs, shift)
        found = cKDTree(theirs.place).query(motion(ours.place))
        distance, nearest = np.asarray(found[0]), np.asarray(found[1], dtype=np.int64)
        sizes = np.nan_to_num(np.abs(ours.diameter - theirs.diameter[nearest]))
        count += len(np.unique(nearest[(distance <= _COUNTED) & (sizes <= _SIZE)]))
    return count
