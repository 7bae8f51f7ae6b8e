"""DSTV ``.nc1``: the open "standard description for steel structure pieces for the numerical controls", 7th edition,
July 1998, as data and as read from a file. ``dstv_piece`` says what of a rail stands in it, ``dstv_text`` writes it.

The standard's text is not freely published; what is here was taken from its public table of contents, from public
descriptions of the format and from public sample files, and its details are from memory where those are silent:

- One piece a file. Block codes stand alone at the start of a line; lines that begin with ``**`` are comments.
- ``ST``, the header: order, drawing, phase, piece, steel, quantity, profile, its code (I L U B RU RO M C T SO),
  length (and saw length, after a comma), height, flange width, flange thickness, web thickness, radius, kg/m, m2/m,
  four angles of the end cuts, then up to four lines of text.
- Faces: ``v`` front, ``o`` top, ``u`` bottom, ``h`` behind. x runs from the start of the piece to the right on every
  face, y up on ``v`` and ``h``, from the back to the front on ``o`` and ``u``: outer contours run counter-clockwise as
  seen from outside the piece, and in sample files of three programs those of ``v`` and ``u`` do so in their own axes
  too, those of ``o`` and ``h`` the other way round. A line without a face is on the face before it. The letter after x
  names the edge that y is dimensioned from when a section is rolled out of size: ``o`` upper edge, ``u`` lower edge,
  ``s`` axis.
- ``BO``, holes: face, x, y, diameter, depth (0 or left out: through). Three more columns make it a slot (marked by an
  ``l`` after the depth) or a rectangle: width, height and angle. x and y then are those of the first end radius (of a
  rectangle the lower left corner radius); width and height lead from there to the other end radius, turned by angle.
- ``AK`` and ``IK``, outer and inner contours, ``PU`` and ``KO``, lines of powder and of centre marks: face, x, y,
  radius of what leaves the point (above 0: counter-clockwise), then bevels.
- ``SI``, stamped text: face, x, y, angle, height, text. ``SC`` saw cuts and all other blocks are kept as lines.
- ``EN`` ends the file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from math import cos, radians, sin
from typing import NamedTuple

RESOLUTION = 0.001
"""mm and degrees: the last digit of the numbers as written here."""
DECIMALS = 3
FACES = ("v", "o", "u", "h")
PROFILE_CODES = ("I", "L", "U", "B", "RU", "RO", "M", "C", "T", "SO")
CONTOUR_BLOCKS = ("AK", "IK", "PU", "KO")


@dataclass(frozen=True)
class Header:
    """The block ST. Lengths mm, mass kg/m, surface m2/m, angles of the cuts in degrees."""

    order: str
    drawing: str
    phase: str
    piece: str
    steel: str
    quantity: int
    profile: str
    code: str
    length: float
    saw_length: float
    height: float
    flange_width: float
    flange_thickness: float
    web_thickness: float
    radius: float
    mass: float
    surface: float
    web_start_cut: float = 0.0
    web_end_cut: float = 0.0
    flange_start_cut: float = 0.0
    flange_end_cut: float = 0.0
    texts: tuple[str, ...] = ()


class Hole(NamedTuple):
    """A line of BO; width, height and angle are 0 for a round hole."""

    face: str
    x: float
    reference: str
    y: float
    diameter: float
    depth: float = 0.0
    width: float = 0.0
    height: float = 0.0
    angle: float = 0.0
    kind: str = ""


class ContourPoint(NamedTuple):
    """A line of AK, IK, PU or KO; ``bevels`` are the columns after the radius, as they stand."""

    x: float
    y: float
    radius: float = 0.0
    reference: str = ""
    notch: str = ""
    bevels: tuple[float, ...] = ()


class Outline(NamedTuple):
    """Points of one contour on one face; ``block`` is AK, IK, PU or KO."""

    block: str
    face: str
    points: tuple[ContourPoint, ...]


class Stamp(NamedTuple):
    """A line of SI: text of a height (mm) from (x, y) at an angle (degrees)."""

    face: str
    x: float
    reference: str
    y: float
    angle: float
    height: float
    text: str


@dataclass(frozen=True)
class DstvPiece:
    """One piece: header, blocks of holes, contours and stamps in the file's order, other blocks as plain lines."""

    header: Header
    hole_blocks: tuple[tuple[Hole, ...], ...] = ()
    outlines: tuple[Outline, ...] = ()
    stamps: tuple[Stamp, ...] = ()
    others: tuple[tuple[str, tuple[str, ...]], ...] = ()
    comments: tuple[str, ...] = ()

    @property
    def holes(self) -> tuple[Hole, ...]:
        """The holes of all blocks."""
        return tuple(chain.from_iterable(self.hole_blocks))


class PieceFeature(NamedTuple):
    """One feature of a piece: centre and sizes in mm on its face, angle of its long axis in degrees, 0 <= a < 180."""

    face: str
    shape: str
    x: float
    y: float
    diameter: float
    length: float
    angle: float
    corner_radius: float


def features(piece: DstvPiece) -> Iterator[PieceFeature]:
    """Holes, slots and rectangles of BO, then the single centre marks of KO."""
    for hole in piece.holes:
        yield _feature(hole)
    for outline in piece.outlines:
        if outline.block == "KO" and len(outline.points) == 1:
            point = outline.points[0]
            yield PieceFeature(outline.face, "mark", point.x, point.y, 0.0, 0.0, 0.0, 0.0)


def _feature(hole: Hole) -> PieceFeature:
    if not hole.width and not hole.height:
        return PieceFeature(hole.face, "round", hole.x, hole.y, hole.diameter, 0.0, 0.0, 0.0)
    turn = radians(hole.angle)
    along, up = hole.width / 2, hole.height / 2
    x, y = hole.x + along * cos(turn) - up * sin(turn), hole.y + along * sin(turn) + up * cos(turn)
    longer, shorter = max(hole.width, hole.height), min(hole.width, hole.height)
    angle = (hole.angle if hole.width >= hole.height else hole.angle + 90.0) % 180.0
    shape, corner = ("rectangle", hole.diameter / 2) if shorter else ("slot", 0.0)
    return PieceFeature(hole.face, shape, x, y, shorter + hole.diameter, longer + hole.diameter, angle, corner)
