"""Where the stamped text goes: the free rectangle of flat steel nearest the front end, and what is stamped there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from railgen.formats.cut_entities import MARK, Entity, Line, Text, rounded
from railgen.holes.table import FloatArray

CLEARANCE = 10.0
"""mm from the stamped text to hole edges, feet, bends and cuts; clears the washers too. Common practice, no source."""
HEIGHTS = (10.0, 7.0, 5.0)
"""Letter heights in mm, tried from the largest. Common practice, no source."""

_ROW_STEP = 5.0  # mm between the rows that are looked at across the web
_LINE_PITCH = 1.8  # base line to base line, in letter heights
_LETTER_WIDTH = 1.0  # in letter heights, the widest letters of CAD stroke fonts with their gap
_ARROW_LENGTH = 3.0  # in letter heights
_FRONT = "FRONT"
_FRONT_WIDTH = _ARROW_LENGTH + 1.0 + _LETTER_WIDTH * len(_FRONT)


@dataclass(frozen=True)
class Place:
    """Lower left corner (u, v) and letter height of a stamp, mm, un-mirrored; in one row of text or in two."""

    u: float
    v: float
    height: float
    rows: Literal[1, 2]


def text_width(text: str, height: float) -> float:
    """Width (mm) that stamped text takes."""
    return _LETTER_WIDTH * len(text) * height


def stamp_size(text: str, height: float, rows: int) -> tuple[float, float]:
    """Width and height (mm) of the rectangle that a stamp takes."""
    wide, front = text_width(text, height), _FRONT_WIDTH * height
    if rows == 2:
        return max(wide, front), (1.0 + _LINE_PITCH) * height
    return wide + 2.0 * height + front, height


def find_place(text: str, steel: tuple[float, float, float, float], obstacles: FloatArray) -> Place | None:
    """The place nearest the front end for the largest letters that fit, None where none do.

    steel: u from-to, v from-to (mm) of flat steel, its margins taken off; obstacles: (n, 4) boxes of least u, least v,
    greatest u, greatest v (mm) as they are: the clearance to them is kept here.
    """
    for height in HEIGHTS:
        for rows in (2, 1):
            corner = free_corner(steel, obstacles, stamp_size(text, height, rows))
            if corner is not None:
                return Place(*corner, height, 2 if rows == 2 else 1)
    return None


def free_corner(
    steel: tuple[float, float, float, float], obstacles: FloatArray, size: tuple[float, float]
) -> tuple[float, float] | None:
    """Lower left corner of the foremost free rectangle of a size (mm), None where there is none.

    Exact along the blank; across it in rows 5 mm apart, those nearest mid-steel first among equals.
    """
    (u_from, u_to, v_from, v_to), (width, height) = steel, size
    spare = v_to - v_from - height
    if spare < 0 or u_to - u_from < width:
        return None
    steps = np.arange(int(spare / 2 // _ROW_STEP) + 1) * _ROW_STEP
    bottoms = v_from + spare / 2 + np.concatenate([[0.0], np.stack([-steps[1:], steps[1:]], axis=-1).ravel()])
    near = obstacles[np.argsort(obstacles[:, 0], kind="stable")]
    in_row = (near[:, 1] < bottoms[:, None] + height + CLEARANCE) & (near[:, 3] > bottoms[:, None] - CLEARANCE)
    reached = np.where(in_row, near[:, 2] + CLEARANCE, u_from)
    # A gap runs from as far as the obstacles so far reach to where the next one, or the steel's end, begins.
    gap_from = np.maximum.accumulate(np.column_stack([np.full(len(bottoms), u_from), reached]), axis=1)
    gap_to = np.column_stack([np.where(in_row, near[:, 0] - CLEARANCE, u_from), np.full(len(bottoms), np.inf)])
    fits = np.minimum(gap_to, u_to) - gap_from >= width
    foremost = np.where(fits, gap_from, np.inf).min(axis=1)
    row = int(np.argmin(foremost))
    return None if np.isinf(foremost[row]) else (float(foremost[row]), float(bottoms[row]))


def stamp_entities(text: str, place: Place, mirror_length: float | None) -> Iterator[Entity]:
    """The stamp as entities on MARK: the text, FRONT and the arrow that points at the front end.

    mirror_length: the blank's length (mm) where the blank is the mirrored RH one; letters stay upright there.
    """
    height, (width, _) = place.height, stamp_size(text, place.height, place.rows)
    middle = place.v + height / 2
    if place.rows == 2:
        name_u, name_v = place.u + width / 2, middle + _LINE_PITCH * height
    else:
        name_u, name_v = place.u + width - text_width(text, height) / 2, middle
    tip, tail = place.u, place.u + _ARROW_LENGTH * height
    front_u = place.u + (_FRONT_WIDTH - _LETTER_WIDTH * len(_FRONT) / 2) * height
    barb, spread = tip + height, 0.4 * height
    drawn = np.array([name_u, front_u, tip, tail, barb])
    name_x, front_x, tip_x, tail_x, barb_x = rounded(drawn if mirror_length is None else mirror_length - drawn)
    name_y, middle_y, high, low = rounded([name_v, middle, middle + spread, middle - spread])
    yield Text(MARK, round(name_x, 3), round(name_y, 3), height, text, centred=True)
    yield Text(MARK, round(front_x, 3), round(middle_y, 3), height, _FRONT, centred=True)
    yield Line(MARK, tip_x, middle_y, tail_x, middle_y)
    yield Line(MARK, tip_x, middle_y, barb_x, high)
    yield Line(MARK, tip_x, middle_y, barb_x, low)
