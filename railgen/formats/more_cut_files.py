"""Files to cut from besides the cut files, where they are asked for: DSTV pieces, a DXF a tool, a DXF a layer."""

from __future__ import annotations

from collections.abc import Collection
from typing import Literal, get_args

from railgen.formats.dstv_piece import dstv_file
from railgen.formats.dxf import DxfVersion
from railgen.formats.feet import web_feet
from railgen.formats.names import Part, Piece, Side, dstv_name
from railgen.formats.split_files import purpose_files, tool_files
from railgen.layout.plan import SerialPlan

More = Literal["nc1", "tools", "layers"]
MORE: tuple[More, ...] = get_args(More)
_SIDES: tuple[Side, ...] = ("LH", "RH")
_PIECES: tuple[Piece, ...] = ("formed", "blank")


def more_cut_files(planned: SerialPlan, more: Collection[More], version: DxfVersion) -> dict[str, bytes]:
    """The kinds of file asked for, of all parts of both sides, by name."""
    order, holes, files = planned.order, planned.holes, dict[str, bytes]()
    parts: tuple[Part, ...] = ("rail", "liner") if order.rail.liner else ("rail",)
    for side in _SIDES:
        feet = web_feet(order, planned.placements, side)
        for part in parts:
            if "nc1" in more:
                for piece in _PIECES:
                    name = dstv_name(order.serial, side, part, piece)
                    files[name] = dstv_file(order, holes, side, part, piece, feet)
            if "tools" in more:
                files |= tool_files(order, holes, side, part, feet, version)
            if "layers" in more:
                files |= purpose_files(order, holes, side, part, feet, version)
    return files
