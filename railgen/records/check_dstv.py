"""DSTV files against the hole table and the blank's cut file: holes on their faces, edges, the piece's name."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path as FilePath

import numpy as np

from railgen.formats.cut_entities import Path
from railgen.formats.cut_file import CutFile
from railgen.formats.dstv import FACES as DSTV_FACES
from railgen.formats.dstv import RESOLUTION, DstvPiece, features
from railgen.formats.dstv_piece import arc_radii
from railgen.formats.dstv_read import read_dstv
from railgen.formats.names import Part, Piece, Side, dstv_name
from railgen.frame.contour import Contour, mirror_contour
from railgen.holes.table import FloatArray
from railgen.records.check_cut_file import check_named
from railgen.records.discrepancy import Discrepancy
from railgen.records.features import Features, Tolerance, differences, drawn_features
from railgen.records.subject import Subject, blank_corners

DSTV = Tolerance(place=3 * RESOLUTION, size=1.1 * RESOLUTION, angle=1.1 * RESOLUTION)
"""Three decimals: a slot's centre comes from the rounded place, width and angle of its first end."""
_NEAR = 0.6 * RESOLUTION
_SIDES: tuple[Side, ...] = ("LH", "RH")
_PARTS: tuple[Part, ...] = ("rail", "liner")
_PIECES: tuple[Piece, ...] = ("formed", "blank")
_CODES = {"formed": "U", "blank": "B"}
_WEB, _TOP, _BOTTOM, _ = DSTV_FACES


def check_dstv(subject: Subject, file: FilePath) -> Iterator[Discrepancy] | None:
    """A part or blank as DSTV piece, None for any other file."""
    for side in _SIDES:
        for part in _PARTS:
            for piece in _PIECES:
                if file.name == dstv_name(subject.serial, side, part, piece):
                    return _check(subject, file, side, part, piece)
    return None


def _check(subject: Subject, file: FilePath, side: Side, part: Part, piece: Piece) -> Iterator[Discrepancy]:
    read, name = read_dstv(file), file.name
    header = read.header
    title = " ".join(header.piece.rsplit("-", 2)).upper()
    yield from check_named(name, [title, *(s.text for s in read.stamps)], subject.serial, side, part.upper())
    for field in ("order", "drawing"):
        if getattr(header, field) != subject.serial:
            words = f"the header's {field} is {getattr(header, field)}, should be {subject.serial}"
            yield Discrepancy("wrong serial", name, words)
    if header.code != _CODES[piece]:
        yield Discrepancy("wrong part", name, f"is profile {header.code}, should be {_CODES[piece]}")
    cut, sizes, table = subject.cut_file(side, part), subject.outline_sizes(side, part), subject.features(side, part)
    if cut is None or sizes is None:
        return
    yield from _check_sizes(name, read, piece, sizes)
    yield from _check_edges(name, read, piece, cut, sizes)
    expected = _on_blank(table) if piece == "blank" else _on_faces(table, subject, side, part, read, sizes)
    yield from differences(name, expected, drawn_features(list(features(read)), "face"), DSTV, "wrong face")


def _check_sizes(name: str, read: DstvPiece, piece: Piece, sizes: tuple[float, float]) -> Iterator[Discrepancy]:
    """The header's length and, of a blank, its width."""
    header, (length, width) = read.header, sizes
    if max(abs(header.length - length), abs(header.saw_length - length)) > _NEAR:
        yield Discrepancy("wrong edge", name, f"is {header.length:.3f} mm long, the cut file says {length:.3f}")
    if piece == "blank" and abs(header.height - width) > _NEAR:
        yield Discrepancy("wrong edge", name, f"is {header.height:.3f} mm wide, the cut file says {width:.3f}")


def _check_edges(
    name: str, read: DstvPiece, piece: Piece, cut: CutFile, sizes: tuple[float, float]
) -> Iterator[Discrepancy]:
    """The outer contours: a blank's is that of its cut file; a formed part's the faces, the taper's cut out of v."""
    (length, width), header = sizes, read.header
    if piece == "blank":
        expected = {_WEB: _edge_points(cut.outline)}
    else:
        cuts = _cut_points(cut, length, (header.height - width) / 2)
        web = np.concatenate([_rectangle(length, header.height), cuts])
        flange = _rectangle(length, header.flange_width)
        expected = {_WEB: web, _TOP: flange, _BOTTOM: flange}
    drawn = [outline for outline in read.outlines if outline.block == "AK"]
    if [outline.face for outline in drawn] != list(expected):
        words = f"has outer contours on {', '.join(o.face for o in drawn) or 'no face'}"
        yield Discrepancy("wrong edge", name, f"{words}, should have them on {', '.join(expected)}")
        return
    for outline in drawn:
        points = np.array([point[:3] for point in outline.points])
        closed = np.allclose(points[0, :2], points[-1, :2], rtol=0, atol=_NEAR)
        if not closed or not _same(points[:-1], expected[outline.face]):
            yield Discrepancy("wrong edge", name, f"the outer contour on {outline.face} is not the edge of the part")


def _edge_points(path: Path, mirrored: float | None = None) -> FloatArray:
    """x, y and radius of what leaves it, (n, 3), of each vertex of a path, turned over in a piece of a length (mm)."""
    vertices = np.array(path.vertices)
    contour = Contour(vertices[:, :2], vertices[:, 2])
    contour = contour if mirrored is None else mirror_contour(contour, mirrored)
    return np.column_stack([contour.vertices, arc_radii(contour.vertices, contour.bulges)])


def _cut_points(cut: CutFile, length: float, rise: float) -> FloatArray:
    """The taper's cut on the web seen from within, (n, 3), with blank_y raised to heights; none without a taper."""
    if cut.second_cuts:
        found = _edge_points(cut.second_cuts[0], length)
    else:
        found = _edge_points(cut.outline, length)
        found = found[~blank_corners(found[:, :2])]
    return np.asarray(found + np.array([0.0, rise, 0.0]))


def _rectangle(length: float, height: float) -> FloatArray:
    return np.array([(0, 0, 0), (length, 0, 0), (length, height, 0), (0, height, 0)], dtype=np.float64)


def _same(first: FloatArray, second: FloatArray) -> bool:
    """Whether two sets of rows, in any order, are the same to the format's resolution."""
    if len(first) != len(second):
        return False
    near = np.abs(first[:, None, :] - second[None, :, :]).max(axis=2) <= _NEAR
    return bool(near.any(axis=0).all() and near.any(axis=1).all())


def _on_blank(table: Features) -> Features:
    return table.on([_WEB] * len(table), table.y, table.angle)


def _on_faces(
    table: Features, subject: Subject, side: Side, part: Part, read: DstvPiece, sizes: tuple[float, float]
) -> Features:
    """The blank's features folded up, seen from within: heights on v, on o and u distances from the web's outside."""
    faces, (length, width) = subject.faces(subject.rows(side, part)), sizes
    rise, flange = (read.header.height - width) / 2, read.header.flange_width
    y = np.where(faces == 0, table.y + rise, flange - np.where(faces == 1, width - table.y, table.y))
    names: Sequence[str] = [(_WEB, _TOP, _BOTTOM)[face] for face in faces.tolist()]
    found = table.on(names, y, np.where(faces == 2, table.angle, -table.angle))
    return found.placed(length - table.x, y)
