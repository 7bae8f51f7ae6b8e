"""Measured against nominal: holes of a finished part held to position tolerances, hole by hole and group by group."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from railgen.data.inspection import REFERENCE_TEMPERATURE, STEEL_EXPANSION, Tolerances
from railgen.data.library import Library
from railgen.data.messages import InputError, Problem
from railgen.formats.hole_table import HoleRows
from railgen.formats.measured import MeasuredRows
from railgen.holes.inspection import FAULTS, FaceFit, Fit, PartInspection
from railgen.holes.table import FACES, PARTS, SIDES, BoolArray, FloatArray, IntArray
from railgen.records.inspect_fit import STILL, Rigid, best_rigid, least_worst, stretch_of
from railgen.records.inspect_match import Matched, Pattern, hand_of, match
from railgen.records.inspect_nominal import Nominal, nominal_of, pattern_of

_WEB = 0
_TOLERANCE = 1e-9
_LEAST_DATUMS = 2
_BLAMED_FROM = 4
"""Holes of a group from which one can be told from the others: of three, any two are good without the third."""


@dataclass(frozen=True)
class Choices:
    """How measured holes are read: temperature (degC) of the steel, fit, greatest distance (mm) at which a measured
    hole is still taken for a nominal one, and whether only some holes were measured, so that none is missing."""

    temperature: float = REFERENCE_TEMPERATURE
    fit: Fit = "datums"
    search: float = 10.0
    partial: bool = False


def corrected(places: FloatArray, temperature: float) -> FloatArray:
    """Places (n, 2), mm, measured on steel of some temperature (degC), as they are at 20 degC."""
    return np.asarray(places / (1 + STEEL_EXPANSION * (temperature - REFERENCE_TEMPERATURE)))


def inspect_parts(
    table: HoleRows, measured: MeasuredRows, library: Library, tolerances: Tolerances, choices: Choices
) -> tuple[tuple[PartInspection, ...], tuple[str, ...]]:
    """All measured parts of a serial, and the names of faces that the table has and nobody measured.

    Raises InputError for a part that the serial has not, a fastener that the library lacks, and for too few locating
    holes to fit by.
    """
    parts, problems = [], list[Problem]()
    for side in SIDES:
        for part in PARTS:
            kept = [row for row in range(len(measured)) if (measured.side[row], measured.part[row]) == (side, part)]
            if not kept:
                continue
            nominal = nominal_of(table, side, part, library, tolerances)
            if not len(nominal):
                problems.append(
                    Problem("measured holes", f"{side}-{part}", f"{len(kept)} rows", "a part of the serial")
                )
                continue
            try:
                pattern = _measured_pattern(measured, kept, choices.temperature)
                parts.append(_inspect_part(side, part, nominal, pattern, table, tolerances, choices))
            except InputError as error:
                problems += error.problems
    if problems:
        raise InputError(problems)
    there = set(zip(measured.side, measured.part, measured.face, strict=True))
    all_faces = dict.fromkeys(zip(table.side, table.part, table.face, strict=True))
    return tuple(parts), tuple(" ".join(face) for face in all_faces if face not in there)


def _measured_pattern(measured: MeasuredRows, kept: list[int], temperature: float) -> Pattern:
    faces = np.array([FACES.index(measured.face[row]) for row in kept], dtype=np.int64)
    place = np.stack([measured.station_mm[kept], measured.across_mm[kept]], axis=-1)
    return Pattern(faces, corrected(place, temperature), measured.diameter_mm[kept])


def _inspect_part(
    side: str, part: str, nominal: Nominal, measured: Pattern, table: HoleRows, limits: Tolerances, choices: Choices
) -> PartInspection:
    other = SIDES[1 - SIDES.index(side)]
    mirror = [row for row in range(len(table)) if (table.side[row], table.part[row]) == (other, part)]
    hand = hand_of(measured, nominal.pattern, pattern_of(table, mirror), f"{other} {part}")
    pairs = match(measured, nominal.pattern, choices.search)
    # On a wrong hand the locating holes need not be found; what is wrong is known already.
    fits = _fits(nominal, measured, pairs, "none" if hand.wrong else choices.fit, f"{side}-{part}")
    laid = _laid(measured, {face: motion for face, (motion, _) in fits.items()})
    held = _held(nominal, measured, pairs, laid, limits)
    web = nominal.pattern.face[pairs.nominal] == _WEB
    shown = np.isin(nominal.pattern.face, np.unique(measured.face))
    if choices.partial:
        shown &= np.isin(np.arange(len(nominal)), pairs.nominal)
    extra = np.setdiff1d(np.arange(len(measured)), pairs.measured)
    return PartInspection(
        side=side,
        part=part,
        wrong_hand=hand.wrong,
        alike=hand.alike,
        fits=tuple(_face_fit(face, motion, count) for face, (motion, count) in sorted(fits.items())),
        stretch=stretch_of(measured.place[pairs.measured[web]], nominal.pattern.place[pairs.nominal[web]]),
        **_named_columns(nominal, np.flatnonzero(shown)),
        **{name: column[shown] for name, column in vars(held).items()},
        extra_face=tuple(FACES[face] for face in measured.face[extra].tolist()),
        extra=laid[extra],
        extra_diameter=measured.diameter[extra],
    )


def _face_fit(face: int, motion: Rigid, count: int) -> FaceFit:
    return FaceFit(FACES[face], float(np.degrees(motion.turn)), (float(motion.shift[0]), float(motion.shift[1])), count)


def _named_columns(nominal: Nominal, rows: IntArray) -> dict[str, Any]:
    """What the report says of each nominal feature before anything is measured."""
    names = {"hole": nominal.hole, "tool": nominal.tool, "fastener": nominal.fastener}
    return {
        **{name: tuple(column[row] for row in rows.tolist()) for name, column in names.items()},
        "face": tuple(FACES[face] for face in nominal.pattern.face[rows].tolist()),
        "locating": nominal.locating[rows],
        "nominal": nominal.pattern.place[rows],
        "diameter": nominal.pattern.diameter[rows],
    }


def _laid(measured: Pattern, motions: Mapping[int, Rigid]) -> FloatArray:
    place = measured.place.copy()
    for face, motion in motions.items():
        rows = measured.face == face
        place[rows] = motion(measured.place[rows])
    return place


def _fits(nominal: Nominal, measured: Pattern, pairs: Matched, fit: Fit, part: str) -> dict[int, tuple[Rigid, int]]:
    """For each measured face the motion that the chosen fit gives, and the number of holes it rests on."""
    faces = np.unique(measured.face).tolist()
    if fit == "none":
        return dict.fromkeys(faces, (STILL, 0))
    on = {face: np.flatnonzero(nominal.pattern.face[pairs.nominal] == face) for face in faces}
    if fit == "best":
        return {face: _best(nominal, measured, pairs, on[face]) for face in faces}
    datums = {face: rows[nominal.locating[pairs.nominal[rows]]] for face, rows in on.items()}
    if len(datums.get(_WEB, ())) < _LEAST_DATUMS:
        needed = int(nominal.locating[nominal.pattern.face == _WEB].sum())
        found = f"{len(datums.get(_WEB, ()))} locating holes measured on the web; the hole table has {needed}"
        hint = "Measure them, or fit by all holes: --fit best."
        raise InputError([Problem("measured holes", part, found, f"at least {_LEAST_DATUMS}", hint)])
    web, count = _best(nominal, measured, pairs, datums[_WEB])
    return {
        face: (web, count)
        if face == _WEB
        else _best(nominal, measured, pairs, datums[face])
        if len(datums[face]) >= _LEAST_DATUMS
        else (_from_web(web, _height(nominal, face)), count)
        for face in faces
    }


def _best(nominal: Nominal, measured: Pattern, pairs: Matched, rows: IntArray) -> tuple[Rigid, int]:
    if not len(rows):
        return STILL, 0
    ours, theirs = measured.place[pairs.measured[rows]], nominal.pattern.place[pairs.nominal[rows]]
    return best_rigid(ours, theirs), len(rows)


def _height(nominal: Nominal, face: int) -> float:
    """About the height (mm) of a flange: 0, or the web's depth if its holes keep alike from both edges.

    A turn of a thousandth of a radian takes an error of 30 mm in it for 0.03 mm.
    """
    across = nominal.pattern.place[nominal.pattern.face == _WEB, 1]
    return float(across.min() + across.max()) if FACES[face] == "top" and len(across) else 0.0


def _from_web(web: Rigid, height: float) -> Rigid:
    """A flange without datums of its own is shifted along by the web's datums; across it is measured from the web."""
    return Rigid(0.0, np.array([float(web.shift[0]) - np.sin(web.turn) * height, 0.0]))


@dataclass(frozen=True, eq=False)
class _Held:
    """For each nominal feature what was measured and what it is held to; NaN where nothing was measured."""

    measured: FloatArray
    measured_diameter: FloatArray
    group_position: FloatArray
    station_tolerance: FloatArray
    group_tolerance: FloatArray
    bonus: FloatArray
    fault: BoolArray


def _held(nominal: Nominal, measured: Pattern, pairs: Matched, laid: FloatArray, limits: Tolerances) -> _Held:
    count = len(nominal)
    place, diameter = np.full((count, 2), np.nan), np.full(count, np.nan)
    place[pairs.nominal], diameter[pairs.nominal] = laid[pairs.measured], measured.diameter[pairs.measured]
    size = diameter - nominal.pattern.diameter
    # At the least size there is no bonus; what a hole was measured larger is added.
    larger = np.where(nominal.bonus, np.nan_to_num(np.maximum(size + limits.size_below, 0.0)), 0.0)
    station, group = nominal.station_tolerance + larger, nominal.group_tolerance + larger
    grouped = _group_positions(nominal, place, group)
    position = 2 * np.hypot(*(place - nominal.pattern.place).T)
    wrong_size = (size < -limits.size_below - _TOLERANCE) | (size > limits.size_above + _TOLERANCE)
    columns = {
        "missing": np.isnan(place[:, 0]),
        "station": position > station + _TOLERANCE,
        "group": grouped > group + _TOLERANCE,
        "size": wrong_size,
    }
    fault = np.stack([columns[name] for name in FAULTS], axis=-1)
    return _Held(place, diameter, grouped, station, group, larger, fault)


def _group_positions(nominal: Nominal, place: FloatArray, allowed: FloatArray) -> FloatArray:
    """Position deviation (n,) of each hole after its group alone was laid on its nominal holes as well as it goes."""
    positions = np.full(len(nominal), np.nan)
    there = ~np.isnan(place[:, 0])
    for group in np.unique(nominal.group[there]).tolist():
        rows = np.flatnonzero((nominal.group == group) & there)
        if len(rows) < 2:
            continue
        positions[rows] = _group_position(place[rows], nominal.pattern.place[rows], allowed[rows])
    return positions


def _group_position(place: FloatArray, aim: FloatArray, allowed: FloatArray) -> FloatArray:
    """Position deviations (n,) of one group's holes; any place of its zones that holds all of them will do.

    Where none does and one hole alone is to blame, the others are laid on and show how far that one is off: a fit of
    all of them would spread its error over holes that are good.
    """

    def positions(motion: Rigid) -> FloatArray:
        return np.asarray(2 * np.hypot(*(motion(place) - aim).T))

    found = positions(best_rigid(place, aim))
    if (found <= allowed + _TOLERANCE).all():
        return found
    found = positions(least_worst(place, aim, allowed))
    if (found <= allowed + _TOLERANCE).all() or len(place) < _BLAMED_FROM:
        return found
    blamed = []
    for row in range(len(place)):
        rest = np.arange(len(place)) != row
        without = positions(least_worst(place[rest], aim[rest], allowed[rest]))
        if (without <= allowed + _TOLERANCE)[rest].all():
            blamed.append((float((without / allowed)[rest].max()), row, without))
    return min(blamed, key=lambda one: one[:2])[2] if blamed else found
