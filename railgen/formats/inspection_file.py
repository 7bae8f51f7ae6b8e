"""An inspection as files: ``inspection.json``, and back, and ``inspection.csv`` for spreadsheets."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import Field

from railgen.data.messages import InputError, Problem, shown
from railgen.data.reading import read_bytes, validate
from railgen.data.values import Model, Serial
from railgen.formats.json_text import json_bytes, parse_json
from railgen.holes.inspection import FAULTS, FaceFit, Fault, Fit, Inspection, PartInspection
from railgen.holes.table import FloatArray

JSON_NAME, CSV_NAME, PDF_NAME = "inspection.json", "inspection.csv", "inspection.pdf"
_DECIMALS = 6
_NO_FILE_NAME = re.compile(r"[^A-Za-z0-9._-]+")
_NUMBERS = (
    "station_mm",
    "across_mm",
    "measured_station_mm",
    "measured_across_mm",
    "deviation_station_mm",
    "deviation_across_mm",
    "position_mm",
    "station_tolerance_mm",
    "group_position_mm",
    "group_tolerance_mm",
    "bonus_mm",
    "diameter_mm",
    "measured_diameter_mm",
)
COLUMNS = ("side", "part", "hole", "face", *_NUMBERS, "tool", "fastener", "fault")


def picture_name(part: str) -> str:
    """The picture of one part's deviations: ``inspection-LH-rail.svg``."""
    return f"inspection-{part}.svg"


def folder_name(serial: str, measured: str) -> str:
    """The folder of an inspection, from the name of the measured file without its ending: ``P-1001-shift-2``."""
    plain = _NO_FILE_NAME.sub("-", measured).strip("-.")
    return plain if plain.startswith(serial) else f"{serial}-{plain}".rstrip("-")


def inspection_json(inspection: Inspection) -> bytes:
    """An inspection as JSON, lengths in mm with six decimals."""
    return json_bytes(
        {
            "serial": inspection.serial,
            "revision": inspection.revision,
            "on": inspection.on,
            "fit": inspection.fit,
            "temperature": inspection.temperature,
            "measured": {"name": inspection.measured[0], "sha256": inspection.measured[1]},
            "source": inspection.source,
            "good": inspection.good,
            "not_measured": list(inspection.not_measured),
            "parts": [_part(part) for part in inspection.parts],
        }
    )


def _part(part: PartInspection) -> dict[str, Any]:
    fits = [
        {
            "face": fit.face,
            "turn_deg": _plain(fit.turn, 9),
            "shift_mm": [_plain(s) for s in fit.shift],
            "holes": fit.holes,
        }
        for fit in part.fits
    ]
    extra = [
        {"face": face, "station_mm": _plain(place[0]), "across_mm": _plain(place[1]), "diameter_mm": _plain(size)}
        for face, place, size in zip(part.extra_face, part.extra, part.extra_diameter, strict=True)
    ]
    return {
        "side": part.side,
        "part": part.part,
        "good": part.good,
        "wrong_hand": part.wrong_hand,
        "alike": part.alike,
        "stretch_mm_per_m": _plain(part.stretch),
        "fits": fits,
        "holes": list(_rows(part)),
        "extra": extra,
    }


def _rows(part: PartInspection) -> Iterator[dict[str, Any]]:
    columns = _columns(part)
    for row in range(len(part.hole)):
        yield {
            "hole": part.hole[row],
            "face": part.face[row],
            **{name: _plain(columns[name][row]) for name in _NUMBERS},
            "tool": part.tool[row],
            "fastener": part.fastener[row],
            "locating": bool(part.locating[row]),
            "faults": list(part.faults_of(row)),
        }


def _columns(part: PartInspection) -> dict[str, FloatArray]:
    # What follows from places follows from them as they stand in the file.
    nominal, measured = np.round(part.nominal, _DECIMALS), np.round(part.measured, _DECIMALS)
    deviation = measured - nominal
    values: Sequence[FloatArray] = (
        *nominal.T,
        *measured.T,
        *deviation.T,
        2 * np.hypot(*deviation.T),
        part.station_tolerance,
        part.group_position,
        part.group_tolerance,
        part.bonus,
        part.diameter,
        part.measured_diameter,
    )
    return dict(zip(_NUMBERS, values, strict=True))


def _plain(value: float, decimals: int = _DECIMALS) -> float | None:
    """A number as files hold it: rounded, never minus zero, None for NaN."""
    return None if np.isnan(value) else round(float(value), decimals) + 0.0


def inspection_csv(inspection: Inspection) -> bytes:
    """A row a nominal feature and a row an extra hole, whose fault is ``extra``; empty where there is nothing."""
    lines = [",".join(COLUMNS)]
    for part in inspection.parts:
        for row in _rows(part):
            numbers = ("" if row[name] is None else f"{row[name]:.6f}" for name in _NUMBERS)
            names = (row["tool"], row["fastener"], " ".join(row["faults"]))
            lines.append(",".join((part.side, part.part, row["hole"], row["face"], *numbers, *names)))
        for face, place, size in zip(part.extra_face, part.extra.tolist(), part.extra_diameter.tolist(), strict=True):
            found = dict.fromkeys(_NUMBERS, float("nan")) | {
                "measured_station_mm": place[0],
                "measured_across_mm": place[1],
                "measured_diameter_mm": size,
            }
            numbers = ("" if np.isnan(found[name]) else f"{found[name]:.6f}" for name in _NUMBERS)
            lines.append(",".join((part.side, part.part, "", face, *numbers, "", "", "extra")))
    return "\n".join([*lines, ""]).encode()


_Finite = Annotated[float, Field(allow_inf_nan=False)]
_Face = Literal["web", "top", "bottom"]


class _Fit(Model):
    face: _Face
    turn_deg: _Finite
    shift_mm: tuple[_Finite, _Finite]
    holes: int


class _Hole(Model):
    hole: str
    face: _Face
    station_mm: _Finite
    across_mm: _Finite
    measured_station_mm: _Finite | None
    measured_across_mm: _Finite | None
    deviation_station_mm: _Finite | None
    deviation_across_mm: _Finite | None
    position_mm: _Finite | None
    station_tolerance_mm: _Finite
    group_position_mm: _Finite | None
    group_tolerance_mm: _Finite
    bonus_mm: _Finite
    diameter_mm: _Finite | None
    measured_diameter_mm: _Finite | None
    tool: str
    fastener: str
    locating: bool
    faults: tuple[Fault, ...]


class _Extra(Model):
    face: _Face
    station_mm: _Finite
    across_mm: _Finite
    diameter_mm: _Finite | None


class _Part(Model):
    side: Literal["LH", "RH"]
    part: Literal["rail", "liner"]
    good: bool
    wrong_hand: str
    alike: bool
    stretch_mm_per_m: _Finite
    fits: tuple[_Fit, ...]
    holes: tuple[_Hole, ...]
    extra: tuple[_Extra, ...]


class _Measured(Model):
    name: str
    sha256: str


class InspectionFile(Model):
    """``inspection.json`` as it stands."""

    serial: Serial
    revision: str
    on: str
    fit: Fit
    temperature: _Finite
    measured: _Measured
    source: str
    good: bool
    not_measured: tuple[str, ...]
    parts: tuple[_Part, ...]


def read_inspection(path: Path) -> Inspection:
    """An inspection.json; raises InputError, naming the key, for all that is wrong with it."""
    source = read_bytes(path)
    plain = parse_json(source)
    if not isinstance(plain, dict):
        raise InputError([Problem(source.file, "", shown(plain), "an object")])
    found = validate(plain, InspectionFile, source.file)
    return Inspection(
        found.serial,
        found.revision,
        found.fit,
        found.temperature,
        (found.measured.name, found.measured.sha256),
        found.on,
        found.source,
        tuple(_part_of(part) for part in found.parts),
        found.not_measured,
    )


def _part_of(found: _Part) -> PartInspection:
    holes, extra = found.holes, found.extra

    def texts(name: str) -> tuple[str, ...]:
        return tuple(getattr(hole, name) for hole in holes)

    def numbers(name: str) -> FloatArray:
        return np.array([np.nan if (v := getattr(hole, name)) is None else v for hole in holes], dtype=np.float64)

    def places(prefix: str) -> FloatArray:
        return np.stack([numbers(f"{prefix}station_mm"), numbers(f"{prefix}across_mm")], axis=-1)

    sizes = [np.nan if hole.diameter_mm is None else hole.diameter_mm for hole in extra]
    return PartInspection(
        side=found.side,
        part=found.part,
        wrong_hand=found.wrong_hand,
        alike=found.alike,
        fits=tuple(FaceFit(fit.face, fit.turn_deg, fit.shift_mm, fit.holes) for fit in found.fits),
        stretch=found.stretch_mm_per_m,
        hole=texts("hole"),
        face=texts("face"),
        tool=texts("tool"),
        fastener=texts("fastener"),
        locating=np.array([hole.locating for hole in holes], dtype=np.bool_),
        nominal=places(""),
        measured=places("measured_"),
        diameter=numbers("diameter_mm"),
        measured_diameter=numbers("measured_diameter_mm"),
        group_position=numbers("group_position_mm"),
        station_tolerance=numbers("station_tolerance_mm"),
        group_tolerance=numbers("group_tolerance_mm"),
        bonus=numbers("bonus_mm"),
        fault=np.array([[name in hole.faults for name in FAULTS] for hole in holes], dtype=np.bool_).reshape(-1, 4),
        extra_face=tuple(hole.face for hole in extra),
        extra=np.array([(hole.station_mm, hole.across_mm) for hole in extra], dtype=np.float64).reshape(-1, 2),
        extra_diameter=np.array(sizes, dtype=np.float64),
    )
