"""A DSTV piece as text: the columns of the blocks ST, BO, KO, AK, IK, PU, SI and EN."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import astuple

from railgen.formats.dstv import DECIMALS, ContourPoint, DstvPiece, Header, Hole, Outline, Stamp

_LONGEST_TEXT = 80
_TEXT_LINES = 4


def dstv_bytes(piece: DstvPiece) -> bytes:
    """The file of one piece. Raises ValueError for text that does not fit: more than 80 letters, or not ASCII."""
    lines = ["ST", *(f"** {comment}" for comment in piece.comments), *_header_lines(piece.header)]
    for holes in piece.hole_blocks:
        lines += ["BO", *map(_hole_line, holes)]
    for outline in piece.outlines:
        lines += [outline.block, *_outline_lines(outline)]
    if piece.stamps:
        lines += ["SI", *map(_stamp_line, piece.stamps)]
    for block, others in piece.others:
        lines += [block, *others]
    unfit = [line for line in lines if not line.isascii() or not line.isprintable() or len(line) > _LONGEST_TEXT + 3]
    if unfit:
        raise ValueError(f"a DSTV file cannot hold the line {unfit[0]!r}")
    return "\n".join([*lines, "EN", ""]).encode("ascii")


def _header_lines(header: Header) -> Iterator[str]:
    *values, texts = astuple(header)
    length, saw_length = header.length, header.saw_length
    for value in values[:8]:
        yield f"  {value}"
    yield _number(length, 12) if saw_length == length else f"{_number(length, 12)},{_number(saw_length, 0)}"
    for value in values[10:]:
        yield _number(value, 12)
    yield from (f"  {text}" for text in (*texts, *[""] * (_TEXT_LINES - len(texts))))


def _hole_line(hole: Hole) -> str:
    line = f"  {hole.face}{_number(hole.x, 11)}{hole.reference or ' '}{_number(hole.y, 10)}{hole.kind or ' '}"
    line += f"{_number(hole.diameter, 10)}{_number(hole.depth, 10)}"
    if not hole.width and not hole.height:
        return line
    return f"{line}l{_number(hole.width, 10)}{_number(hole.height, 10)}{_number(hole.angle, 10)}"


def _outline_lines(outline: Outline) -> Iterator[str]:
    for point in outline.points:
        yield f"  {outline.face}{_place(point)}{_number(point.radius, 10)}" + "".join(
            _number(bevel, 10) for bevel in point.bevels
        )


def _place(point: ContourPoint) -> str:
    return f"{_number(point.x, 11)}{point.reference or ' '}{_number(point.y, 10)}{point.notch or ' '}"


def _stamp_line(stamp: Stamp) -> str:
    place = f"{_number(stamp.x, 11)}{stamp.reference or ' '}{_number(stamp.y, 10)} {_number(stamp.angle, 10)}"
    return f"  {stamp.face}{place} {stamp.height:3.0f} {stamp.text}"


def _number(value: float, width: int) -> str:
    return f"{round(value, DECIMALS) + 0.0:{width}.{DECIMALS}f}"
