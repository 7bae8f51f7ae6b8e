"""DSTV files written: writer against reader."""

from __future__ import annotations

from math import hypot, pi
from pathlib import Path

import numpy as np
import pytest
import shapely
from builders import rail_shape, rail_table, resolved_order
from dstv_cases import HOLES, PIECES, RAILS

from railgen.formats.dstv import RESOLUTION, DstvPiece, Outline, features
from railgen.formats.dstv_piece import dstv_file, dstv_piece
from railgen.formats.dstv_read import read_dstv
from railgen.formats.dstv_text import dstv_bytes
from railgen.formats.names import Part, Piece, Side
from railgen.frame.blank import blank_outline
from railgen.frame.contour import Contour, contour_points
from railgen.frame.rail import part_length, part_section
from railgen.holes.table import PARTS, SHAPES, SIDES


@pytest.mark.parametrize(("name", "side", "part", "piece"), PIECES)
def test_what_is_written_is_read(name: str, side: Side, part: Part, piece: Piece, tmp_path: Path) -> None:
    """Round trip to the format's resolution; and what was read is written with the same bytes."""
    rail = RAILS[name]
    order, table = resolved_order(rail), rail_table(rail, HOLES)
    meant = dstv_piece(order, table, side, part, piece)
    content = dstv_file(order, table, side, part, piece)
    file = tmp_path / "piece.nc1"
    file.write_bytes(content)
    found = read_dstv(file)
    assert dstv_bytes(found) == content
    assert len(found.holes) == len(meant.holes)
    for a, b in zip(meant.holes, found.holes, strict=True):
        assert (a.face, a.reference) == (b.face, b.reference)
        assert [*b[1:2], *b[3:9]] == pytest.approx([*a[1:2], *a[3:9]], abs=RESOLUTION / 2 + 1e-9)
    assert [len(o.points) for o in found.outlines] == [len(o.points) for o in meant.outlines]
    assert [stamp.text for stamp in found.stamps] == [f"P-1001 {side} {part.upper()}"]


@pytest.mark.parametrize(("name", "side", "part", "piece"), PIECES)
def test_file_equals_table(name: str, side: Side, part: Part, piece: Piece, tmp_path: Path) -> None:
    """Each feature on its face, where the hole table has it; on the formed part by z and y, not by the blank."""
    rail = RAILS[name]
    table = rail_table(rail, HOLES)
    section, length = part_section(rail, part), part_length(rail, part)
    file = tmp_path / "piece.nc1"
    file.write_bytes(dstv_file(resolved_order(rail), table, side, part, piece))
    left = list(features(read_dstv(file)))
    rows = np.flatnonzero((table.side == SIDES.index(side)) & (table.part == PARTS.index(part)))
    assert len(left) == len(rows) > 0
    origin = rail.front if part == "rail" or rail.liner is None else rail.liner.start
    rise = 0.0 if part == "rail" or rail.liner is None else rail.liner.offset_z
    inward = 0.0 if part == "rail" or rail.liner is None else rail.liner.offset_y
    for row in rows.tolist():
        station, across, on = table.station[row], table.across[row], int(table.face[row])
        x, y = (table.blank_x[row], table.v[row])
        if piece == "formed" and table.panel[row] < 3:
            x = station - origin if side == "RH" else length - (station - origin)
            y = across - rise if on == 0 else across - inward
        elif piece == "formed":
            x, y = length - x, section.across(0, y) if on == 0 else across
        feature = min(left, key=lambda f: hypot(f.x - x, f.y - y))
        left.remove(feature)
        shape = SHAPES[table.shape[row]]
        assert (feature.face, feature.shape) == ("v" if piece == "blank" else "vou"[on], shape)
        assert hypot(feature.x - x, feature.y - y) < 2 * RESOLUTION
        if shape == "mark":
            continue
        assert feature.diameter == pytest.approx(table.diameter[row], abs=2 * RESOLUTION)
        if shape == "round":
            continue
        assert feature.length == pytest.approx(table.length[row], abs=2 * RESOLUTION)
        # On v angles are as seen from within the channel, where x runs forward on RH parts only.
        angle = table.blank_angle[row]
        if piece == "formed" and table.panel[row] < 3:
            angle = table.angle[row] if side == "RH" else -table.angle[row]
        elif piece == "formed" and on != 2:
            angle = -angle
        turn = 90 if table.length[row] == table.diameter[row] else 180
        off = (feature.angle - angle) % turn
        assert min(off, turn - off) < 2 * RESOLUTION


def as_polygon(outline: Outline) -> shapely.Polygon:
    """A contour of AK with its arcs, read as the standard has it: radius of the edge that leaves a point."""
    points = outline.points[:-1]
    corners = np.array([(point.x, point.y) for point in points])
    chords = np.hypot(*(np.roll(corners, -1, axis=0) - corners).T)
    bulges = []
    for point, chord in zip(points, chords, strict=True):
        ratio = 0.0 if point.radius == 0 else min(chord / (2 * abs(point.radius)), 1.0)
        bulges.append(np.sign(point.radius) * np.tan(np.arcsin(ratio) / 2))
    return shapely.Polygon(contour_points(Contour(corners, np.array(bulges)), 256))


@pytest.mark.parametrize(("name", "side", "part", "piece"), PIECES)
def test_outlines_close_and_are_the_piece(name: str, side: Side, part: Part, piece: Piece) -> None:
    rail = RAILS[name]
    order, table = resolved_order(rail), rail_table(rail, HOLES)
    meant = dstv_piece(order, table, side, part, piece)
    outer = [outline for outline in meant.outlines if outline.block == "AK"]
    assert [outline.face for outline in outer] == (["v"] if piece == "blank" else ["v", "o", "u"])
    for outline in outer:
        assert outline.points[0][:2] == outline.points[-1][:2]
        # Counter-clockwise as seen from outside; y on o runs towards the reader, so there it looks the other way round.
        ring = shapely.Polygon([point[:2] for point in outline.points]).exterior
        assert ring.is_ccw == (outline.face != "o")
    length, section = part_length(rail, part), part_section(rail, part)
    found = as_polygon(outer[0])
    if piece == "blank":
        points = contour_points(blank_outline(rail, part))
        expected = shapely.Polygon(points if side == "LH" else points * [-1, 1] + [length, 0])
        assert found.symmetric_difference(expected).area < 0.1
        return
    gone = section.depth * length - found.area
    taper = rail.taper if part == "rail" else None
    if taper is None:
        assert gone == pytest.approx(0)
        return
    # Wedge: a triangle from the apex, its legs the seam's run to the blank's rear edge and its fall there; with the
    # relief hole's part outside it.
    run = taper.blank_rear - taper.apex[0]
    fall = taper.apex[1] - float(taper.lower_cut_z(taper.blank_rear))
    assert run * fall / 2 < gone < run * fall / 2 + pi * taper.relief_radius**2 + taper.root_gap * run
    assert not found.contains(shapely.Point(length - 5 if side == "RH" else 5, taper.apex[1] - 5))


def test_mirrored_hands() -> None:
    """The RH file is the LH file end for end: x from the other end, y the same, radii the same way round."""
    rail = RAILS["cut later"]
    order, table = resolved_order(rail), rail_table(rail, [hole for hole in HOLES if len(hole.sides) == 2])
    for piece in ("formed", "blank"):
        left, right = (dstv_piece(order, table, side, "rail", piece) for side in ("LH", "RH"))
        length = left.header.length
        for a in features(left):
            near = min(features(right), key=lambda b: hypot(length - a.x - b.x, a.y - b.y))
            assert hypot(length - a.x - near.x, a.y - near.y) < 1e-9
            assert near.face == a.face
        assert sorted(p.radius for p in left.outlines[0].points) == pytest.approx(
            sorted(p.radius for p in right.outlines[0].points)
        )


def test_drilled_holes_stand_in_a_block_of_their_own() -> None:
    rail = rail_shape()
    piece = dstv_piece(resolved_order(rail), rail_table(rail, HOLES), "LH", "rail", "blank")
    punched, later = piece.hole_blocks
    assert sorted(hole.diameter for hole in later) == [9, 13, 17.5]
    assert len(punched) + len(later) == len([hole for hole in HOLES if hole.shape != "mark"])


def test_text_that_does_not_fit_is_refused() -> None:
    rail = rail_shape()
    piece = dstv_piece(resolved_order(rail), rail_table(rail, HOLES), "LH", "rail", "blank")
    for comment in ("x" * 90, "Stärke", "two\nlines"):
        with pytest.raises(ValueError, match="cannot hold"):
            dstv_bytes(DstvPiece(piece.header, comments=(comment,)))
