"""What of a rail or liner stands in DSTV files: the formed part as profile U, for shops that punch after forming, and
its blank as plate B.

The formed part lies as the section tables draw a channel: open to the front, its bottom flange down, its web behind.
So ``v`` shows the web from within the channel, x runs from the rear end of LH parts and from the front end of RH parts,
and on the flanges (``o`` and ``u``) y is 0 at the web's outside face and the flange's width at the free edge: the
standard's y there runs from the back to the front (``dstv`` says how that was found). That a channel's heel is at y = 0
is what a public file shows: in the flange of a UPN 160, 65 mm wide, it has its holes at y = 35 mm, the gauge of DIN 997
from the heel, and the contours of its faces run as those of beams do. The standard's own figure was not seen, so every
file says in its comments how the part lies: prove it on the first part of a machine. A tapered rail is described as it
leaves the forming press: straight and as long as its blank, wedge and relief hole cut out of ``v``.
"""

from __future__ import annotations

from collections.abc import Iterator
from math import cos, radians, sin
from textwrap import wrap
from typing import NamedTuple

import numpy as np

from railgen.formats.cautions import CAUTIONS
from railgen.formats.cut_entities import Text
from railgen.formats.cut_file import NO_FEET, stamp_place
from railgen.formats.dstv import ContourPoint, DstvPiece, Header, Hole, Outline, Stamp
from railgen.formats.dstv_text import dstv_bytes
from railgen.formats.names import Part, Piece, Side
from railgen.formats.stamp import stamp_entities, text_width
from railgen.frame.blank import blank_outline, taper_template
from railgen.frame.contour import Contour, mirror_contour, polygon_contour
from railgen.frame.measure import STEEL_DENSITY
from railgen.frame.panels import Face
from railgen.frame.rail import part_length, part_section
from railgen.frame.section import Section, properties
from railgen.holes.shapes import Cores, cores_of
from railgen.holes.table import MARK, PARTS, PUNCH, RECTANGLE, ROUND, SIDES, FloatArray, HoleTable
from railgen.layout.plan import ResolvedOrder

_LONGEST_COMMENT = 76
_WEB, _TOP, _BOTTOM = "v", "o", "u"
_EDGE = "u"
"""The edge that y is dimensioned from: heights from the bottom, flange holes from the web's outside face."""


def dstv_file(
    order: ResolvedOrder, holes: HoleTable, side: Side, part: Part, piece: Piece, feet: FloatArray = NO_FEET
) -> bytes:
    """The DSTV file of one part, formed or as blank; the arguments as in ``dstv_piece``."""
    return dstv_bytes(dstv_piece(order, holes, side, part, piece, feet))


def dstv_piece(
    order: ResolvedOrder, holes: HoleTable, side: Side, part: Part, piece: Piece, feet: FloatArray = NO_FEET
) -> DstvPiece:
    """One part as formed, profile U, or its blank, plate B.

    holes: the whole hole table; feet: boxes (n, 4) as ``feet.web_feet`` gives them, which the stamped text keeps clear
    of. Punched features stand in the first block BO, drilled and countersunk ones in the second; centre marks in KO.
    Raises ValueError when a liner is asked for and there is none.
    """
    rows = holes.rows((holes.side == SIDES.index(side)) & (holes.part == PARTS.index(part)))
    section = part_section(order.rail, part)
    cores = cores_of(rows, np.full(len(rows), section.thickness))
    placed = _on_blank(rows) if piece == "blank" else _on_faces(rows, section, part_length(order.rail, part))
    punched, is_mark = rows.operation == PUNCH, rows.shape == MARK
    blocks = (_holes(rows, cores, placed, chosen & ~is_mark) for chosen in (punched, ~punched))
    marks = [_mark(placed, row) for row in np.flatnonzero(is_mark).tolist()]
    return DstvPiece(
        _header(order, side, part, piece),
        tuple(block for block in blocks if block),
        (*_outlines(order, side, part, piece), *marks),
        tuple(_stamps(order, rows, cores, side, part, piece, feet)),
        comments=tuple(_comments(piece, tapered=part == "rail" and order.rail.taper is not None)),
    )


class _Placed(NamedTuple):
    """Face, centre (mm) and angle (degrees) of n features on a piece."""

    face: list[str]
    x: list[float]
    y: list[float]
    angle: list[float]


def _on_blank(rows: HoleTable) -> _Placed:
    return _Placed([_WEB] * len(rows), rows.blank_x.tolist(), rows.v.tolist(), rows.blank_angle.tolist())


def _on_faces(rows: HoleTable, section: Section, length: float) -> _Placed:
    """On the formed part, straight: the blank's positions folded up, each on its face, seen from within the channel."""
    # x runs against blank_x; y runs with blank_y on web and top flange, so there angles are mirrored.
    angle = np.where(rows.face == Face.BOTTOM, rows.blank_angle, np.mod(-rows.blank_angle, 180.0))
    face = [(_WEB, _TOP, _BOTTOM)[face] for face in rows.face.tolist()]
    return _Placed(face, (length - rows.blank_x).tolist(), section.across(rows.face, rows.v).tolist(), angle.tolist())


def _holes(rows: HoleTable, cores: Cores, placed: _Placed, chosen: np.ndarray) -> tuple[Hole, ...]:
    found = []
    for row in np.flatnonzero(chosen).tolist():
        face, x, y, angle = placed.face[row], placed.x[row], placed.y[row], placed.angle[row]
        if rows.shape[row] == ROUND:
            found.append(Hole(face, x, _EDGE, y, float(rows.diameter[row])))
            continue
        width = 2 * float(cores.half_length[row])
        height = 2 * float(cores.half_width[row]) if rows.shape[row] == RECTANGLE else 0.0
        # A slot is placed by its first end radius, a rectangle by its lower left corner radius.
        turn = radians(angle)
        x -= (width * cos(turn) - height * sin(turn)) / 2
        y -= (width * sin(turn) + height * cos(turn)) / 2
        diameter = 2 * float(cores.radius[row])
        found.append(Hole(face, x, _EDGE, y, diameter, 0.0, width, height, angle))
    return tuple(found)


def _mark(placed: _Placed, row: int) -> Outline:
    """A centre mark, in a block of its own: points of one block are a line of marks."""
    face = placed.face[row]
    return Outline("KO", face, (ContourPoint(placed.x[row], placed.y[row], 0.0, _EDGE),))


def _header(order: ResolvedOrder, side: Side, part: Part, piece: Piece) -> Header:
    section, length = part_section(order.rail, part), part_length(order.rail, part)
    name, steel = order.section, order.steel
    if part == "liner" and order.order.liner:
        name, steel = order.order.liner.section, order.order.liner.steel
    width, thickness = section.developed_width, section.thickness
    if piece == "blank":
        code, sizes, radius = "B", (width, thickness), 0.0
        area, edge, name = width * thickness, 2 * (width + thickness), f"PL{thickness:g}*{width:.1f}"
    else:
        code, sizes, radius, area = (
            "U",
            (section.depth, section.flange),
            section.inside_radius,
            properties(section).area,
        )
        edge = 2 * (section.middle_length + thickness)
    return Header(
        order=order.serial,
        drawing=order.serial,
        phase=order.order.revision,
        piece=f"{order.serial}-{side}-{part}",
        steel=steel,
        quantity=1,
        profile=name,
        code=code,
        length=length,
        saw_length=length,
        height=sizes[0],
        flange_width=sizes[1],
        flange_thickness=thickness,
        web_thickness=thickness,
        radius=radius,
        mass=area * STEEL_DENSITY * 1000.0,
        surface=edge / 1000.0,
        texts=(f"{side} {part}", "blank as punched" if piece == "blank" else "as formed"),
    )


def _comments(piece: Piece, tapered: bool) -> Iterator[str]:
    lines = list(CAUTIONS)
    if piece == "blank":
        lines.append("Face v: outside face up, y = 0 at the free edge of the bottom flange.")
    else:
        lines.append(
            "Open to the front: face v is the web seen from within the channel, y = 0 at the bottom. Faces o and u: "
            "y = 0 at the outside face of the web, y = the flange's width at its free edge. Prove it on a first part."
        )
    if tapered and piece == "formed":
        lines.append("Straight as formed; wedge and relief hole are in AK of face v.")
    lines.append("First block BO: punched holes. Drilled and countersunk ones in a block of their own.")
    lines.append("Slots: x, y of the first end radius, then its distance to the other. Rectangles: of the lower left")
    for line in lines[:-1]:
        yield from wrap(line, _LONGEST_COMMENT)
    yield from wrap(f"{lines[-1]} corner radius; diameter is twice the corner radius.", _LONGEST_COMMENT)


def _outlines(order: ResolvedOrder, side: Side, part: Part, piece: Piece) -> Iterator[Outline]:
    rail = order.rail
    section, length = part_section(rail, part), part_length(rail, part)
    if piece == "blank":
        yield _outline(_WEB, blank_outline(rail, part), length if side == "RH" else None)
        return
    # Seen from within the channel, the hands change places.
    mirrored = length if side == "LH" else None
    web = np.array([(0, 0), (length, 0), (length, section.depth), (0, section.depth)], dtype=np.float64)
    contour = polygon_contour(web)
    if part == "rail" and rail.taper:
        cut = taper_template(rail).cut
        edge = cut.vertices - np.array([rail.front, 0.0])
        edge[[0, -1], 0] = length
        bulges = np.concatenate([[0, 0], cut.bulges, [0, 0]])
        contour = Contour(np.concatenate([web[:2], edge, web[2:]]), bulges)
    yield _outline(_WEB, contour, mirrored)
    flange = np.array([(0, 0), (length, 0), (length, section.flange), (0, section.flange)], dtype=np.float64)
    for face, corners in ((_TOP, flange[::-1]), (_BOTTOM, flange)):
        yield _outline(face, polygon_contour(corners), mirrored)


def _outline(face: str, contour: Contour, mirrored: float | None) -> Outline:
    """A closed contour of AK: its first point comes again at the end; mirrored: in a piece of that length, mm."""
    drawn = contour if mirrored is None else mirror_contour(contour, mirrored)
    radius = arc_radii(drawn.vertices, drawn.bulges)
    columns = zip(*drawn.vertices.T.tolist(), radius.tolist(), strict=True)
    points = [ContourPoint(x, y, r, _EDGE) for x, y, r in columns]
    return Outline("AK", face, (*points, points[0]._replace(radius=0.0)))


def arc_radii(vertices: FloatArray, bulges: FloatArray) -> FloatArray:
    """Radius (mm) of the arc that leaves each vertex, (n,): above 0 where it turns left, 0 for a straight line.

    vertices (n, 2) in mm; bulges (n,), tangents of a quarter of the arcs' angles.
    """
    chord = np.hypot(*(np.roll(vertices, -1, axis=0) - vertices).T)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(bulges == 0, 0.0, chord * (1 + bulges**2) / (4 * bulges))


def _stamps(
    order: ResolvedOrder, rows: HoleTable, cores: Cores, side: Side, part: Part, piece: Piece, feet: FloatArray
) -> Iterator[Stamp]:
    """The stamped text without its arrow: DSTV stamps letters alone."""
    rail = order.rail
    text = f"{order.serial} {side} {part.upper()}"
    place = stamp_place(rail, rows, cores, part, feet, text)
    if place is None:
        return
    mirrored = part_length(rail, part) if (side == "RH") == (piece == "blank") else None
    for entity in stamp_entities(text, place, mirrored):
        if isinstance(entity, Text) and entity.text == text:
            left, low = entity.x - text_width(text, place.height) / 2, entity.y - place.height / 2
            if piece == "formed":
                low = float(part_section(rail, part).across(Face.WEB, low))
            yield Stamp(_WEB, left, _EDGE, low, 0.0, place.height, text)
