"""Holes, rails and pieces for the tests of DSTV files, and a header to put lines after."""

from __future__ import annotations

from pathlib import Path

from builders import Hole, rail_shape

from railgen.formats.dstv import DstvPiece
from railgen.formats.dstv_read import read_dstv
from railgen.holes.table import PARTS, SIDES

HOLES = [
    Hole(-800.1234, 150, diameter=17),
    Hole(-700, 61.7, diameter=13, operation="drill"),
    Hole(-600, 180.03, diameter=17.5, operation="countersink", fastener="M16x1.5 flush"),
    Hole(-500, 120, diameter=11, shape="slot", length=27.3, angle=33.3),
    Hole(-450, 120, diameter=11, shape="slot", length=27.3, angle=90),
    Hole(-400, 150, diameter=40, shape="rectangle", length=90, angle=12.5),
    Hole(-300, 150, diameter=40, shape="rectangle", length=40, corner_radius=8),
    Hole(-200, 150, shape="mark"),
    Hole(-150, 90, shape="mark", operation="stud"),
    Hole(-100, 55, diameter=9, face="top", shape="slot", length=20, angle=160),
    Hole(-50, 60, diameter=11, face="bottom"),
    Hole(0, 60, diameter=9, face="bottom", shape="slot", length=20, angle=20, operation="drill"),
    Hole(700.1, 140, diameter=17),
    Hole(1300, 66, diameter=9, face="top", shape="slot", length=20, angle=100),
    Hole(4300, 250.5, diameter=17),
    Hole(4500, 238, diameter=9, shape="slot", length=22, angle=175),
    Hole(4200, 60, diameter=11, face="top", shape="slot", length=30, angle=45),
    Hole(1500, 100, diameter=14, sides=("LH",)),
]
RAILS = {
    "plain": rail_shape(),
    "liner": rail_shape(liner=True),
    "cut later": rail_shape("after-forming"),
    "cut in blank": rail_shape("in-blank", liner=True),
}
PIECES = [
    (name, side, part, piece)
    for name, rail in RAILS.items()
    for side in SIDES
    for part in (PARTS if rail.liner else PARTS[:1])
    for piece in ("formed", "blank")
]
HEADER = ["ST", *("  1", "  2", "  3", "  4", "  S355", "  1", "  PL10*100", "  B")]
HEADER += ["  1000.00", "  100.00", "  10.00", "  10.00", "  10.00", "  0.00", "  7.85", "  0.22", *["  0.00"] * 4]


def read(folder: Path, *lines: str) -> DstvPiece:
    file = folder / "piece.nc1"
    file.write_text("\n".join(lines) + "\n")
    return read_dstv(file)
