"""Nominal hole tables and synthetic measurements for tests of the inspection."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np

from railgen.data.inspection import STEEL_EXPANSION
from railgen.data.library import Library, load_library
from railgen.formats.hole_table import HoleRows
from railgen.formats.measured import MeasuredRows
from railgen.holes.table import FloatArray

DEPTH = 300.0
FRONT, REAR = "locating-hole-front.1.a1", "locating-hole-rear.1.a1"


@cache
def library() -> Library:
    """The demo library: its bolts, and its locating holes."""
    return load_library(Path(__file__).parent.parent / "hole_libraries")


def table(seed: int = 1, brackets: int = 30) -> HoleRows:
    """A rail a side with locating holes and brackets of four holes on the web, and some flange holes.

    The sides have some brackets at other places, as steering gear and tanks do.
    """
    rng = np.random.default_rng(seed)
    rows: list[tuple[str, str, str, float, float, float, str, str]] = []
    starts = np.sort(rng.choice(np.arange(-900, 5000, 100), brackets, replace=False)) + rng.uniform(-9, 9, brackets)
    heights = rng.uniform(70, 170, brackets)
    for side in ("LH", "RH"):
        rows.append((side, "web", FRONT, -950.0, 150.0, 16.0, "", "R 16"))
        rows.append((side, "web", REAR, 5050.0, 110.0, 16.0, "", "R 16"))
        for number, (start, height) in enumerate(zip(starts.tolist(), heights.tolist(), strict=True), 1):
            other = side == "RH" and number % 4 == 0
            x, z = (start + 31.0, height + 17.0) if other else (start, height)
            for feature, (dx, dz) in {"a1": (0, 0), "a2": (0, 60), "b1": (50, 0), "b2": (50, 60)}.items():
                hole = f"bracket-{number % 5}.{number}.{feature}"
                rows.append((side, "web", hole, x + dx, z + dz, 17.5, "M16x1.5", "R 17.5"))
        for number, x in enumerate((-820.0, -700.0, -655.0), 1):
            rows.append((side, "bottom", f"plate.{number}.a1", x, 45.0, 13.5, "M12x1.25", "R 13.5"))
    columns = list(zip(*rows, strict=True))
    count, empty = len(rows), np.full(len(rows), np.nan)
    return HoleRows(
        ("P-1",) * count,
        tuple(columns[0]),
        ("rail",) * count,
        tuple(columns[2]),
        tuple(columns[1]),
        np.array(columns[3]),
        np.array(columns[4]),
        np.array(columns[3]) + 1500,
        np.array(columns[4]) + 67,
        ("round",) * count,
        np.array(columns[5]),
        empty,
        empty,
        tuple(columns[7]),
        tuple((hole.split(".")[0],) for hole in columns[2]),
        tuple(columns[6]),
        ("punch",) * count,
    )


def rows_of(rows: HoleRows, side: str, face: str = "") -> list[int]:
    """Row numbers of one side, on one face where it is named."""
    return [row for row in range(len(rows)) if rows.side[row] == side and face in ("", rows.face[row])]


def places(rows: HoleRows, kept: Sequence[int]) -> FloatArray:
    """Station and across (n, 2) of some rows."""
    return np.stack([rows.station_mm[list(kept)], rows.across_mm[list(kept)]], axis=-1)


def turned(points: FloatArray, turn: float, shift: tuple[float, float]) -> FloatArray:
    """Points turned by radians about the origin, then shifted."""
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return np.asarray((matrix @ points.T).T + np.asarray(shift))


def measured(
    rows: HoleRows, kept: Sequence[int], points: FloatArray, side: str = "", temperature: float = 20.0
) -> MeasuredRows:
    """Some rows as measured at `points` on steel of a temperature (degC), said to be of another side where named."""
    hot = points * (1 + STEEL_EXPANSION * (temperature - 20.0))
    return MeasuredRows(
        tuple(rows.part[row] for row in kept),
        tuple(side or rows.side[row] for row in kept),
        tuple(rows.face[row] for row in kept),
        hot[:, 0],
        hot[:, 1],
        rows.diameter_mm[list(kept)].copy(),
    )
